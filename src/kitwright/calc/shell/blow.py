"""How strongly each mode of a computed bell speaks when it is struck."""

from __future__ import annotations

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes


def spoken(modes: Modes, *, z_mm: float, clock_deg: float) -> Floats:
    """Root mean square speed of the outside, away from the crank axis, into which a blow of one
    newton-second toward the axis sets each mode; shape (m,), m/s.

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
    outside = modes.outer_nodes
    place = modes.mesh.points_mm[outside]
    radial = place * [1.0, 1.0, 0.0]
    radial /= np.maximum(np.linalg.norm(radial, axis=1), 1e-9)[:, None]
    square = np.einsum("mnd,nd->mn", modes.shapes[:, outside], radial)
    return np.asarray(np.abs(going) * np.sqrt(np.mean(square**2, axis=1)))
