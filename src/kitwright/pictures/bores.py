"""What a target shows: marks, rings and regions, all in mm from the crank axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from kitwright.errors import InputError
from kitwright.pictures.drawing import Point
from kitwright.pictures.marks import Verdict

_BEYOND_ANY_BELL = 1e6


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A bore's centre: +x right and +y up, from the crank axis, seen from behind the engine.

    `u95_mm` is its expanded uncertainty (k = 2), drawn as a circle of that radius: a circle
    wholly inside the limit is within it beyond doubt.
    """

    x_mm: float
    y_mm: float
    u95_mm: float | None = None
    label: str = ""
    verdict: Verdict | None = None


@dataclass(frozen=True, kw_only=True)
class Ring:
    """The circle inside which a bore lies with this chance."""

    chance: float
    radius_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Region:
    """Where a share of a normal population lies: an ellipse about its mean.

    `covariance_mm2` is (xx, xy, yy). Half-axes are sqrt(-2 ln(1 - chance)) standard deviations.
    """

    x_mm: float
    y_mm: float
    covariance_mm2: tuple[float, float, float]
    chance: float = 0.95
    label: str = ""

    def outline_mm(self, count: int = 72) -> list[Point]:
        """Points round the ellipse, the first one again at the end."""
        xx, xy, yy = self.covariance_mm2
        reach = math.sqrt(-2 * math.log1p(-self.chance))
        middle, spread = (xx + yy) / 2, math.hypot((xx - yy) / 2, xy)
        long, short = math.sqrt(middle + spread), math.sqrt(max(0.0, middle - spread))
        tilt = 0.5 * math.atan2(2 * xy, xx - yy)
        points = []
        for step in range(count + 1):
            turn = 2 * math.pi * step / count
            a, b = reach * long * math.cos(turn), reach * short * math.sin(turn)
            points.append(
                (
                    self.x_mm + a * math.cos(tilt) - b * math.sin(tilt),
                    self.y_mm + a * math.sin(tilt) + b * math.cos(tilt),
                )
            )
        return points


@dataclass(frozen=True, kw_only=True)
class Shown:
    """All that one target shows; refuses what cannot be drawn.

    Raises
    ------
    InputError
        A number that is not finite, a size below zero, a move without a mark.
    """

    limit_tir_mm: float | None
    marks: Sequence[Mark] = ()
    move_mm: tuple[float, float] | None = None
    rings: Sequence[Ring] = ()
    regions: Sequence[Region] = ()
    outlines_mm: Sequence[Sequence[Point]] = field(init=False, default=())

    def __post_init__(self) -> None:
        if self.limit_tir_mm is not None:
            _size("limit", self.limit_tir_mm)
        for index, mark in enumerate(self.marks):
            where = f"marks[{index}]"
            _place(where, mark.x_mm, mark.y_mm)
            _size(f"{where}.u95", mark.u95_mm or 0.0)
        for index, ring in enumerate(self.rings):
            where = f"rings[{index}]"
            _place(where, ring.x_mm, ring.y_mm)
            _size(where, ring.radius_mm)
        for index, region in enumerate(self.regions):
            where = f"regions[{index}]"
            xx, xy, yy = region.covariance_mm2
            _place(where, region.x_mm, region.y_mm)
            _place(where, xy)
            _size(where, xx)
            _size(where, yy)
            if not 0 < region.chance < 1:
                raise InputError(where, f"chance {region.chance:g}", "give one between 0 and 1")
        if self.move_mm is not None:
            if not self.marks:
                raise InputError("move", "there is no mark to move", "give the bore's centre")
            _place("move", *self.move_mm)
        outlines = [region.outline_mm() for region in self.regions]
        object.__setattr__(self, "outlines_mm", outlines)

    @property
    def reach_mm(self) -> float:
        """How far from the crank axis the furthest of all this lies, the limit aside."""
        reaches = [math.hypot(mark.x_mm, mark.y_mm) + (mark.u95_mm or 0.0) for mark in self.marks]
        reaches += [math.hypot(ring.x_mm, ring.y_mm) + ring.radius_mm for ring in self.rings]
        reaches += [math.hypot(*point) for outline in self.outlines_mm for point in outline]
        if self.move_mm is not None:
            first, (dx, dy) = self.marks[0], self.move_mm
            reaches.append(math.hypot(first.x_mm + dx, first.y_mm + dy))
        return max(reaches, default=0.0)


def _place(where: str, *numbers: float) -> None:
    for number in numbers:
        if not math.isfinite(number) or abs(number) > _BEYOND_ANY_BELL:
            raise InputError(where, f"{number:g} cannot be drawn", "give a length in mm")


def _size(where: str, number: float) -> None:
    _place(where, number)
    if number < 0:
        raise InputError(where, f"{number:g} is negative", "give zero or more")
