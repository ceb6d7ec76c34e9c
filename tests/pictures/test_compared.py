"""One answer beside another: who contributes, before and now."""

from __future__ import annotations

from typing import Any

import pytest

from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read


def solved(contributors: list[dict[str, Any]]) -> tuple[Any, Any]:
    worksheet = load("radial-budget")
    case = read(worksheet.case, {"limit": "5 thou", "contributors": contributors})
    return case, worksheet.solve(case)


def zone(name: str, size: str) -> dict[str, Any]:
    return {"name": name, "kind": "zone", "zone": size}


def test_bars_compare_two_budgets_and_come_first(read_back: Any) -> None:
    """Two normal zones' mean squares are as the squares of their sizes."""
    _, before = solved([zone("bore", "3 thou"), zone("dowel", "4 thou")])
    case, now = solved([zone("bore", "3 thou"), zone("dowel", "3 thou")])
    first, second = pictures_of("radial-budget", case, now, before=before, palette=DAY)
    drawn = read_back(first.svg)
    drawn.check_clear()
    assert {"before", "now", "36.0 %", "64.0 %", "50.0 %"} <= set(drawn.words())
    solid = [float(r.get("width")) for r in drawn.all("rect")[3:]][::2]
    assert solid[1] / solid[0] == pytest.approx(9 / 16, abs=0.01)
    assert "a share of its own whole" in first.caption
    assert second == pictures_of("radial-budget", case, now, palette=DAY)[0]


def test_who_is_new_and_who_is_gone_have_a_bar_and_a_word(read_back: Any) -> None:
    _, before = solved([zone("bore", "3 thou"), zone("old jig", "4 thou")])
    case, now = solved([zone("bore", "3 thou"), zone("new jig", "1 thou")])
    drawn = read_back(pictures_of("radial-budget", case, now, before=before, palette=DAY)[0].svg)
    words = drawn.words()
    assert words.index("taken out") == words.index("old jig") + 2
    assert words.index("was not there") == words.index("new jig") + 1


def test_only_the_largest_of_both_are_drawn(read_back: Any) -> None:
    parts = [zone(f"part {number}", f"{number + 1} thou") for number in range(15)]
    _, before = solved(parts)
    case, now = solved(parts[:3])
    picture = pictures_of("radial-budget", case, now, before=before, palette=DAY)[0]
    assert "The largest 12 of 15." in picture.caption
    names = [word for word in read_back(picture.svg).words() if word.startswith("part")]
    assert len(names) == 12
    assert {"part 0", "part 1", "part 2", "part 14"} <= set(names)
