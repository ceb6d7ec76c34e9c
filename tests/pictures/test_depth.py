"""The pictures of the depth stage, from its worksheets' own examples."""

from __future__ import annotations

import math
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY
from kitwright.pictures.release_gap import Span, spans
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


# ── the release gap ──────────────────────────────────────────────────────────────────────


def across(picture: Any) -> list[tuple[float, float]]:
    """The level lines of the rows, as left and right ends, from the top down."""
    found = [
        [float(each.get(name)) for name in ("y1", "y2", "x1", "x2")] for each in picture.all("line")
    ]
    level = sorted((y1, x1, x2) for y1, y2, x1, x2 in found if y1 == y2 and min(x1, x2) > 150)
    return [(x1, x2) for _, x1, x2 in level]


def test_a_release_gap_is_drawn_to_scale(read_back: Any) -> None:
    (picture,) = drawn(read_back, "release-gap")
    _, answer = solved("release-gap")
    bare, arrow, shimmed, worn = across(picture)
    scale = (bare[1] - bare[0]) / answer.gap_mm
    assert shimmed[1] - shimmed[0] == pytest.approx(answer.gap_shimmed_mm * scale, abs=0.05)
    assert worn[1] - worn[0] == pytest.approx(answer.gap_worn_mm * scale, abs=0.05)
    assert shimmed[0] == bare[0]  # the fingers stay
    assert worn[1] == shimmed[1]  # the bearing stays
    assert arrow[0] == bare[1]
    tips = [p for p in picture.all("polygon") if p.get("fill") == DAY.brass]
    assert float(tips[0].get("points").split(",")[0]) == pytest.approx(shimmed[1], abs=0.02)
    words = picture.words()
    assert words[:2] == ["engine", "gearbox"]
    assert words[2:] == [
        "gap as it is", "6.67 mm",
        "shims behind the bearing", "1.600 mm",
        "gap with them", "5.07 mm",
        "limits of the gap", "3.175 to 6.350 mm",
        "disc worn", "2.07 mm",
    ]  # fmt: skip


@pytest.mark.parametrize("lead", ["mm", "in"])
@pytest.mark.parametrize(
    "changed",
    [
        {"shims": []},
        {"face_to_bearing": "60 mm"},
        {"face_to_bearing": "90 mm", "straightedge": None},
        {"clutch": None, "gap": {"low": "3 mm"}},
        {"gap": {"high": "3 mm"}, "clutch": {"disc_wear": "5 mm", "finger_ratio": 9}},
        {"face_to_fingers": "20 m"},
    ],
)
def test_any_release_gap_can_be_drawn(read_back: Any, changed: dict[str, Any], lead: Any) -> None:
    (picture,) = drawn(read_back, "release-gap", lead, **changed)
    _, answer = solved("release-gap", **changed)
    assert ("disc worn" in picture.words()) == (answer.gap_worn_mm is not None)
    assert ("gap with them" in picture.words()) == bool(answer.shims_used)
    if answer.gap_mm < 0:  # they run into one another: the fingers right of the bearing
        assert across(picture)[0][0] > across(picture)[0][1]


def test_rows_that_cannot_be_drawn_are_refused() -> None:
    for row in (
        Span(name="a", words="b", from_mm=-math.inf, to_mm=math.inf, kind="limits"),
        Span(name="a", words="b", from_mm=0, to_mm=math.nan),
        Span(name="a", words="b", from_mm=0, to_mm=1e12),
    ):
        with pytest.raises(InputError, match="cannot be drawn"):
            spans([row], title="none")
