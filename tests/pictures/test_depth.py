"""The pictures of the depth stage, from its worksheets' own examples."""

from __future__ import annotations

from typing import Any

import pytest

from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def solved(name: str, **changed: Any) -> tuple[Any, Any]:
    worksheet = load(name)
    case = read(worksheet.case, {**from_toml(worksheet.example), **changed})
    return case, worksheet.solve(case)


def drawn(read_back: Any, name: str, lead: Any = "mm", **changed: Any) -> list[Any]:
    found = pictures_of(name, *solved(name, **changed), lead=lead, palette=DAY)
    assert all(picture.caption.endswith(".") for picture in found)
    pictures = [read_back(picture.svg) for picture in found]
    for picture in pictures:
        picture.check_clear()
        assert picture.root.findtext("{*}title")
        assert picture.root.findtext("{*}desc")
    return pictures


def test_an_axial_budget_has_bars_for_the_gap_and_each_requirement(read_back: Any) -> None:
    pictures = drawn(read_back, "axial-budget")
    _, answer = solved("axial-budget")
    assert len(pictures) == 1 + len(answer.requirements)
    for picture, whole in zip(pictures, [answer, *answer.requirements], strict=True):
        widths = [float(box.get("width")) for box in picture.all("rect")][1:]
        shares = sorted((each.share for each in whole.contributions), reverse=True)
        wide = [share for share in shares if share > 0.01]
        assert widths[: len(wide)] == pytest.approx(
            [share / shares[0] * widths[0] for share in wide], abs=0.02
        )
        assert picture.words()[0] == max(whole.contributions, key=lambda each: each.share).name


def test_only_the_largest_dozen_links_have_a_bar(read_back: Any) -> None:
    links = [
        {"name": f"link {n}", "nominal": "1 mm", "plus": f"{n} thou", "minus": "0 mm", "sense": 1}
        for n in range(1, 16)
    ]
    (picture,) = drawn(read_back, "axial-budget", links=links, requirements=[])
    names = [word for word in picture.words() if word.startswith("link")]
    assert names == [f"link {n}" for n in range(15, 3, -1)]
    caption = pictures_of(
        "axial-budget", *solved("axial-budget", links=links, requirements=[]), palette=DAY
    )[0].caption
    assert caption.endswith("The largest 12 of 15.")
