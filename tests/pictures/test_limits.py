"""A value between its limits."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.limits import limit_line
from kitwright.pictures.palette import DAY


def asked(**more: Any) -> dict[str, Any]:
    return {
        "value_mm": 158.012, "u95_mm": 0.01, "low_mm": 157.975, "high_mm": 158.025,
        "guard_mm": 0.01, "verdict": "within", "palette": DAY, "title": "t", **more,
    }  # fmt: skip


def strokes(drawn: Any) -> list[float]:
    """Where the limits stand across the page."""
    return [float(e.get("x1")) for e in drawn.all("line") if e.get("stroke-width") == "2"]


def test_everything_is_to_one_scale(read_back: Any) -> None:
    drawn = read_back(limit_line(**asked()))
    low, high = strokes(drawn)
    per_mm = (high - low) / 0.05
    value = float(drawn.all("g")[0].find("{*}circle").get("cx"))
    assert (value - low) / per_mm == pytest.approx(0.037, abs=1e-4)
    left, right = ((float(r.get("x")), float(r.get("x")) + float(r.get("width")))
                   for r in drawn.all("rect")[1:])  # fmt: skip
    # the guard is drawn both ways from each limit (ISO 14253-1: the zone of uncertainty)
    assert [(x - low) / per_mm for x in left] == pytest.approx([-0.01, 0.01], abs=1e-4)
    assert [(x - high) / per_mm for x in right] == pytest.approx([-0.01, 0.01], abs=1e-4)
    reach = drawn.all("path")[-2].get("d")  # before the key's sample
    first, last = reach.split("M")[1].split("L")
    assert (float(last.split()[0]) - float(first.split()[0])) / per_mm == pytest.approx(
        0.02, abs=2e-4
    )
    assert "158.012 mm ± 0.010 mm" in drawn.words()
    drawn.check_clear()


def test_wide_guards_are_one_band(read_back: Any) -> None:
    drawn = read_back(limit_line(**asked(guard_mm=0.03, verdict="too close to call")))
    assert len(drawn.all("rect")) == 2


def test_a_span_of_nothing_can_be_drawn(read_back: Any) -> None:
    tiny = limit_line(**asked(value_mm=5e-324, u95_mm=0, low_mm=0, high_mm=0, guard_mm=0))
    read_back(tiny).check_clear()


@given(
    value=st.floats(-1, 1), u95=st.floats(0, 0.5), low=st.none() | st.floats(-1, 0),
    high=st.none() | st.floats(0, 1), guard=st.floats(0, 0.5), lead=st.sampled_from(["mm", "in"]),
)  # fmt: skip
def test_any_limits_are_labelled_clear(
    read_back: Any, value: float, u95: float, low: Any, high: Any, guard: float, lead: Any
) -> None:
    if low is None and high is None:
        return
    drawn = read_back(
        limit_line(**asked(value_mm=value, u95_mm=u95, low_mm=low, high_mm=high, guard_mm=guard,
                           lead=lead))
    )  # fmt: skip
    drawn.check_clear()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"value_mm": 1e300}, "value: 1e\\+300 cannot be drawn"),
        ({"low_mm": None, "high_mm": None}, "limits: neither"),
        ({"low_mm": 159.0}, "low is above high"),
        ({"value_mm": math.nan}, "value"),
        ({"guard_mm": math.inf}, "guard"),
    ],
)
def test_what_cannot_be_drawn_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        limit_line(**asked(**more))
