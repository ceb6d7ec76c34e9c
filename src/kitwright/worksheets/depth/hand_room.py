"""Can a hand or a wrench reach the adjuster through this opening, and turn it?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.depth.hand_room import HandRoom, Seat, Tool, hand_room
from kitwright.calc.depth.openings import Outline
from kitwright.errors import InputError, Problem
from kitwright.units import say_length
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.depth.hand_room_case import (
    HandPart,
    HandRoomAnswer,
    HandRoomCase,
    SmallestAnswer,
    ViewAnswer,
    WrenchPart,
)
from kitwright.worksheets.depth.hand_room_said import CAUTIONS, EXAMPLE, HOW, SOURCES, say
from kitwright.worksheets.fields import Length, PositiveSize, Size

SWING_DEG: Final = 30.0
WRENCH_CLEARANCE_MM: Final = 2.0
HAND_CLEARANCE_MM: Final = 10.0

_BY_SIZE: Final = {
    "head_width": 2.2,
    "head_thickness": 0.5,
    "handle_width": 1.0,
    "handle_thickness": 0.4,
    "length": 12.0,
}
"""A wrench's sizes over the size of its nut: common practice, no source."""
_GRIP_MM: Final = 80.0
_HAND_MM: Final = {
    "breadth": 114.0,
    "thickness": 58.0,
    "length": 152.0,
    "arm": 121.0,
    "arm_reach": 495.0,
}
"""Breadth and thickness over the thumb: Pheasant, men, 95th percentile; the others: EN 547-3,
hand length and arm's reach 5th, arm's thickness 95th percentile. All from memory."""


@dataclass(frozen=True)
class _Reach:
    """The tools to try, of which one must serve, and what was assumed of them."""

    tools: tuple[Tool, ...]
    assumed: tuple[str, ...]


def solve(case: HandRoomCase) -> HandRoomAnswer:
    """Judge the tool in the opening."""
    _check(case)
    swings_along_x = case.adjuster.axis == "round the bell"
    outline = _outline(case)
    seat = Seat(
        s_mm=(case.adjuster.x if swings_along_x else case.adjuster.y).mm,
        q_mm=(case.adjuster.y if swings_along_x else case.adjuster.x).mm,
        depth_mm=case.adjuster.depth.mm,
        wall_mm=case.wall.mm,
    )
    reach = _hand(case) if case.wrench is None else _wrench(case, case.wrench)
    usual = WRENCH_CLEARANCE_MM if case.tool == "open-ended wrench" else HAND_CLEARANCE_MM
    clearance = usual if case.clearance is None else case.clearance.mm
    opening = outline if swings_along_x else outline.turned()
    judged = [
        (hand_room(opening, seat, tool, clearance_mm=clearance), tool) for tool in reach.tools
    ]
    found, tool = max(judged, key=lambda pair: _rank(pair[0]))
    return HandRoomAnswer(
        tool=case.tool,
        verdict="fits" if found.fits else "does not fit",
        limited_by=_limit(found, tool, clearance),
        margin_mm=found.margin_mm,
        clearance_mm=clearance,
        enter_margin_mm=found.enter_margin_mm,
        swing_margin_mm=found.swing_margin_mm,
        swing_deg=None if case.tool == "hand" else tool.swing_deg,
        swing_possible_deg=None if case.tool == "hand" else found.swing_possible_deg,
        way=None if found.stand is None else _WAYS[found.stand.way],
        room_behind_mm=found.room_behind_mm,
        smallest=_smallest([each for each, _ in judged], swings_along_x=swings_along_x),
        view=ViewAnswer(
            way=None if found.stand is None else found.stand.way,
            enter_deg=None if found.stand is None else found.stand.enter_deg,
            swing_from_deg=None if found.stand is None else found.stand.swing_from_deg,
            swing_to_deg=(
                None if found.stand is None else found.stand.swing_from_deg + tool.swing_deg
            ),
            head_width_mm=tool.head_width_mm,
            head_thickness_mm=tool.head_thickness_mm,
            handle_width_mm=tool.handle_width_mm,
            handle_thickness_mm=tool.handle_thickness_mm,
            length_mm=tool.length_mm,
            swings_along="x" if swings_along_x else "y",
            outline_mm=[(x, y) for x, y in outline.corners.tolist()],
            adjuster_mm=(case.adjuster.x.mm, case.adjuster.y.mm),
            depth_mm=seat.depth_mm,
            wall_mm=seat.wall_mm,
        ),
        assumed=[*reach.assumed, *_assumed(case)],
        how=HOW,
    )


def _check(case: HandRoomCase) -> None:
    problems = []
    if (case.outline is None) == (case.box is None):
        given = "both given" if case.box is not None else "missing"
        problems.append(Problem("outline", given, "give outline or box"))
    if case.tool == "open-ended wrench":
        if case.wrench is None:
            problems.append(Problem("wrench", "missing", "give its size"))
        if case.hand is not None:
            problems.append(
                Problem("hand", "given with a wrench", 'leave it out, or tool = "hand"')
            )
    else:
        problems += [
            Problem(name, "given with a hand", "leave it out")
            for name in ("wrench", "swing_deg")
            if getattr(case, name) is not None
        ]
    if problems:
        raise InputError.of(problems)


def _outline(case: HandRoomCase) -> Outline:
    if case.box is None:
        return Outline(np.array([[x.mm, y.mm] for x, y in case.outline or ()]))
    x, y = case.box.x.mm, case.box.y.mm
    w, h = case.box.width.mm / 2, case.box.height.mm / 2
    return Outline([[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]])


def _wrench(case: HandRoomCase, wrench: WrenchPart) -> _Reach:
    sizes = {name: wrench.size.mm * ratio for name, ratio in _BY_SIZE.items()}
    missing = _fill(sizes, wrench)
    grip = _GRIP_MM if wrench.grip is None else wrench.grip.mm
    swing = SWING_DEG if case.swing_deg is None else case.swing_deg
    tool = Tool(
        head_width_mm=sizes["head_width"],
        head_thickness_mm=sizes["head_thickness"],
        handle_width_mm=sizes["handle_width"],
        handle_thickness_mm=sizes["handle_thickness"],
        length_mm=sizes["length"],
        grip_mm=grip,
        swing_deg=swing,
    )
    assumed = []
    if missing:
        told = ", ".join(f"{_words(name)} {say_length(sizes[name])}" for name in missing)
        assumed.append(f"By the wrench's size: {told} (common practice, no source; measure yours).")
    if wrench.grip is None:
        assumed.append(f"{_GRIP_MM:g} mm of the wrench stay outside to be held.")
    if case.swing_deg is None:
        assumed.append(
            "A swing of 30° is enough: the head stands at 15° and is turned over after each "
            "swing (common practice, no source); a straight head needs 60°."
        )
    return _Reach((tool,), tuple(assumed))


def _hand(case: HandRoomCase) -> _Reach:
    hand = case.hand or HandPart()
    sizes = dict(_HAND_MM)
    missing = _fill(sizes, hand)
    depth = case.adjuster.depth.mm
    breadth, thickness, reach = sizes["breadth"], sizes["thickness"], sizes["length"]
    assumed = []
    if missing:
        told = ", ".join(f"{_words(name)} {sizes[name]:g} mm" for name in missing)
        assumed.append(
            f"A large hand and a short reach: {told} (Pheasant, Bodyspace; EN 547-3; from memory)."
        )
    if depth > reach:
        breadth, thickness = max(breadth, sizes["arm"]), max(thickness, sizes["arm"])
        reach = sizes["arm_reach"]
        assumed.append("The adjuster is further in than the hand is long: the arm follows it.")
    assumed.append("Fingers and wrist turn the adjuster; the hand needs no swing.")

    def tool(width: float, thick: float) -> Tool:
        return Tool(
            head_width_mm=width,
            head_thickness_mm=thick,
            handle_width_mm=width,
            handle_thickness_mm=thick,
            length_mm=reach,
        )

    return _Reach((tool(breadth, thickness), tool(thickness, breadth)), tuple(assumed))


def _fill(sizes: dict[str, float], part: WrenchPart | HandPart) -> list[str]:
    """Put what is given in place of what is usual; what was not given is returned."""
    missing = []
    for name in sizes:
        given: Length | Size | PositiveSize | None = getattr(part, name)
        if given is None:
            missing.append(name)
        else:
            sizes[name] = given.mm
    return missing


def _words(name: str) -> str:
    return name.replace("_", " ")


def _rank(found: HandRoom) -> tuple[bool, float]:
    return found.fits, -np.inf if found.margin_mm is None else found.margin_mm


def _smallest(judged: list[HandRoom], *, swings_along_x: bool) -> SmallestAnswer | None:
    """The least area of all; along s and q turned into along the crank and round the bell."""
    served = [each.smallest for each in judged if each.smallest is not None]
    if not served:
        return None
    least = min(served, key=lambda each: each.along_s_mm * each.along_q_mm)
    along_s, along_q = (least.along_s_mm, least.s_mm), (least.along_q_mm, least.q_mm)
    (width, x), (height, y) = (along_s, along_q) if swings_along_x else (along_q, along_s)
    return SmallestAnswer(width_mm=width, height_mm=height, x_mm=x, y_mm=y)


# ── in words ─────────────────────────────────────────────────────────────────────────────

_WAYS: Final = {
    "flat": "flat, as it will swing",
    "turned": "turned by a quarter, then turned back",
}


def _limit(found: HandRoom, tool: Tool, clearance: float) -> str:
    """What stops it, or leaves least room."""
    if found.room_behind_mm < 0:
        return "The adjuster lies too near the wall for the head to go round it."
    if found.steepest_deg is None:
        return "It is too short to reach the adjuster and be held outside."
    if 2 * found.steepest_deg < tool.swing_deg:
        return f"It is too short: held outside, it swings {2 * found.steepest_deg:.0f}° at most."
    enter, swing, margin = found.enter_margin_mm, found.swing_margin_mm, found.margin_mm
    if margin is None or enter is None or swing is None or _aside(found, margin, clearance):
        return "The opening does not lie over the adjuster, in line with the tool."
    if margin < min(enter, swing) - 1e-6:
        return "The way in and the swing lie in different parts of the opening."
    return _least_room("getting in" if enter <= swing else "the swing", found, margin, clearance)


def _aside(found: HandRoom, margin: float, clearance: float) -> bool:
    """Whether even the middle of what the tool needs lies beside the opening."""
    return found.smallest is not None and -margin > found.smallest.along_s_mm / 2 - clearance


def _least_room(what: str, found: HandRoom, margin: float, clearance: float) -> str:
    free = say_length(abs(margin))
    if margin < 0:
        return f"For {what} the opening is too small by {free} on a side."
    if not found.fits:
        return f"For {what} only {free} stay free, and {say_length(clearance)} are wanted."
    return f"The least room is for {what}."


def _assumed(case: HandRoomCase) -> Iterator[str]:
    if case.clearance is None:
        usual = (
            f"{WRENCH_CLEARANCE_MM:g} mm: common practice, no source"
            if case.tool == "open-ended wrench"
            else f"{HAND_CLEARANCE_MM:g} mm: EN 547-2, annex A, from memory"
        )
        yield f"Clearance wanted on every side: {usual}."
    if "axis" not in case.adjuster.model_fields_set:
        yield "The adjuster's axis lies along the crank."
    yield "The wall is flat near the opening, which goes straight through it."
    yield "Nothing else stands in the way, inside the bell or outside."


WORKSHEET = Worksheet(
    heading=heading("hand-room"),
    case=HandRoomCase,
    answer=HandRoomAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
