"""The lowest natural frequencies and shapes of a body, from its stiffness and its mass."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bricks import Assembled, Ints
from kitwright.errors import FaultError, InputError

_RIGID: Final = 6
_STILL: Final = 0.02
"""A free body's six rigid motions come out below this share of its first pitch: of a very thin wall
rounding leaves some of it, which is a ten-thousandth of the first pitch at most."""


@dataclass(frozen=True, kw_only=True)
class Lowest:
    """Modes in rising order; the rigid motions of a free body are left out."""

    frequencies_hz: Floats
    """(m,)"""
    shapes: Floats
    """(m, n, 3), displacement of each node for unit generalised mass, 1/√kg."""
    still_hz: Floats
    """What came out for the rigid motions of a free body, (6,) or (0,); zero but for rounding."""


def lowest(body: Assembled, count: int, *, held: Ints | None = None, about_hz: float) -> Lowest:
    """The `count` lowest modes of a body, free or held at some of its degrees of freedom.

    Shift and invert by Lanczos' method, the shift below zero, where the shifted matrix is
    positive definite also for a free body and can be factored without pivoting.

    Parameters
    ----------
    held : degrees of freedom that cannot move; none where the body is free
    about_hz : where the first pitch roughly lies; the shift is taken from it

    Raises
    ------
    InputError
        More modes than the mesh can carry.
    FaultError
        A free body that does not have six rigid motions, or modes that are not orthogonal.
    """
    from scipy.sparse.linalg import LinearOperator, eigsh, splu  # noqa: PLC0415 - as in `bricks`

    size = body.stiffness.shape[0]
    moving = np.arange(size) if held is None else np.setdiff1d(np.arange(size), held)
    rigid = _RIGID if held is None else 0
    wanted = count + rigid
    if 3 * wanted >= len(moving):
        raise InputError("count", f"{count} modes from {len(moving)} unknowns", "ask for fewer")
    stiffness, mass = (
        (matrix if held is None else matrix[moving][:, moving]).tocsc()
        for matrix in (body.stiffness, body.mass)
    )
    shift = -((2 * math.pi * about_hz) ** 2)
    factor = splu(
        (stiffness - shift * mass).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    inverse: Any = LinearOperator(stiffness.shape, matvec=factor.solve, dtype=float)
    squares, vectors = eigsh(
        stiffness,
        k=wanted,
        M=mass,
        sigma=shift,
        OPinv=inverse,
        v0=np.ones(len(moving)),
        ncv=min(len(moving), max(2 * wanted + 1, 40)),
    )
    order = np.argsort(squares)
    frequencies = np.sqrt(np.maximum(squares[order], 0.0)) / (2 * math.pi)
    vectors = vectors[:, order]
    still, rest = frequencies[:rigid], frequencies[rigid:]
    if rigid and still[-1] > _STILL * rest[0]:
        raise FaultError(f"a free bell must have six rigid motions, not up to {still[-1]:.3g} Hz")
    meet = vectors.T @ (mass @ vectors)
    if abs(meet - np.eye(wanted)).max() > 1e-6:
        raise FaultError("the shapes found are not orthogonal")
    whole = np.zeros((size, count))
    whole[moving] = vectors[:, rigid:]
    return Lowest(
        frequencies_hz=rest,
        shapes=np.ascontiguousarray(whole.T).reshape(count, -1, 3),
        still_hz=still,
    )
