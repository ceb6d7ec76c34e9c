"""A bell as a solid: a wall drawn by an outline, flanges, ribs, pads and openings; lengths in mm.

The outline is the middle of the wall, from the block face (z = 0) rearward, as points (z, radius)
joined by straight lines; a step is two points with one z. The wall's thickness is measured square
to it. Both ends are cut flat where the wall runs along the crank.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats, finite, finite_rows, positive
from kitwright.errors import InputError

_STEEP: Final = 0.2
"""Cosine of the wall's angle to the crank below which it is taken as a disc, not as a cone."""
_LARGEST_MM: Final = 1e5
_TOUCH_MM: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class Flange:
    """A ring round one end of the wall, its face flush with the wall's end."""

    outer_radius_mm: float
    thickness_mm: float
    inner_radius_mm: float | None = None
    """Where it also reaches inward, as round a bore; None where it ends at the wall."""

    def __post_init__(self) -> None:
        positive(self.outer_radius_mm, where="outer_radius")
        positive(self.thickness_mm, where="thickness")
        if self.inner_radius_mm is not None:
            positive(self.inner_radius_mm, where="inner_radius")


@dataclass(frozen=True, kw_only=True)
class Ribs:
    """Straight ribs along the wall's outside, evenly spread round it.

    They stand between two lines through the crank axis: `width_mm` is met half way along, and a
    rib on a cone is narrower at the small end.
    """

    count: int
    height_mm: float
    """From the wall's outer face."""
    width_mm: float
    clock_deg: float = 0.0
    """Middle of the first."""
    from_mm: float | None = None
    to_mm: float | None = None
    """z where they begin and end; None: at the flange, or at the wall's end."""

    def __post_init__(self) -> None:
        if self.count < 1:
            raise InputError("count", f"{self.count} ribs", "give one or more")
        positive(self.height_mm, where="height")
        positive(self.width_mm, where="width")
        finite(self.clock_deg, where="clock_deg")


@dataclass(frozen=True, kw_only=True)
class Opening:
    """A hole through the wall: between two lines through the crank axis, and two along it.

    `width_mm` is met along the wall's middle, half way between `from_mm` and `to_mm`.
    """

    clock_deg: float
    width_mm: float
    from_mm: float
    to_mm: float

    def __post_init__(self) -> None:
        finite(self.clock_deg, where="clock_deg")
        positive(self.width_mm, where="width")
        _stretch(self.from_mm, self.to_mm)


@dataclass(frozen=True, kw_only=True)
class Pad:
    """A part of the wall that is thicker, or thinner, than the rest; the step is outside."""

    thicker_by_mm: float
    from_mm: float
    to_mm: float
    clock_deg: float = 0.0
    width_mm: float | None = None
    """None: all the way round."""

    def __post_init__(self) -> None:
        if finite(self.thicker_by_mm, where="thicker_by") == 0:
            raise InputError("thicker_by", "zero changes nothing", "give more, or less, than zero")
        if self.width_mm is not None:
            positive(self.width_mm, where="width")
        _stretch(self.from_mm, self.to_mm)


def _stretch(start: float, end: float) -> None:
    if not finite(start, where="from") < finite(end, where="to"):
        raise InputError("to", f"{end:g} mm is not behind {start:g} mm", "give from, then to")


@dataclass(frozen=True, kw_only=True)
class BellShape:
    """The whole shell. Bolt holes, dowel holes and fillets are left out."""

    outline_mm: tuple[tuple[float, float], ...]
    """(z, radius) of the wall's middle, z from 0 and never back."""
    wall_mm: float
    wall_rear_mm: float | None = None
    """Where given, the thickness goes evenly along the wall from one to the other."""
    front: Flange | None = None
    rear: Flange | None = None
    ribs: tuple[Ribs, ...] = ()
    openings: tuple[Opening, ...] = ()
    pads: tuple[Pad, ...] = ()
    wall: Wall = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "wall", Wall(self))
        _check_flanges(self)
        self.wall.outward(self.wall.at_corner)
        for index, ribs in enumerate(self.ribs):
            _check_within(self, ribs.from_mm, ribs.to_mm, f"ribs[{index}]")
            if ribs.count * ribs.width_mm > 2 * math.pi * self.wall.radius_at(*self.stretch(ribs)):
                raise InputError(f"ribs[{index}].width", "the ribs overlap", "give fewer, narrower")
        for index, opening in enumerate(self.openings):
            _check_within(self, opening.from_mm, opening.to_mm, f"openings[{index}]")
            self.half_turn(opening, f"openings[{index}]")
        for index, pad in enumerate(self.pads):
            where = f"pads[{index}]"
            _check_within(self, pad.from_mm, pad.to_mm, where)
            self.half_turn(pad, where)
            if pad.thicker_by_mm <= -min(self.wall_mm, self.wall_rear_mm or self.wall_mm):
                raise InputError(
                    f"{where}.thicker_by", "nothing of the wall is left", "give an opening instead"
                )

    @property
    def length_mm(self) -> float:
        """Along the crank, face to face."""
        return self.outline_mm[-1][0]

    @property
    def free_mm(self) -> tuple[float, float]:
        """z where the wall leaves the front flange and where it meets the rear one."""
        front = self.front.thickness_mm if self.front else 0.0
        rear = self.rear.thickness_mm if self.rear else 0.0
        return front, self.length_mm - rear

    def stretch(self, part: Ribs | Opening | Pad) -> tuple[float, float]:
        """z where a part begins and ends."""
        start, end = self.free_mm
        return (
            start if part.from_mm is None else part.from_mm,
            end if part.to_mm is None else part.to_mm,
        )

    def half_turn(self, part: Ribs | Opening | Pad, where: str = "width") -> float:
        """Half the angle that a part's width takes of the wall's turn, radians."""
        if part.width_mm is None:
            return math.pi
        half = part.width_mm / 2 / self.wall.radius_at(*self.stretch(part))
        if half > math.pi * (1 + 1e-9):
            raise InputError(
                f"{where}.width", "more than the way round", "leave it out, or give less"
            )
        return min(half, math.pi)


class Wall:
    """The outline by the way s along it, in mm: places, thickness, and the direction outward."""

    def __init__(self, shape: BellShape) -> None:
        points = finite_rows(shape.outline_mm, columns=2, least=2, where="outline")
        z, radius = points.T
        if abs(points).max() > _LARGEST_MM:
            raise InputError("outline", "more than 100 m", "check the unit")
        if abs(z[0]) > _TOUCH_MM:
            raise InputError("outline", f"begins at z = {z[0]:g} mm", "begin at the block face, 0")
        if (np.diff(z) < 0).any():
            raise InputError("outline", "z goes back", "give the points from front to rear")
        steps = np.hypot(*np.diff(points, axis=0).T)
        if steps.min() <= _TOUCH_MM:
            raise InputError("outline", "two points in one place", "leave one out")
        positive(shape.wall_mm, where="wall")
        positive(shape.wall_mm if shape.wall_rear_mm is None else shape.wall_rear_mm,
                 where="wall_rear")  # fmt: skip
        self.shape = shape
        self.corners = points
        self.at_corner = np.concatenate([[0.0], np.cumsum(steps)])
        self.steps = steps
        self.normals = np.column_stack([-np.diff(radius), np.diff(z)]) / steps[:, None]
        inner = radius - self.thickness(self.at_corner) / 2
        if inner.min() <= 0:
            raise InputError("outline", "the wall meets the crank axis", "give larger radii")

    @property
    def length(self) -> float:
        return float(self.at_corner[-1])

    def thickness(self, s: Floats) -> Floats:
        """Square to the wall."""
        rear = self.shape.wall_rear_mm
        if rear is None:
            return np.full(np.shape(s), self.shape.wall_mm)
        return self.shape.wall_mm + (rear - self.shape.wall_mm) * s / self.length

    def s_of(self, z: float, *, after: bool) -> float:
        """The way to a z; at a step, to its far side (`after`) or its near one."""
        along = self.corners[:, 0]
        hits = np.flatnonzero(abs(along - z) <= _TOUCH_MM)
        if len(hits):
            return float(self.at_corner[hits[-1] if after else hits[0]])
        return float(np.interp(z, along, self.at_corner))

    def radius_at(self, start: float, end: float) -> float:
        """Of the wall's middle, half way between two z."""
        s = (self.s_of(start, after=True) + self.s_of(end, after=False)) / 2
        return float(np.interp(s, self.at_corner, self.corners[:, 1]))

    def places(self, s: Floats) -> Floats:
        """(n, 2): z and radius of the wall's middle."""
        return np.column_stack(
            [np.interp(s, self.at_corner, self.corners[:, axis]) for axis in range(2)]
        )

    def outward(self, s: Floats) -> Floats:
        """(n, 2): the direction in which thickness, ribs and flanges are laid off, along z and r.

        Scaled so that one unit of it is one unit square to the wall; at a corner it lies on the
        mitre; at the ends, and wherever a flange stands, along the radius.
        """
        at, way = zip(*sorted(self._stations()), strict=True)
        table = np.array(way)
        return np.column_stack([np.interp(s, at, table[:, axis]) for axis in range(2)])

    def _stations(self) -> list[tuple[float, tuple[float, float]]]:
        start, end = (self.s_of(self.shape.free_mm[0], after=True),
                      self.s_of(self.shape.free_mm[1], after=False))  # fmt: skip
        found: dict[float, tuple[float, float]] = {}
        for s in (0.0, start, end, self.length):
            found[s] = self._flat(s)
        for s, (before, behind) in zip(
            self.at_corner[1:-1], itertools.pairwise(self.normals), strict=True
        ):
            flanged = (self.shape.front and s <= start) or (self.shape.rear and s >= end)
            if flanged:
                found[float(s)] = self._flat(float(s))
                continue
            turn = 1 + float(before @ behind)
            if turn < _STEEP:
                raise InputError("outline", "a fold too sharp to have a wall", "round it")
            z, r = (before + behind) / turn
            found[float(s)] = (float(z), float(r))
        return list(found.items())

    def _flat(self, s: float) -> tuple[float, float]:
        """Along the radius; square to the wall where that is a disc."""
        near = np.flatnonzero(
            (self.at_corner[:-1] <= s + _TOUCH_MM) & (self.at_corner[1:] >= s - _TOUCH_MM)
        )
        z, r = self.normals[near].mean(axis=0)
        return (0.0, 1 / float(r)) if r > _STEEP else (float(z), float(r))

    def steep(self, s: float) -> bool:
        """Whether the wall is a disc there."""
        return self._flat(s)[0] != 0.0 or self._flat(s)[1] > 1 / _STEEP


def _check_flanges(shape: BellShape) -> None:
    start, end = shape.free_mm
    if start + _TOUCH_MM >= end and (shape.front or shape.rear):
        raise InputError("length", "the flanges leave no wall between them", "give thinner ones")
    wall = shape.wall
    ends = (
        ("front", shape.front, (0.0, wall.s_of(start, after=True))),
        ("rear", shape.rear, (wall.s_of(end, after=False), wall.length)),
    )
    for name, flange, reach in ends:
        if flange is None:
            continue
        s = np.array(reach)
        if any(wall.steep(at) for at in reach):
            raise InputError(
                f"{name}_flange", "the wall is a disc there", "draw the flange in the outline"
            )
        middle, half = wall.places(s)[:, 1], wall.outward(s)[:, 1] * wall.thickness(s) / 2
        if flange.outer_radius_mm <= (middle + half).max() + _TOUCH_MM:
            raise InputError(
                f"{name}_flange.outer_radius",
                f"{flange.outer_radius_mm:g} mm does not stand out from the wall",
                f"give more than {(middle + half).max():.4g} mm",
            )
        inner = flange.inner_radius_mm
        if inner is not None and inner >= (middle - half).min() - _TOUCH_MM:
            raise InputError(
                f"{name}_flange.inner_radius",
                f"{inner:g} mm does not reach inside the wall",
                f"give less than {(middle - half).min():.4g} mm, or leave it out",
            )


def _check_within(shape: BellShape, start: float | None, end: float | None, where: str) -> None:
    low, high = shape.free_mm
    for name, z in (("from", start), ("to", end)):
        if z is not None and not low - _TOUCH_MM <= z <= high + _TOUCH_MM:
            raise InputError(
                f"{where}.{name}",
                f"{z:g} mm lies outside the wall",
                f"between the flanges it runs from {low:g} to {high:g} mm",
            )
    first, last = low if start is None else start, high if end is None else end
    if first >= last:
        raise InputError(f"{where}.to", f"{last:g} mm is not behind {first:g} mm", "give more")


def cone(
    front_radius_mm: float, rear_radius_mm: float, length_mm: float, wall_mm: float
) -> BellShape:
    """A plain cone, its radii to the middle of the wall.

    >>> cone(175, 100, 300, 4.8).length_mm
    300
    """
    outline = ((0.0, front_radius_mm), (length_mm, rear_radius_mm))
    return BellShape(outline_mm=outline, wall_mm=wall_mm)
