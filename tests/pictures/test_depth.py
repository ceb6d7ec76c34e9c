"""The pictures of the depth stage, from its worksheets' own examples."""

from __future__ import annotations

import math
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.hand_room import wall_view
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


# ── hand room ────────────────────────────────────────────────────────────────────────────


def corners(shape: Any) -> list[tuple[float, float]]:
    return [tuple(map(float, pair.split(","))) for pair in shape.get("points").split()]  # type: ignore[misc]


def test_a_wrench_is_drawn_in_the_wall_and_in_a_cut(read_back: Any) -> None:
    wall, cut = drawn(read_back, "hand-room")
    _, answer = solved("hand-room")
    (opening,) = wall.all("polygon")
    xs, ys = zip(*corners(opening), strict=True)
    scale = (max(xs) - min(xs)) / 60  # the example's opening is 60 by 70
    assert (max(ys) - min(ys)) / scale == pytest.approx(70, abs=0.1)
    swing = next(box for box in wall.all("rect") if box.get("fill") == DAY.wash)
    inside = (max(ys) - min(ys) - float(swing.get("height"))) / 2
    assert inside / scale == pytest.approx(answer.swing_margin_mm, abs=0.1)
    assert "smallest that serves" not in wall.words()
    bars = cut.all("polygon")
    assert len(bars) == 2
    turned = []
    for bar in bars:
        (x1, y1), (x2, y2), *_ = corners(bar)
        turned.append(math.degrees(math.atan2(x2 - x1, y1 - y2)))
    assert max(turned) - min(turned) == pytest.approx(30, abs=0.1)
    assert min(turned) == pytest.approx(answer.view.swing_from_deg, abs=0.1)


def test_what_does_not_serve_shows_what_would(read_back: Any) -> None:
    box = {"width": "12 mm", "height": "40 mm", "x": "0 mm", "y": "0 mm"}
    wall, _ = drawn(read_back, "hand-room", box=box)
    _, answer = solved("hand-room", box=box)
    brass = [each for each in wall.all("rect") if each.get("stroke") == DAY.brass]
    small = brass[0]
    ratio = answer.smallest.height_mm / answer.smallest.width_mm
    assert float(small.get("height")) / float(small.get("width")) == pytest.approx(ratio, rel=0.01)
    assert "smallest that serves" in wall.words()


@pytest.mark.parametrize("lead", ["mm", "in"])
@pytest.mark.parametrize(
    "changed",
    [
        {"adjuster": {"x": "0 mm", "y": "0 mm", "depth": "70 mm", "axis": "round the bell"}},
        {"adjuster": {"x": "300 mm", "y": "0 mm", "depth": "70 mm"}},
        {"adjuster": {"x": "0 mm", "y": "0 mm", "depth": "170 mm"}},
        {"tool": "hand", "wrench": None, "swing_deg": None},
        {"wall": "0 mm", "swing_deg": 0},
        {
            "box": None,
            "outline": [["-30 mm", "-9 mm"], ["40 mm", "-9 mm"], ["40 mm", "40 mm"],
                        ["20 mm", "40 mm"], ["20 mm", "20 mm"], ["-30 mm", "20 mm"]],
        },
    ],
)  # fmt: skip
def test_any_room_can_be_drawn(read_back: Any, changed: dict[str, Any], lead: Any) -> None:
    worksheet = load("hand-room")
    plain = {**from_toml(worksheet.example), **changed}
    case = read(worksheet.case, {key: value for key, value in plain.items() if value is not None})
    answer = worksheet.solve(case)
    pictures = pictures_of("hand-room", case, answer, lead=lead, palette=DAY)
    assert len(pictures) == (1 if answer.view.swing_from_deg is None else 2)
    for picture in pictures:
        read_back(picture.svg).check_clear()


def test_a_room_too_large_to_draw_is_refused() -> None:
    with pytest.raises(InputError, match="too large to be drawn"):
        wall_view(
            [(0, 0), (1e7, 0), (0, 1)],
            adjuster=(0, 0),
            swing=None,
            head=None,
            smallest=None,
            title="none",
        )
