"""Which mode of a changed bell is which of the bell before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes
from kitwright.calc.shell.mode_kinds import alike_on_wall

LEAST_ALIKE: Final = 0.5
"""Below this, no mode of the changed bell counts as the one before."""
_ONE_PITCH: Final = 2e-3
"""Modes nearer than this share of their frequency may mix, as the two of a round bell do."""


@dataclass(frozen=True, kw_only=True)
class Pairing:
    """For each mode before: which mode after it became, None where none is like it."""

    after: tuple[int | None, ...]
    alike: tuple[float | None, ...]
    """0 to 1, by the shapes; None where the shapes could not be compared."""


def pair_modes(before: Modes, after: Modes) -> Pairing:
    """Pair modes by their shapes on the wall, or by their looks where the walls differ.

    Shapes are compared (modal assurance criterion) at the places of the mesh before, where both
    bells have a wall. Where several modes before have one pitch, a shape after may be any mixture
    of them: it is then compared with all of them together.
    """
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - half a second

    corners = before.shape.wall.corners, after.shape.wall.corners
    if corners[0].shape != corners[1].shape or not np.allclose(*corners):
        return _by_looks(before, after)
    likeness = alike_on_wall(before.mesh, before.shapes, after.mesh, after.shapes)
    pitch = before.frequencies_hz
    near = abs(pitch[:, None] - pitch[None, :]) <= _ONE_PITCH * pitch[:, None]
    together: Floats = np.minimum(near.astype(float) @ likeness, 1.0)
    rows, columns = linear_sum_assignment(-(together + 1e-3 * likeness))
    found: list[int | None] = [None] * len(pitch)
    values: list[float | None] = [None] * len(pitch)
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        values[row] = float(together[row, column])
        if together[row, column] >= LEAST_ALIKE:
            found[row] = column
    return Pairing(after=tuple(found), alike=tuple(values))


def _by_looks(before: Modes, after: Modes) -> Pairing:
    """In rising order, each with the first that is left of the same kind and waves."""
    left = list(range(len(after.kinds)))
    found: list[int | None] = []
    for kind in before.kinds:
        match = next((i for i in left if after.kinds[i].look == kind.look), None)
        if match is not None:
            left.remove(match)
        found.append(match)
    return Pairing(after=tuple(found), alike=(None,) * len(found))
