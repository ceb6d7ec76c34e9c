"""Control charts as pictures."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.chart import Panel, control_chart
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

POINTS = [50.004, 50.003, 50.006, 50.005, 50.004, 50.013, 50.011]


def panel(**more: Any) -> Panel:
    return Panel(
        **{
            "name": "Means", "points": POINTS, "first": 1, "centre": 50.0045, "low": 49.999,
            "high": 50.010, "signals": (6, 7), **more,
        }
    )  # fmt: skip


def drawn(read_back: Any, *panels: Panel, phase_1: int = 5, unit: str = "mm") -> Any:
    return read_back(
        control_chart(panels or [panel()], unit=unit, phase_1=phase_1, palette=DAY, title="t")
    )


def test_points_limits_and_signals_are_to_one_scale(read_back: Any) -> None:
    chart = drawn(read_back)
    levels = {
        e.get("stroke-width"): float(e.get("y1"))
        for e in chart.all("line")
        if e.get("y1") == e.get("y2")
    }
    heavy = sorted(float(e.get("y1")) for e in chart.all("line") if e.get("stroke-width") == "1.6")
    high, low = heavy
    per_mm = (low - high) / 0.011
    assert (low - levels["0.9"]) / per_mm == pytest.approx(0.0055, abs=1e-4)
    dots = [e for e in chart.all("circle") if e.get("r") == "1.9"]
    made = [49.999 + (low - float(e.get("cy"))) / per_mm for e in dots]
    assert made == pytest.approx(POINTS, abs=1e-4)
    across = [float(e.get("cx")) for e in dots]
    assert np.diff(across) == pytest.approx(np.diff(across).mean(), abs=0.02)
    rings = [(e.get("cx"), e.get("cy")) for e in chart.all("circle") if e.get("r") == "4.6"]
    assert rings[:2] == [(e.get("cx"), e.get("cy")) for e in dots[5:]]
    (border,) = (e for e in chart.all("line") if e.get("stroke") == DAY.soft)
    assert across[4] < float(border.get("x1")) < across[5]


def test_what_is_written(read_back: Any) -> None:
    words = drawn(read_back).words()
    assert "Means, mm" in words
    assert {"high 50.01000", "centre 50.00450", "low 49.99900", "6", "7", "1"} <= set(words)
    assert {"signal", "limits set by points 1 to 5"} <= set(words)
    steady = drawn(read_back, panel(signals=()), phase_1=7).words()
    assert "signal" not in steady
    assert not [word for word in steady if "limits set" in word]


def test_many_points_become_a_band(read_back: Any) -> None:
    points = np.random.default_rng(40).normal(0, 1, 50_000).tolist()
    chart = drawn(
        read_back,
        panel(points=points, centre=0, low=-3, high=3, signals=range(1, 50_001, 400)),
        phase_1=50_000,
    )
    chart.check_clear()
    assert len(chart.svg) < 30_000
    (band,) = (e.get("d") for e in chart.all("path"))
    ends = [float(y) for run in band.split("M")[1:] for y in re.findall(r" (-?[\d.]+)", run)]
    frame = sorted(float(e.get("y1")) for e in chart.all("line") if e.get("stroke-width") == "1.6")
    per = (frame[1] - frame[0]) / 6
    assert (frame[1] - min(ends) - 0.5) / per - 3 == pytest.approx(max(points), abs=0.05)
    assert any("the first 60 of 125" in word for word in chart.words())


@given(
    points=st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=90),
    width=st.floats(1e-6, 1e5),
    centre=st.floats(-1e4, 1e4),
    unit=st.sampled_from(["mm", "thou"]),
    data=st.data(),
)
def test_any_chart_is_labelled_clear(
    read_back: Any, points: list[float], width: float, centre: float, unit: str, data: Any
) -> None:
    signals = data.draw(st.lists(st.integers(1, len(points)), max_size=30))
    one = panel(
        points=points, centre=centre, low=centre - width, high=centre + width, signals=signals
    )
    two = panel(
        name="Moving ranges", points=points, first=2, centre=centre, low=centre - width,
        high=centre + 2 * width, signals=[each + 1 for each in signals],
    )  # fmt: skip
    phase_1 = data.draw(st.integers(1, len(points)))
    drawn(read_back, one, two, phase_1=phase_1, unit=unit).check_clear()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"points": []}, "points: none given"),
        ({"points": [1.0, math.nan]}, "nan cannot be drawn"),
        ({"high": math.inf}, "inf cannot be drawn"),
        ({"centre": 60.0}, "centre is not between"),
    ],
)
def test_what_cannot_be_drawn_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        control_chart([panel(**more)], unit="mm", phase_1=1, title="t")


def test_the_worksheets_example(read_back: Any) -> None:
    worksheet = load("control-chart")
    case = read(worksheet.case, from_toml(worksheet.example))
    (picture,) = pictures_of("control-chart", case, worksheet.solve(case), palette=DAY)
    chart = read_back(picture.svg)
    chart.check_clear()
    assert picture.caption.endswith(".")
    assert {"Means, mm", "Ranges, mm", "11", "12", "limits set by points 1 to 10"} <= set(
        chart.words()
    )
