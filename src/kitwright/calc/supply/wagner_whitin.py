"""Lots of any size at least cost: the recursion of Wagner and Whitin, in whole numbers.

Where a lot may be of any size, some cheapest plan sends nothing while bells are left that were
sent for; so each lot covers a run of periods, and the last lot of a cheapest plan is followed by
a cheapest plan of the periods before it [1]_. The cheapest plan so far is the answer for all n
periods after n(n+1)/2 comparisons, without rounding: proven.

References
----------
.. [1] H. M. Wagner, T. M. Whitin, Dynamic version of the economic lot size model,
   Management Science 5 (1958) 89-96
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from kitwright.calc.supply.lots import LotCase, LotPlan


@dataclass(frozen=True, kw_only=True)
class FreeLots:
    """The cheapest plan, and what the cheapest plan of the first 1, 2, ... periods costs."""

    plan: LotPlan
    running: tuple[Fraction, ...]
    """Without what the bells on hand cost to keep until they go, which no plan can change."""


def cheapest_free(case: LotCase) -> FreeLots:
    """The cheapest plan where lots may be of any size; the case's sizes are not looked at.

    Of two plans at the same cost the one with the later last lot counts.

    Examples
    --------
    >>> case = LotCase(
    ...     demand=(Fraction(3), Fraction(1)), set_up=(Fraction(5),) * 2, holding=Fraction(1)
    ... )
    >>> found = cheapest_free(case)
    >>> [int(each) for each in found.plan.send], [int(each) for each in found.running]
    ([4, 0], [5, 6])
    """
    net = case.net
    scale = math.lcm(*(each.denominator for each in (*net, case.holding, *case.set_up)))
    bells = [int(each * scale) for each in net]
    set_up = [int(each * scale * scale) for each in case.set_up]
    holding = int(case.holding * scale)
    best: list[int] = [0]
    start: list[int | None] = []
    for last in range(len(bells)):
        if not bells[last]:
            best.append(best[-1])
            start.append(None)
            continue
        held = later = 0
        found, first = best[last] + set_up[last], last
        for lot in range(last - 1, -1, -1):
            later += bells[lot + 1]
            held += later
            if holding * held >= found:  # it only grows with an earlier lot
                break
            cost = best[lot] + set_up[lot] + holding * held
            if cost < found:
                found, first = cost, lot
        best.append(found)
        start.append(first)
    send = [Fraction(0)] * len(bells)
    end = len(bells)
    while end:
        begun = start[end - 1]
        if begun is None:
            end -= 1
            continue
        send[begun] = sum(net[begun:end], Fraction(0)) / case.good_share
        end = begun
    return FreeLots(
        plan=LotPlan(case=case, send=tuple(send)),
        running=tuple(Fraction(each, scale * scale) for each in best[1:]),
    )
