"""The bell's mesh: one grid along, round and through the wall, of which the solid fills a part.

Grid lines stand on every edge of the shape (flange, rib, pad, opening, corner of the outline) and
are filled up to a wanted spacing. Openings are cells left empty; flanges, ribs and pads are cells
outside the wall. Nodes of the 20-node element (`bricks`) lie on lines and half way between.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_lines import MERGED_MM, Lines, evenly
from kitwright.calc.shell.bell_shape import BellShape, Flange, Opening, Pad, Ribs
from kitwright.calc.shell.bricks import OFFSETS, Ints
from kitwright.errors import InputError

MOST_ELEMENTS: Final = 6000
MOST_SLENDER: Final = 250.0
"""The longest edge of an element over its thickness through the wall."""

_LAYER_MM: Final = 0.02


@dataclass(frozen=True, kw_only=True)
class BellMesh:
    """Nodes and elements, and where on the grid each stands."""

    points_mm: Floats
    """(n, 3): x right, y up, z rearward."""
    elements: Ints
    """(e, 20)"""
    cells: Ints
    """(e, 3): cell of each element, along, round, outward."""
    node_at: Ints
    """(2 a + 1, 2 b, 2 c + 1): node at each place of the grid and half way between; -1 none."""
    lines: Lines
    alone: NDArray[np.bool_]
    """(e,): elements that touch others along one axis at most, as in a narrow post."""
    inside: int
    """The layer of nodes, of `node_at`'s last axis, that is the wall's inner face."""

    @property
    def block_face(self) -> Ints:
        """Nodes of the block face."""
        nodes = self.node_at[0]
        return np.unique(nodes[nodes >= 0])

    @property
    def outermost(self) -> Ints:
        """(a, b): the outermost element of each cell of the wall; -1 over an opening."""
        shape = (self.node_at.shape[0] // 2, self.node_at.shape[1] // 2)
        found = np.full(shape, -1)
        order = np.argsort(self.cells[:, 2], kind="stable")
        found[tuple(self.cells[order, :2].T)] = order
        return found


@dataclass(frozen=True)
class _Layers:
    """Boundaries through the wall: how far inside its inner face, or outside its outer face."""

    inward: tuple[float, ...]
    """Falling to 0: the wall's inner face is the last."""
    outward: tuple[float, ...]
    """Rising; below 0 within the wall, 0 its outer face."""

    @property
    def inside(self) -> int:
        return len(self.inward) - 1


def mesh(shape: BellShape, lines: Lines) -> BellMesh:
    """The shape's elements on these lines.

    Raises
    ------
    InputError
        A wall too thin for its mesh, openings that cut the bell in two or leave nothing, a solid
        that folds over itself, more elements than can be solved.
    """
    s = _with_middles(lines.along_mm)
    reaches = _reaches(shape, s)
    layers = _layers(shape, reaches, float(np.diff(lines.along_mm).max()))
    filled = _fill(shape, lines, layers, reaches)
    cells = np.argwhere(filled)
    if len(cells) > MOST_ELEMENTS:
        raise InputError(
            "mesh", f"{len(cells)} elements, at most {MOST_ELEMENTS}", "take a coarser mesh"
        )
    beside = _beside(filled)
    _check_whole(filled, beside)
    touched = [both | np.roll(both, 1, axis=axis) for axis, both in enumerate(beside)]
    count = len(lines.round_rad)
    places = 2 * cells[:, None, :] + OFFSETS[None]
    places[..., 1] %= 2 * count
    size = (len(s), 2 * count, 2 * filled.shape[2] + 1)
    flat = np.ravel_multi_index(tuple(places.reshape(-1, 3).T), size)
    used, elements = np.unique(flat, return_inverse=True)
    node_at = np.full(size, -1)
    node_at.ravel()[used] = np.arange(len(used))
    points = _places(shape, s, lines, layers, reaches)[np.unravel_index(used, size)]
    found = BellMesh(
        points_mm=points,
        elements=elements.reshape(-1, 20),
        cells=cells,
        node_at=node_at,
        lines=lines,
        alone=(np.sum(touched, axis=0) <= 1)[filled],
        inside=2 * layers.inside,
    )
    _check_slender(found)
    return found


def _with_middles(lines: Floats) -> Floats:
    whole = np.empty(2 * len(lines) - 1)
    whole[::2], whole[1::2] = lines, (lines[:-1] + lines[1:]) / 2
    return whole


@dataclass(frozen=True)
class _Reach:
    """How far a flange stands out of the wall and into it at each s, and where it ends."""

    out: Floats
    into: Floats | None
    rows: NDArray[np.bool_]
    edge: int
    """Where along s it meets the free wall."""


def _reaches(shape: BellShape, s: Floats) -> list[_Reach]:
    wall = shape.wall
    middle, way = wall.places(s)[:, 1], wall.outward(s)[:, 1]
    half = wall.thickness(s) / 2
    found = []

    def reach(flange: Flange, rows: NDArray[np.bool_], edge: int) -> _Reach:
        inner = flange.inner_radius_mm
        return _Reach(
            out=(flange.outer_radius_mm - middle) / way - half,
            into=None if inner is None else (middle - inner) / way - half,
            rows=rows,
            edge=edge,
        )

    if shape.front:
        ends = wall.s_of(shape.free_mm[0], after=True)
        rows = s <= ends + 2 * MERGED_MM
        found.append(reach(shape.front, rows, int(rows.sum()) - 1))
    if shape.rear:
        begins = wall.s_of(shape.free_mm[1], after=False)
        rows = s >= begins - 2 * MERGED_MM
        found.append(reach(shape.rear, rows, len(s) - int(rows.sum())))
    return found


def _layers(shape: BellShape, reaches: list[_Reach], step: float) -> _Layers:
    out = [0.0, *(each.out[each.edge] for each in reaches)]
    out += [ribs.height_mm for ribs in shape.ribs]
    out += [pad.thicker_by_mm for pad in shape.pads]
    into = [0.0, *(each.into[each.edge] for each in reaches if each.into is not None)]

    def spread(values: list[float]) -> tuple[float, ...]:
        kept: list[float] = []
        for value in sorted(values):
            if not kept or value - kept[-1] > _LAYER_MM:
                kept.append(float(value))
        return tuple(evenly(kept, step).tolist())

    return _Layers(inward=spread(into)[::-1], outward=spread(out))


def _fill(
    shape: BellShape, lines: Lines, layers: _Layers, reaches: list[_Reach]
) -> NDArray[np.bool_]:
    """Which cells are solid: along, round, outward."""
    s = _with_middles(lines.along_mm)[1::2]
    turn = lines.round_rad + _widths(lines.round_rad) / 2
    inward, outward = len(layers.inward) - 1, len(layers.outward)
    filled = np.zeros((len(s), len(turn), inward + outward), dtype=bool)
    tops = np.array(layers.outward) - _LAYER_MM  # top of each layer from the wall outward

    def box(part_s: NDArray[np.bool_], part_turn: NDArray[np.bool_], height: float) -> None:
        filled[np.ix_(part_s, part_turn, np.r_[np.zeros(inward, bool), tops < height])] = True

    everywhere, round_it = np.ones(len(s), bool), np.ones(len(turn), bool)
    box(everywhere, round_it, 0.0)
    for pad in shape.pads:
        part = _along(shape, pad, s), _within(turn, pad.clock_deg, shape.half_turn(pad))
        filled[np.ix_(*part, np.arange(inward, filled.shape[2]))] = False
        box(*part, pad.thicker_by_mm)
    for ribs in shape.ribs:
        for index in range(ribs.count):
            clock = ribs.clock_deg + 360 * index / ribs.count
            box(_along(shape, ribs, s), _within(turn, clock, shape.half_turn(ribs)), ribs.height_mm)
    for each in reaches:
        rows = each.rows[1::2] & each.rows[:-1:2] & each.rows[2::2]
        box(rows, round_it, float(each.out[each.edge]))
        if each.into is not None:
            depth = np.array(layers.inward[:-1]) - _LAYER_MM < each.into[each.edge]
            filled[np.ix_(rows, round_it, np.r_[depth, np.zeros(outward, bool)])] = True
    for opening in shape.openings:
        part = _along(shape, opening, s), _within(turn, opening.clock_deg, shape.half_turn(opening))
        filled[np.ix_(*part, np.ones(filled.shape[2], bool))] = False
    return filled


def _widths(turns: Floats) -> Floats:
    return np.diff(np.append(turns, turns[0] + 2 * math.pi))


def _along(shape: BellShape, part: Ribs | Opening | Pad, s: Floats) -> NDArray[np.bool_]:
    start, end = shape.stretch(part)
    wall = shape.wall
    return (s > wall.s_of(start, after=True)) & (s < wall.s_of(end, after=False))


def _within(turn: Floats, clock_deg: float, half: float) -> NDArray[np.bool_]:
    away = (turn - math.radians(clock_deg) + math.pi) % (2 * math.pi) - math.pi
    return abs(away) <= half


def _places(
    shape: BellShape, s: Floats, lines: Lines, layers: _Layers, reaches: list[_Reach]
) -> Floats:
    """(2 a + 1, 2 b, 2 c + 1, 3): every place of the grid."""
    wall = shape.wall
    half = wall.thickness(s)[:, None] / 2
    out = np.repeat(np.array(layers.outward)[None], len(s), axis=0)
    into = np.repeat(np.array(layers.inward)[None], len(s), axis=0)
    for each in reaches:
        grown = each.out[each.rows] / each.out[each.edge]
        out[each.rows] = np.where(
            out[each.rows] > 0, out[each.rows] * grown[:, None], out[each.rows]
        )
        if each.into is not None:
            into[each.rows] *= (each.into[each.rows] / each.into[each.edge])[:, None]
    thinned = (out < 0) & (half + out < -half)
    if thinned.any():
        raise InputError("pads", "nothing of the wall is left", "give an opening instead")
    ways = np.concatenate([-half - into, half + out], axis=1)
    whole = np.empty((len(s), 2 * ways.shape[1] - 1))
    whole[:, ::2], whole[:, 1::2] = ways, (ways[:, :-1] + ways[:, 1:]) / 2
    at, outward = wall.places(s), wall.outward(s)
    z = at[:, :1] + outward[:, :1] * whole
    radius = at[:, 1:] + outward[:, 1:] * whole
    turns = np.empty(2 * len(lines.round_rad))
    turns[::2] = lines.round_rad
    turns[1::2] = lines.round_rad + _widths(lines.round_rad) / 2
    sine, cosine = np.sin(turns)[None, :, None], np.cos(turns)[None, :, None]
    return np.stack(
        np.broadcast_arrays(radius[:, None] * sine, radius[:, None] * cosine, z[:, None]), axis=-1
    )


def _beside(filled: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """For each axis: which cells have a neighbour on its far side; round it the last meets the
    first."""
    found = []
    for axis in range(3):
        both = filled & np.roll(filled, -1, axis=axis)
        if axis != 1:
            last: list[slice | int] = [slice(None)] * 3
            last[axis] = -1
            both[tuple(last)] = False
        found.append(both)
    return found


def _check_whole(filled: NDArray[np.bool_], beside: list[NDArray[np.bool_]]) -> None:
    """Refuse a bell in pieces: cells hold together by their faces."""
    from scipy.sparse import coo_array  # noqa: PLC0415 - slow to load, and only solves need it
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    count = int(filled.sum())
    if not count:
        raise InputError("openings", "nothing of the bell is left", "give smaller openings")
    number = np.cumsum(filled).reshape(filled.shape) - 1
    pairs = [
        np.stack([number[both], np.roll(number, -1, axis=axis)[both]])
        for axis, both in enumerate(beside)
    ]
    rows, columns = np.concatenate(pairs, axis=1)
    graph = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    pieces, _ = connected_components(graph, directed=False)
    if pieces > 1:
        raise InputError(
            "openings", f"they cut the bell into {pieces} pieces", "leave wall between them"
        )


def _check_slender(found: BellMesh) -> None:
    corner = found.points_mm[found.elements]
    index = {tuple(place): i for i, place in enumerate(OFFSETS.tolist())}

    def edge(axis: int) -> Floats:
        ends = [
            [index[place] for place in index if place[axis] == end and 1 not in place]
            for end in (0, 2)
        ]
        return np.asarray(np.linalg.norm(corner[:, ends[1]] - corner[:, ends[0]], axis=2))

    longest = np.maximum(edge(0).max(axis=1), edge(1).max(axis=1))
    worst = float((longest / edge(2).min(axis=1)).max())
    if worst > MOST_SLENDER:
        raise InputError(
            "wall",
            f"its elements are {math.ceil(worst)} times as long as thick, "
            f"at most {MOST_SLENDER:.0f}",
            "give a thicker wall or a finer mesh",
        )
