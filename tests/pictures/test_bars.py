"""Bars of contributions."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.palette import DAY


def boxes(drawn: Any) -> list[tuple[float, float, str]]:
    """(left, width, fill) of each bar; the first rectangle is the ground."""
    return [
        (float(r.get("x")), float(r.get("width")), r.get("fill")) for r in drawn.all("rect")[1:]
    ]


def test_lengths_are_in_proportion_from_one_zero_line(read_back: Any) -> None:
    rows = [Bar(name=f"part {v}", value=v, words=f"{v}") for v in (0.6, 0.3, -0.15)]
    found = boxes(read_back(bars(rows, palette=DAY, title="t")))
    zero = found[0][0]
    assert found[1][0] == zero
    assert found[2][0] + found[2][1] == pytest.approx(zero, abs=0.02)
    assert found[1][1] / found[0][1] == pytest.approx(0.5, abs=1e-3)
    assert found[2][1] / found[0][1] == pytest.approx(0.25, abs=1e-3)


def test_after_is_an_open_bar_to_the_same_scale(read_back: Any) -> None:
    rows = [Bar(name="bore", value=0.6, words="60 %", after=0.2, after_words="20 %")]
    drawn = read_back(bars(rows, before="today", after="with a finer zone", palette=DAY, title="t"))
    solid, hollow = boxes(drawn)[2:]
    assert (solid[2], hollow[2]) == (DAY.ink, DAY.ground)
    assert hollow[1] / solid[1] == pytest.approx(1 / 3, abs=0.01)
    assert {"today", "with a finer zone", "60 %", "20 %"} <= set(drawn.words())


names = st.one_of(
    st.text(max_size=30), st.just("a contributor " * 20), st.just("w" * 300), st.just("Ø" * 40)
)


def test_bars_of_next_to_nothing_can_be_drawn(read_back: Any) -> None:
    rows = [Bar(name="a", value=5e-324, words="0 %"), Bar(name="b", value=0, words="0 %")]
    read_back(bars(rows, palette=DAY, title="t")).check_clear()


@given(
    rows=st.lists(st.tuples(names, st.floats(-1, 1), st.floats(-1, 1)), min_size=1, max_size=12),
    compares=st.booleans(),
    note=st.sampled_from(["", "Share of the mean square offset"]),
)
def test_any_bars_are_labelled_clear(
    read_back: Any, rows: list[tuple[str, float, float]], compares: bool, note: str
) -> None:
    drawn = read_back(
        bars(
            [
                Bar(
                    name=name,
                    value=value,
                    words=f"{100 * value:.0f} %",
                    after=after if compares else None,
                    after_words=f"{100 * after:.0f} %",
                )
                for name, value, after in rows
            ],
            note=note,
            palette=DAY,
            title="t",
        )
    )
    drawn.check_clear(1.0)


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [Bar(name="a", value=math.nan, words="")],
        [Bar(name="a", value=1, words="", after=math.inf)],
    ],
)
def test_what_cannot_be_drawn_is_refused(rows: list[Bar]) -> None:
    with pytest.raises(InputError, match="rows"):
        bars(rows, title="t")
