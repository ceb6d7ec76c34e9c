"""Readings round the clock and dowels as they turn."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.clock import DowelSetting, dowel_pair, readings
from kitwright.pictures.palette import DAY


def centre_of(label: Any) -> complex:
    left, top, right, bottom = label.box
    return complex((left + right) / 2, (top + bottom) / 2)


# A bore whose centre lies toward 9 reads highest at 3: its wall is nearest to the crank axis
# there (reading = c - e.u(t), docs/conventions.md).
def test_readings_stand_at_their_hours(read_back: Any) -> None:
    drawn = read_back(
        readings([(0, 0), (90, 5), (180, 0.5), (270, -5)], unit="thou", palette=DAY, title="t")
    )
    centre = complex(200, 172)
    found = {label.words: centre_of(label) - centre for label in drawn.labels}
    assert found["+5.0"].real > 80
    assert abs(found["+5.0"].imag) < 2
    assert found["−5.0"].real < -80
    assert found["0.0"].imag < -80
    assert found["+0.5"].imag > 80
    strokes = [
        (complex(float(e.get("x1")), float(e.get("y1"))) - centre,
         complex(float(e.get("x2")), float(e.get("y2"))) - centre)
        for e in drawn.all("line")
    ]  # fmt: skip
    lengths = [abs(b - a) for a, b in strokes[:4]]
    assert lengths[1] == max(lengths)
    assert lengths[3] == min(lengths)
    assert all(abs(b) < abs(a) for a, b in strokes[:4])  # inward
    assert lengths[0] == pytest.approx((lengths[1] + lengths[3]) / 2, abs=0.05)  # to one scale
    drawn.check_clear()


@given(
    angles=st.lists(st.floats(-400, 800), min_size=1, max_size=40),
    values=st.lists(st.sampled_from([0, 1, -2, 3.5, -12.25, 0.004]), min_size=40, max_size=40),
)
def test_any_readings_are_written_clear(
    read_back: Any, angles: list[float], values: list[float]
) -> None:
    points = list(zip(angles, values, strict=False))
    drawn = read_back(readings(points, unit="thou", palette=DAY, title="t"))
    drawn.check_clear()
    assert len(drawn.all("line")) >= len(points)


def test_highest_and_lowest_are_said_whatever_the_crowd(read_back: Any) -> None:
    points = [(3.0 * n, round(0.1 * math.cos(math.radians(3 * n - 70)), 4)) for n in range(120)]
    drawn = read_back(readings(points, unit="mm", palette=DAY, title="t"))
    drawn.check_clear()
    words = " ".join(drawn.words())
    assert f"+{max(v for _, v in points)}" in words
    assert f"−{-min(v for _, v in points)}" in words


def test_closure_is_written_in_one_place(read_back: Any) -> None:
    drawn = read_back(
        readings([(0, 0), (120, 3), (240, -1), (360, 1)], unit="thou", palette=DAY, title="t")
    )
    assert "0 / +1" in drawn.words()


def pair(clock_a: float | None, clock_b: float | None, **place: float) -> tuple[DowelSetting, ...]:
    at = {"ax": -150.0, "ay": -20.0, "bx": 150.0, "by": -20.0, **place}
    return (
        DowelSetting(
            name="dowel a", x_mm=at["ax"], y_mm=at["ay"],
            size_mm=0.1778 if clock_a is not None else 0, clock_deg=clock_a,
        ),
        DowelSetting(
            name="dowel b", x_mm=at["bx"], y_mm=at["by"],
            size_mm=0.1778 if clock_b is not None else 0, clock_deg=clock_b,
        ),
    )  # fmt: skip


@pytest.mark.parametrize("clock", [0, 60, 90, 200, 330])
def test_the_bell_end_and_the_slot_point_where_they_must(read_back: Any, clock: float) -> None:
    """The bell end stands from the block end toward the dowel's clock angle."""
    drawn = read_back(dowel_pair(*pair(clock, None), lead="in", palette=DAY, title="t"))
    way = complex(math.sin(math.radians(clock)), -math.cos(math.radians(clock)))
    block = next(c for c in drawn.all("circle") if c.get("stroke-dasharray") == "3 2")
    bell = next(c for c in drawn.all("circle") if c.get("stroke-width") == "1.8")
    step = complex(float(bell.get("cx")), float(bell.get("cy"))) - complex(
        float(block.get("cx")), float(block.get("cy"))
    )
    assert step / abs(step) == pytest.approx(way, abs=2e-3)
    slot = next(e for e in drawn.all("line") if e.get("stroke") == DAY.brass)
    hand = complex(float(slot.get("x2")), float(slot.get("y2"))) - complex(
        float(slot.get("x1")), float(slot.get("y1"))
    )
    assert hand / abs(hand) == pytest.approx(way, abs=2e-3)
    assert {"7 thou", "plain dowel"} <= set(drawn.words())


def test_dowels_stand_as_in_the_car(read_back: Any) -> None:
    settings = pair(60, 60, ax=-150, ay=90, bx=140, by=-60)
    drawn = read_back(dowel_pair(*settings, palette=DAY, title="t"))
    a, b = (
        complex(float(c.get("cx")), float(c.get("cy")))
        for c in drawn.all("circle")
        if c.get("stroke-width") == "0.8"
    )
    assert a.real < b.real  # a to the left
    assert (b.imag - a.imag) / (b.real - a.real) == pytest.approx(150 / 290, abs=1e-3)  # higher


@given(
    ax=st.floats(-300, 300), ay=st.floats(-300, 300), bx=st.floats(-300, 300),
    by=st.floats(-300, 300), clock=st.floats(0, 360),
)  # fmt: skip
def test_any_two_dowels_are_labelled_clear(
    read_back: Any, ax: float, ay: float, bx: float, by: float, clock: float
) -> None:
    if math.hypot(ax - bx, ay - by) < 1e-3:
        return
    drawn = read_back(
        dowel_pair(
            *pair(clock, clock + 100, ax=ax, ay=ay, bx=bx, by=by), lead="in", palette=DAY, title="t"
        )
    )
    drawn.check_clear()
    words = drawn.words()
    assert words.count("7 thou") == 2
    assert len([word for word in words if word.startswith("slot at")]) == 2


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: readings([], unit="mm", title="t"), "readings: none"),
        (lambda: readings([(0, math.nan)], unit="mm", title="t"), r"readings\[0\]"),
        (lambda: dowel_pair(*pair(0, 0, bx=-150), title="t"), "dowel_b"),
        (lambda: dowel_pair(*pair(0, 0, ax=math.inf), title="t"), "dowel_a"),
    ],
)
def test_what_cannot_be_drawn_is_refused(call: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        call()
