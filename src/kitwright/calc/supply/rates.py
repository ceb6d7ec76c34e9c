"""Rates between currencies by date: which one counts on a day, and how old it is then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Rate:
    """On `day` one `source` was `rate` of `target`."""

    source: str
    target: str
    rate: Fraction
    day: date


@dataclass(frozen=True, kw_only=True)
class RateUsed:
    """The rate that counts, the other way round where only that was written down, and its age."""

    rate: Rate
    turned: bool
    days: int

    @property
    def factor(self) -> Fraction:
        """What one of the currency asked from is, in the currency asked for."""
        return 1 / self.rate.rate if self.turned else self.rate.rate


def rate_on(rates: Iterable[Rate], source: str, target: str, on: date) -> RateUsed:
    """The newest rate between two currencies that was known on a day, exactly.

    Of two of one day the one the right way round counts, then the one listed last.

    Raises
    ------
    InputError
        There is none: never a guess over a third currency.

    Examples
    --------
    >>> known = [Rate(source="EUR", target="USD", rate=Fraction("1.25"), day=date(2026, 3, 1))]
    >>> rate_on(known, "USD", "EUR", date(2026, 3, 5)).factor
    Fraction(4, 5)
    """
    found = None
    for rate in rates:
        turned = (rate.source, rate.target) == (target, source)
        if rate.day > on or not (turned or (rate.source, rate.target) == (source, target)):
            continue
        if found is None or (rate.day, not turned) >= (found.rate.day, not found.turned):
            found = RateUsed(rate=rate, turned=turned, days=(on - rate.day).days)
    if found is None:
        raise InputError(
            "rates",
            f"none from {source} to {target} by {on.isoformat()}",
            f"write down what one {source} was worth, with the date",
        )
    return found
