"""The textbook's rules for lots: quick, and more or less dear beside the cheapest plan.

Each rule but one says only which periods have a lot, a run that it covers never being more than
the largest lot brings; such a lot then covers what is needed until the next one, within what lots
may be. The economic order quantity says the size.

References
----------
.. [1] F. W. Harris, How many parts to make at once, Factory 10 (1913) 135-136, 152
.. [2] E. A. Silver, H. C. Meal, A heuristic for selecting lot size quantities for the case of a
   deterministic time-varying demand rate, Production and Inventory Management 14 (1973) 64-74
.. [3] J. J. DeMatteis, A. G. Mendoza, An economic lot-sizing technique, IBM Systems Journal 7
   (1968) 30-46 (part periods)
.. [4] S. Nahmias, Production and Operations Analysis (the rules side by side)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from kitwright.calc.supply.lots import LotCase, LotPlan, least_plan


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A rule by name and the plan it makes; None where that plan cannot be carried out."""

    name: str
    plan: LotPlan | None


def rules(case: LotCase) -> list[Rule]:
    """What every rule makes of a case."""
    return [
        Rule(name="lot for lot", plan=least_plan(case, [bool(each) for each in case.net])),
        Rule(name="economic order quantity", plan=_by_order_quantity(case)),
        *(
            Rule(name=name, plan=least_plan(case, _opened(case, stops)))
            for name, stops in _RUNS.items()
        ),
    ]


def order_quantity(case: LotCase) -> int | None:
    """Good bells in a lot at least cost were demand steady: √(2 K d / h), to a whole bell, one or
    more; None where holding costs nothing [1]_.

    >>> from kitwright.calc.supply.lots import LotCase
    >>> ones = (Fraction(1),) * 4
    >>> order_quantity(LotCase(demand=ones, set_up=(Fraction(8),) * 4, holding=Fraction(1)))
    4
    """
    if not case.holding:
        return None
    count = len(case.demand)
    squared = 2 * sum(case.set_up) * sum(case.net) / (count * count * case.holding)
    return max(1, round(math.sqrt(squared)))


def _by_order_quantity(case: LotCase) -> LotPlan | None:
    """A lot of that size whenever what is left falls short; more where even that falls short."""
    quantity = order_quantity(case)
    if quantity is None:
        quantity = max(1, math.ceil(case.short[-1]))
    size = Fraction(quantity) / case.good_a_unit
    if case.step is not None:
        size = Fraction(max(1, round(size)))
    sent, sums = [], Fraction(0)
    for period, needed in enumerate(case.needed):
        units = Fraction(0)
        if needed > sums:
            units = max(size, needed - sums, case.least_units)
            if case.most_units is not None:
                units = min(units, case.most_units[period])
        sums += units
        sent.append(units * case.unit)
    plan = LotPlan(case=case, send=tuple(sent))
    return plan if plan.keeps else None


@dataclass(frozen=True, kw_only=True)
class _Run:
    """A lot that covers some periods from its own on."""

    periods: int
    bells: Fraction
    set_up: Fraction
    holding: Fraction

    @property
    def cost(self) -> Fraction:
        return self.set_up + self.holding


def _dearer_by_period(now: _Run, longer: _Run) -> bool:
    """Silver and Meal: the cost a period rises [2]_."""
    return longer.cost * now.periods > now.cost * longer.periods


def _dearer_by_bell(now: _Run, longer: _Run) -> bool:
    """Least unit cost: the cost a bell rises [4]_."""
    return longer.cost * now.bells > now.cost * longer.bells


def _off_balance(now: _Run, longer: _Run) -> bool:
    """Part-period balancing: holding comes less near to the set-up cost [3]_."""
    return longer.holding > longer.set_up and (
        longer.holding - longer.set_up >= longer.set_up - now.holding
    )


_RUNS: Final[dict[str, Callable[[_Run, _Run], bool]]] = {
    "Silver-Meal": _dearer_by_period,
    "part-period balancing": _off_balance,
    "least unit cost": _dearer_by_bell,
}


def _opened(case: LotCase, stops: Callable[[_Run, _Run], bool]) -> list[bool]:
    opened = [False] * len(case.net)
    period = 0
    while period < len(case.net):
        if not case.net[period]:
            period += 1
            continue
        opened[period] = True
        now, *longer = _runs(case, period)
        most = None if case.most_units is None else case.most_units[period] * case.good_a_unit
        for run in longer:
            if stops(now, run) or (most is not None and run.bells > most):
                break
            now = run
        period += now.periods
    return opened


def _runs(case: LotCase, start: int) -> Iterator[_Run]:
    """The lot of period `start` covering one period, two, and so on."""
    bells = holding = Fraction(0)
    for periods, wanted in enumerate(case.net[start:], start=1):
        bells += wanted
        holding += case.holding * (periods - 1) * wanted
        yield _Run(periods=periods, bells=bells, set_up=case.set_up[start], holding=holding)
