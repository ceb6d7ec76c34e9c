"""The money of a kit-cost case: any currency in smallest units of one, by dated rates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from pydantic import BaseModel

from kitwright.calc.supply.kit_bill import Line
from kitwright.calc.supply.rates import Rate, RateUsed, rate_on
from kitwright.errors import InputError, Problem
from kitwright.money import decimals_of
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.supply.kit_cost_case import KitCostCase, LineRow, RateRow


@dataclass(frozen=True, kw_only=True)
class Till:
    """Money of any currency in smallest units of the answer's, and which rates that takes."""

    case: KitCostCase
    used: Sequence[RateUsed]
    factors: Mapping[str, Fraction]

    @classmethod
    def of(cls, case: KitCostCase) -> Till:
        """The till of a case; every rate that is missing is in the one error."""
        rates = [
            Rate(source=row.source, target=row.target, rate=row.rate.exact, day=row.date)
            for row in case.rates
        ]
        others = sorted(set(_currencies(case)) - {case.currency})
        if others and case.on is None:
            given = f"missing, and amounts are in {' and '.join(others)}"
            raise InputError("on", given, "give the day: rates go by it")
        used: list[RateUsed] = []
        problems: list[Problem] = []
        factors = {case.currency: Fraction(1)}
        for currency in others:
            assert case.on is not None
            try:
                used.append(rate_on(rates, currency, case.currency, case.on))
                factors[currency] = used[-1].factor
            except InputError as error:
                problems += error.problems
        if problems:
            raise InputError.of(problems)
        return cls(case=case, used=used, factors=factors)

    def exactly(self, money: Money | None) -> Fraction:
        """In smallest units, not rounded."""
        if money is None:
            return Fraction(0)
        scale: int = 10 ** decimals_of(self.case.currency)
        return money.amount.exact * scale * self.factors[money.currency]

    def minor(self, money: Money) -> int:
        return round(self.exactly(money))

    def price(self, minor: int) -> Price:
        return Price.of_minor(minor, self.case.currency)

    def line(self, of: str, line: Line) -> LineRow:
        return LineRow(
            of=of,
            level=line.level,
            part=line.part,
            count=line.count,
            cost=self.price(line.cost),
        )

    def rates(self) -> list[RateRow]:
        """The rates that it takes, as the answer shows them."""
        return [
            RateRow(
                source=used.rate.source,
                target=used.rate.target,
                rate=_decimal(used.rate.rate),
                date=used.rate.day.isoformat(),
                days=used.days,
                old=self.is_old(used),
            )
            for used in self.used
        ]

    def is_old(self, used: RateUsed) -> bool:
        return used.days > self.case.oldest_rate_days


def _currencies(value: object) -> Iterator[str]:
    """Of all money in a case."""
    if isinstance(value, Money):
        yield value.currency
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _currencies(getattr(value, name))
    elif isinstance(value, list):
        for item in value:
            yield from _currencies(item)


def _decimal(rate: Fraction) -> str:
    """A rate of a few decimals as it was written.

    >>> _decimal(Fraction("1.0840")), _decimal(Fraction(160))
    ('1.084', '160')
    """
    return f"{(Decimal(rate.numerator) / rate.denominator).normalize():f}"
