"""Lots with a capacity, a smallest size or whole crates at least cost: a mixed-integer programme.

The programme says which lot serves which period's demand (facility location): a lot that serves
any of it is open by at least that share, so that without capacities the programme has a whole
solution even when nothing is asked to be whole [1]_. Capacities and crates take that away; for
each period the number of lots, and of crates, that must have been sent by its end is rounded up
and added. HiGHS closes the rest and gives a bound below every plan [2]_.

References
----------
.. [1] J. Krarup, O. Bilde, Plant location, set covering and economic lot size: an O(mn)-algorithm
   for structured problems, in: Numerische Methoden bei Optimierungsaufgaben 3 (1977) 155-180
.. [2] Q. Huangfu, J. A. J. Hall, Parallelizing the dual revised simplex method, Mathematical
   Programming Computation 10 (2018) 119-142
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.supply.lots import Amounts, LotCase, LotPlan, least_plan
from kitwright.errors import FaultError

Floats = NDArray[np.float64]

_SLACK: Final = 1e-7


@dataclass(frozen=True, kw_only=True)
class Programme:
    """Minimise `costs` · x with `low` <= `rows` x <= `high`, 0 <= x <= `most`.

    The first n variables say which periods have a lot, the next n how many units it has, the rest
    which share of a period's net demand it serves.
    """

    periods: int
    costs: Floats
    whole: Floats
    most: Floats
    rows: Any
    low: Floats
    high: Floats


@dataclass(frozen=True, kw_only=True)
class Proven:
    """The cheapest plan found, and a cost below which no plan can be."""

    plan: LotPlan
    bound: float


def programme_of(case: LotCase) -> Programme:
    """The programme of a case that can be met; money is in the case's own unit."""
    from scipy.sparse import coo_array  # noqa: PLC0415

    count, unit_good = len(case.demand), float(case.good_a_unit)
    demand = [float(each) for each in case.net]
    holding = float(case.holding)
    most = [float(each) for each in largest(case)]
    pairs = [
        (lot, served)
        for served in range(count)
        if demand[served]
        for lot in range(served + 1)
        if most[lot]
    ]
    to_end = [holding * (count - lot) for lot in range(count)]  # a bell that nobody takes
    costs = [float(each) for each in case.set_up]
    costs += [to_end[lot] * unit_good for lot in range(count)]
    costs += [(holding * (served - lot) - to_end[lot]) * demand[served] for lot, served in pairs]
    rows = _Rows()
    for served in range(count):
        if demand[served]:
            by = {2 * count + i: 1.0 for i, (_, s) in enumerate(pairs) if s == served}
            rows.add(by, 1, 1)
    for i, (lot, _) in enumerate(pairs):
        rows.add({2 * count + i: 1.0, lot: -1.0}, -math.inf, 0)
    for lot in range(count):
        serves = {2 * count + i: -demand[s] for i, (by, s) in enumerate(pairs) if by == lot}
        rows.add({count + lot: unit_good, **serves}, 0, math.inf)
        rows.add({count + lot: 1.0, lot: -most[lot]}, -math.inf, 0)
        if case.least:
            rows.add({count + lot: 1.0, lot: -float(case.least_units)}, 0, math.inf)
    for period, lots in enumerate(fewest_lots(case)):
        if lots:
            rows.add(dict.fromkeys(range(period + 1), 1.0), lots, math.inf)
            sent = dict.fromkeys(range(count, count + period + 1), 1.0)
            rows.add(sent, float(case.needed[period]), math.inf)
    whole_units = 0.0 if case.step is None else 1.0
    return Programme(
        periods=count,
        costs=np.array(costs),
        whole=np.array([1.0] * count + [whole_units] * count + [0.0] * len(pairs)),
        most=np.array([1.0] * count + most + [1.0] * len(pairs)),
        rows=coo_array(
            (rows.values, (rows.rows, rows.columns)), shape=(len(rows.low), len(costs))
        ).tocsr(),
        low=np.array(rows.low),
        high=np.array(rows.high),
    )


class _Rows:
    """Rows of a sparse matrix as they come."""

    def __init__(self) -> None:
        self.rows: list[int] = []
        self.columns: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def add(self, row: dict[int, float], low: float, high: float) -> None:
        self.rows += [len(self.low)] * len(row)
        self.columns += row
        self.values += row.values()
        self.low.append(low)
        self.high.append(high)


def largest(case: LotCase) -> Amounts:
    """Units that a lot could be of use with, in each period."""
    count = len(case.demand)
    before = (Fraction(0), *case.needed[:-1])
    useful = [max(case.needed[-1] - before[lot], case.least_units) for lot in range(count)]
    if case.most_units is None:
        return tuple(useful)
    return tuple(min(a, b) for a, b in zip(useful, case.most_units, strict=True))


def fewest_lots(case: LotCase) -> list[int]:
    """Lots that must have been sent by the end of each period, whatever their sizes."""
    fewest = []
    most = largest(case)
    for period, needed in enumerate(case.needed):
        sizes = itertools.accumulate(sorted(most[: period + 1], reverse=True), initial=Fraction(0))
        fewest.append(next(lots for lots, sent in enumerate(sizes) if sent >= needed))
    return fewest


def solve(programme: Programme, *, nodes: int) -> Any:
    """What HiGHS finds within so many nodes of its tree."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

    return milp(
        programme.costs,
        integrality=programme.whole,
        bounds=Bounds(0, programme.most),
        constraints=LinearConstraint(programme.rows, programme.low, programme.high),
        options={"mip_rel_gap": 0, "node_limit": nodes},
    )


def cheapest_by_programme(case: LotCase, *, nodes: int) -> Proven:
    """The cheapest plan of a case that can be met, as far as so many nodes prove it.

    HiGHS keeps to its rows within a tolerance; the plan is worked out again from the periods that
    have a lot, exactly. Should their capacity miss a demand by less than the tolerance, the
    programme is told that one more lot is needed by then and solved again.

    Raises
    ------
    FaultError
        HiGHS finds no plan, or one that is not as cheap as it says.
    """
    programme = programme_of(case)
    count = programme.periods
    while True:
        found = solve(programme, nodes=nodes)
        if found.x is None:
            raise FaultError(f"no plan was found for lots: {found.message}")
        opened = [bool(each) for each in found.x[:count] > 0.5]
        plan = least_plan(case, opened)
        if plan is not None:
            break
        programme = _with_one_more(programme, case, opened)
    # stock that is on hand at first is paid for in any plan; the programme leaves it out
    fixed = float(case.holding * sum(case.fixed_left))
    cost = float(plan.total_cost)
    if cost > found.fun + fixed + _SLACK * max(1.0, cost):
        raise FaultError(f"a plan at {found.fun + fixed} costs {cost}")
    return Proven(plan=plan, bound=min(cost, found.mip_dual_bound + fixed))


def _with_one_more(programme: Programme, case: LotCase, opened: Sequence[bool]) -> Programme:
    """The programme with one more lot asked for, among the periods that had none, up to the first
    period that these lots fail: no plan does without."""
    from scipy.sparse import coo_array, vstack  # noqa: PLC0415

    most = largest(case)
    sent = itertools.accumulate(size if has else 0 for size, has in zip(most, opened, strict=True))
    fails = next(
        (p for p, (a, b) in enumerate(zip(sent, case.needed, strict=True)) if a < b),
        len(opened) - 1,
    )
    others = [period for period in range(fails + 1) if not opened[period]]
    if not others:
        raise FaultError("lots in every period do not meet a demand that they can meet")
    row = coo_array(
        ([1.0] * len(others), ([0] * len(others), others)), shape=(1, len(programme.costs))
    )
    return replace(
        programme,
        rows=vstack([programme.rows, row]).tocsr(),
        low=np.append(programme.low, 1.0),
        high=np.append(programme.high, math.inf),
    )
