"""What a chain of lengths closes to: worst case, root-sum-square, and exact chances."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

from kitwright.calc.depth.links import Link
from kitwright.calc.depth.stack_law import StackLaw
from kitwright.errors import InputError

Sense = Literal[1, -1]

PERCENTILES: Final = ("0.1", "1", "2.5", "5", "10", "50", "90", "95", "97.5", "99", "99.9")
_LAST_FIGURES: Final = 8 * 2.0**-52


@dataclass(frozen=True, kw_only=True)
class Term:
    """A link in a chain: +1 where it opens the closing dimension, -1 where it takes from it."""

    link: Link
    sense: Sense


@dataclass(frozen=True, kw_only=True)
class Contribution:
    """One link's part in the whole."""

    name: str
    share: float
    """Of the variance."""
    sigma: float
    chance_outside_without: float
    """Of the closing dimension, were this link always at its mean."""


@dataclass(frozen=True, kw_only=True)
class AxialBudget:
    """What a closing dimension comes to. Lengths in the unit of the links."""

    nominal: float
    worst_case: tuple[float, float]
    """Every link at the limit that hurts."""
    rss: tuple[float, float]
    """About the sum of the middles: the root of the summed squares of the half-widths."""
    mean: float
    sigma: float
    chance_below: float
    """Below the low limit."""
    chance_above: float
    """Above the high limit."""
    chance_within: float
    chance_outside: float
    error: float
    """A bound on the error of the chances."""
    contributions: tuple[Contribution, ...]
    law: StackLaw
    """How the closing dimension spreads about its mean."""

    @property
    def way(self) -> str:
        """How the chances were reached, in words."""
        return self.law.way

    @cached_property
    def percentiles(self) -> Mapping[str, float]:
        """Per cent of stacks, as text ("0.1" to "99.9") → the value that they stay below."""
        return _percentiles(self.law, self.mean)


def axial_budget(
    chain: Mapping[str, Term], *, low: float = -math.inf, high: float = math.inf
) -> AxialBudget:
    """Add up independent links, and compare what is left with its limits.

    Parameters
    ----------
    chain : name → link and its sense; any one length unit
    low, high : limits of the closing dimension; a missing one is -inf or inf

    Raises
    ------
    InputError
        No link, limits that are swapped or both missing.

    Notes
    -----
    A normal link is not cut at its limits, so that a normal chain can exceed its worst case. The
    chances are exact: see `stack_law.py`. The smallest keep their figures but where one even link
    is wider than all the others by some 10 000 times; `error` says so.

    Examples
    --------
    >>> plates = Link(nominal=10, plus=0.1, minus=0.1, spread="even")
    >>> room = Link(nominal=20.2, plus=0.1, minus=0.1, spread="even")
    >>> found = axial_budget(
    ...     {
    ...         "room": Term(link=room, sense=1),
    ...         "plate a": Term(link=plates, sense=-1),
    ...         "plate b": Term(link=plates, sense=-1),
    ...     },
    ...     low=0.0,
    ... )
    >>> round(found.chance_below, 9)  # (0.3 - 0.2)^3 / (3! 0.2^3)
    0.020833333
    """
    if not chain:
        raise InputError("links", "none given", "give one or more")
    _check(low, high)
    terms = list(chain.values())
    middle = math.fsum(term.sense * term.link.middle for term in terms)
    mean = math.fsum(term.sense * term.link.mean for term in terms)
    halves = [term.link.half for term in terms]
    # Rounding must not put a chain that just meets its limit beyond it.
    largest = max(abs(value) for term in terms for value in (term.link.low, term.link.high))
    slack = _LAST_FIGURES * max(largest, *(abs(v) for v in (low, high) if math.isfinite(v)))
    law = StackLaw(term.link for term in terms)
    below, above, error = _outside(law, mean, low, high, slack)
    return AxialBudget(
        nominal=math.fsum(term.sense * term.link.nominal for term in terms),
        worst_case=(middle - math.fsum(halves), middle + math.fsum(halves)),
        rss=(middle - math.hypot(*halves), middle + math.hypot(*halves)),
        mean=mean,
        sigma=law.sigma,
        chance_below=below,
        chance_above=above,
        chance_within=_within(law, mean, low, high, below + above),
        chance_outside=min(1.0, below + above),
        error=error,
        contributions=tuple(_contributions(chain, mean, low, high, slack)),
        law=law,
    )


def _check(low: float, high: float) -> None:
    if math.isnan(low) or math.isnan(high) or low == math.inf or high == -math.inf:
        raise InputError("gap", f"{low} to {high} are no limits", "give numbers")
    if low == -math.inf and high == math.inf:
        raise InputError("gap", "neither low nor high given", "give low, high or both")
    if low > high:
        raise InputError("gap", f"low {low:g} is above high {high:g}", "swap them")


def _outside(
    law: StackLaw, mean: float, low: float, high: float, slack: float
) -> tuple[float, float, float]:
    """Chances below low and above high, and a bound on the error of either, summed.

    A value at a limit is within; it matters only where nothing spreads, or where a chain ends.
    """
    under, over = mean - low, high - mean
    below, error_below = (0.0, 0.0) if under >= law.reach - slack else law.above(under)
    above, error_above = (0.0, 0.0) if over >= law.reach - slack else law.above(over)
    return below, above, error_below + error_above


def _within(law: StackLaw, mean: float, low: float, high: float, outside: float) -> float:
    """The chance between the limits, from the tails of the side where both lie."""
    if outside <= 0.5:
        return 1 - min(1.0, outside)
    near, far = sorted((low - mean, high - mean), key=abs)
    if (near < 0) != (far < 0):
        return 1 - outside
    inner, _ = law.above(abs(near))
    outer = 0.0 if math.isinf(far) else law.above(abs(far))[0]
    return max(0.0, inner - outer)


def _percentiles(law: StackLaw, mean: float) -> dict[str, float]:
    apart = {}
    for percent in PERCENTILES:
        share = float(percent) / 100
        lesser = round(min(share, 1 - share), 12)
        if lesser not in apart:
            apart[lesser] = law.upper(lesser)
    return {
        percent: mean + math.copysign(apart[round(min(share, 1 - share), 12)], share - 0.5)
        for percent, share in ((percent, float(percent) / 100) for percent in PERCENTILES)
    }


def _contributions(
    chain: Mapping[str, Term], mean: float, low: float, high: float, slack: float
) -> Sequence[Contribution]:
    total = math.fsum(term.link.sigma**2 for term in chain.values())
    found = []
    known: dict[tuple[str, float, float], float] = {}  # links that spread alike leave alike
    for name, term in chain.items():
        alike = (term.link.spread, term.link.half, term.link.sigma)
        if alike not in known:
            others = StackLaw(other.link for key, other in chain.items() if key != name)
            below, above, _ = _outside(others, mean, low, high, slack)
            known[alike] = min(1.0, below + above)
        found.append(
            Contribution(
                name=name,
                share=term.link.sigma**2 / total if total > 0 else 0.0,
                sigma=term.link.sigma,
                chance_outside_without=known[alike],
            )
        )
    return found
