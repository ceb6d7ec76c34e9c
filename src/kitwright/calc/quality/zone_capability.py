"""Capability of positions: the chance that they lie inside their zone, and how sure that is.

References
----------
.. [1] ISO 22514-6:2013, Process capability statistics for multivariate normal characteristics: an
   index is that of a single characteristic with the same chance outside.
.. [2] Carpenter, Journal of the Royal Statistical Society B 61 (1999) 159-172: limits by inverting
   a test, the other parameters as estimated.
.. [3] von Neumann, Kent, Bellinson and Hart, Annals of Mathematical Statistics 12 (1941) 153-162:
   the variance from successive differences.
.. [4] Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods (1992), 3: even points
   by multiples of irrational numbers; nothing here is drawn by luck.
.. [5] Bartlett, Proceedings of the Royal Society of Edinburgh 53 (1933) 260-283: the triangular
   root of a sample's covariance, chi-square and normal numbers of their own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt
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
from kitwright.errors import FaultError, InputError

LEAST_POSITIONS: Final = 3

_POINTS: Final = 512
_PRIMES: Final = np.array([2.0, 3.0, 5.0, 7.0, 11.0])
_FAINTEST: Final = 1e-300  # an index beyond 12 is not told apart
_FLATTEST: Final = 1e-12
_STEPS: Final = 200
_NEAR: Final = 1e-4


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
    circle. Its interval takes the law as it is estimated, drawn in or out about the zone's centre:
    each end is the chance of the one from which samples come out no better, or no worse, than this
    one as often as a miss on that side is allowed [2]_. In simulations 95 % intervals hold 93 to
    97 times in 100 from four positions on, 91 where fewer than one in a thousand lie outside.
    Positions that are not normal are judged by their count.

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
    by_within = _Law(mean, within, by_differences(count), count, radius, confidence)
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


def by_differences(count: int) -> float:
    """Degrees of freedom as sure as the mean square of successive differences [3]_.

    >>> by_differences(3)
    1.6
    """
    return 2 * (count - 1) ** 2 / (3 * count - 4)


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
        a = np.sqrt(chdtri(degrees, 1 - evenly[:, 0]) / degrees)
        c = np.sqrt(chdtri(degrees - 1, 1 - evenly[:, 1]) / degrees)
        b, z1, z2 = ndtri(evenly[:, 2:]).T
        s2, s1 = self.sigmas
        # Other samples of this law: triangular roots of their covariances [5]_, their means' shift.
        self.root = s1 * a, s2 * b / sqrt(degrees), s2 * c
        self.shift = s1 * z1 / sqrt(count), s2 * z2 / sqrt(count)

    def outside(self, mean: Floats) -> tuple[float, Interval]:
        """Chance outside about this mean, and its interval; about zero the mean is known."""
        short, long = (mean @ self.axes).tolist()
        s_short, s_long = self.sigmas.tolist()

        def at(radius: Floats | float) -> Floats:
            return disc_chances(long, short, s_long, s_short, radius)[1]

        inside, outside = disc_chances(long, short, s_long, s_short, self.radius)
        ours, others = float(_score(inside, outside)), self._others(long, short, not mean.any())
        miss = (1 - self.confidence) / 2
        # The law drawn in by a factor, over this zone, is the law over a zone as much larger.
        radii = [self._as_often(others, ours, share) for share in (1 - miss, miss)]
        low, high = disc_chances(long, short, s_long, s_short, radii)[1].tolist()
        value = float(outside)
        return value, Interval(low=min(low, value), high=max(high, value))

    def _others(self, long: float, short: float, known: bool) -> Callable[[float], Floats]:
        """Other samples of the law about this mean: their scores by the zone's radius."""
        l11, l21, l22 = self.root
        x, y = (long, short) if known else (long + self.shift[0], short + self.shift[1])
        xx, xy, yy = l11**2, l11 * l21, l21**2 + l22**2
        middle, half = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
        angle = np.arctan2(2 * xy, xx - yy) / 2
        cos, sin = np.cos(angle), np.sin(angle)
        widest = np.sqrt(middle + half)
        along, across, narrow = x * cos + y * sin, y * cos - x * sin, l11 * l22 / widest
        return lambda radius: _score(
            *disc_chances(along, across, widest, narrow, radius, fine=False)
        )

    def _as_often(self, others: Callable[[float], Floats], ours: float, share: float) -> float:
        """The radius at which this share of the samples score no more than ours.

        Scores fall as the radius grows; secants, kept between bounds.
        """
        radius, before, was = self.radius, 0.0, 0.0
        low, high = 0.0, inf
        for step in range(_STEPS):
            off = float(np.quantile(others(radius), share)) - ours
            low, high = (radius, high) if off > 0 else (low, radius)
            slope = (off - was) / (radius - before) if step else -1 / float(self.sigmas[1])
            new = radius - off / slope if slope else low
            if not low < new < high:
                new = 2 * radius if high == inf else (low + high) / 2
            if off == 0 or abs(new - radius) <= _NEAR * radius:
                return new
            radius, before, was = new, radius, off
        raise FaultError("capability of positions: no convergence")


def _score(inside: Floats, outside: Floats) -> Floats:
    """The normal score of a chance outside, from the lesser of both chances."""
    return np.asarray(
        np.where(
            outside < inside,
            ndtri(np.maximum(outside, _FAINTEST)),
            -ndtri(np.maximum(inside, _FAINTEST)),
        )
    )
