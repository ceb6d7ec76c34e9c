"""Capability of positions: the chance that they lie inside their zone, and how sure that is.

References
----------
.. [1] ISO 22514-6:2013, Process capability statistics for multivariate normal characteristics: an
   index is that of a single characteristic with the same chance outside.
.. [2] Krishnamoorthy and Mathew, Statistical Tolerance Regions (2009), 1.4 and 9: generalized
   confidence intervals by pivots of the mean and of the triangular root of the covariance.
.. [3] von Neumann, Kent, Bellinson and Hart, Annals of Mathematical Statistics 12 (1941) 153-162:
   the variance from successive differences.
.. [4] Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods (1992), 3: even points
   by multiples of irrational numbers; nothing here is drawn by luck.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, ndtri

from kitwright.calc.checks import Floats, finite_rows, positive
from kitwright.calc.quality.capability import (
    NORMAL_P,
    Index,
    Interval,
    Outside,
    counted_interval,
)
from kitwright.calc.quality.disc import disc_chances
from kitwright.calc.quality.normality import LEAST, NormalTest, anderson_darling
from kitwright.errors import InputError

LEAST_POSITIONS: Final = 3

_POINTS: Final = 2048
_PRIMES: Final = np.array([2.0, 3.0, 5.0, 7.0, 11.0])
_FAINTEST: Final = 1e-300  # an index beyond 12 is not told apart
_FLATTEST: Final = 1e-12


@dataclass(frozen=True, kw_only=True)
class ZoneCapability:
    """Of a process that places something in a plane; one unit throughout."""

    count: int
    mean: tuple[float, float]
    within: tuple[float, float]
    """Sigmas along x and y from one position to the next."""
    overall: tuple[float, float]
    covariance: tuple[float, float, float]
    """xx, xy, yy of all positions."""
    cp: Index
    """By the spread within, as if centred [1]_."""
    cpk: Index
    """By the spread within, where it is [1]_."""
    pp: Index
    ppk: Index
    normal_test: NormalTest | None
    """The worse of the two along the principal axes, its p doubled; None: too few positions."""
    normal: Outside
    outside: Outside
    """By the method that fits; all of it stands in `above`."""
    counted: int


def assess_positions(
    positions: ArrayLike, *, zone: float, confidence: float = 0.95
) -> ZoneCapability:
    """Weigh positions in the order made, measured from their true place, against a zone.

    The chance is that of a normal law with the mean and covariance of the positions over the
    circle; its interval is a generalized one [2]_, which simulation shows to hold its confidence
    from a handful of positions on. Positions that are not normal are judged by their count.

    Parameters
    ----------
    positions : shape (n, 2), n >= 3
    zone : diameter of the circle, above zero
    confidence : of every interval

    Raises
    ------
    InputError
        Too few positions, positions that do not vary, a zone that is not above zero.
    """
    places = finite_rows(positions, columns=2, least=LEAST_POSITIONS, where="positions")
    radius = positive(zone, where="zone") / 2
    count = len(places)
    mean = places.mean(axis=0)
    largest = float(np.abs(places).max())
    if float(np.ptp(places, axis=0).max()) <= max(_FLATTEST, 1e-13 * largest):
        raise InputError(
            "positions", f"all {count} are the same", "read the instrument to a finer step"
        )
    centred = places - mean
    total = centred.T @ centred / (count - 1)
    steps = np.diff(places, axis=0)
    within = steps.T @ steps / (2 * (count - 1))
    degrees = 2 * (count - 1) ** 2 / (3 * count - 4)  # as sure as so many for the covariance [3]_
    by_within = _Law(mean, within, degrees, count, radius, confidence)
    by_total = _Law(mean, total, count - 1, count, radius, confidence)
    _, axes = np.linalg.eigh(total)
    test = _test(centred @ axes) if count >= LEAST else None
    counted = int((np.hypot(*places.T) > radius * (1 + 4e-16)).sum())
    chance, interval = by_total.outside(mean)
    normal = Outside(method="normal", below=0.0, above=chance, interval=interval)
    outside = normal
    if test is not None and test.p < NORMAL_P:
        outside = Outside(
            method="counted",
            below=0.0,
            above=counted / count,
            interval=counted_interval(counted, count, confidence),
        )
    return ZoneCapability(
        count=count,
        mean=_pair(mean),
        within=_pair(np.sqrt(np.diag(within))),
        overall=_pair(np.sqrt(np.diag(total))),
        covariance=(float(total[0, 0]), float(total[0, 1]), float(total[1, 1])),
        cp=_index(*by_within.outside(np.zeros(2))),
        cpk=_index(*by_within.outside(mean)),
        pp=_index(*by_total.outside(np.zeros(2))),
        ppk=_index(chance, interval),
        normal_test=test,
        normal=normal,
        outside=outside,
        counted=counted,
    )


def _pair(numbers: Floats) -> tuple[float, float]:
    x, y = numbers.tolist()
    return x, y


def _index(chance: float, interval: Interval) -> Index:
    value, low, high = (
        -float(ndtri(max(each, _FAINTEST) / 2)) / 3
        for each in (chance, interval.high, interval.low)
    )
    return Index(value=value, low=low, high=high)


def _test(along: Floats) -> NormalTest | None:
    """Both principal axes; one along which nothing varies is not tested."""
    spread = np.ptp(along, axis=0)
    tested = [
        anderson_darling(column)
        for column, wide in zip(along.T, spread, strict=True)
        if wide > 1e-9 * spread.max()
    ]
    worst = min(tested, key=lambda test: test.p)
    return NormalTest(statistic=worst.statistic, p=min(1.0, len(tested) * worst.p))


class _Law:
    """A normal law in the plane, known from so many positions."""

    def __init__(
        self,
        mean: Floats,
        covariance: Floats,
        degrees: float,
        count: int,
        radius: float,
        confidence: float,
    ) -> None:
        variances, axes = np.linalg.eigh(covariance)
        self.axes = axes * np.where(mean @ axes < 0, -1.0, 1.0)  # the same in any frame
        self.sigmas = np.sqrt(np.maximum(variances, 0.0))
        self.radius, self.confidence = radius, confidence
        evenly = (np.arange(1, _POINTS + 1)[:, None] * np.sqrt(_PRIMES)) % 1.0
        a2 = chdtri(degrees, evenly[:, 0])
        c2 = chdtri(degrees - 1, evenly[:, 1])
        b, z1, z2 = ndtri(evenly[:, 2:]).T
        # Triangular roots of the covariances that these degrees allow [2]_, long axis first.
        t2, t1 = sqrt(degrees) * self.sigmas
        a, c = np.sqrt(a2), np.sqrt(c2)
        self.root = t1 / a, -t2 * b / (a * c), t2 / c
        lower = self.root
        self.shift = (lower[0] * z1 / sqrt(count), (lower[1] * z1 + lower[2] * z2) / sqrt(count))

    def outside(self, mean: Floats) -> tuple[float, Interval]:
        """Chance outside about this mean, and its interval; about zero the mean is known."""
        short, long = (mean @ self.axes).tolist()
        s_short, s_long = self.sigmas.tolist()
        _, chance = disc_chances(long, short, s_long, s_short, self.radius)
        l11, l21, l22 = self.root
        known = 0.0 if not mean.any() else 1.0
        x, y = long - known * self.shift[0], short - known * self.shift[1]
        xx, xy, yy = l11**2, l11 * l21, l21**2 + l22**2
        middle, half = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
        angle = np.arctan2(2 * xy, xx - yy) / 2
        cos, sin = np.cos(angle), np.sin(angle)
        determinant = (l11 * l22) ** 2
        widest = middle + half
        _, each = disc_chances(
            x * cos + y * sin,
            y * cos - x * sin,
            np.sqrt(widest),
            np.sqrt(determinant / widest),
            self.radius,
            fine=False,
        )
        low, high = np.quantile(each, [(1 - self.confidence) / 2, (1 + self.confidence) / 2])
        value = float(chance)
        return value, Interval(low=min(float(low), value), high=max(float(high), value))
