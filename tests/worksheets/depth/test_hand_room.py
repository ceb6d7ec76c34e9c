"""The hand-room worksheet: a wrench or a hand through an opening, as text; what is said of it."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.worksheets.depth.hand_room import WORKSHEET, HandRoomAnswer, solve
from kitwright.worksheets.reading import from_toml, read

WRENCH = {
    "size": "13 mm",
    "head_width": "29 mm",
    "head_thickness": "6 mm",
    "handle_width": "12 mm",
    "handle_thickness": "5 mm",
    "length": "200 mm",
    "grip": "80 mm",
}
BASE: dict[str, Any] = {
    "box": {"width": "40 mm", "height": "70 mm", "x": "0 mm", "y": "0 mm"},
    "wall": "6 mm",
    "adjuster": {"x": "0 mm", "y": "0 mm", "depth": "80 mm", "axis": "along the crank"},
    "wrench": WRENCH,
    "swing_deg": 30,
    "clearance": "2 mm",
}
HAND: dict[str, Any] = {"tool": "hand", "wrench": None, "swing_deg": None, "clearance": None}


def answered(**changes: Any) -> HandRoomAnswer:
    case = {key: value for key, value in {**BASE, **changes}.items() if value is not None}
    return solve(read(WORKSHEET.case, case))


def refusals(**changes: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**changes)
    return list(caught.value.lines)


def box(width: float, height: float) -> dict[str, str]:
    return {"width": f"{width} mm", "height": f"{height} mm", "x": "0 mm", "y": "0 mm"}


# ── the wrench ───────────────────────────────────────────────────────────────────────────


def test_a_wrench_by_hand() -> None:
    """It swings round the bell: 2 · 80 tan 15° + 12 / cos 15° = 55.29 of 70 high."""
    answer = answered()
    sweep = 160 * math.tan(math.radians(15)) + 12 / math.cos(math.radians(15))
    assert answer.verdict == "fits"
    assert answer.margin_mm == pytest.approx((70 - sweep) / 2, abs=1e-6)
    assert answer.swing_margin_mm == pytest.approx(answer.margin_mm)
    assert answer.enter_margin_mm == pytest.approx((40 - 6) / 2, abs=1e-6)
    assert answer.room_behind_mm == pytest.approx(80 - 6 - 14.5)
    assert answer.limited_by == "The least room is for the swing."
    small = answer.smallest
    assert small is not None
    assert (small.width_mm, small.height_mm) == pytest.approx((6 + 4, sweep + 4))
    possible = math.radians(answer.swing_possible_deg or 0)
    wide = 160 * math.tan(possible / 2) + 12 / math.cos(possible / 2)
    assert wide == pytest.approx(70 - 4, abs=1e-6)


def test_round_the_bell_is_along_the_crank_turned_by_a_quarter() -> None:
    adjuster = {"x": "3 mm", "y": "-5 mm", "depth": "80 mm", "axis": "along the crank"}
    turned = {"x": "-5 mm", "y": "3 mm", "depth": "80 mm", "axis": "round the bell"}
    one, other = answered(adjuster=adjuster), answered(box=box(70, 40), adjuster=turned)
    assert other.margin_mm == one.margin_mm
    assert other.swing_possible_deg == one.swing_possible_deg
    assert one.smallest is not None
    assert other.smallest is not None
    assert (other.smallest.width_mm, other.smallest.x_mm) == (
        one.smallest.height_mm,
        one.smallest.y_mm,
    )
    assert (other.smallest.height_mm, other.smallest.y_mm) == (
        one.smallest.width_mm,
        one.smallest.x_mm,
    )


def test_an_outline_is_a_box_corner_by_corner() -> None:
    corners = [["-20 mm", "-35 mm"], ["20 mm", "-35 mm"], ["20 mm", "35 mm"], ["-20 mm", "35 mm"]]
    assert answered(box=None, outline=corners) == answered()
    round_ish = [
        [f"{30 * math.cos(k / 6 * math.pi)} mm", f"{30 * math.sin(k / 6 * math.pi)} mm"]
        for k in range(12)
    ]
    assert answered(box=None, outline=round_ish).verdict == "does not fit"


@given(grown=st.integers(0, 60), clearance=st.integers(0, 10))
def test_the_smallest_opening_serves_and_none_smaller(grown: int, clearance: int) -> None:
    """Put the smallest in place of the opening: it fits; a tenth narrower, it does not."""
    depth = {"x": "4 mm", "y": "-9 mm", "depth": f"{60 + grown / 2} mm"}
    case = {"adjuster": depth, "clearance": f"{clearance} mm"}
    small = answered(**case).smallest
    assert small is not None

    def fits(width: float, height: float) -> bool:
        opening = {"width": width, "height": height, "x": small.x_mm, "y": small.y_mm}
        written = {name: f"{value!r} mm" for name, value in opening.items()}
        return answered(**case, box=written).verdict == "fits"

    assert fits(small.width_mm, small.height_mm)
    assert not fits(small.width_mm - 0.1, small.height_mm)
    assert not fits(small.width_mm, small.height_mm - 0.1)


def test_what_a_wrench_lacks_follows_from_its_size() -> None:
    answer = answered(wrench={"size": "1/2 in", "length": "200 mm"})
    view = answer.view
    assert (view.head_width_mm, view.handle_width_mm) == pytest.approx((2.2 * 12.7, 12.7))
    assert view.length_mm == 200
    told = answer.assumed[0]
    assert told.startswith("By the wrench's size: head width 27.94 mm, head thickness 6.35 mm")
    assert "length" not in told
    assert told.endswith("(common practice, no source; measure yours).")
    plain = answered(swing_deg=None, clearance=None)
    assert plain.swing_deg == 30
    assert any(line.startswith("A swing of 30° is enough") for line in plain.assumed)
    assert "Clearance wanted on every side: 2 mm: common practice, no source." in plain.assumed
    assert len(answered().assumed) == 2


# ── the hand ─────────────────────────────────────────────────────────────────────────────


def test_a_hand_goes_in_either_way_round() -> None:
    """114 by 58 (from memory), 10 free all round: 134 by 78, whichever way the opening lies."""
    for width, height in ((134.0, 78.0), (78.0, 134.0)):
        answer = answered(**HAND, box=box(width, height))
        assert answer.verdict == "fits"
        assert answer.margin_mm == pytest.approx(10, abs=1e-6)
        assert answered(**HAND, box=box(width - 0.1, height)).verdict == "does not fit"
        assert answered(**HAND, box=box(width, height - 0.1)).verdict == "does not fit"
    small = answered(**HAND, box=box(20, 20)).smallest
    assert small is not None
    assert {small.width_mm, small.height_mm} == {134, 78}
    assert any("from memory" in line for line in answered(**HAND).assumed)
    assert any("Pheasant" in source and "from memory" in source for source in WORKSHEET.sources)


def test_deeper_than_a_hand_the_arm_follows() -> None:
    deep = {**BASE["adjuster"], "depth": "200 mm"}
    answer = answered(**HAND, box=box(200, 200), adjuster=deep)
    assert answer.view.handle_width_mm == answer.view.handle_thickness_mm == 121
    assert answer.view.length_mm == 495
    assert any("the arm follows it" in line for line in answer.assumed)
    far = answered(**HAND, box=box(900, 900), adjuster={**deep, "depth": "500 mm"})
    assert far.verdict == "does not fit"
    assert far.limited_by == "It is too short to reach the adjuster and be held outside."
    own = {"breadth": "90 mm", "thickness": "40 mm", "length": "210 mm"}
    small = answered(**HAND, box=box(112, 62), adjuster=deep, hand=own)
    assert small.verdict == "fits"
    assert small.swing_deg is small.swing_possible_deg is None


# ── what is said ─────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "The wrench gets in, reaches and swings 30°, with 7.35 mm free on every side."),
        (
            {"box": box(40, 56)},
            (
                "The wrench does not serve: for the swing only 0.352 mm stay free, and 2.00 mm are "
                "wanted. The smallest opening that serves is 10.00 mm by 59.30 mm, over the "
                "adjuster."
            ),
        ),
        (
            {"box": box(40, 40)},
            (
                "The wrench does not serve: for the swing the opening is too small by 7.65 mm on a "
                "side. The smallest opening that serves is 10.00 mm by 59.30 mm, over the adjuster."
            ),
        ),
        (
            {"box": box(20, 25), "swing_deg": 5},
            (
                "The wrench does not serve: for getting in the opening is too small by 2.00 mm on "
                "a side. The smallest opening that serves is 10.00 mm by 33.00 mm, over the "
                "adjuster."
            ),
        ),
        (
            {"adjuster": {"x": "200 mm", "y": "0 mm", "depth": "80 mm"}},
            (
                "The wrench does not serve: the opening does not lie over the adjuster, in line "
                "with the tool. The smallest opening that serves is 10.00 mm by 59.30 mm, over the "
                "adjuster."
            ),
        ),
        (
            {"adjuster": {"x": "0 mm", "y": "200 mm", "depth": "80 mm"}},
            (
                "The wrench does not serve: the opening does not lie over the adjuster, in line "
                "with the tool. The smallest opening that serves is 10.00 mm by 59.30 mm, over the "
                "adjuster."
            ),
        ),
        (
            {"wrench": {**WRENCH, "length": "150 mm"}},
            "The wrench does not serve: it is too short to reach the adjuster and be held outside.",
        ),
        (
            {"wrench": {**WRENCH, "length": "162 mm"}},
            "The wrench does not serve: it is too short: held outside, it swings 25° at most.",
        ),
        (
            {"adjuster": {"x": "0 mm", "y": "0 mm", "depth": "15 mm"}},
            (
                "The wrench does not serve: the adjuster lies too near the wall for the head to go "
                "round it."
            ),
        ),
        (
            {**HAND, "box": box(140, 80)},
            "The hand gets in and reaches, with 11.00 mm free on every side.",
        ),
    ],
)
def test_the_answer_in_a_sentence(changes: dict[str, Any], sentence: str) -> None:
    assert WORKSHEET.say(answered(**changes), "mm") == sentence


def test_ways_that_lie_apart_are_told() -> None:
    corners = [
        (-4, -40), (4, -40), (4, 19), (2, 19), (2, 21), (20, 20), (20, 60), (-20, 60), (-20, 21),
        (-4, 20),
    ]  # fmt: skip
    outline = [[f"{x} mm", f"{y} mm"] for x, y in corners]
    wrench = {**WRENCH, "head_thickness": "20 mm", "length": "400 mm"}
    answer = answered(box=None, outline=outline, wrench=wrench, clearance="0 mm")
    assert answer.verdict == "does not fit"
    assert answer.limited_by == "The way in and the swing lie in different parts of the opening."


def test_cautions_defer_to_maker_and_rule_book() -> None:
    assert [caution.word for caution in WORKSHEET.cautions][:3] == ["DANGER", "DANGER", "WARNING"]
    assert any("rule book" in caution.text for caution in WORKSHEET.cautions)


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "lines"),
    [
        ({"box": None}, ["outline: missing; give outline or box"]),
        (
            {"outline": [["0 mm", "0 mm"], ["1 mm", "0 mm"], ["0 mm", "1 mm"]]},
            ["outline: both given; give outline or box"],
        ),
        ({"wrench": None}, ["wrench: missing; give its size"]),
        ({"hand": {}}, ['hand: given with a wrench; leave it out, or tool = "hand"']),
        (
            {"tool": "hand"},
            [
                "wrench: given with a hand; leave it out",
                "swing_deg: given with a hand; leave it out",
            ],
        ),
        (
            {"wall": "90 mm"},
            ["depth: the adjuster is not behind the wall; measure from the outer face"],
        ),
        (
            {"box": None, "outline": [["0 mm", "0 mm"], ["2 mm", "2 mm"], ["4 mm", "4 mm"]]},
            ["outline: it has no area; give its corners in order"],
        ),
        (
            {"swing_deg": 170},
            ['swing_deg: "170" is out of range; give a number less than or equal'],
        ),
        (
            {"adjuster": {"x": "0", "y": "0 mm", "depth": "0 mm"}},
            [
                'adjuster.x: "0" has no unit; write "0 thou" or "0 mm"',
                'adjuster.depth: "0 mm" is not above zero; give more than zero',
            ],
        ),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], lines: list[str]) -> None:
    found = refusals(**changes)
    assert len(found) == len(lines)
    assert all(line.startswith(expected) for line, expected in zip(found, lines, strict=True))


def test_the_example_fits() -> None:
    answer = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert answer.verdict == "fits"
