"""Where to write a label so that it stands clear of every line, disc and other label.

A `Sheet` remembers what was drawn. `place` tries a label at each of its anchors, near ones first,
then further off with a thin leader, and takes the first place that is clear. A label that finds
none is handed back unplaced; the drawing says it elsewhere.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from kitwright.pictures.drawing import Point
from kitwright.pictures.lettering import ASCENT, DESCENT, text_width

CLEAR: Final = 3.0
"""Least distance of a label from anything else."""
NEAR: Final = 5.0
"""Distance at which a label needs no leader."""

_STEPS: Final = (NEAR, 8.0, 12.0, 16.0, 26.0, 36.0, 48.0, 62.0, 78.0, 96.0, 116.0, 140.0, 170.0)
_LEADER_FROM: Final = 16.0
_SHORTEST_LEADER: Final = 8.0
_STEPS_NEAR: Final = tuple(step for step in _STEPS if step <= _LEADER_FROM)
_AFAR: Final = 40.0
_OUTSIDE: Final = 60.0


@dataclass(frozen=True)
class Box:
    """An upright rectangle; y runs down."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, by: float) -> Box:
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def inside(self, other: Box) -> bool:
        return (
            self.left >= other.left
            and self.top >= other.top
            and self.right <= other.right
            and self.bottom <= other.bottom
        )

    def overlaps(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def nearest(self, point: Point) -> Point:
        """The point of the box that is nearest to `point`."""
        return (
            min(max(point[0], self.left), self.right),
            min(max(point[1], self.top), self.bottom),
        )

    def furthest(self, point: Point) -> float:
        """How far the box reaches from `point`."""
        return math.hypot(
            max(abs(point[0] - self.left), abs(point[0] - self.right)),
            max(abs(point[1] - self.top), abs(point[1] - self.bottom)),
        )

    def crossed_by(self, a: Point, b: Point) -> bool:
        """Whether the straight line from `a` to `b` enters the box (Liang and Barsky's cut)."""
        enter, leave = 0.0, 1.0
        for start, end, low, high in (
            (a[0], b[0], self.left, self.right),
            (a[1], b[1], self.top, self.bottom),
        ):
            run = end - start
            if run == 0:
                if not low < start < high:
                    return False
                continue
            one, two = (low - start) / run, (high - start) / run
            enter, leave = max(enter, min(one, two)), min(leave, max(one, two))
        return enter < leave


def box_of_text(at: Point, words: str, size: float, *, semibold: bool = False) -> Box:
    """The box of a line of text that is centred on `at` both ways."""
    half = text_width(words, size, semibold=semibold) / 2
    tall = (ASCENT + DESCENT) * size / 2
    return Box(at[0] - half, at[1] - tall, at[0] + half, at[1] + tall)


@dataclass(frozen=True)
class Anchor:
    """A point that a label may hang from.

    `away` is the unit direction from what it names, whose edge there curves with `bend` (0 for a
    point, infinite for a straight line). `worse` is how much worse the anchor is than the best one,
    as a distance.
    """

    point: Point
    away: Point
    bend: float = math.inf
    worse: float = 0.0

    def box(self, half_wide: float, half_tall: float, gap: float) -> Box:
        """The box of this size, pushed out until it is `gap` from what it names."""
        dx, dy = self.away
        if math.isinf(self.bend):
            out = gap + half_wide * abs(dx) + half_tall * abs(dy)
        else:
            near, far = 0.0, self.bend + gap + half_wide + half_tall
            for _ in range(24):
                out = (near + far) / 2
                reach = math.hypot(
                    max(0.0, out * abs(dx) - half_wide), max(0.0, out * abs(dy) - half_tall)
                )
                near, far = (out, far) if reach < self.bend + gap else (near, out)
            out = far - self.bend
        x, y = self.point[0] + out * dx, self.point[1] + out * dy
        return Box(x - half_wide, y - half_tall, x + half_wide, y + half_tall)

    def leader(self, box: Box) -> tuple[Point, Point] | None:
        """A line straight out from the anchor that stops `CLEAR` short of the box; None where
        nothing of it is left."""
        (x, y), (dx, dy) = self.point, self.away
        cx, cy = (box.left + box.right) / 2, (box.top + box.bottom) / 2
        across = (cx - box.left) / abs(dx) if dx else math.inf
        down = (cy - box.top) / abs(dy) if dy else math.inf
        met_at = abs(dx) if across < down else abs(dy)
        length = math.hypot(cx - x, cy - y) - min(across, down) - CLEAR / met_at
        if length < _SHORTEST_LEADER:
            return None
        return (x + 2 * dx, y + 2 * dy), (x + length * dx, y + length * dy)


@dataclass(frozen=True)
class Placed:
    """Where a label was put: its box, its baseline, and its leader if it has one."""

    box: Box
    baseline: Point
    leader: tuple[Point, Point] | None


@dataclass
class Sheet:
    """What has been drawn so far, the frame that labels must stay in, and the circle that they
    rather stay in."""

    frame: Box
    home: tuple[Point, float] | None = None
    discs: list[tuple[Point, float]] = field(default_factory=list)
    rings: list[tuple[Point, float, float]] = field(default_factory=list)
    strokes: list[tuple[Point, Point, float]] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)

    def disc(self, centre: Point, radius: float) -> None:
        """A filled round mark."""
        self.discs.append((centre, radius))

    def ring(self, centre: Point, radius: float, width: float) -> None:
        """The outline of a circle."""
        self.rings.append((centre, radius, width / 2))

    def stroke(self, a: Point, b: Point, width: float) -> None:
        """A straight line."""
        self.strokes.append((a, b, width / 2))

    def run(self, points: Sequence[Point], width: float) -> None:
        """A line through several points."""
        for a, b in itertools.pairwise(points):
            self.stroke(a, b, width)

    def is_clear(self, box: Box) -> bool:
        """Whether the box is inside the frame and at least `CLEAR` from everything."""
        if not box.inside(self.frame):
            return False
        room = box.grown(CLEAR)
        if any(room.overlaps(other) for other in self.boxes):
            return False
        if any(math.dist(room.nearest(centre), centre) < radius for centre, radius in self.discs):
            return False
        for centre, radius, half in self.rings:
            near = math.dist(room.nearest(centre), centre)
            if near < radius + half and room.furthest(centre) > radius - half:
                return False
        return not any(room.grown(half).crossed_by(a, b) for a, b, half in self.strokes)

    def leader_is_clear(self, a: Point, b: Point) -> bool:
        """Whether a leader from `a` to `b` misses every label, and every disc but its own."""
        if any(box.grown(CLEAR / 2).crossed_by(a, b) for box in self.boxes):
            return False
        return not any(
            _distance_to_stroke(centre, a, b) < radius + 1.5
            for centre, radius in self.discs
            if math.dist(centre, a) > radius + 2.5
        )

    def place(
        self,
        words: str,
        size: float,
        anchors: Iterable[Anchor],
        *,
        semibold: bool = False,
        near: bool = False,
    ) -> Placed | None:
        """Put a label at the best clear place and remember it, or return None.

        With `near` only places that need no leader are tried.
        """
        half_wide = text_width(words, size, semibold=semibold) / 2
        half_tall = (ASCENT + DESCENT) * size / 2
        tries: list[tuple[float, int, Anchor, Box, bool]] = []
        for anchor in anchors:
            for step in _STEPS_NEAR if near else _STEPS:
                box = anchor.box(half_wide, half_tall, step)
                cost = anchor.worse + step + (_AFAR if step > _LEADER_FROM else 0)
                if self.home and box.furthest(self.home[0]) > self.home[1]:
                    cost += _OUTSIDE
                tries.append((cost, len(tries), anchor, box, step > _LEADER_FROM))
        for *_, anchor, box, afar in sorted(tries, key=lambda tried: tried[:2]):
            if not self.is_clear(box):
                continue
            leader = anchor.leader(box) if afar else None
            if afar:
                if leader is None or not self.leader_is_clear(*leader):
                    continue
                self.stroke(*leader, 0.8)
            self.boxes.append(box)
            return Placed(box, ((box.left + box.right) / 2, box.top + ASCENT * size), leader)
        return None


def _distance_to_stroke(point: Point, a: Point, b: Point) -> float:
    """How near `point` is to the straight line from `a` to `b`."""
    run = (b[0] - a[0], b[1] - a[1])
    square = run[0] ** 2 + run[1] ** 2
    if square == 0:
        return math.dist(point, a)
    along = ((point[0] - a[0]) * run[0] + (point[1] - a[1]) * run[1]) / square
    along = min(max(along, 0.0), 1.0)
    return math.dist(point, (a[0] + along * run[0], a[1] + along * run[1]))


def around(centre: Point, radius: float, *, count: int = 24, first: float = 30.0) -> list[Anchor]:
    """Anchors round a disc, the clock angle `first` (degrees) preferred."""
    anchors = []
    for step in range(count):
        turn = 360 * step / count
        angle = math.radians(first + turn)
        away = (math.sin(angle), -math.cos(angle))
        point = (centre[0] + radius * away[0], centre[1] + radius * away[1])
        anchors.append(Anchor(point, away, radius, worse=min(turn, 360 - turn) / 30))
    return anchors


def along_circle(centre: Point, radius: float, *, first: float = 140.0) -> list[Anchor]:
    """Anchors outside a circle, then inside; the clock angle `first` preferred."""
    outside = around(centre, radius, count=48, first=first)
    inside = [
        Anchor(each.point, (-each.away[0], -each.away[1]), worse=each.worse + 6.0)
        for each in outside
    ]
    return outside + inside


def along_stroke(a: Point, b: Point, width: float) -> list[Anchor]:
    """Anchors on both sides of a straight line, its middle preferred."""
    length = math.dist(a, b)
    if length == 0:
        return []
    nx, ny = (b[1] - a[1]) / length, -(b[0] - a[0]) / length
    anchors = []
    for part in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        x, y = a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])
        for side in (1, -1):
            way = (side * nx, side * ny)
            point = (x + way[0] * width / 2, y + way[1] * width / 2)
            anchors.append(Anchor(point, way, worse=abs(part - 0.5) * 20))
    return anchors


def along_runs(runs: Sequence[Sequence[Point]]) -> list[Anchor]:
    """Anchors on both sides of lines through points, the first points preferred."""
    return [
        replace(anchor, worse=index / 12)
        for run in runs
        for index in range(0, len(run) - 1, 3)
        for anchor in along_stroke(run[index], run[index + 1], 1.0)[:2]
    ]
