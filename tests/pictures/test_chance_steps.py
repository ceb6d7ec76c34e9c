"""Chances step by step: drawn to scale, the step that is reached marked, labels clear."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.chance_steps import chance_steps
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def drawn(chances: list[float], **more: Any) -> str:
    given_: dict[str, Any] = {
        "first": "2026-05-04", "last": "2026-08-01", "across": "chance", "wanted": 0.9,
        "reached": None, "words": "none does", "title": "t", "palette": DAY,
    }  # fmt: skip
    return chance_steps(chances, **{**given_, **more})


def test_the_mark_stands_on_its_step(read_back: Any) -> None:
    picture = read_back(drawn([0.2, 0.6, 0.95, 1.0], reached=2, words="day three holds"))
    picture.check_clear()
    mark = next(e for e in picture.all("circle") if e.get("r") == "4.8")
    base, tall = 16 + 170, 170
    assert base - float(mark.get("cy")) == pytest.approx(0.95 * tall, abs=0.01)
    left, right = 56.0, 384.0
    assert float(mark.get("cx")) == pytest.approx(left + 2.5 / 4 * (right - left), abs=0.01)
    assert "day three holds" in picture.words()
    assert "wanted 90 %" in picture.words()


def test_where_none_reaches_it_that_is_written(read_back: Any) -> None:
    picture = read_back(drawn([0.2, 0.6]))
    assert "none does" in picture.words()
    assert not [e for e in picture.all("circle") if e.get("r") == "4.8"]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=400), st.floats(0, 1), st.text(max_size=40))
def test_any_chances_are_labelled_clear(
    read_back: Any, chances: list[float], wanted: float, words: str
) -> None:
    picture = drawn(chances, wanted=wanted, reached=len(chances) // 2, words=words or "x")
    read_back(picture).check_clear()


@pytest.mark.parametrize("chances", [[], [1.1], [float("nan")], [0.5] * 401])
def test_what_is_no_chance_is_refused(chances: list[float]) -> None:
    with pytest.raises(InputError, match="chances"):
        drawn(chances)


@pytest.mark.parametrize("name", ["promise", "hold-back"])
def test_the_worksheets_are_drawn(read_back: Any, name: str) -> None:
    worksheet = load(name)
    case = read(worksheet.case, from_toml(worksheet.example))
    (picture,) = pictures_of(name, case, worksheet.solve(case), palette=DAY)
    read_back(picture.svg).check_clear()
