"""What a mode looks like: how many waves it makes round the bell, and how it moves.

On each ring of nodes the motion is taken apart into waves round the bell. The number of waves that
holds most of the motion is the mode's number of nodal diameters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_mesh import BellMesh

Kind = Literal["wall", "bending", "breathing", "axial", "torsion", "mixed"]

_MIXED: Final = 0.5
_CLEAR: Final = 0.1
"""Motion below this share of the largest along the wall has no sign to speak of."""


@dataclass(frozen=True, kw_only=True)
class ModeKind:
    """One mode's look.

    `kind`: "wall" is a wave round the wall, two or more nodal diameters; "bending" has one, the
    bell moving to and fro as a beam; with none, "breathing" moves mostly along the radius,
    "axial" along the crank, "torsion" round it; "mixed" where no number of waves holds half.
    """

    kind: Kind
    nodal_diameters: int
    nodal_circles: int
    """How often the strongest wave changes its sign along the wall."""
    share: float
    """Of the motion, what that number of waves holds."""

    @property
    def look(self) -> tuple[Kind, int]:
        """What two modes of one wave have in common."""
        return self.kind, self.nodal_diameters


def mode_kinds(mesh: BellMesh, shapes: Floats) -> tuple[ModeKind, ...]:
    """The look of each mode; `shapes` (m, n, 3) as in `Lowest`."""
    turns = _turns(mesh)
    sine, cosine = np.sin(turns), np.cos(turns)
    moved = _moved(mesh, shapes)
    radial = moved[..., 0] * sine + moved[..., 1] * cosine
    round_it = moved[..., 0] * cosine - moved[..., 1] * sine
    parts = np.stack([radial, round_it, moved[..., 2]], axis=1)  # (m, 3, rings, places)
    width = _shares(turns, 2 * math.pi)
    waves = np.arange(len(mesh.lines.round_rad))
    turned = np.exp(-1j * np.outer(turns, waves)) * width[:, None]
    amplitude = parts @ turned  # (m, 3, rings, waves)
    weight = _ring_weights(mesh)
    strength = np.where(waves == 0, 1.0, 2.0) * abs(amplitude) ** 2
    held = np.einsum("mcrw,r->mcw", strength, weight)
    whole = np.einsum("mcrp,r,p->m", parts**2, weight, width)
    by_wave = held.sum(axis=1)
    return tuple(
        _kind(amplitude[mode], held[mode], int(by_wave[mode].argmax()), float(whole[mode]))
        for mode in range(len(shapes))
    )


def _kind(amplitude: Floats, held: Floats, waves: int, whole: float) -> ModeKind:
    share = min(1.0, float(held[:, waves].sum()) / whole) if whole > 0 else 0.0
    strongest = int(held[:, waves].argmax())
    along = amplitude[strongest, :, waves]
    phase = along[abs(along).argmax()]
    line = np.real(along * np.conj(phase)) / abs(phase)
    clear = line[abs(line) > _CLEAR * abs(line).max()]
    kind: Kind
    if share < _MIXED:
        kind = "mixed"
    elif waves >= 2:
        kind = "wall"
    elif waves == 1:
        kind = "bending"
    else:
        names: tuple[Kind, ...] = ("breathing", "torsion", "axial")
        kind = names[strongest]
    return ModeKind(
        kind=kind,
        nodal_diameters=waves,
        nodal_circles=int((clear[1:] * clear[:-1] < 0).sum()),
        share=share,
    )


def _between(at: Floats, lines: Floats, *, period: float | None = None) -> Floats:
    """(a, b): what each of b rising lines counts at a places, straight between two of them."""
    return np.column_stack([np.interp(at, lines, one, period=period) for one in np.eye(len(lines))])


def _there(mesh: BellMesh) -> NDArray[np.bool_]:
    """(rings, places): whether the wall is there at all."""
    return np.asarray(mesh.node_at[::2, :, mesh.inside] >= 0)


def _moved(mesh: BellMesh, shapes: Floats) -> Floats:
    nodes = mesh.node_at[::2, :, mesh.inside]
    return np.where(_there(mesh)[None, ..., None], shapes[:, nodes], 0.0)


def _turns(mesh: BellMesh) -> Floats:
    """Clock angle of each place of the grid, radians."""
    lines = mesh.lines.round_rad
    ends = np.append(lines, lines[0] + 2 * math.pi)
    return np.column_stack([ends[:-1], (ends[:-1] + ends[1:]) / 2]).ravel()


def _shares(turns: Floats, whole: float) -> Floats:
    """The part of the way round that each place stands for."""
    ends = np.concatenate([[turns[-1] - whole], turns, [turns[0] + whole]])
    return np.asarray((ends[2:] - ends[:-2]) / (2 * whole))


def _ring_weights(mesh: BellMesh) -> Floats:
    """The wall's area that each ring stands for, as a share."""
    along = mesh.lines.along_mm
    radius = np.array(
        [
            np.hypot(*mesh.points_mm[ring[ring >= 0], :2].T).mean() if (ring >= 0).any() else 0.0
            for ring in mesh.node_at[::2, :, mesh.inside]
        ]
    )
    area = np.gradient(along) * radius
    return np.asarray(area / area.sum())


def alike(first: Floats, second: Floats) -> Floats:
    """(m, k): how alike shapes are, 0 to 1 (the modal assurance criterion [1]_).

    `first` (m, n, 3) and `second` (k, n, 3) are displacements of the same places. Two modes of one
    body are alike to some small degree on a part of it: they are orthogonal by mass, on the whole.

    References
    ----------
    .. [1] R. J. Allemang, D. L. Brown, Proc. 1st Int. Modal Analysis Conference (1982) 110-116
    """
    one, other = first.reshape(len(first), -1), second.reshape(len(second), -1)
    sizes = np.outer((one**2).sum(axis=1), (other**2).sum(axis=1))
    return np.asarray((one @ other.T) ** 2 / sizes)


def alike_on_wall(mesh: BellMesh, shapes: Floats, other: BellMesh, others: Floats) -> Floats:
    """(m, k): how alike shapes are on the inner face of a wall that two meshes have in common.

    They are compared at the first mesh's places, where both have a wall, each place counting by
    the area round it; those of the other mesh are met straight between its own places.
    """
    along = _between(mesh.lines.along_mm, other.lines.along_mm)
    round_it = _between(_turns(mesh), _turns(other), period=2 * math.pi).T
    both = _there(mesh) & (along @ _there(other) @ round_it > 1 - 1e-6)
    area = np.outer(_ring_weights(mesh), _shares(_turns(mesh), 2 * math.pi))
    weight = np.sqrt(np.where(both, area, 0.0))
    theirs = along @ _moved(other, others).transpose(0, 3, 1, 2) @ round_it
    return alike(_moved(mesh, shapes).transpose(0, 3, 1, 2) * weight, theirs * weight)
