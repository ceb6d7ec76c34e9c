"""Energies on a scale of times: what comes as a stroke, walls as spans."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.energies import WallSpan, energies
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def test_equal_times_are_equal_steps(read_back: Any) -> None:
    walls = [WallSpan(name="a", low_j=10, high_j=100), WallSpan(name="b", low_j=100, high_j=1000)]
    found = read_back(energies(1000, walls, words="comes", title="t", palette=DAY))
    found.check_clear()
    first, second = (
        (float(box.get("x")), float(box.get("width")))
        for box in found.all("rect")
        if box.get("fill") == DAY.wash
    )
    assert first[1] == pytest.approx(second[1], abs=0.02)
    assert second[0] == pytest.approx(first[0] + first[1], abs=0.02)
    strokes = [each for each in found.all("line") if each.get("x1") == each.get("x2")]
    end = second[0] + second[1]
    assert [float(each.get("x1")) for each in strokes] == [pytest.approx(end, abs=0.02)] * 2
    assert "comes 1.00 kJ" in found.words()
    assert "10.0 J to 100 J" in found.words()


@given(
    comes=st.floats(-6, 9),
    walls=st.lists(
        st.tuples(st.text(max_size=80), st.floats(-6, 9), st.floats(0, 6)), min_size=1, max_size=12
    ),
)
def test_no_label_touches_another(read_back: Any, comes: float, walls: list[Any]) -> None:
    spans = [
        WallSpan(name=name or "x", low_j=10**low, high_j=10 ** (low + more))
        for name, low, more in walls
    ]
    svg = energies(10**comes, spans, words="a third of the disc brings", title="t", palette=DAY)
    read_back(svg).check_clear()


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_what_cannot_be_drawn_is_refused(value: float) -> None:
    with pytest.raises(InputError, match="cannot be drawn"):
        energies(value, [WallSpan(name="a", low_j=1, high_j=2)], words="w", title="t")
    with pytest.raises(InputError, match="none given"):
        energies(1, [], words="w", title="t")


@pytest.mark.parametrize("name", ["containment", "choose-bell"])
def test_the_examples_are_clear(read_back: Any, name: str) -> None:
    worksheet = load(name)
    case = read(worksheet.case, from_toml(worksheet.example))
    [picture] = pictures_of(name, case, worksheet.solve(case), palette=DAY)
    read_back(picture.svg).check_clear()
    assert picture.caption.endswith(".")


def test_one_bell_alone_has_no_picture() -> None:
    worksheet = load("choose-bell")
    data = from_toml(worksheet.example)
    case = read(worksheet.case, {**data, "designs": data["designs"][1:2]})
    assert pictures_of("choose-bell", case, worksheet.solve(case)) == []
