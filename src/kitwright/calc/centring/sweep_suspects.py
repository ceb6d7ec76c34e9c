"""Readings that cannot belong to their sweep: named and shown, never dropped.

A reading's deleted residual is its distance from the curve through all the others; divided by
its own standard error it follows Student's t if the readings scatter evenly [1]_. The largest of
n is judged at a chance of 5 % in n tries (Bonferroni).

References
----------
.. [1] Cook, Weisberg, Residuals and Influence in Regression (1982), 2.2.2 (from memory).
.. [2] Abramowitz, Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.centring.sweep_fit import Fit

CHANCE: Final = 0.05
ONE_IN: Final = 8
"""If more readings than one in eight stand out, it is the curve that does not fit."""
MOST: Final = 10
_NO_WITNESS: Final = 1e-9
_LEAST_FREEDOM: Final = 2  # with one degree of freedom t would have to be above 100
_NEVER_BELOW_MM: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class Misfit:
    """One row whose reading is too far from the curve through the others."""

    row: int
    misfit_mm: float
    """The reading less what the others foretell for its place."""
    chance: float
    """Chance that the worst of so many good readings stands out as far."""


def misfits(found: Fit, *, noise_mm: float) -> list[Misfit]:
    """Rows whose studentised deleted residual is beyond the Bonferroni limit, worst first.

    At most one row in eight, and ten.

    Parameters
    ----------
    found : the fit of all rows
    noise_mm : scatter that readings have anyhow; the others are never taken as quieter
    """
    freedom = found.freedom - 1
    if freedom < _LEAST_FREEDOM:
        return []
    free = np.maximum(1 - found.leverage, _NO_WITNESS)
    residual = found.residual_mm
    others = np.maximum(residual @ residual - residual**2 / free, 0.0) / freedom
    spread = np.maximum(np.sqrt(others), max(noise_mm, _NEVER_BELOW_MM))
    t = np.abs(residual) / (spread * np.sqrt(free))
    listed: list[Misfit] = []
    for row in np.argsort(-t, kind="stable")[: min(len(t) // ONE_IN, MOST)]:
        chance = min(1.0, len(t) * chance_beyond(float(t[row]), freedom))
        if chance >= CHANCE:
            break
        misfit = float(residual[row] / free[row])
        listed.append(Misfit(row=int(row), misfit_mm=misfit, chance=chance))
    return listed


def chance_beyond(t: float, freedom: int) -> float:
    """Chance that Student's t with whole degrees of freedom is beyond ±t [2]_.

    >>> round(chance_beyond(2.776445, 4), 6)
    0.05
    """
    angle = np.arctan2(abs(t), np.sqrt(freedom))
    sine, cosine = np.sin(angle), np.cos(angle)
    odd = freedom % 2
    total, term = 0.0, cosine if odd else 1.0
    for k in range(1 + odd, freedom, 2):
        total += term
        term *= cosine**2 * k / (k + 1)
    inside = 2 / np.pi * (angle + sine * total) if odd else sine * total
    return float(max(0.0, 1 - inside))
