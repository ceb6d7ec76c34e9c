"""How often blocks alone put a true bell's bore outside a limit, and how well that is known.

References
----------
.. [1] Geisser and Cornfield, Posterior distributions for multivariate normal parameters, Journal of
   the Royal Statistical Society B 25 (1963) 368-376: what a sample leaves open of mean and
   covariance, from which the interval is drawn.
.. [2] Smith and Hocking, Algorithm AS 53: Wishart variate generator, Applied Statistics 21 (1972)
   341-345: how covariances are drawn (Bartlett's decomposition).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import chdtri, ndtr, ndtri

from kitwright.calc.centring.block_population import (
    CONFIDENCE,
    Interval,
    Population,
    least_count,
)
from kitwright.calc.checks import Floats, positive
from kitwright.errors import InputError

DRAWS: Final = 4000
SEED: Final = 20_310
_TAILS: Final = (0.5 - CONFIDENCE / 2, 0.5 + CONFIDENCE / 2)
_REACH: Final = 9.0  # a normal tail beyond 9 sigma is 1e-19 of the whole
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(60)


@dataclass(frozen=True, kw_only=True)
class ChanceOutside:
    """The chance that a block alone is outside the limit."""

    estimate: Interval
    """With mean and spread as they are estimated, and its 95 % interval."""
    next_block: float
    """For the next block, with all that the sample leaves open of both."""
    seed: int


def chance_outside(found: Population, *, limit_tir_mm: float, seed: int = SEED) -> ChanceOutside:
    """The chance that a true bell on the next block has a TIR above the limit.

    What n samples leave open is drawn `DRAWS` times: the covariance about its estimate with
    n - 1 degrees of freedom (one variance with 2 (n - 1) where the population is even), the mean
    about its own with an n-th of that covariance [1]_ [2]_. The interval holds the middle 95 % of
    the chances that follow.

    Raises
    ------
    InputError
        A limit that is not above zero.
    """
    radius = positive(limit_tir_mm, where="limit") / 2
    law = chance_beyond(found.mean_mm[None], found.law_mm2[None], radius)
    drawn = _drawn(found, found.count, radius, seed)
    low, high = np.quantile(drawn, _TAILS).tolist()
    value = float(law[0])
    return ChanceOutside(
        estimate=Interval(value=value, low=min(low, value), high=max(high, value)),
        next_block=float(drawn.mean()),
        seed=seed,
    )


def count_for_chance(
    found: Population, *, limit_tir_mm: float, accuracy: float, seed: int = SEED
) -> int | None:
    """Samples in all that leave the chance outside known to plus or minus `accuracy`.

    Half the width of the interval of `chance_outside`, were mean and spread to stay as they are;
    None where more than a million would be needed.
    """
    radius = positive(limit_tir_mm, where="limit") / 2
    if not 0 < accuracy < 1:
        raise InputError("accuracy", f"{accuracy:g} is out of range", "give 0 to 1, such as 0.05")

    def enough(count: int) -> bool:
        low, high = np.quantile(_drawn(found, count, radius, seed), _TAILS)
        return bool(high - low <= 2 * accuracy)

    return least_count(enough, start=found.count)


def chance_beyond(means_mm: Floats, covariances_mm2: Floats, radius_mm: float) -> Floats:
    """The chance that a normal vector is longer than `radius_mm`, for each of k laws.

    Along the narrower principal axis the chance is integrated, along the other it is an error
    function; the way along is taken as the sine of an angle, so that the circle's ends are smooth.

    Parameters
    ----------
    means_mm, covariances_mm2 : shapes (k, 2) and (k, 2, 2), each covariance definite
    """
    variances, axes = np.linalg.eigh(covariances_mm2)
    narrow, wide = np.sqrt(variances).T
    along, across = np.einsum("ki,kij->jk", means_mm, axes)
    start, end = (
        np.arcsin(np.clip((along + side * _REACH * narrow) / radius_mm, -1, 1)) for side in (-1, 1)
    )
    half = (end - start)[:, None] / 2
    angle = (start + end)[:, None] / 2 + half * _NODES
    x, chord = radius_mm * np.sin(angle), radius_mm * np.cos(angle)
    density = np.exp(-(((x - along[:, None]) / narrow[:, None]) ** 2) / 2)
    a, s = across[:, None], wide[:, None]
    inside = ndtr((chord - a) / s) - ndtr((-chord - a) / s)
    parts = density * inside * chord * half / (narrow[:, None] * np.sqrt(2 * np.pi))
    return np.asarray(np.clip(1 - parts @ _WEIGHTS, 0, 1))


def _drawn(found: Population, count: int, radius_mm: float, seed: int) -> Floats:
    """Chances under laws drawn from what `count` samples like these leave open.

    The same uniforms at every count, so that what is asked of counts changes smoothly.
    """
    uniforms = np.random.default_rng(seed).random((5, DRAWS))
    uniforms = np.clip(uniforms, 2.0**-53, 1 - 2.0**-53)
    aside = ndtri(uniforms[:2]).T / np.sqrt(count)
    if found.even:
        degrees = 2 * (count - 1)
        sigmas = np.sqrt(found.variance_mm2 * degrees / chdtri(degrees, uniforms[2]))
        factors = sigmas[:, None, None] * np.eye(2)
    else:
        # Bartlett: A A' is Wishart; the covariance is L (A A')^-1 L' with L L' = (n - 1) S
        a = np.zeros((DRAWS, 2, 2))
        a[:, 0, 0] = np.sqrt(chdtri(count - 1, uniforms[2]))
        a[:, 1, 1] = np.sqrt(chdtri(count - 2, uniforms[3]))
        a[:, 1, 0] = ndtri(uniforms[4])
        root = np.linalg.cholesky((count - 1) * found.covariance_mm2)
        factors = root @ np.linalg.inv(a).transpose(0, 2, 1)
    means = found.mean_mm + np.einsum("kij,kj->ki", factors, aside)
    return chance_beyond(means, factors @ factors.transpose(0, 2, 1), radius_mm)
