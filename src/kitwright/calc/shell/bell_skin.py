"""The bell's surface as flat four-cornered faces, few enough to be drawn."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes
from kitwright.calc.shell.bricks import Ints


@dataclass(frozen=True, kw_only=True)
class Skin:
    """Corners and faces; a face's corners go round counter-clockwise as seen from outside."""

    points_mm: Floats
    """(p, 3): x right, y up, z rearward."""
    faces: Ints
    """(f, 4), into the points."""
    moves: Floats
    """(m, p, 3): how each mode displaces them, the largest displacement of a mode being 1."""


def skin(modes: Modes, *, along: int = 6, round_it: int = 30) -> Skin:
    """The surface with about so many faces along and round it; every edge of the shape stays."""
    mesh = modes.mesh
    filled = np.zeros([size // 2 for size in mesh.node_at.shape], dtype=bool)
    filled[tuple(mesh.cells.T)] = True
    lines = mesh.lines
    corners = modes.shape.wall.at_corner
    rows = _kept(
        lines.along_mm,
        [
            not np.array_equal(filled[i - 1], filled[i]) or bool(abs(corners - s).min() < 0.2)
            for i, s in enumerate(lines.along_mm[1:-1], start=1)
        ],
        lines.along_mm[-1] / along,
    )
    turns = np.append(lines.round_rad, lines.round_rad[0] + 2 * np.pi)
    columns = _kept(
        turns,
        [not np.array_equal(filled[:, j - 1], filled[:, j]) for j in range(1, len(turns) - 1)],
        2 * np.pi / round_it,
    )
    layers = [
        k
        for k in range(filled.shape[2] + 1)
        if k in (0, filled.shape[2]) or not np.array_equal(filled[:, :, k - 1], filled[:, :, k])
    ]
    starts = np.ix_(rows[:-1], columns[:-1], layers[:-1])
    places = np.array(list(_faces(filled[starts])))
    at = [np.array(rows)[places[..., 0]], np.array(columns)[places[..., 1]] % filled.shape[1],
          np.array(layers)[places[..., 2]]]  # fmt: skip
    nodes = mesh.node_at[2 * at[0], 2 * at[1], 2 * at[2]]
    used, faces = np.unique(nodes, return_inverse=True)
    moves = modes.shapes[:, used]
    largest = np.sqrt((moves**2).sum(axis=2).max(axis=1))
    return Skin(
        points_mm=mesh.points_mm[used],
        faces=faces.reshape(-1, 4),
        moves=moves / largest[:, None, None],
    )


def _kept(values: Floats, edge: list[bool], step: float) -> list[int]:
    """Lines to draw: the first, the last, those on an edge, and others a fair step apart."""
    hard = [0, *(i for i, kept in enumerate(edge, start=1) if kept), len(values) - 1]
    found = []
    for start, end in itertools.pairwise(hard):
        parts = max(1, round((values[end] - values[start]) / step))
        wanted = values[start] + (values[end] - values[start]) * np.arange(parts) / parts
        near = start + abs(values[start:end, None] - wanted).argmin(axis=0)
        found += sorted({int(i) for i in near})
    return [*found, len(values) - 1]


_SIDES = {
    (0, -1): ((0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0)),
    (0, 1): ((1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)),
    (1, -1): ((0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1)),
    (1, 1): ((0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 1, 0)),
    (2, -1): ((0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0)),
    (2, 1): ((0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)),
}
"""Axis and side → corners of a cell's face, for a right-handed grid (along, round, outward)."""


def _faces(filled: NDArray[np.bool_]) -> Iterator[list[tuple[int, int, int]]]:
    """Corners on the grid of every face that lies between solid and air."""
    for (axis, side), corners in _SIDES.items():
        beside = np.roll(filled, -side, axis=axis)
        if axis != 1:
            edge: list[slice | int] = [slice(None)] * 3
            edge[axis] = -1 if side > 0 else 0
            beside[tuple(edge)] = False
        for i, j, k in np.argwhere(filled & ~beside).tolist():
            yield [(i + a, j + b, k + c) for a, b, c in corners]
