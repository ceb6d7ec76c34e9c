"""How strongly each mode of a computed bell speaks when it is struck."""

from __future__ import annotations

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes
from kitwright.calc.shell.bricks import shape_functions


def spoken(modes: Modes, *, z_mm: float, clock_deg: float) -> Floats:
    """Root mean square speed of the outside, by area, away from the crank axis, into which a blow
    of one newton-second toward the axis sets each mode; shape (m,), m/s.

    A blow J at a place where a mode of unit generalised mass moves by phi sets it going at
    J phi; the rest of the bell follows in proportion to its shape. What of it becomes sound
    differs from mode to mode and is not worked out.

    Raises
    ------
    InputError
        The place is not on the bell, or over an opening.
    """
    turn = np.radians(clock_deg)
    inward = -np.array([np.sin(turn), np.cos(turn), 0.0])
    going = modes.at(z_mm, clock_deg) @ inward
    place, area, moved = _outside(modes)
    radial = place * [1.0, 1.0, 0.0]
    radial /= np.maximum(np.linalg.norm(radial, axis=1), 1e-9)[:, None]
    square = np.square(np.einsum("mpd,pd->mp", moved, radial)) @ area / area.sum()
    return np.asarray(np.abs(going) * np.sqrt(square))


def _outside(modes: Modes) -> tuple[Floats, Floats, Floats]:
    """Places on the outside, (p, 3) in mm, the area that each stands for, (p,) in mm², and how the
    modes move there, (m, p, 3): four to each element's face (Gauss), where squares add up well."""
    at = np.sqrt(1 / 3) * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    values, slopes = shape_functions(np.column_stack([at, np.ones(4)]))
    outermost = modes.mesh.outermost
    nodes = modes.mesh.elements[outermost[outermost >= 0]]
    points = modes.mesh.points_mm[nodes]
    area = np.linalg.norm(np.cross(slopes[:, 0] @ points, slopes[:, 1] @ points), axis=-1)
    moved = values @ modes.shapes[:, nodes]
    return (values @ points).reshape(-1, 3), area.ravel(), moved.reshape(len(moved), -1, 3)
