"""Where a bell's mesh has its lines: on every edge of the shape, and close enough between them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_shape import BellShape, Opening, Pad, Ribs

MERGED_MM: Final = 0.1
"""Edges nearer to one another are one line."""
WIDE: Final = 3.0
"""A rib, or a gap between two edges, wider than so many walls has two elements round at least. One
bends there as it likes, and pitches come out too low."""


@dataclass(frozen=True, kw_only=True)
class Spacing:
    """How far apart the grid lines may be."""

    round_deg: float
    along_share: float
    """Of the wall's length."""
    corner_share: float
    """Of the wall's thickness: the first line on each side of where a flange meets the wall, the
    next ones twice as far apart each. Stress piles up in that corner, and an even mesh makes the
    whole bell too stiff there."""

    def finer(self, by: float) -> Spacing:
        """The same with `by` times as many lines."""
        return Spacing(
            round_deg=self.round_deg / by,
            along_share=self.along_share / by,
            corner_share=self.corner_share / by,
        )


@dataclass(frozen=True, kw_only=True)
class Lines:
    """Grid lines: along the wall by its way s in mm, round by the clock in radians."""

    along_mm: Floats
    round_rad: Floats
    """Rising, within one turn of the first."""


def lines_of(shapes: Sequence[BellShape], spacing: Spacing) -> Lines:
    """Grid lines on every edge of every shape, so that their meshes share their nodes.

    Lines within 0.1 mm of one another are taken as one.
    """
    along: list[float] = []
    turns: list[float] = []
    step = spacing.along_share * shapes[0].wall.length
    for shape in shapes:
        wall = shape.wall
        along += [*wall.at_corner, wall.s_of(shape.free_mm[0], after=True)]
        along.append(wall.s_of(shape.free_mm[1], after=False))
        for part in _parts(shape):
            start, end = shape.stretch(part)
            along += [wall.s_of(start, after=True), wall.s_of(end, after=False)]
        turns += _turns(shape)
    radius = max(float(shape.wall.corners[:, 1].max()) for shape in shapes)
    edges = _apart(along, MERGED_MM)
    soft = _towards_flanges(shapes[0], spacing.corner_share, step)
    edges += [s for s, gap in soft if min(abs(s - edge) for edge in edges) > 0.4 * gap]
    return Lines(
        along_mm=evenly(_apart(edges, MERGED_MM), step),
        round_rad=_around(
            turns, MERGED_MM / radius, math.radians(spacing.round_deg), wide=_wide_rad(shapes)
        ),
    )


def _wide_rad(shapes: Sequence[BellShape]) -> float:
    """The turn over which two elements are wanted: `WIDE` walls, where the bell is thinnest."""
    turns = []
    for shape in shapes:
        wall = shape.wall
        ends = np.array([0.0, wall.length])
        turns.append(WIDE * float(wall.thickness(ends).min() / wall.corners[:, 1].max()))
    return min(turns)


def _parts(shape: BellShape) -> tuple[Ribs | Opening | Pad, ...]:
    return (*shape.ribs, *shape.openings, *shape.pads)


def _towards_flanges(shape: BellShape, share: float, step: float) -> Iterable[tuple[float, float]]:
    """Lines that draw together where a flange meets the wall, and how far apart they are there."""
    wall = shape.wall
    middle = wall.length / 2
    for flange, s, way in (
        (shape.front, wall.s_of(shape.free_mm[0], after=True), 1.0),
        (shape.rear, wall.s_of(shape.free_mm[1], after=False), -1.0),
    ):
        if flange is None:
            continue
        gap = float(share * wall.thickness(np.array(s)))
        if gap < 0.6 * flange.thickness_mm:
            yield s - way * gap, gap
        away = gap
        while gap < step and away < abs(middle - s):
            yield s + way * away, gap
            gap *= 2
            away += gap


def _turns(shape: BellShape) -> Iterable[float]:
    """Clock angles of every edge, radians."""
    for ribs in shape.ribs:
        half = shape.half_turn(ribs)
        for index in range(ribs.count):
            middle = math.radians(ribs.clock_deg) + 2 * math.pi * index / ribs.count
            yield from (middle - half, middle + half)
    cut: tuple[Opening | Pad, ...] = (*shape.openings, *shape.pads)
    for part in cut:
        half = shape.half_turn(part)
        if half < math.pi:
            middle = math.radians(part.clock_deg)
            yield from (middle - half, middle + half)


def _apart(values: Iterable[float], least: float) -> list[float]:
    """Rising, none nearer than `least` to the one before; the last stays."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > least:
            kept.append(value)
        last = value
    if len(kept) > 1:
        kept[-1] = last
    return kept


def evenly(edges: Sequence[float], step: float, *, wide: float = math.inf) -> Floats:
    """Even parts between edges, none longer than a step; two at least where `wide` apart."""
    found: list[float] = []
    for start, end in itertools.pairwise(edges):
        least = 2 if end - start > wide else 1
        parts = max(least, math.ceil((end - start) / step - 1e-9))
        found += list(start + (end - start) * np.arange(parts) / parts)
    return np.array([*found, edges[-1]])


def _around(turns: list[float], least: float, step: float, *, wide: float) -> Floats:
    whole = 2 * math.pi
    edges = _apart((turn % whole for turn in turns), least) or [0.0]
    if len(edges) > 1 and edges[0] + whole - edges[-1] <= least:
        edges.pop()
    return evenly([*edges, edges[0] + whole], step, wide=wide)[:-1]
