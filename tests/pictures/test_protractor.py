"""The protractor for a slot: true to size, its line true in angle, its words clear."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.protractor import (
    ACROSS_MM,
    LARGEST_MM,
    MM,
    SMALLEST_MM,
    WIDE_MM,
    scale_rule,
    slot_protractor,
)

CENTRE = WIDE_MM * MM / 2


def disc(slot_deg: float = 60.0, other_deg: float = 90.0, **how: Any) -> str:
    given = {"name": "dowel a", "size": "7 thou", "dowel_mm": 16.0, **how}
    return slot_protractor(slot_deg=slot_deg, other_deg=other_deg, **given)


def clock(x: float, y: float) -> float:
    return math.degrees(math.atan2(x - CENTRE, CENTRE - y)) % 360


def lines(drawn: Any) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [
        ((float(e.get("x1")), float(e.get("y1"))), (float(e.get("x2")), float(e.get("y2"))))
        for e in drawn.all("line")
    ]


def test_four_units_are_a_millimetre(read_back: Any) -> None:
    drawn = read_back(disc())
    assert drawn.size == (328.0, 328.0)
    across = sorted(2 * float(c.get("r")) / MM for c in drawn.all("circle"))
    assert across == [16.0, 66.0, ACROSS_MM]
    assert all((float(c.get("cx")), float(c.get("cy"))) == (164, 164) for c in drawn.all("circle"))


@settings(max_examples=60, deadline=None)
@given(
    slot_deg=st.floats(-360, 720),
    other_deg=st.floats(0, 360),
    dowel_mm=st.floats(SMALLEST_MM, LARGEST_MM),
    size=st.sampled_from(["7 thou", "0.178 mm", "20.5 thou"]),
)
def test_lines_are_true_and_words_are_clear(
    read_back: Any, slot_deg: float, other_deg: float, dowel_mm: float, size: str
) -> None:
    drawn = read_back(disc(slot_deg, other_deg, dowel_mm=dowel_mm, size=size))
    (dash, end), (tail, head) = lines(drawn)
    for (a, b), wanted in (((dash, end), other_deg), ((tail, head), slot_deg)):
        for point in (a, b):
            assert abs((clock(*point) - wanted + 180) % 360 - 180) < 0.05
        assert math.dist(a, (CENTRE, CENTRE)) > dowel_mm * MM / 2  # it starts beyond the hole
    drawn.check_clear()
    words = drawn.words()
    assert [*map(str, range(1, 13))] == words[:12]
    assert words[12:14] == ["dowel a", size]
    assert words[-3:] == ["this side", "toward you,", "12 up"]


def test_the_arrow_says_degrees_and_hour(read_back: Any) -> None:
    drawn = read_back(disc(315.2))
    assert {"315°", "half past 10"} <= set(drawn.words())
    [head] = drawn.all("polygon")
    x, y = map(float, head.get("points").split()[0].split(","))
    assert clock(x, y) == pytest.approx(315.2, abs=0.05)
    assert math.dist((x, y), (CENTRE, CENTRE)) < 66 / 2 * MM


def test_ticks_every_five_degrees_the_hours_longest(read_back: Any) -> None:
    found = {}
    for path in read_back(disc()).all("path"):
        for run in path.get("d").split("M")[1:]:
            a, b = (tuple(map(float, pair.split())) for pair in run.split("L"))
            if math.dist(b, (CENTRE, CENTRE)) > 131:
                found[round(clock(*b), 1) % 360] = math.dist(a, b)
    assert sorted(found) == [5.0 * n for n in range(72)]
    for angle, length in found.items():
        wanted = 18 if angle % 30 == 0 else 12 if angle % 15 == 0 else 8
        assert length == pytest.approx(wanted, abs=0.02)


@pytest.mark.parametrize("dowel_mm", [5.9, 25.1, math.nan, math.inf])
def test_a_dowel_that_has_no_room_is_refused(dowel_mm: float) -> None:
    with pytest.raises(InputError, match="give 6 mm to 25 mm"):
        disc(dowel_mm=dowel_mm)


def test_the_lines_to_measure(read_back: Any) -> None:
    drawn = read_back(scale_rule())
    drawn.check_clear()
    lengths = [math.dist(a, b) / MM for a, b in lines(drawn)]
    assert lengths == pytest.approx([100.0, 101.6])
    assert drawn.words() == ["100 mm", "4 in"]
