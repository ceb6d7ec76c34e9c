"""When to send castings and how many, at least cost, with its proof; and how sure its lots are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from kitwright.calc.supply.lot_programme import cheapest_by_programme
from kitwright.calc.supply.lot_recursion import recursion_of
from kitwright.calc.supply.lots import LotCase, LotPlan, shortfall
from kitwright.calc.supply.wagner_whitin import cheapest_free
from kitwright.errors import InputError

NODES: Final = 5000
MOST_BY_PROGRAMME: Final = 60

Method = Literal["lots of any size", "every sum sent", "mixed-integer programme"]


@dataclass(frozen=True, kw_only=True)
class Cheapest:
    """The cheapest plan, and a cost below which no plan can be: the same number where `exact`."""

    plan: LotPlan
    method: Method
    bound: Fraction

    @property
    def exact(self) -> bool:
        return self.method != "mixed-integer programme"


def cheapest_plan(case: LotCase, *, nodes: int = NODES) -> Cheapest:
    """The cheapest plan that meets every demand.

    Lots of any size first: if that plan keeps to what lots may be, nothing cheaper does. Then every
    sum that could have been sent; and where those are too many, the mixed-integer programme,
    whose bound is a floating-point number.

    Raises
    ------
    InputError
        Capacity does not suffice: says which period first fails and by how much; or there are more
        periods than the programme takes.
    """
    fails = shortfall(case)
    if fails is not None:
        raise InputError(
            "capacity",
            f"period {fails.period} is the first to fail, {_number(fails.bells)} good bells short "
            "with a full lot in every period",
            f"make room for {_number(fails.castings)} more castings by then, or have more on hand",
        )
    free = cheapest_free(case).plan
    if free.keeps:
        return Cheapest(plan=free, method="lots of any size", bound=free.total_cost)
    recursion = recursion_of(case)
    if recursion is not None:
        plan = recursion.cheapest()
        return Cheapest(plan=plan, method="every sum sent", bound=plan.total_cost)
    if len(case.demand) > MOST_BY_PROGRAMME:
        raise InputError(
            "demand",
            f"{len(case.demand)} periods of so many different amounts",
            f"give {MOST_BY_PROGRAMME} at most, or whole castings",
        )
    found = cheapest_by_programme(case, nodes=nodes)
    return Cheapest(plan=found.plan, method="mixed-integer programme", bound=Fraction(found.bound))


def _number(amount: Fraction) -> str:
    return f"{math.ceil(amount * 100) / 100:.12g}"


@dataclass(frozen=True, kw_only=True)
class Sureness:
    """How often a lot's good bells fall short: of their mean, and of what is needed of them."""

    below_mean: float | None
    unmet: float | None


def sureness(plan: LotPlan) -> list[Sureness]:
    """For each period; None where nothing is sent, or a part of a casting.

    Castings come out good one as often as another, so the good ones of a lot are binomial. What
    is needed of a lot is what demand takes until the next one, beyond what was left: lots before
    it came out at their mean.
    """
    from scipy.special import bdtr  # noqa: PLC0415

    def fewer(than: Fraction, castings: Fraction) -> float:
        if than > castings:
            return 1.0
        return float(bdtr(math.ceil(than) - 1, int(castings), float(plan.case.good_share)))

    count = len(plan.send)
    found = []
    until = count - 1
    for period in range(count - 1, -1, -1):
        castings = plan.send[period]
        chances = Sureness(below_mean=None, unmet=None)
        if castings and castings.denominator == 1:
            needed = plan.good[period] - plan.left[until]
            chances = Sureness(
                below_mean=fewer(plan.good[period], castings),
                unmet=fewer(needed, castings) if needed > 0 else 0.0,
            )
        if castings:
            until = period - 1
        found.append(chances)
    return found[::-1]
