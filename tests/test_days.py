"""A day is read as ISO 8601 writes it with its dashes, and nothing else is taken for one."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.days import read_day
from kitwright.errors import InputError


@given(st.dates())
def test_what_is_written_is_read_back(day: datetime.date) -> None:
    assert read_day(f" {day.isoformat()} ", where="due") == day


@pytest.mark.parametrize(
    "typed",
    [
        "20260504",
        "2026-W19-1",
        "2026-5-4",
        "04/05/2026",
        "2026-02-30",
        "2026-05-04T12:00",
        "\u0662\u0660\u0662\u0666-\u0660\u0665-\u0660\u0664",
    ],
)
def test_another_way_of_writing_is_refused(typed: str) -> None:
    with pytest.raises(InputError) as caught:
        read_day(typed, where="due")
    (problem,) = caught.value.problems
    assert (problem.where, problem.given) == ("due", f'"{typed}" is not a day')
    assert problem.expected == "write it as 2026-03-01"


def test_nothing_typed_is_missing_and_a_long_text_is_cut() -> None:
    with pytest.raises(InputError, match="day: missing; give a date"):
        read_day("  ", where="day", expected="give a date")
    with pytest.raises(InputError, match=f'"{"x" * 40}" is not a day'):
        read_day("x" * 400, where="day")
