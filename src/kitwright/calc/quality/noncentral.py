"""Noncentral t by quadrature, and what follows from it: exact tolerance factors.

With a standard normal Z and an independent chi-square X of v degrees, T = (Z + d) / sqrt(X/v) is
noncentral t. Its distribution is the mean over Z of a chi-square tail, a smooth integral of
positive terms; an exact two-sided tolerance factor is the mean over the sample's mean of another.

References
----------
.. [1] Johnson and Welch, Biometrika 31 (1940) 362-389: uses of the noncentral t.
.. [2] Wald and Wolfowitz, Annals of Mathematical Statistics 17 (1946) 208-215: two-sided limits.
.. [3] ISO 16269-6:2014, Determination of statistical tolerance intervals.
.. [4] Howe, Journal of the American Statistical Association 64 (1969) 610-620: the approximation
   that is the start here.
.. [5] Natrella, Experimental Statistics, NBS Handbook 91 (1963), 2-13: the one-sided one.
"""

from __future__ import annotations

from collections.abc import Callable
from math import lgamma, log, sqrt
from typing import Final

import numpy as np
from scipy.special import chdtr, chdtrc, chdtri, ndtr, ndtri

from kitwright.calc.checks import Floats
from kitwright.errors import FaultError, InputError

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
_FEW, _FEW_WEIGHTS = np.polynomial.legendre.leggauss(48)
_REACH: Final = 9.0  # sigmas: a normal tail beyond is 1e-19 of all
_NO_T: Final = 1e-14  # nearer to zero, t is zero: the density there is below one
_ROOT_TWO_PI: Final = sqrt(2 * np.pi)


def noncentral_t_below(t: float, degrees: float, shift: float) -> float:
    """Chance that noncentral t with this many degrees and shift is at most `t` [1]_."""
    if abs(t) < _NO_T:
        return float(ndtr(-shift))
    if t < 0:
        return _above(-t, degrees, -shift)
    return 1 - _above(t, degrees, shift) if t < shift else _below(t, degrees, shift)


def _below(t: float, degrees: float, shift: float) -> float:
    """Chance of T <= t, t > 0."""
    z, weights = _panels(t, degrees, shift)
    return float(ndtr(-shift) + weights @ chdtrc(degrees, degrees * ((z + shift) / t) ** 2))


def _above(t: float, degrees: float, shift: float) -> float:
    """Chance of T > t, t > 0."""
    z, weights = _panels(t, degrees, shift)
    beyond = float(ndtr(-max(_REACH, -shift)))
    return float(beyond + weights @ chdtr(degrees, degrees * ((z + shift) / t) ** 2))


def _panels(t: float, degrees: float, shift: float) -> tuple[Floats, Floats]:
    """Nodes over Z > -shift, no panel wider than what changes there; weights carry the density."""
    steps = np.arange(-9.0, 10.0)
    turns = t * np.maximum(1 + steps / sqrt(2 * degrees), 0) - shift
    start = max(-_REACH, -shift)
    breaks = np.unique(np.concatenate((steps, turns)).clip(start, max(_REACH, start)))
    half = np.diff(breaks)[:, None] / 2
    z = (breaks[:-1, None] + half * (1 + _NODES)).ravel()
    return z, (half * _WEIGHTS).ravel() * np.exp(-(z**2) / 2) / _ROOT_TWO_PI


def shift_for(t: float, degrees: float, below: float) -> float:
    """The shift at which noncentral t is at most `t` with the chance `below`; falls with it."""
    spread = sqrt(1 + t * t / (2 * degrees))
    start = t - float(ndtri(below)) * spread
    return _crossing(lambda shift: below - noncentral_t_below(t, degrees, shift), start, spread)


def noncentral_t_quantile(below: float, degrees: float, shift: float) -> float:
    """The t that noncentral t is at most with the chance `below`."""
    spread = sqrt(1 + shift * shift / (2 * degrees))
    start = shift + float(ndtri(below)) * spread
    return _crossing(lambda t: noncentral_t_below(t, degrees, shift) - below, start, spread)


def _crossing(rising: Callable[[float], float], start: float, step: float) -> float:
    """Where a rising function is zero: the Illinois form of regula falsi."""
    low, high = start - step, start + step
    at_low, at_high = rising(low), rising(high)
    while at_low > 0:
        low, high, at_high = low - 2 * (high - low), low, at_low
        at_low = rising(low)
    while at_high < 0:
        low, high, at_low = high, high + 2 * (high - low), at_high
        at_high = rising(high)
    weight_low, weight_high = at_low, at_high
    for _ in range(200):
        if high - low <= 1e-12 * max(1.0, abs(low), abs(high)) or weight_high == weight_low:
            break
        middle = high - weight_high * (high - low) / (weight_high - weight_low)
        middle = min(max(middle, low), high)
        value = rising(middle)
        if abs(value) < 1e-14:
            return middle
        if value < 0:
            low, weight_low, weight_high = middle, value, weight_high / 2
        else:
            high, weight_high, weight_low = middle, value, weight_low / 2
    return (low + high) / 2


# ── tolerance factors ────────────────────────────────────────────────────────────────────


def one_sided_factor(n: int, *, coverage: float, confidence: float) -> float:
    """k: with this confidence, mean + k s lies above `coverage` of a normal process [1]_ [3]_.

    Parameters
    ----------
    n : how many values mean and s come from, 2 or more
    coverage : 0.5 to below 1; confidence : above 0, below 1

    Raises
    ------
    InputError
        One of them out of its range.

    Examples
    --------
    >>> round(one_sided_factor(10, coverage=0.95, confidence=0.95), 3)
    2.911
    """
    _check(n, coverage, confidence)
    root = sqrt(n)
    return noncentral_t_quantile(confidence, n - 1, root * float(ndtri(coverage))) / root


def two_sided_factor(n: int, *, coverage: float, confidence: float) -> float:
    """k: with this confidence, mean ± k s holds `coverage` of a normal process, exactly [2]_ [3]_.

    For every place of the sample's mean, the half-width that just holds the coverage is found,
    and the chance that s is large enough for it is averaged over that place.

    Parameters and errors as in `one_sided_factor`.

    Examples
    --------
    >>> round(two_sided_factor(10, coverage=0.95, confidence=0.95), 3)
    3.393
    """
    _check(n, coverage, confidence)
    u = _REACH / 2 * (1 + _FEW)
    weights = _REACH * _FEW_WEIGHTS * np.exp(-(u**2) / 2) / _ROOT_TWO_PI  # both sides of the mean
    gap = _half_widths(u / sqrt(n), coverage) ** 2
    start = howe_factor(n, coverage=coverage, confidence=confidence)
    return _factor(n - 1, gap, weights, 1 - confidence, start)


def howe_factor(n: int, *, coverage: float, confidence: float) -> float:
    """Howe's approximation of the two-sided factor, within a few per cent from n = 3 on [4]_."""
    least = float(chdtri(n - 1, confidence))
    return float(ndtri((1 + coverage) / 2)) * sqrt((n - 1) * (1 + 1 / n) / least)


def natrella_factor(n: int, *, coverage: float, confidence: float) -> float:
    """Natrella's approximation of the one-sided factor; needs n enough for the confidence [5]_.

    Raises
    ------
    InputError
        Too few values for this approximation.
    """
    reach = float(ndtri(coverage))
    margin = float(ndtri(confidence)) ** 2
    a, b = 1 - margin / (2 * (n - 1)), reach**2 - margin / n
    if a <= 0 or reach**2 < a * b:
        raise InputError("n", f"{n} are too few for this approximation", "use the exact factor")
    return (reach + sqrt(reach**2 - a * b)) / a


def _check(n: int, coverage: float, confidence: float) -> None:
    if n < 2:
        raise InputError("n", f"{n} given", "a spread needs 2 or more values")
    if not 0.5 <= coverage < 1:
        raise InputError("coverage", f"{coverage:g} is out of range", "give 0.5 to below 1")
    if not 0 < confidence < 1:
        raise InputError("confidence", f"{confidence:g} is out of range", "give a number in 0 to 1")


def _half_widths(away: Floats, coverage: float) -> Floats:
    """r with Phi(away + r) - Phi(away - r) = coverage, by Newton from below on the tails."""
    miss = 1 - coverage
    r: Floats = np.maximum(ndtri((1 + coverage) / 2), away + ndtri(coverage))
    for _ in range(40):
        excess = ndtr(-away - r) + ndtr(away - r) - miss
        slope = (np.exp(-((away + r) ** 2) / 2) + np.exp(-((away - r) ** 2) / 2)) / _ROOT_TWO_PI
        step = excess / slope
        r = r + step
        if np.abs(step).max() < 1e-13 * r.max():
            return r
    raise FaultError("tolerance factor: the half-widths do not converge")


def _factor(degrees: int, gap: Floats, weights: Floats, miss: float, start: float) -> float:
    """k at which the mean chance of v gap/k² above chi-square is `miss`; Newton, kept in bounds."""
    norm = degrees / 2 * log(2) + lgamma(degrees / 2)

    def excess(k: float) -> float:
        return float(weights @ chdtr(degrees, degrees * gap / k**2)) - miss

    low, high = 0.0, np.inf
    k = start
    for _ in range(200):
        over = excess(k)
        low, high = (k, high) if over > 0 else (low, k)
        x = degrees * gap / k**2
        with np.errstate(divide="ignore"):
            density = np.exp((degrees / 2 - 1) * np.log(x) - x / 2 - norm)
        slope = float(weights @ (density * 2 * x)) / k
        step = over / slope if slope > 0 else np.inf
        new = k + step
        if not low < new < high:
            new = (low + high) / 2 if np.isfinite(high) else 2 * k
        if abs(new - k) <= 1e-12 * k:
            return float(new)
        k = new
    raise FaultError("tolerance factor: no convergence")
