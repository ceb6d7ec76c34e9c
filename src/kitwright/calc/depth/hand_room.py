"""Can a tool get in through an opening in the bell, reach the adjuster and swing there?

The wall is taken as flat, its thickness straight through. The adjuster is a point behind it whose
axis lies along the wall; the tool swings in the plane square to that axis, which cuts the wall
along s (q runs along the axis). A tool is a straight bar of rectangular section that ends in a
wider head, held outside. Standing at an angle phi from the wall's normal, a bar of width b crosses
the wall from its outer to its inner face over

    s = (d - t) tan phi - b / (2 cos phi)   to   d tan phi + b / (2 cos phi),   phi >= 0,

(d the adjuster's depth from the outer face, t the wall's thickness, s from the adjuster's foot;
mirrored for phi < 0), and over its own thickness along q. Both ends rise with phi, so that what a
swing needs is the rectangle from the low end of its first angle to the high end of its last.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.calc.checks import not_negative, positive
from kitwright.calc.depth.openings import Interval, Outline
from kitwright.errors import InputError

Way = Literal["flat", "turned"]

STEEPEST_DEG: Final = 75.0
"""No tool is worked at a slant beyond this from the wall's normal."""
WAYS: Final[tuple[Way, ...]] = ("flat", "turned")
_SAME_MM: Final = 1e-6
_SETTLED: Final = 42


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A straight bar with a head, mm. Widths lie in the plane of the swing."""

    head_width_mm: float
    head_thickness_mm: float
    handle_width_mm: float
    handle_thickness_mm: float
    length_mm: float
    """From the adjuster's axis to the far end."""
    grip_mm: float = 0.0
    """Of the length, what must stay outside to be held."""
    swing_deg: float = 0.0

    def __post_init__(self) -> None:
        for name in ("head_width", "head_thickness", "handle_width", "handle_thickness", "length"):
            positive(getattr(self, f"{name}_mm"), where=name)
        not_negative(self.grip_mm, where="grip")
        if not 0 <= self.swing_deg <= 2 * STEEPEST_DEG:
            raise InputError("swing", f"{self.swing_deg:g}° cannot be swung", "give 0 to 150")

    @property
    def diagonal_mm(self) -> float:
        """What the handle needs all round to be turned over in the opening."""
        return math.hypot(self.handle_width_mm, self.handle_thickness_mm)


@dataclass(frozen=True, kw_only=True)
class Seat:
    """Where the adjuster lies behind the wall, mm."""

    s_mm: float
    q_mm: float
    depth_mm: float
    """From the wall's outer face."""
    wall_mm: float

    def __post_init__(self) -> None:
        positive(self.depth_mm, where="depth")
        not_negative(self.wall_mm, where="wall")
        if self.wall_mm >= self.depth_mm:
            raise InputError(
                "depth", "the adjuster is not behind the wall", "measure from the outer face"
            )


@dataclass(frozen=True, kw_only=True)
class Opening:
    """An upright opening: sides along s and q, and its middle, mm."""

    along_s_mm: float
    along_q_mm: float
    s_mm: float
    q_mm: float


@dataclass(frozen=True, kw_only=True)
class Stand:
    """How a tool serves: the way its head goes in, and the angles from the wall's normal."""

    way: Way
    enter_deg: float
    swing_from_deg: float


@dataclass(frozen=True, kw_only=True)
class HandRoom:
    """Whether the tool serves, and by how much.

    A margin is what stays free on every side in the wall's plane, by the best way; negative where
    the tool is too big by that much, None where no part of the opening is in line with it.
    """

    fits: bool
    margin_mm: float | None
    """Of getting in and swinging together."""
    enter_margin_mm: float | None
    """Of getting in alone."""
    swing_margin_mm: float | None
    """Of swinging alone."""
    stand: Stand | None
    """How that margin is reached."""
    swing_possible_deg: float
    """The most that can be swung with the clearance asked for; 0 where nothing can."""
    steepest_deg: float | None
    """The slant to which the tool's length reaches; None where it is too short."""
    room_behind_mm: float
    """What stays free between the head and the wall's inner face."""
    smallest: Opening | None
    """The smallest upright rectangle that serves; None where none does."""


def hand_room(opening: Outline, seat: Seat, tool: Tool, *, clearance_mm: float = 0.0) -> HandRoom:
    """Judge a tool in an opening.

    Parameters
    ----------
    opening : outline on the wall, x along s, y along q
    clearance_mm : wanted on every side of the tool, in the wall's plane

    Raises
    ------
    InputError
        A negative clearance.

    Notes
    -----
    The head goes straight in along the line on which the tool then stands, either flat as it will
    swing or turned by a quarter about its own length; in the second case the handle is turned
    back in the opening. A hand could wriggle in by other ways: "does not fit" means by these.
    """
    not_negative(clearance_mm, where="clearance")
    behind = seat.depth_mm - seat.wall_mm - tool.head_width_mm / 2
    steepest = _steepest(seat, tool)
    swing = math.radians(tool.swing_deg)
    served = behind >= 0 and steepest is not None and 2 * steepest >= swing
    task = _Task(opening, seat, tool, steepest or 0.0)
    margin, stand = task.margin(swing) if served else (None, None)
    possible = 0.0
    if behind >= 0 and steepest is not None:
        possible = task.most_swing(clearance_mm)
    return HandRoom(
        fits=margin is not None and margin >= clearance_mm - _SAME_MM,
        margin_mm=margin,
        enter_margin_mm=task.alone(task.ways, 0.0) if served else None,
        swing_margin_mm=task.alone([task.handle], swing) if served else None,
        stand=stand,
        swing_possible_deg=math.degrees(possible),
        steepest_deg=None if steepest is None else math.degrees(steepest),
        room_behind_mm=behind,
        smallest=smallest_opening(seat, tool, clearance_mm=clearance_mm) if served else None,
    )


def smallest_opening(seat: Seat, tool: Tool, *, clearance_mm: float = 0.0) -> Opening:
    """The upright rectangle of least area that serves, over the adjuster's foot.

    A swing of D needs S(-f) + S(D + f) along s, S the high end of a stance and f its first angle
    turned round; S is convex where the angle is positive and steeper at D/2 + e than at
    D/2 - e, so f = D/2 needs least. Head and handle then need their own widths and no more, since
    straight in is the narrowest stance. Of the two ways in, the one of less area is taken.
    """
    swing = math.radians(tool.swing_deg)
    sweep = 2 * _high_end(swing / 2, tool.handle_width_mm, seat)
    flat = (
        max(sweep, tool.head_width_mm, tool.handle_width_mm),
        max(tool.head_thickness_mm, tool.handle_thickness_mm),
    )
    turned = (
        max(sweep, tool.head_thickness_mm, tool.diagonal_mm),
        max(tool.head_width_mm, tool.diagonal_mm),
    )
    along_s, along_q = min(
        ((s + 2 * clearance_mm, q + 2 * clearance_mm) for s, q in (flat, turned)),
        key=lambda sides: sides[0] * sides[1],
    )
    return Opening(along_s_mm=along_s, along_q_mm=along_q, s_mm=seat.s_mm, q_mm=seat.q_mm)


def stance(angle_rad: float, width_mm: float, seat: Seat) -> Interval:
    """What a bar at this angle needs of the wall, along s, mm."""
    return (
        seat.s_mm - _high_end(-angle_rad, width_mm, seat),
        seat.s_mm + _high_end(angle_rad, width_mm, seat),
    )


def _high_end(angle: float, width: float, seat: Seat) -> float:
    reach = seat.depth_mm if angle >= 0 else seat.depth_mm - seat.wall_mm
    return reach * math.tan(angle) + width / (2 * math.cos(angle))


def _steepest(seat: Seat, tool: Tool) -> float | None:
    """The slant at which what must stay outside just does."""
    inside = tool.length_mm - tool.grip_mm
    if inside < seat.depth_mm:
        return None
    return min(math.radians(STEEPEST_DEG), math.acos(seat.depth_mm / inside))


Section = tuple[float, float]
"""Width and thickness of what must pass, mm."""


class _Task:
    """One tool in one opening: what fits with a margin, over the angles that its length allows."""

    def __init__(self, opening: Outline, seat: Seat, tool: Tool, steepest: float) -> None:
        self.opening, self.seat, self.steepest = opening, seat, steepest
        self.handle: Section = (tool.handle_width_mm, tool.handle_thickness_mm)
        # Head and handle go in one after the other: a bar that holds both needs what they need.
        self.ways: list[Section] = [
            (
                max(tool.head_width_mm, tool.handle_width_mm),
                max(tool.head_thickness_mm, tool.handle_thickness_mm),
            ),
            (
                max(tool.head_thickness_mm, tool.diagonal_mm),
                max(tool.head_width_mm, tool.diagonal_mm),
            ),
        ]
        away = float(abs(opening.corners - [seat.s_mm, seat.q_mm]).max())
        self.most = 2 * away + self.ways[0][0]
        self.least = -self.most

    def margin(self, swing: float) -> tuple[float | None, Stand | None]:
        """The largest margin with which the tool gets in and swings, and how."""
        if self._served(swing, self.least) is None:
            return None, None
        margin = _last(lambda c: self._served(swing, c) is not None, self.least, self.most)
        return margin, self._served(swing, margin)

    def most_swing(self, clearance: float) -> float:
        """The largest swing that leaves this clearance; 0 where the tool does not get in."""
        if self._served(0.0, clearance) is None:
            return 0.0
        most = 2 * self.steepest
        if self._served(most, clearance) is not None:
            return most
        return _last(lambda swing: self._served(swing, clearance) is not None, 0.0, most)

    def alone(self, sections: Sequence[Section], swing: float) -> float | None:
        """The largest margin with which one of the sections gets through the swing."""

        def passes(margin: float) -> bool:
            return any(
                self._roomiest(stretch, section[0], swing)[0] >= margin
                for section in sections
                for stretch in self._free(section, margin)
            )

        return _last(passes, self.least, self.most) if passes(self.least) else None

    def _served(self, swing: float, margin: float) -> Stand | None:
        """How the tool gets in and swings with this margin; None where it cannot.

        Both happen in one stretch of the opening: else it would have to pass what lies between.
        """
        for stretch in self._free(self.handle, margin):
            room, start = self._roomiest(stretch, self.handle[0], swing)
            if room < margin:
                continue
            for way, section in zip(WAYS, self.ways, strict=True):
                for inner in self._free(section, margin):
                    inside = stretch[0] - _SAME_MM <= inner[0] and inner[1] <= stretch[1] + _SAME_MM
                    room, angle = self._roomiest(inner, section[0], 0.0)
                    if inside and room >= margin:
                        return Stand(
                            way=way,
                            enter_deg=math.degrees(angle),
                            swing_from_deg=math.degrees(start),
                        )
        return None

    def _free(self, section: Section, margin: float) -> list[Interval]:
        half = max(0.0, section[1] / 2 + margin)
        return self.opening.free(self.seat.q_mm - half, self.seat.q_mm + half)

    def _roomiest(self, stretch: Interval, width: float, swing: float) -> tuple[float, float]:
        """The first angle that leaves most at the tighter end of a stretch, and how much.

        Turning the whole swing toward +s gives room at its low end and takes it from its high one.
        """

        def rooms(first: float) -> tuple[float, float]:
            low, _ = stance(first, width, self.seat)
            _, high = stance(first + swing, width, self.seat)
            return low - stretch[0], stretch[1] - high

        first, last = -self.steepest, self.steepest - swing
        if rooms(first)[0] >= rooms(first)[1]:
            best = first
        elif rooms(last)[0] <= rooms(last)[1]:
            best = last
        else:
            best = _last(lambda angle: rooms(angle)[0] <= rooms(angle)[1], first, last)
        return min(rooms(best)), best


def _last(holds: Callable[[float], bool], good: float, bad: float) -> float:
    """The last value from `good` toward `bad` at which it still holds."""
    for _ in range(_SETTLED):
        middle = (good + bad) / 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good
