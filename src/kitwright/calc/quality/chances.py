"""Chances of normal true values inside limits, and of circular-normal ones inside a circle.

Each comes as a pair, inside and outside, and each of the two is computed on its own side: a chance
of 1e-200 has its figures, and so has one minus it.

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
_PANELS: Final = 8


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
    """Chances that a circular-normal place at mean offset `r` is inside `limit`, and outside."""
    largest = np.maximum(r, limit)
    sharp = u <= 1e-15 * largest  # narrower than these numbers can tell apart
    scale = np.where(sharp, largest, u)
    nu, edge, gap = r / scale, limit / scale, (limit - r) / scale
    likely = gap > 0
    # The density peaks at nu; the side that does not hold the peak has its mass at the edge.
    inside = _rice_mass(
        nu,
        np.where(likely, nu, edge),
        np.where(likely, 0.0, gap),
        np.where(likely, np.maximum(-nu, -_REACH), np.maximum(-edge, -_REACH)),
        np.where(likely, np.minimum(gap, _REACH), 0.0),
    )
    beyond = _rice_mass(
        nu,
        np.where(likely, edge, nu),
        np.where(likely, gap, 0.0),
        np.where(likely, 0.0, np.maximum(gap, -_REACH)),
        np.full_like(gap, _REACH),
    )
    on = r <= limit + slack
    inside = np.where(sharp, on, inside)
    beyond = np.where(sharp, ~on, beyond)
    return np.clip(inside, 0.0, 1.0), np.clip(beyond, 0.0, 1.0)


def _rice_mass(nu: Floats, anchor: Floats, shift: Floats, start: Floats, stop: Floats) -> Floats:
    """Integral of Rice's density t exp(-(t - nu)²/2) i0e(nu t) over t = anchor + [start, stop].

    `shift` is anchor - nu, given apart because both may be large and near each other.
    """
    width = (stop - start) / _PANELS
    steps = (np.arange(_PANELS)[:, None] + (NODES + 1) / 2).ravel()
    s = start[..., None] + width[..., None] * steps
    t = anchor[..., None] + s
    density = t * np.exp(-((shift[..., None] + s) ** 2) / 2) * i0e(nu[..., None] * t)
    return np.asarray((density @ np.tile(WEIGHTS / 2, _PANELS)) * width)
