"""Capability of positions: the chance that they lie inside their zone, and how sure that is.

References
----------
.. [1] ISO 22514-6:2013, Process capability statistics for multivariate normal characteristics: an
   index is that of a single characteristic with the same chance outside.
.. [2] Krishnamoorthy and Mathew, Statistical Tolerance Regions (2009), 1.4 and 9: generalized
   confidence intervals by pivots of the mean and of the triangular root of the covariance.
.. [3] von Neumann, Kent, Bellinson and Hart, Annals of Mathematical Statistics 12 (1941) 153-162:
   the variance from successive differences.
.. [4] Halton, Numerische Mathematik 2 (1960) 84-90: even points, from numbers mirrored at their
   point in bases prime to each other; nothing here is drawn by luck.
.. [5] Bartlett, Proceedings of the Royal Society of Edinburgh 53 (1933) 260-283: the triangular
   root of a sample's covariance, chi-square and normal numbers of their own.
.. [6] Carpenter, Journal of the Royal Statistical Society B 61 (1999) 159-172: limits by inverting
   a test, the other parameters as estimated.
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

_POINTS: Final = 1024
_TRIED: Final = 256
_BASES: Final = (2, 3, 5, 7, 11)
_FAINTEST: Final = 1e-300  # an index beyond 12 is not told apart
_FLATTEST: Final = 1e-12
_STEPS: Final = 200
_NEAR: Final = 1e-3  # of the radius, by the last secant


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
    circle. Few positions look longer one way, and further off, than they are; so the ends of the
    interval come by two ways. The upper one is generalized [2]_ and misses less often than it
    may. That one would miss below up to ten times too often; the lower one is the chance of the
    law, drawn in about the zone's centre, from which a sample looks as bad as this one no more
    often than a miss on that side is allowed [6]_.
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
        evenly = np.column_stack([_mirrored(base) for base in _BASES])
        a = np.sqrt(chdtri(degrees, 1 - evenly[:, 0]) / degrees)
        c = np.sqrt(chdtri(degrees - 1, 1 - evenly[:, 1]) / degrees)
        b, z1, z2 = ndtri(evenly[:, 2:]).T
        b /= sqrt(degrees)
        s2, s1 = self.sigmas
        # Triangular roots, long axis first, and shifts of the mean: those that these positions
        # allow for the process [2]_, and those of other samples of the law itself [5]_.
        l11, l21, l22 = self.allowed = s1 / a, -s2 * b / (a * c), s2 / c
        self.shift = l11 * z1 / sqrt(count), (l21 * z1 + l22 * z2) / sqrt(count)
        some = slice(_TRIED)
        self.tried = s1 * a[some], s2 * b[some], s2 * c[some]
        self.tried_shift = s1 * z1[some] / sqrt(count), s2 * z2[some] / sqrt(count)

    def outside(self, mean: Floats) -> tuple[float, Interval]:
        """Chance outside about this mean, and its interval; about zero the mean is known."""
        short, long = (mean @ self.axes).tolist()
        s_short, s_long = self.sigmas.tolist()
        known = 0.0 if not mean.any() else 1.0
        inside, outside = disc_chances(long, short, s_long, s_short, self.radius)
        miss = (1 - self.confidence) / 2
        x, y = (known * shift for shift in self.shift)
        _, each = disc_chances(
            *_along_axes(long - x, short - y, *self.allowed), self.radius, fine=False
        )
        x, y = (known * shift for shift in self.tried_shift)
        others = _along_axes(long + x, short + y, *self.tried)

        def scores(radius: float) -> Floats:
            return _score(*disc_chances(*others, radius, fine=False))

        # The law drawn in by a factor, over this zone, is the law over a zone as much larger.
        larger = self._as_often(scores, float(_score(inside, outside)), 1 - miss)
        _, low = disc_chances(long, short, s_long, s_short, larger)
        value, high = float(outside), float(np.quantile(each, 1 - miss))
        return value, Interval(low=min(float(low), value), high=max(high, value))

    def _as_often(self, scores: Callable[[float], Floats], ours: float, share: float) -> float:
        """The radius at which this share of the samples score no more than ours.

        Scores fall as the radius grows; secants, kept between bounds.
        """
        radius, before, was = self.radius, 0.0, 0.0
        low, high = 0.0, inf
        for step in range(_STEPS):
            off = float(np.quantile(scores(radius), share)) - ours
            low, high = (radius, high) if off > 0 else (low, radius)
            slope = (off - was) / (radius - before) if step else -1 / float(self.sigmas[1])
            new = radius - off / slope if slope else low
            if not low < new < high:
                new = 2 * radius if high == inf else (low + high) / 2
            if off == 0 or abs(new - radius) <= _NEAR * radius:
                return new
            radius, before, was = new, radius, off
        raise FaultError("capability of positions: no convergence")


def _along_axes(
    x: Floats, y: Floats, l11: Floats, l21: Floats, l22: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Laws with these means and triangular roots: mean and sigma along their own axes."""
    xx, xy, yy = l11**2, l11 * l21, l21**2 + l22**2
    middle, half = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    angle = np.arctan2(2 * xy, xx - yy) / 2
    cos, sin = np.cos(angle), np.sin(angle)
    widest = np.sqrt(middle + half)
    return x * cos + y * sin, y * cos - x * sin, widest, l11 * l22 / widest


def _mirrored(base: int) -> Floats:
    """The first numbers, their digits in this base mirrored to stand behind the point [4]_."""
    left, share = np.arange(1, _POINTS + 1), 1.0
    found = np.zeros(_POINTS)
    while left.any():
        share /= base
        found += share * (left % base)
        left //= base
    return found


def _score(inside: Floats, outside: Floats) -> Floats:
    """The normal score of a chance outside, from the lesser of both chances."""
    return np.asarray(
        np.where(
            outside < inside,
            ndtri(np.maximum(outside, _FAINTEST)),
            -ndtri(np.maximum(inside, _FAINTEST)),
        )
    )
