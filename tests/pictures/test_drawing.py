"""The writer of SVG."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from kitwright.errors import FaultError
from kitwright.pictures.drawing import (
    arrow,
    arrow_width,
    document,
    element,
    hatching_of_box,
    hatching_of_disc,
    number,
)
from kitwright.pictures.palette import DAY


@given(st.floats(-1e6, 1e6))
def test_numbers_are_short_and_true(value: float) -> None:
    text = number(value)
    assert abs(float(text) - value) <= 0.005 + 1e-9
    assert "e" not in text
    assert text != "-0"
    assert "." not in text or text[-1] not in "0."


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_number_that_is_none_is_a_fault_of_ours(value: float) -> None:
    with pytest.raises(FaultError, match="drawing"):
        number(value)


@given(words=st.text(max_size=60))
def test_any_text_reads_back(words: str) -> None:
    """What XML 1.0 allows (section 2.2) comes back as it was; anything else is replaced."""
    svg = document(
        10, 10, [element("text", words, id=words)], title=words, description="", palette=DAY
    )
    root = etree.fromstring(svg.encode())
    kept = "".join(
        c
        if c in "\t\n\r" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c > "\uffff"
        else "\ufffd"
        for c in words
    )
    assert (root[3].text or "") == kept.replace("\r\n", "\n").replace("\r", "\n")
    assert root[0].text or not kept


@given(x=st.floats(-50, 50), y=st.floats(-50, 50), radius=st.floats(2, 30), gap=st.floats(1.5, 9))
def test_hatching_stays_in_its_disc(x: float, y: float, radius: float, gap: float) -> None:
    strokes = hatching_of_disc((x, y), radius, gap=gap)
    assert strokes
    for a, b in strokes:
        assert math.dist(a, (x, y)) == pytest.approx(radius)  # both ends on its edge
        assert math.dist(b, (x, y)) == pytest.approx(radius)
        assert b[0] - a[0] == pytest.approx(a[1] - b[1])  # at 45°, rising to the right
    away = sorted((a[0] - x + a[1] - y) * math.sqrt(0.5) for a, _ in strokes)
    assert all(two - one == pytest.approx(gap) for one, two in itertools.pairwise(away))


@given(wide=st.floats(1, 300), tall=st.floats(1, 60), gap=st.floats(1.5, 9))
def test_hatching_stays_in_its_box(wide: float, tall: float, gap: float) -> None:
    for lower, upper in hatching_of_box(5, 7, 5 + wide, 7 + tall, gap=gap):
        for x, y in (lower, upper):
            assert 5 - 1e-9 <= x <= 5 + wide + 1e-9
            assert 7 - 1e-9 <= y <= 7 + tall + 1e-9
        assert upper[0] - lower[0] == pytest.approx(lower[1] - upper[1], abs=1e-9)


@given(length=st.floats(0.5, 200), angle=st.floats(0, 7))
def test_an_arrow_ends_at_its_tip(length: float, angle: float) -> None:
    tip = (length * math.cos(angle), length * math.sin(angle))
    shaft, head = arrow((0, 0), tip, "#000")
    corners = [
        complex(*map(float, pair.split(","))) for pair in dict(head.attributes)["points"].split()
    ]
    assert abs(corners[0] - complex(*tip)) < 0.02
    assert abs(corners[1] - corners[2]) == pytest.approx(arrow_width(length), abs=0.03)
    assert max(abs(corner) for corner in corners) <= length + 0.02
    assert float(dict(shaft.attributes)["x1"]) == 0


def test_an_arrow_of_no_length_is_none() -> None:
    nothing: Any = arrow((1, 1), (1, 1), "#000")
    assert nothing == []
