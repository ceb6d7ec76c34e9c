"""Chances that a normal place in the plane, spread as it may be, lies inside a circle or not."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from kitwright.calc.checks import Floats

_ROOT_TWO_PI: Final = np.sqrt(2 * np.pi)
_THINNEST: Final = 1e-12
_FINE: Final = (np.linspace(-9, 9, 19), np.polynomial.legendre.leggauss(20))
_COARSE: Final = (np.linspace(-6, 6, 7), np.polynomial.legendre.leggauss(8))


def disc_chances(
    along: ArrayLike,
    across: ArrayLike,
    s_along: ArrayLike,
    s_across: ArrayLike,
    radius: ArrayLike,
    *,
    fine: bool = True,
) -> tuple[Floats, Floats]:
    """Chances inside and outside a circle about zero, to 1e-13 (to 1e-4 if not `fine`).

    The long way is integrated, the short one is a normal chance; both chances are sums of
    positive terms, so that a chance outside of 1e-12 has its figures. Panels end where the
    density or the distance to the rim has turned by a sigma.

    Parameters
    ----------
    along, across : mean along the two principal axes of the spread, any shapes that broadcast
    s_along, s_across : sigma along each, above zero and not below zero
    radius : above zero; one unit for all
    """
    steps, (nodes, node_weights) = _FINE if fine else _COARSE
    m1, m2, s1, s2, r = (
        array.astype(float)[..., None]
        for array in np.broadcast_arrays(along, np.abs(across), s_along, s_across, radius)
    )
    s2 = np.maximum(s2, _THINNEST * r)
    rims = np.sqrt(np.maximum(r**2 - np.clip(m2 + s2 * steps, 0, r) ** 2, 0))
    even = r * np.linspace(-1, 1, 5)
    places = np.concatenate((m1 + s1 * steps, rims, -rims, even), axis=-1)
    breaks = np.sort(np.arcsin(np.clip(places / r, -1, 1)), axis=-1)
    half = np.diff(breaks, axis=-1)[..., None] / 2
    turn = breaks[..., :-1, None] + half * (1 + nodes)
    m1, m2, s1, s2, r = (array[..., None] for array in (m1, m2, s1, s2, r))
    rim = r * np.cos(turn)
    density = np.exp(-(((r * np.sin(turn) - m1) / s1) ** 2) / 2) / (s1 * _ROOT_TWO_PI)
    weights = half * node_weights * rim * density
    near, far = ndtr((rim - m2) / s2), ndtr(-(rim + m2) / s2)
    inside = (weights * (near - far)).sum(axis=(-2, -1))
    beside = (weights * (ndtr(-(rim - m2) / s2) + far)).sum(axis=(-2, -1))
    m1, s1, r = (array[..., 0, 0] for array in (m1, s1, r))
    outside = beside + ndtr(-(r - m1) / s1) + ndtr(-(r + m1) / s1)
    return np.clip(inside, 0, 1), np.clip(outside, 0, 1)
