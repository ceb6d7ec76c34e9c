"""Where block and crank put a true bell's bore, learned from fit-ups.

A fit-up's first sweep, less that bell's own measured offset, is a sample of its block and crank. It
holds the float of the dowels and the noise of sweep and inspection as well: whoever uses what is
learned here adds neither again. Samples are taken as bivariate normal, one block each; new blocks
and line-honed ones are two populations. Offsets are mm, +x right, +y up, seen from behind.

References
----------
.. [1] Hotelling, The generalization of Student's ratio, Annals of Mathematical Statistics 2 (1931)
   360-378: the region of a mean.
.. [2] Mauchly, Significance test for sphericity of a normal n-variate distribution, Annals of
   Mathematical Statistics 11 (1940) 204-209; for two variates the distribution is a power.
.. [3] Wilks, Multivariate statistical outliers, Sankhya A 25 (1963) 407-426.
.. [4] Geisser, Bayesian estimation in multivariate analysis, Annals of Mathematical Statistics 36
   (1965) 150-159: the next sample follows a bivariate t.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, stdtrit

from kitwright.calc.centring.clock import clock_of
from kitwright.calc.checks import Floats, finite_rows, positive
from kitwright.errors import InputError

LEAST: Final = 3
"""Fewer samples than these have no spread in two directions."""
CONFIDENCE: Final = 0.95
UNEVEN: Final = 0.05
"""A population counts as uneven when an even one would look so this seldom."""
WILD: Final = 0.05
"""A sample is suspect when in so few sets as large one would lie as far off."""
MOST: Final = 1_000_000
"""So many samples are looked for, and no more."""
_FURTHEST_MM: Final = 1e6
_LINE: Final = 1e-12
_TINY_MM: Final = 1e-12


@dataclass(frozen=True, kw_only=True)
class Interval:
    """An estimate and its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Ellipse:
    """Half axes in mm, and where the long one points: a clock angle under 180."""

    long_mm: float
    short_mm: float
    clock_deg: float


@dataclass(frozen=True, kw_only=True, eq=False)
class NextBlock:
    """What the next block adds, as a budget takes it: a shift, a zone, and a line where uneven."""

    shift_mm: Floats
    """(2,) the mean."""
    zone_mm: float
    """Diameter of a normal zone: six standard deviations."""
    line_mm: float | None
    """Three standard deviations along `line_clock_deg` beyond the zone; None where even."""
    line_clock_deg: float | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Population:
    """What n samples say of a population of blocks."""

    samples_mm: Floats
    """(n, 2)"""

    @property
    def count(self) -> int:
        return len(self.samples_mm)

    @cached_property
    def mean_mm(self) -> Floats:
        """(2,)"""
        return np.asarray(self.samples_mm.mean(axis=0))

    @cached_property
    def covariance_mm2(self) -> Floats:
        """(2, 2) unbiased: divided by n - 1."""
        return np.asarray(np.cov(self.samples_mm.T))

    @cached_property
    def _axes(self) -> tuple[Floats, Floats]:
        """Variances along the principal axes, the larger last, and the axes as columns."""
        variances, axes = np.linalg.eigh(self.covariance_mm2)
        return variances, axes

    @property
    def variance_mm2(self) -> float:
        """Mean of the variances along both axes: the one of an even population."""
        return float(np.trace(self.covariance_mm2)) / 2

    @property
    def even_chance(self) -> float:
        """How often an even population would look as uneven as this one [2]_."""
        ratio = float(np.linalg.det(self.covariance_mm2)) / self.variance_mm2**2
        return float(min(1.0, max(0.0, ratio)) ** ((self.count - 2) / 2))

    @property
    def even(self) -> bool:
        """Whether nothing speaks against the same spread in every direction."""
        return self.even_chance > UNEVEN or self.count < LEAST + 2

    @property
    def law_mm2(self) -> Floats:
        """(2, 2) the covariance to reckon with: one variance for both axes where even."""
        return self.variance_mm2 * np.eye(2) if self.even else self.covariance_mm2

    # ── the mean ─────────────────────────────────────────────────────────────────────────

    @property
    def mean_half_mm(self) -> Floats:
        """(2,) half width of each coordinate's own 95 % interval (Student's t)."""
        t = float(stdtrit(self.count - 1, (1 + CONFIDENCE) / 2))
        return np.asarray(t * np.sqrt(np.diag(self.covariance_mm2) / self.count))

    @property
    def mean_region(self) -> Ellipse:
        """About the mean: where the population's mean lies, in 95 % of all such sets [1]_."""
        return self._ellipse(t_squared(self.count) / self.count)

    @property
    def shifted(self) -> bool:
        """Whether the crank axis lies outside the mean's region."""
        away = np.linalg.solve(self.covariance_mm2, self.mean_mm) @ self.mean_mm
        return bool(self.count * away > t_squared(self.count))

    # ── the spread ───────────────────────────────────────────────────────────────────────

    @property
    def sigmas_mm(self) -> tuple[Interval, Interval]:
        """Standard deviations of x and of y, with their chi-square intervals."""
        x, y = np.diag(self.covariance_mm2)
        return _spread(float(x), self.count - 1), _spread(float(y), self.count - 1)

    @property
    def sigma_mm(self) -> Interval:
        """Standard deviation along any axis of an even population, from both coordinates."""
        return _spread(self.variance_mm2, 2 * (self.count - 1))

    # ── the next block ───────────────────────────────────────────────────────────────────

    @property
    def prediction_region(self) -> Ellipse:
        """About the mean: where the next block lies, in 95 % of all such cases [1]_."""
        return self._ellipse(t_squared(self.count) * (1 + 1 / self.count))

    @property
    def next_block(self) -> NextBlock:
        """The normal law with the mean and the covariance of the next sample.

        The next sample follows a bivariate t [4]_: the spread of the samples, wider by the
        mean's own uncertainty (1 + 1/n) and by the spread's: (n - 1)/(n - 2) for an even
        population, (n - 1)/(n - 4) for one that is not.
        """
        n = self.count
        wider = (1 + 1 / n) * (n - 1) / ((n - 2) if self.even else (n - 4))
        if self.even:
            zone, line, clock = 6 * np.sqrt(wider * self.variance_mm2), None, None
        else:
            (small, large), axes = self._axes
            zone = 6 * np.sqrt(wider * small)
            line = 3 * float(np.sqrt(wider * (large - small)))
            clock = clock_of(axes[:, 1]) % 180
        return NextBlock(
            shift_mm=self.mean_mm, zone_mm=float(zone), line_mm=line, line_clock_deg=clock
        )

    # ── samples to look at again, and how many more ──────────────────────────────────────

    @property
    def distances(self) -> Floats:
        """(n,) each sample's squared distance from the mean, measured by the spread."""
        away = self.samples_mm - self.mean_mm
        return np.asarray((away * np.linalg.solve(self.covariance_mm2, away.T).T).sum(axis=1))

    @property
    def suspects(self) -> list[int]:
        """Samples too far off for a normal population [3]_, the furthest first.

        The share n D²/(n - 1)² of a sample is a beta variate with 1 and (n - 3)/2; n of them are
        looked at, so each is allowed an n-th of the chance.
        """
        n = self.count
        if n <= LEAST:
            return []
        share = np.clip(n * self.distances / (n - 1) ** 2, 0, 1)
        chance = n * (1 - share) ** ((n - 3) / 2)
        return [index for index in np.argsort(chance).tolist() if chance[index] < WILD]

    def count_for_mean(self, half_width_mm: float) -> int | None:
        """Samples in all whose mean's region has no half axis above this.

        The spread is taken to stay as it is; None where more than `MOST` would be needed.
        """
        wanted = positive(half_width_mm, where="half_width")
        largest = float(self._axes[0][1])
        return least_count(lambda n: t_squared(n) / n * largest <= wanted**2, start=LEAST)

    def _ellipse(self, scale: float) -> Ellipse:
        variances, axes = self._axes
        short, long = np.sqrt(scale * variances).tolist()
        return Ellipse(long_mm=long, short_mm=short, clock_deg=clock_of(axes[:, 1]) % 180)


def population(samples_mm: ArrayLike) -> Population:
    """The population that these samples come from.

    Parameters
    ----------
    samples_mm : shape (n, 2), n >= 3
        First sweep less the bell's own offset, one fit-up each.

    Raises
    ------
    InputError
        Fewer than three samples, one that is not finite or beyond any bell, or all on one line.

    Examples
    --------
    >>> found = population([[0.01, 0.0], [-0.02, 0.01], [0.0, -0.03], [0.02, 0.01]])
    >>> found.mean_mm.round(4).tolist(), round(found.sigma_mm.value, 4)
    ([0.0025, -0.0025], 0.018)
    """
    samples = finite_rows(samples_mm, columns=2, least=LEAST, where="samples")
    for row in np.flatnonzero(np.abs(samples).max(axis=1) > _FURTHEST_MM):
        given = f"{samples[row].tolist()} mm is beyond any bell"
        raise InputError(f"samples[{row}]", given, "check it and its unit")
    spread = np.linalg.svd(samples - samples.mean(axis=0), compute_uv=False)
    if spread[1] <= _LINE * max(spread[0], float(np.abs(samples).max())) or spread[1] < _TINY_MM:
        raise InputError("samples", "all lie on one line", "read the dial finer, or wait for more")
    return Population(samples_mm=samples)


def t_squared(count: int) -> float:
    """Hotelling's T² that `count` samples of two coordinates exceed in 5 % of all sets.

    It is 2 (n - 1)/(n - 2) times F with 2 and n - 2 degrees of freedom, and that F has a closed
    form.

    >>> round(t_squared(20), 3)
    7.504
    """
    return float((count - 1) * np.expm1(-2 / (count - 2) * np.log1p(-CONFIDENCE)))


def least_count(enough: Callable[[int], bool], *, start: int) -> int | None:
    """The least count that is enough; what is enough stays so for more. None beyond `MOST`."""
    high = start
    while not enough(high):
        if high >= MOST:
            return None
        high = min(2 * high, MOST)
    low = start - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _spread(variance: float, degrees: int) -> Interval:
    tail = (1 - CONFIDENCE) / 2
    low, high = (float(np.sqrt(variance * degrees / chdtri(degrees, p))) for p in (tail, 1 - tail))
    return Interval(value=float(np.sqrt(variance)), low=low, high=high)
