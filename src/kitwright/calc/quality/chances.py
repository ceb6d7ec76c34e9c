"""Chances of normal true values inside limits, and of circular-normal ones inside a circle.

Each comes as a pair, inside and outside, and the lesser of the two is computed on its own side: a
chance of 1e-200 has its figures.

References
----------
.. [1] Rice, Bell System Technical Journal 24 (1945) 46-156: the length of a vector whose two
   components are normal about a fixed mean.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erf, i0e, ndtr

from kitwright.calc.checks import Floats

NODES, WEIGHTS = np.polynomial.legendre.leggauss(20)

_REACH: Final = 9.0  # a normal tail beyond 9 sigma is 1e-19 of the whole
_DECAY: Final = 45.0  # and exp(-45) is 3e-20 of it
_SMALL: Final = 1.2  # sigmas: a circle too small to hold most of anything
_PANELS: Final = 3
_STEPS: Final = ((np.arange(_PANELS)[:, None] + (NODES + 1) / 2) / _PANELS).ravel()
_STEP_WEIGHTS: Final = np.tile(WEIGHTS / (2 * _PANELS), _PANELS)


def normal_chances(
    centre: Floats, u: ArrayLike, low: ArrayLike, high: ArrayLike, slack: ArrayLike
) -> tuple[Floats, Floats]:
    """Chances that a normal value about `centre` is in [low, high], and that it is not.

    Differences are taken on the side where they do not cancel. Without spread the value is
    where it is, and a limit includes its value within `slack`.
    """
    c, s, lo, hi, near = np.broadcast_arrays(centre, u, low, high, slack)
    sharp = s == 0
    scale = np.where(sharp, 1.0, s)
    with np.errstate(over="ignore"):  # a limit 1e300 sigmas away is at infinity
        a, b = (lo - c) / scale, (hi - c) / scale
    below, above = ndtr(a), ndtr(-b)
    straddle = (erf(b / np.sqrt(2)) - erf(a / np.sqrt(2))) / 2
    one_side = np.where(a > 0, ndtr(-a) - above, ndtr(b) - below)
    inside = np.where((a > 0) | (b < 0), one_side, straddle)
    beyond = below + above
    on = (c >= lo - near) & (c <= hi + near)
    empty = lo > hi
    inside = np.where(empty, 0.0, np.where(sharp, on, inside))
    beyond = np.where(empty, 1.0, np.where(sharp, ~on, beyond))
    return np.clip(inside, 0.0, 1.0), np.clip(beyond, 0.0, 1.0)


def rice_chances(r: Floats, u: Floats, limit: Floats, slack: Floats) -> tuple[Floats, Floats]:
    """Chances that a circular-normal place at mean offset `r` is inside `limit`, and outside.

    The lesser side is integrated and the other is one minus it. From the edge of the circle the
    density t exp(-(t - nu)²/2) i0e(nu t) falls off on that side like a normal tail [1]_.
    """
    largest = np.maximum(r, limit)
    sharp = u <= 1e-15 * largest  # narrower than these numbers can tell apart
    scale = np.where(sharp, largest, u)
    nu, edge, gap = r / scale, limit / scale, (limit - r) / scale
    inward = (gap <= 0) | (edge < _SMALL)
    reach = np.minimum(_REACH, _DECAY / np.maximum(np.abs(gap), 1.0))
    length = np.where(inward, -np.minimum(edge, reach), reach)
    s = length[..., None] * _STEPS  # from the edge, where edge - nu may be all that is exact
    t = edge[..., None] + s
    density = t * np.exp(-((gap[..., None] + s) ** 2) / 2) * i0e(nu[..., None] * t)
    lesser = np.clip((density @ _STEP_WEIGHTS) * np.abs(length), 0.0, 1.0)
    inside = np.where(inward, lesser, 1 - lesser)
    beyond = np.where(inward, 1 - lesser, lesser)
    on = r <= limit + slack
    return np.where(sharp, on, inside), np.where(sharp, ~on, beyond)
