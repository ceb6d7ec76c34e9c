"""At what pitches a bell rings: its lowest natural frequencies and shapes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_lines import Lines, Spacing, lines_of
from kitwright.calc.shell.bell_mesh import BellMesh, mesh
from kitwright.calc.shell.bell_shape import BellShape
from kitwright.calc.shell.bricks import OFFSETS, Ints, Isotropic, assemble, shape_functions
from kitwright.calc.shell.lowest import lowest
from kitwright.calc.shell.mode_kinds import ModeKind, mode_kinds
from kitwright.errors import InputError

Support = Literal["free", "block face held"]

MOST_MODES: Final = 80
USUAL: Final = Spacing(round_deg=9.0, along_share=1 / 8, corner_share=0.5)
_FACE: Final = tuple(i for i, place in enumerate(OFFSETS.tolist()) if place[2] == 2)


@dataclass(frozen=True, kw_only=True)
class Modes:
    """Modes in rising order, without the rigid motions of a free bell.

    Shapes are for unit generalised mass: multiplied by the square root of kilograms they are
    plain ratios, and a blow of one newton-second at a place sets mode i into motion there at
    `at(...)[i] ** 2` metres a second.
    """

    frequencies_hz: Floats
    """(m,)"""
    shapes: Floats
    """(m, n, 3): displacement of each of the mesh's nodes, x right, y up, z rearward, 1/√kg."""
    kinds: tuple[ModeKind, ...]
    effective_masses_kg: Floats
    """(m, 3): what follows when the block face is shaken along x, y or z; (m, 0) when free."""
    still_hz: Floats
    """What came out for a free bell's six rigid motions; (0,) when held."""
    mass_kg: float
    shape: BellShape
    material: Isotropic
    support: Support
    mesh: BellMesh

    @property
    def unknowns(self) -> int:
        """Degrees of freedom of the mesh."""
        return self.mesh.points_mm.size

    @property
    def modal_masses_kg(self) -> Floats:
        """(m,): the mass that the bell seems to have where a mode moves most."""
        return np.asarray(1 / (self.shapes**2).sum(axis=2).max(axis=1))

    def at(self, z_mm: float, clock_deg: float) -> Floats:
        """(m, 3): displacement of a place on the outside for unit generalised mass, 1/√kg.

        Raises
        ------
        InputError
            In front of the block face, behind the gearbox face, or over an opening.
        """
        element, values = self._outside(z_mm, clock_deg)
        return np.asarray(np.einsum("i,mid->md", values, self.shapes[:, element]))

    def place_mm(self, z_mm: float, clock_deg: float) -> Floats:
        """(3,): that place itself."""
        element, values = self._outside(z_mm, clock_deg)
        return np.asarray(values @ self.mesh.points_mm[element])

    def _outside(self, z_mm: float, clock_deg: float) -> tuple[Ints, Floats]:
        """The nodes under a place on the outside, and how much each of them counts there."""
        lines = self.mesh.lines.round_rad
        turn = (math.radians(clock_deg) - lines[0]) % (2 * math.pi)
        ends = np.append(lines, lines[0] + 2 * math.pi) - lines[0]
        column = min(int(np.searchsorted(ends, turn, side="right")) - 1, len(lines) - 1)
        round_it = 2 * (turn - ends[column]) / (ends[column + 1] - ends[column]) - 1
        over_opening = False
        for row, element in enumerate(self.mesh.outermost[:, column]):
            if element < 0:
                over_opening |= self._spans(row, z_mm)
                continue
            nodes = self.mesh.elements[element]
            z = self.mesh.points_mm[nodes, 2]
            low, high = z[_FACE[0]], z[_FACE[-1]]
            if high > low and low - 1e-6 <= z_mm <= high + 1e-6:
                along = np.clip(2 * (z_mm - low) / (high - low) - 1, -1, 1)
                return nodes, shape_functions([along, round_it, 1.0])[0][0]
        if over_opening:
            raise InputError("strike", "there is an opening there", "strike beside it")
        raise InputError(
            "strike",
            f"{z_mm:g} mm is not on the bell",
            f"from face to face it runs from 0 to {self.shape.length_mm:g} mm",
        )

    def _spans(self, row: int, z_mm: float) -> bool:
        z = self.shape.wall.places(self.mesh.lines.along_mm[row : row + 2])[:, 0]
        return bool(z[0] <= z_mm <= z[1])


def bell_modes(
    shape: BellShape,
    material: Isotropic,
    *,
    count: int = 40,
    support: Support = "free",
    spacing: Spacing = USUAL,
    lines: Lines | None = None,
) -> Modes:
    """The `count` lowest modes of a bell by finite elements.

    Parameters
    ----------
    support : "free", as hung on a string, or "block face held", all of that face clamped
    spacing : how far apart the lines of its mesh may be
    lines : the lines themselves, where two bells must share theirs

    Raises
    ------
    InputError
        A shape or a count that cannot be worked out; see `mesh` and `lowest`.
    FaultError
        An answer that fails its own checks.
    """
    if not 1 <= count <= MOST_MODES:
        raise InputError("count", f"{count} modes", f"give 1 to {MOST_MODES}")
    found = mesh(shape, lines if lines is not None else lines_of([shape], spacing))
    body = assemble(found.points_mm / 1e3, found.elements, material, alone=found.alone)
    held = None
    if support == "block face held":
        held = (3 * found.block_face[:, None] + np.arange(3)).ravel()
    radius = float(shape.wall.corners[:, 1].max()) / 1e3
    about = material.bar_speed_m_s * shape.wall_mm / 1e3 / (2 * math.pi * radius**2)
    solved = lowest(body, count, held=held, about_hz=about)
    effective = np.zeros((count, 0))
    if held is not None:
        pushed = (body.mass @ solved.shapes.reshape(count, -1).T).T
        effective = pushed.reshape(count, -1, 3).sum(axis=1) ** 2
    return Modes(
        frequencies_hz=solved.frequencies_hz,
        shapes=solved.shapes,
        kinds=mode_kinds(found, solved.shapes),
        effective_masses_kg=effective,
        still_hz=solved.still_hz,
        mass_kg=body.mass_kg,
        shape=shape,
        material=material,
        support=support,
        mesh=found,
    )
