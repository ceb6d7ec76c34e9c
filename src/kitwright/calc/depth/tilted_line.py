"""Tails of a sum of normal and even spreads, by inverting its generating function on a tilted line.

For S about zero with generating function M(s) = E exp(s S) and any theta > 0,

    E[(S - x)_+^k] / k!  =  1/pi  Re ∫_0^∞ M(s) exp(-s x) / s^(k+1) dt,   s = theta + i t.

k = 0 is the chance P(S > x). Where theta makes M(theta) exp(-theta x) / theta^(k+1) least, the
integrand is largest at t = 0 and hardly turns: a chance of 1e-30 comes with as many figures as
one of a half.

The integral is taken by the trapezoidal rule, whose error is no estimate [1]_: with step h it gives
the sum over all whole n of exp(theta P n) times the same tail at x + P n, P = 2 pi / h, and
Chernoff's inequality bounds those. What is cut off at the far end is bounded by the product of the
factors' largest sizes, none of which rises with t. Both bounds, and rounding, are told.

References
----------
.. [1] L. N. Trefethen and J. A. C. Weideman, SIAM Review 56 (2014) 385-458.
.. [2] R. Lugannani and S. Rice, Advances in Applied Probability 12 (1980) 475-490: the line through
   the saddle point.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.errors import FaultError

_EPS: Final = float(np.finfo(float).eps)
_FINE: Final = 2e-14
_MOST_NODES: Final = 150_000
_NODES_AT_ONCE: Final = 2**15
_NEVER: Final = 39.0  # sigmas: a normal tail beyond is less than any number
_STEPS: Final = np.geomspace(0.05, 40.0, 60)
_SHARES: Final = np.linspace(0.05, 0.95, 19)
_REACH: Final = np.geomspace(1e-3, 1e15, 900)


@dataclass(frozen=True, kw_only=True)
class Tail:
    """A tail and a bound on its error."""

    value: float
    error: float
    nodes: int


@dataclass(frozen=True, kw_only=True)
class _Line:
    """Where the line stands, how finely it is stepped, and what that leaves out."""

    theta: float
    step: float
    nodes: int
    log_scale: float  # of M(theta) exp(-theta x) / theta^(k+1)
    left_out: float  # bound, of aliases and of what is cut off, with no scale taken out


class NormalAndEven:
    """The sum of one normal spread and of even ones, about zero, in any one unit.

    Parameters
    ----------
    sigma : of the normal part; 0 where there is none
    halves : half-width of each even part, above zero
    """

    def __init__(self, sigma: float, halves: Iterable[float]) -> None:
        counted = Counter(halves)
        self.sigma = sigma
        self.halves: Floats = np.array(list(counted), dtype=float)
        self.counts: Floats = np.array(list(counted.values()), dtype=float)
        self._even_reach = float(self.counts @ self.halves)
        self.reach = self._even_reach + _NEVER * sigma

    def tail(self, x: float, *, order: int = 0, wanted: float = 0.0) -> Tail | None:
        """E[(S - x)_+^order] / order!, x >= 0; None where it would take too many nodes.

        An absolute error of `wanted` will do; otherwise the error is rounding only.
        """
        if x >= self.reach:
            return Tail(value=0.0, error=0.0, nodes=0)
        line = self._line(x, order, wanted)
        return None if line is None else self._sum(line, x, order)

    # ── the line ─────────────────────────────────────────────────────────────────────────

    def _line(self, x: float, order: int, wanted: float) -> _Line | None:
        power = order + 1
        theta = self._saddle(x, power)
        log_scale = float(self._log_m(theta)) - theta * x - power * math.log(theta)
        width = math.sqrt(self._bend(theta) + power / theta**2)
        near = log_scale - math.log(width)  # of the tail, but for a factor of about 0.4
        allowed = max(math.log(_FINE) + near, math.log(wanted / 4) if wanted > 0 else -math.inf)
        period, aliases = self._period(theta, x, order, width, allowed)
        cut = self._cut(theta, power, log_scale, allowed)
        if cut is None:
            return None
        end, rest = cut
        nodes = math.ceil(end * period / (2 * math.pi)) + 1
        if nodes > _MOST_NODES:
            return None
        return _Line(
            theta=theta,
            step=2 * math.pi / period,
            nodes=nodes,
            log_scale=log_scale,
            left_out=aliases + rest,
        )

    def _saddle(self, x: float, power: int) -> float:
        """Where log M(theta) - theta x - power log theta, which is convex, is least."""

        def slope(theta: float) -> float:
            return self._pull(theta) - x - power / theta

        spread = math.sqrt(self.sigma**2 + self.counts @ self.halves**2 / 3)
        low = high = 1 / spread
        while slope(low) > 0:
            low /= 4
        while slope(high) < 0:
            high *= 4
        while high > 1.02 * low:  # near is as good: the line may stand anywhere
            middle = math.sqrt(low * high)
            low, high = (middle, high) if slope(middle) < 0 else (low, middle)
        return math.sqrt(low * high)

    def _period(
        self, theta: float, x: float, order: int, width: float, allowed: float
    ) -> tuple[float, float]:
        """The least period P whose aliases stay under what is allowed, and their bound.

        With c(t) = M(t) exp(-t x) (order / (e t))^order, the tail at x + P n is at most
        c(t) exp(-t P n) for every t > 0, so the aliases on one side sum to at most
        c q / (1 - q), q = exp(-|t - theta| P).
        """
        right, right_bound = self._least_period(theta + _STEPS / width, theta, x, order, allowed)
        if self.sigma == 0 and self._even_reach - x <= right:  # beyond it there is no tail
            right, right_bound = self._even_reach - x, 0.0
        shares = _SHARES * theta
        left, left_bound = self._least_period(shares, theta, x, order, allowed)
        if order == 0:  # P(S > x) <= 1, which is t = 0
            certain = (math.log(2) - allowed) / theta
            if certain < left:
                left, left_bound = certain, math.exp(allowed)
        period = max(left, right)
        return period, left_bound + right_bound

    def _least_period(
        self, others: Floats, theta: float, x: float, order: int, allowed: float
    ) -> tuple[float, float]:
        log_c = self._log_m(others) - others * x
        if order:
            log_c = log_c + order * (math.log(order) - 1 - np.log(others))
        apart = np.abs(others - theta)
        periods = np.maximum(log_c + math.log(2) - allowed, math.log(2)) / apart  # q <= 1/2
        best = int(np.argmin(periods))
        return float(periods[best]), math.exp(allowed)

    def _cut(
        self, theta: float, power: int, log_scale: float, allowed: float
    ) -> tuple[float, float] | None:
        """Where the sum may end, and a bound on the rest.

        No factor rises with t, so on a geometric grid the rest is less than the sum of left-hand
        values times the steps; beyond the grid it falls at least as t^-2.
        """
        t = _REACH * theta
        sizes = self._sizes(theta, t, power)
        rest = np.cumsum((sizes[:-1] * np.diff(t))[::-1])[::-1] + 2 * sizes[-1] * t[-1]
        with np.errstate(divide="ignore"):
            logs = np.log(rest / math.pi) + log_scale
        good = np.flatnonzero(logs <= allowed)
        if not good.size:
            return None
        return float(t[good[0]]), math.exp(logs[good[0]])

    def _sizes(self, theta: float, t: Floats, power: int) -> Floats:
        """A bound on the integrand over its value at t = 0, falling with t."""
        turn = theta / np.hypot(theta, t)
        logs = power * np.log(turn) - (self.sigma * t) ** 2 / 2
        for half, count in zip(self.halves, self.counts, strict=True):
            logs = logs + count * np.minimum(0.0, np.log(turn / math.tanh(half * theta)))
        return np.exp(logs)

    # ── the generating function ──────────────────────────────────────────────────────────

    def _log_m(self, theta: Floats | float) -> Floats:
        z = np.multiply.outer(theta, self.halves)
        small = z < 0.02
        safe = np.where(small, 1.0, z)
        exact = safe + np.log1p(-np.exp(-2 * safe)) - np.log(2 * safe)
        logs = np.where(small, z**2 / 6 - z**4 / 180 + z**6 / 2835, exact)
        return np.asarray(logs @ self.counts + (self.sigma * np.asarray(theta)) ** 2 / 2)

    def _pull(self, theta: float) -> float:
        """The first derivative of log M."""
        z = self.halves * theta
        small = z < 0.02
        safe = np.where(small, 1.0, z)
        each = np.where(small, z / 3 - z**3 / 45, 1 / np.tanh(safe) - 1 / safe)
        return float(self.counts @ (self.halves * each)) + self.sigma**2 * theta

    def _bend(self, theta: float) -> float:
        """The second derivative of log M."""
        z = self.halves * theta
        small = z < 0.02
        safe = np.where(small, 1.0, np.minimum(z, 300.0))
        each = np.where(small, 1 / 3 - z**2 / 15, 1 / safe**2 - 1 / np.sinh(safe) ** 2)
        return float(self.counts @ (self.halves**2 * each)) + self.sigma**2

    # ── the sum ──────────────────────────────────────────────────────────────────────────

    def _sum(self, line: _Line, x: float, order: int) -> Tail:
        total, size = 0.0, 0.0
        for start in range(0, line.nodes, _NODES_AT_ONCE):
            steps = np.arange(start, min(start + _NODES_AT_ONCE, line.nodes), dtype=float)
            t: Floats = line.step * steps
            values = self._ratio(line.theta, t, x, order + 1)
            total += float(values.sum())
            turning = x + self.sigma**2 * line.theta + self._even_reach
            sizes = self._sizes(line.theta, t, order + 1)
            size += float(sizes @ (8 + 4 * self.counts.sum() + turning * t))
        scale = line.step / math.pi * math.exp(line.log_scale)
        value = scale * (total - 0.5)  # half of the first, which is 1
        rounding = _EPS * (scale * size + value * (8 + line.theta * x + abs(line.log_scale)))
        error = rounding + line.left_out
        if not -error <= value < math.inf:
            raise FaultError(f"tail of a stack: {value:g} with an error of {error:g}")
        return Tail(value=max(0.0, value), error=error, nodes=line.nodes)

    def _ratio(self, theta: float, t: Floats, x: float, power: int) -> Floats:
        """The integrand's real part over its value at t = 0."""
        turn = theta / (theta + 1j * t)
        whole = turn**power * np.exp(
            -((self.sigma * t) ** 2) / 2 + 1j * t * (self.sigma**2 * theta - x)
        )
        for half, count in zip(self.halves, self.counts, strict=True):
            wave = np.cos(half * t) + 1j * np.sin(half * t) / math.tanh(half * theta)
            whole = whole * (turn * wave) ** int(count)
        return np.asarray(whole.real)
