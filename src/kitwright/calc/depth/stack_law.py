"""How a closing dimension spreads about its mean: its tails with bounds, and its percentiles.

Every link here spreads evenly about its own mean, so their sum does too, and one tail says all.
It is reached in whichever of three ways applies: the normal table, an exact sum over corners
(`corner_sum.py`), the inverted generating function (`tilted_line.py`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from scipy.special import ndtr

from kitwright.calc.depth.corner_sum import chance_above, corners
from kitwright.calc.depth.links import Link
from kitwright.calc.depth.tilted_line import NormalAndEven
from kitwright.errors import FaultError

_MOST_CORNERS: Final = 4096
_GOOD_ENOUGH: Final = (0.0, 1e-12, 1e-10, 1e-9)
"""Absolute errors that will do, tried in turn; 0 is rounding only."""
_NEXT_TO_NOTHING: Final = 1e-13
"""Of the widest spread: one as narrow as this is left out, and what that can do is told."""


class StackLaw:
    """The sum of independent links about its mean; any one length unit.

    Parameters
    ----------
    links : the links whose spreads add up; their senses and means do not matter here
    """

    def __init__(self, links: Iterable[Link]) -> None:
        listed = list(links)
        halves = sorted(half for link in listed for half in link.even_halves())
        sigma = math.hypot(*(link.normal_sigma for link in listed))
        widest = max([sigma, *halves], default=0.0)
        self._unit = widest or 1.0
        least = _NEXT_TO_NOTHING * widest
        self._halves = [half / self._unit for half in halves if half > least]
        self._sigma = sigma / self._unit if sigma > least else 0.0
        left_out = [link.sigma for link in listed if 0 < link.half <= least]
        # the density is nowhere above a half over the widest half-width, 0.4 over a sigma
        self._blur = 0.5 * math.hypot(*left_out) / self._unit
        self.sigma = math.hypot(*(link.sigma for link in listed))
        self.reach = math.inf if sigma > 0 else sum(halves)
        """No value lies further from the mean."""

    @property
    def way(self) -> str:
        """How the chances are reached, in words."""
        if not self._halves:
            return "the normal distribution" if self._sigma else "nothing spreads"
        if self._by_corners:
            return "the exact piecewise polynomial of a sum of even spreads, in whole numbers"
        return (
            "the generating functions of all links multiplied and inverted along a line through "
            "the saddle point"
        )

    @property
    def _by_corners(self) -> bool:
        return not self._sigma and corners(self._halves) <= _MOST_CORNERS

    def above(self, distance: float) -> tuple[float, float]:
        """The chance of a value more than `distance` above the mean, and a bound on its error.

        A chance below the mean of which this is the mirror is the same.
        """
        if distance < 0:
            chance, error = self.above(-distance)
            return 1 - chance, error + 1e-16
        x = distance / self._unit
        if distance >= self.reach * (1 - 1e-15):
            return 0.0, 0.0
        if not self._halves:
            chance = float(ndtr(-x / self._sigma))
            return chance, 1e-14 * chance + self._blur
        if self._by_corners:
            chance, error = chance_above(x, self._halves), 0.0
        else:
            chance, error = self._inverted(x)
        return chance, error + 1e-15 * chance + self._blur

    def _inverted(self, x: float) -> tuple[float, float]:
        *others, widest = self._halves
        whole = NormalAndEven(self._sigma, self._halves)
        rest = NormalAndEven(self._sigma, others) if others or self._sigma else None
        for wanted in _GOOD_ENOUGH:
            found = whole.tail(x, wanted=wanted)
            if found is not None:
                return found.value, found.error
            if rest is not None:
                apart = _beside_one_even(x, widest, rest, wanted)
                if apart is not None:
                    return apart
        raise FaultError("axial budget: no way to the chance is in reach")

    def upper(self, chance: float) -> float:
        """The distance above the mean that is exceeded with this chance, at most a half.

        By false position with the lagging end's value halved (Illinois), on the root of the
        logarithm, which is nearly straight. A sum of normal and even spreads has a tail under
        exp(-x²/2 sigma²), which is where to start.
        """
        if self.sigma == 0 or chance >= 0.5:
            return 0.0
        low, high = 0.0, min(self.reach, self.sigma * math.sqrt(2 * math.log(1 / chance)))
        goal = math.sqrt(-math.log(chance))
        short, over = math.sqrt(math.log(2)) - goal, self._depth(high) - goal
        kept = 0
        for _ in range(200):
            if high - low <= 1e-13 * self.sigma or over == 0:
                return high
            middle = high - over * (high - low) / (over - short)
            found = self._depth(middle) - goal
            if abs(found) < 1e-12 * goal:
                return middle
            if found < 0:
                low, short = middle, found
                over = over / 2 if kept < 0 else over
                kept = -1
            else:
                high, over = middle, found
                short = short / 2 if kept > 0 else short
                kept = 1
        raise FaultError("axial budget: a percentile was not found")

    def _depth(self, distance: float) -> float:
        """How far down its tail a distance lies: the root of minus the logarithm."""
        chance, _ = self.above(distance)
        return math.sqrt(-math.log(chance)) if chance > 0 else 30.0


def _beside_one_even(
    x: float, half: float, rest: NormalAndEven, wanted: float
) -> tuple[float, float] | None:
    """The chance above x for one even spread with narrow ones beside it.

    With the even value averaged out, P(S > x) = (H(x - a) - H(x + a)) / 2 a, H(y) = E[(B - y)_+]
    of the rest B; the integral then has the width of B alone. H(-y) = y + H(y).
    """
    near = rest.tail(abs(x - half), order=1, wanted=wanted * half)
    far = rest.tail(x + half, order=1, wanted=wanted * half)
    if near is None or far is None:
        return None
    chance = (max(0.0, half - x) + near.value - far.value) / (2 * half)
    error = (near.error + far.error) / (2 * half) + 4e-16
    return max(0.0, chance), error
