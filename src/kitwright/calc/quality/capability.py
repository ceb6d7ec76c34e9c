"""Capability: does the process hold the drawing, and how surely is that known?

Everything is in the unit of the values given. Index and chance come with two-sided intervals that
hold with the confidence asked for when values are normal and independent.

References
----------
.. [1] ISO 22514-2:2017, Process capability and performance of time-dependent process models: the
   general geometric method, by the quantiles 0.135 %, 50 % and 99.865 %.
.. [2] Bissell, Applied Statistics 39 (1990) 331-340: the interval of Cpk.
.. [3] Kane, Journal of Quality Technology 18 (1986) 41-52: Cp, its chi-square interval, Cpk.
.. [4] Clopper and Pearson, Biometrika 26 (1934) 404-413: the exact interval of a counted share.
.. [5] Wilks, Annals of Mathematical Statistics 12 (1941) 91-96: limits that need no curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import Final, Literal

import numpy as np
from scipy.special import bdtr, betaincinv, ndtr, ndtri

from kitwright.calc.checks import Floats
from kitwright.calc.quality.noncentral import one_sided_factor, shift_for, two_sided_factor
from kitwright.calc.quality.normality import LEAST, NormalTest, of_scores
from kitwright.calc.quality.pearson import PearsonCurve, fit_pearson
from kitwright.calc.quality.spread import Sigma, overall
from kitwright.errors import InputError

Method = Literal["normal", "counted"]

NORMAL_P: Final = 0.05
"""Values are treated as normal down to this p of the test."""
_NATURAL: Final = 3.0  # half of what a normal process spreads over, in sigmas
ENOUGH_TO_COUNT: Final = 10_000
"""Values from which 0.135 % can be counted: thirteen of them lie beyond."""
_LEAST_SPREAD: Final = 1e-12


@dataclass(frozen=True, kw_only=True)
class Index:
    """A capability index with its two-sided interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A two-sided interval."""

    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Indices:
    """One sigma's indices. `width` needs both limits."""

    width: Index | None
    """Limits over six sigma, exact by chi-square [3]_."""
    nearer: Index
    """From the mean to the nearer limit over three sigma; Bissell's interval [2]_."""
    safe: Interval
    """For the same index by noncentral t: exact with one limit, with two at least as sure."""


@dataclass(frozen=True, kw_only=True)
class Outside:
    """Chance that a part lies outside the limits, as one method has it."""

    method: Method
    below: float
    above: float
    interval: Interval

    @property
    def chance(self) -> float:
        """Outside on either side."""
        return min(self.below + self.above, 1.0)


@dataclass(frozen=True, kw_only=True)
class QuantileIndices:
    """Performance by quantiles [1]_, for values that are not normal."""

    method: Literal["Pearson curve", "counted"]
    lowest: float
    """0.135 % lie below."""
    median: float
    highest: float
    """0.135 % lie above."""
    width: float | None
    nearer: float


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """Limits that hold a share of the process with the confidence asked for."""

    low: float
    high: float
    factor: float
    """Sigmas of the exact two-sided interval."""
    one_low: float
    """One-sided: the share lies above."""
    one_high: float
    """One-sided: the share lies below."""
    one_factor: float
    free: Interval | None
    """Between two of the values themselves, whatever the process is [5]_; None: too few values."""


@dataclass(frozen=True, kw_only=True)
class Capability:
    """Of a process with one characteristic."""

    count: int
    mean: float
    within: Sigma
    overall: Sigma
    by_within: Indices
    by_overall: Indices
    normal_test: NormalTest | None
    """None: too few values for one."""
    curve: PearsonCurve | None
    by_quantiles: QuantileIndices | None
    normal: Outside
    """As if the values were normal."""
    outside: Outside
    """By the method that fits the values."""
    counted: int
    """Values outside the limits."""
    tolerance: Tolerance


def assess(
    values: Floats,
    *,
    within: Sigma,
    low: float = -inf,
    high: float = inf,
    confidence: float = 0.95,
    coverage: float = 0.95,
) -> Capability:
    """Weigh values in the order made against their limits.

    Parameters
    ----------
    values : shape (n,), n >= 2, finite; any one unit
    within : sigma from one value or subgroup to the next (`spread`)
    low, high : the limits; one may be infinite
    confidence : of every interval
    coverage : share of the process that the tolerance interval holds

    Raises
    ------
    InputError
        Fewer than two values, values that do not vary, limits that are swapped or missing.

    Examples
    --------
    >>> from kitwright.calc.quality.spread import from_moving_ranges
    >>> x = np.array([9.9, 10.1, 10.0, 10.2, 9.8])
    >>> round(assess(x, within=from_moving_ranges(x), low=9, high=11).by_overall.width.value, 3)
    2.108
    """
    check_limits(low, high)
    check_varying(values, "values")
    ascending = np.sort(values)
    mean, sigma = float(values.mean()), overall(values)
    count = len(values)
    test = of_scores((ascending - mean) / sigma.value) if count >= LEAST else None
    normal = _normal_outside(mean, sigma.value, count, low, high, confidence)
    outside, curve, by_quantiles = normal, None, None
    counted = int((values < low).sum()), int((values > high).sum())
    if test is not None and test.p < NORMAL_P:
        curve = fit_pearson(ascending)
        outside = _counted_outside(counted, count, confidence)
        by_quantiles = _by_quantiles(curve, ascending, low, high)
    return Capability(
        count=count,
        mean=mean,
        within=within,
        overall=sigma,
        by_within=indices(mean, within, count, low, high, confidence),
        by_overall=indices(mean, sigma, count, low, high, confidence),
        normal_test=test,
        curve=curve,
        by_quantiles=by_quantiles,
        normal=normal,
        outside=outside,
        counted=sum(counted),
        tolerance=_tolerance(ascending, mean, sigma.value, coverage, confidence),
    )


def indices(
    mean: float, sigma: Sigma, count: int, low: float, high: float, confidence: float
) -> Indices:
    """The indices of a process whose mean comes from `count` values."""
    least, most = sigma.interval(confidence)
    width = None
    if np.isfinite(high - low):
        six = (high - low) / (2 * _NATURAL)
        width = Index(value=six / sigma.value, low=six / most, high=six / least)
    away = [gap / sigma.value for gap in (mean - low, high - mean) if np.isfinite(gap)]
    value = min(away) / _NATURAL
    z = float(ndtri((1 + confidence) / 2))
    reach = z * sqrt(1 / (9 * count) + value**2 / (2 * sigma.degrees))
    return Indices(
        width=width,
        nearer=Index(value=value, low=value - reach, high=value + reach),
        safe=_safe(away, sigma, count, confidence),
    )


def _safe(away: list[float], sigma: Sigma, count: int, confidence: float) -> Interval:
    """Noncentral t for each side; the lesser of two has the chance of a miss shared above."""
    miss = (1 - confidence) / 2
    root = sqrt(count)
    nearest = root * min(away) / sigma.shrink
    low = shift_for(nearest, sigma.degrees, 1 - miss) / root
    highs = [
        shift_for(root * gap / sigma.shrink, sigma.degrees, miss / len(away)) / root for gap in away
    ]
    return Interval(low=low / _NATURAL, high=min(highs) / _NATURAL)


def counted_interval(count: int, of: int, confidence: float) -> Interval:
    """The exact interval for the share of which `count` of `of` were seen [4]_."""
    miss = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, of - count + 1, miss))
    high = 1.0 if count == of else float(betaincinv(count + 1, of - count, 1 - miss))
    return Interval(low=low, high=high)


def check_limits(low: float, high: float) -> None:
    """Refuse limits that are swapped, both missing or not numbers."""
    if np.isnan(low) or np.isnan(high) or low == inf or high == -inf:
        raise InputError("limits", "not a number", "give low, high or both")
    if low == -inf and high == inf:
        raise InputError("limits", "neither low nor high given", "give low, high or both")
    if low >= high:
        raise InputError("limits", f"low {low:g} is not below high {high:g}", "swap them")


def check_varying(values: Floats, where: str) -> None:
    """Refuse fewer than two values, and values that do not vary beyond rounding."""
    if len(values) < 2:
        raise InputError(where, f"{len(values)} given", "a spread needs 2 or more values")
    spread = float(values.max() - values.min())
    if spread <= max(_LEAST_SPREAD, 1e-13 * float(np.abs(values).max())):
        raise InputError(
            where, f"all {len(values)} are the same", "read the instrument to a finer step"
        )


# ── the numbers behind ───────────────────────────────────────────────────────────────────


def _normal_outside(
    mean: float, sigma: float, count: int, low: float, high: float, confidence: float
) -> Outside:
    """Normal tails; each bound by noncentral t, its chance of a miss shared among the limits."""
    away = [gap / sigma for gap in (mean - low, high - mean)]
    below, above = (float(ndtr(-gap)) for gap in away)
    finite = [gap for gap in away if np.isfinite(gap)]
    miss = (1 - confidence) / (2 * len(finite))
    root = sqrt(count)
    bounds = [0.0, 0.0]
    for gap in finite:
        for index, chance in enumerate((miss, 1 - miss)):
            bounds[index] += float(ndtr(-shift_for(root * gap, count - 1, chance) / root))
    return Outside(
        method="normal",
        below=below,
        above=above,
        interval=Interval(low=bounds[0], high=min(bounds[1], 1.0)),
    )


def _counted_outside(counted: tuple[int, int], count: int, confidence: float) -> Outside:
    below, above = counted
    return Outside(
        method="counted",
        below=below / count,
        above=above / count,
        interval=counted_interval(below + above, count, confidence),
    )


def _by_quantiles(
    curve: PearsonCurve | None, ascending: Floats, low: float, high: float
) -> QuantileIndices | None:
    """By a curve, else by the values themselves where there are enough; None: neither."""
    scores = (-_NATURAL, 0.0, _NATURAL)
    if curve is not None:
        lowest, median, highest = (curve.quantile(score) for score in scores)
    elif len(ascending) >= ENOUGH_TO_COUNT:
        lowest, median, highest = np.quantile(ascending, ndtr(scores)).tolist()
    else:
        return None
    if not lowest < median < highest:
        return None
    shares = [(median - low) / (median - lowest), (high - median) / (highest - median)]
    return QuantileIndices(
        method="counted" if curve is None else "Pearson curve",
        lowest=lowest,
        median=median,
        highest=highest,
        width=(high - low) / (highest - lowest) if np.isfinite(high - low) else None,
        nearer=min(share for share in shares if np.isfinite(share)),
    )


def _tolerance(
    ascending: Floats, mean: float, sigma: float, coverage: float, confidence: float
) -> Tolerance:
    n = len(ascending)
    two = two_sided_factor(n, coverage=coverage, confidence=confidence)
    one = one_sided_factor(n, coverage=coverage, confidence=confidence)
    cut = _values_to_cut(n, coverage, confidence)
    free = None
    if cut is not None:
        free = Interval(low=float(ascending[cut]), high=float(ascending[n - 1 - cut]))
    return Tolerance(
        low=mean - two * sigma,
        high=mean + two * sigma,
        factor=two,
        one_low=mean - one * sigma,
        one_high=mean + one * sigma,
        one_factor=one,
        free=free,
    )


def _values_to_cut(n: int, coverage: float, confidence: float) -> int | None:
    """How many values may be cut from each end; None where all n hold too little [5]_."""
    if bdtr(n - 2, n, coverage) < confidence:
        return None
    low, high = 0, n // 2  # cut from each end: enough, too many
    while high - low > 1:
        middle = (low + high) // 2
        left = n - 2 * (middle + 1)
        enough = left >= 0 and bdtr(left, n, coverage) >= confidence
        low, high = (middle, high) if enough else (low, middle)
    return low
