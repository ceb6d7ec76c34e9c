"""The strip of values between their limits, and positions in their zone."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY
from kitwright.pictures.strip import strip
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def asked(**more: Any) -> dict[str, Any]:
    return {
        "counts": [1, 4, 0, 2], "lowest": 50.0, "highest": 50.008, "low": 49.99, "high": 50.02,
        "mean": 50.0035, "unit": "mm", "palette": DAY, "title": "t", **more,
    }  # fmt: skip


def test_bars_and_limits_are_to_one_scale(read_back: Any) -> None:
    drawn = read_back(strip(**asked()))
    low, high = (float(e.get("x1")) for e in drawn.all("line") if e.get("stroke-width") == "2")
    per_mm = (high - low) / 0.03
    bars = drawn.all("rect")[1:]
    assert len(bars) == 3  # nothing is drawn where nothing was counted
    starts = [49.99 + (float(bar.get("x")) - low) / per_mm for bar in bars]
    assert starts == pytest.approx([50.0, 50.002, 50.006], abs=1e-5)
    heights = [float(bar.get("height")) for bar in bars]
    assert heights[0] * 4 == pytest.approx(heights[1], abs=0.05)
    assert heights[2] * 2 == pytest.approx(heights[1], abs=0.05)
    (mean,) = (float(e.get("x1")) for e in drawn.all("line") if e.get("stroke-width") == "1.2")
    assert (mean - low) / per_mm == pytest.approx(0.0135, abs=1e-5)
    assert drawn.words() == ["low 49.9900 mm", "high 50.0200 mm", "mean 50.0035 mm"]
    drawn.check_clear()


@given(
    counts=st.lists(st.integers(0, 50), min_size=1, max_size=40).filter(any),
    ends=st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)).map(sorted),
    low=st.none() | st.floats(-2e3, 2e3),
    width=st.floats(0, 100),
    at=st.floats(0, 1),
)
def test_any_strip_is_labelled_clear(
    read_back: Any, counts: list[int], ends: list[float], low: Any, width: float, at: float
) -> None:
    high = width if low is None else low + width
    mean = ends[0] + at * (ends[1] - ends[0])
    drawn = strip(
        **asked(counts=counts, lowest=ends[0], highest=ends[1], low=low, high=high, mean=mean)
    )
    read_back(drawn).check_clear()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"counts": []}, "counts: nothing was counted"),
        ({"counts": [0, 0]}, "counts: nothing was counted"),
        ({"mean": math.nan}, "nan cannot be drawn"),
        ({"high": math.inf}, "inf cannot be drawn"),
    ],
)
def test_what_cannot_be_drawn_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        strip(**asked(**more))


def pictured(read_back: Any, data: dict[str, Any]) -> tuple[Any, Any, str]:
    worksheet = load("capability")
    case = read(worksheet.case, data)
    answer = worksheet.solve(case)
    (picture,) = pictures_of("capability", case, answer, palette=DAY)
    assert picture.caption.endswith(".")
    drawn = read_back(picture.svg)
    drawn.check_clear()
    return drawn, answer, picture.caption


def test_the_worksheets_example(read_back: Any) -> None:
    drawn, _, _ = pictured(read_back, from_toml(load("capability").example))
    assert "mean 50.0045 mm" in drawn.words()


def test_positions_stand_on_the_target(read_back: Any) -> None:
    """In thou, so that a picture in mm must turn them."""
    places = [[1.0, 0.5], [-1, 2], [0.5, -1.5], [3.9, 0.2], [0, 1], [-2, -1], [1.5, 1], [-0.5, 0]]
    drawn, answer, _ = pictured(
        read_back, {"unit": "thou", "positions": places, "zone": "0.127 mm"}
    )
    words = drawn.words()
    assert [word for word in words if word.endswith("outside the zone")]
    assert "limit 0.127 mm TIR" in words
    assert answer.counted_outside == 1
    marks = [c for g in drawn.all("g") for c in g.iter("{*}circle")]
    assert len(marks) >= len(places)


def test_of_very_many_positions_the_last_are_shown(read_back: Any) -> None:
    places = [[math.sin(i), math.cos(1.7 * i)] for i in range(900)]
    drawn, _, caption = pictured(read_back, {"unit": "thou", "positions": places, "zone": "5 thou"})
    assert "The last 400 of 900." in caption
    assert len(drawn.svg) < 200_000
