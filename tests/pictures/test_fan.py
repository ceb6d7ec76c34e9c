"""Bands day by day: drawn to scale, in order, labels clear."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.fan import fan
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def drawn(rows: list[tuple[float, ...]], level: float | None = None) -> str:
    low, middle, high = zip(*[sorted(row) for row in rows], strict=True) if rows else ((), (), ())
    return fan(
        low, middle, high, first="2026-05-04", last="2027-05-03", what="free bells",
        level=level, level_words="reserve", title="t", palette=DAY,
    )  # fmt: skip


def test_the_level_and_the_highest_are_drawn_to_one_scale(read_back: Any) -> None:
    picture = read_back(drawn([(1, 5, 10), (2, 4, 20)], level=5))
    picture.check_clear()
    dashes = [e for e in picture.all("path") if e.get("stroke") == DAY.soft]
    y = float(dashes[0].get("d").split("M")[1].split("L")[0].split()[1])
    bottom, tall = 26 + 160, 160
    assert bottom - y == pytest.approx(5 / 20 * tall, abs=0.01)
    assert "free bells, up to 20" in picture.words()


numbers = st.floats(0, 1e6)


@given(st.lists(st.tuples(numbers, numbers, numbers), min_size=1, max_size=120), numbers)
def test_any_bands_are_labelled_clear(
    read_back: Any, rows: list[tuple[float, ...]], level: float
) -> None:
    read_back(drawn(rows, level)).check_clear()


def test_bands_out_of_order_are_refused() -> None:
    for low, middle, high in (([2], [1], [3]), ([], [], []), ([1], [1, 2], [3]), ([-1], [1], [2])):
        with pytest.raises(InputError, match="bands"):
            fan(low, middle, high, first="", last="", what="", level=None, level_words="", title="")
    with pytest.raises(InputError, match="level"):
        drawn([(1, 2, 3)], float("nan"))


def test_the_year_is_drawn(read_back: Any) -> None:
    worksheet = load("year")
    case = read(worksheet.case, {**from_toml(worksheet.example), "runs": 200})
    (picture,) = pictures_of("year", case, worksheet.solve(case), palette=DAY)
    read_back(picture.svg).check_clear()
