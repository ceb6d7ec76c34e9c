"""Lots with a capacity, a smallest size or whole crates at least cost: a recursion over what was
sent so far.

What is left at a period's end follows from what was sent by then, so that sum is all that the past
leaves behind (R. Bellman, Dynamic Programming (1957), chapter I). Each period keeps the cheapest
way to every such sum.

A sum need not be looked at unless it is a whole number of grains, the greatest common measure of
what is needed by each period's end, of the largest lots and of the smallest: the least plan for
lots in given periods (`lots.least_plan`) is made of these by adding and taking away. Costs are
whole numbers too, so nothing is rounded: proven.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.supply.lots import LotCase, LotPlan
from kitwright.errors import FaultError

MOST_SUMS: Final = 4_000_000
"""Sums to look at, over all periods; eight bytes each."""

_NEVER: Final = 2**61
"""Dearer than any plan, and twice it still is a whole number that numpy holds."""

Wholes = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Recursion:
    """A case in whole numbers: sums sent in grains, costs in parts of its money."""

    case: LotCase
    castings: Fraction
    """In a grain."""
    needed: tuple[int, ...]
    least: int
    most: tuple[int, ...]
    last: int
    """The greatest sum that could be of use."""
    set_up: tuple[int, ...]
    kept: int
    """What a grain sent costs at each period's end from then on."""
    taken: tuple[int, ...]
    """What the bells on hand, less demand so far, add to that; by period."""

    def cheapest(self) -> LotPlan:
        """The cheapest plan of a case that can be met; of equals, the later lots."""
        sums = np.arange(self.last + 1, dtype=np.int64) * self.kept
        costs: list[Wholes] = [np.full(self.last + 1, _NEVER, dtype=np.int64)]
        costs[0][0] = 0
        for period, needed in enumerate(self.needed):
            now = costs[-1].copy()
            if self.most[period] >= self.least:
                sent = _least_below(costs[-1], self.least, self.most[period])
                np.minimum(now, sent + self.set_up[period], out=now)
            reached = now < _NEVER
            reached[:needed] = False
            now[reached] += sums[reached] + self.taken[period]
            now[~reached] = _NEVER
            costs.append(now)
        return LotPlan(case=self.case, send=self._walked_back(costs))

    def _walked_back(self, costs: list[Wholes]) -> tuple[Fraction, ...]:
        at = int(np.argmin(costs[-1]))
        if costs[-1][at] >= _NEVER:
            raise FaultError("a plan that can be met was not found")
        send = []
        for period in range(len(self.needed) - 1, -1, -1):
            before = costs[period]
            window = before[max(0, at - self.most[period]) : max(0, at - self.least + 1)]
            lot = 0
            if len(window):
                back = int(np.argmin(window[::-1]))
                if window[len(window) - 1 - back] + self.set_up[period] < before[at]:
                    lot = self.least + back
            send.append(lot * self.castings)
            at -= lot
        return tuple(reversed(send))


def recursion_of(case: LotCase) -> Recursion | None:
    """The case in whole numbers; None where it has too many sums to look at, or costs too large."""
    most_units = case.most_units or ()
    measured = [*case.needed, case.least_units, *most_units]
    grain = _common_measure(measured) or Fraction(1)
    last = int((case.needed[-1] + case.least_units) / grain)
    if last * len(case.demand) > MOST_SUMS:
        return None
    kept = case.holding * case.good_a_unit * grain
    taken = [case.holding * (case.on_hand - gone) for gone in accumulate(case.demand)]
    parts = math.lcm(*(each.denominator for each in (*case.set_up, kept, *taken)))
    dearest = parts * (
        sum(case.set_up) + len(taken) * last * kept + sum(abs(each) for each in taken)
    )
    if dearest >= _NEVER:
        return None
    return Recursion(
        case=case,
        castings=case.unit * grain,
        needed=tuple(int(each / grain) for each in case.needed),
        least=max(1, int(case.least_units / grain)),
        most=tuple(min(last, int(each / grain)) for each in most_units) or (last,) * len(taken),
        last=last,
        set_up=tuple(int(parts * each) for each in case.set_up),
        kept=int(parts * kept),
        taken=tuple(int(parts * each) for each in taken),
    )


def _common_measure(amounts: Iterable[Fraction]) -> Fraction:
    """The largest fraction of which each is a whole number; zero where all are zero.

    >>> _common_measure([Fraction(3, 4), Fraction(1, 2), Fraction(0)])
    Fraction(1, 4)
    """
    listed = list(amounts)
    below = math.lcm(*(each.denominator for each in listed))
    return Fraction(math.gcd(*(int(each * below) for each in listed)), below)


def _least_below(costs: Wholes, least: int, most: int) -> Wholes:
    """For each sum, the least cost of the sums from `most` to `least` below it.

    The least in a window that moves by one is the lesser of two running ones: from its start to
    the end of a block, and from there to its end (M. van Herk, Pattern Recognition Letters 13
    (1992) 517-521).
    """
    wide = most - least + 1
    count = len(costs)
    blocks = -(-(count + most) // wide)
    padded = np.full(blocks * wide, _NEVER, dtype=np.int64)
    padded[most : most + count] = costs[: len(padded) - most]
    table = padded.reshape(blocks, wide)
    forth = np.minimum.accumulate(table, axis=1).ravel()
    back = np.minimum.accumulate(table[:, ::-1], axis=1)[:, ::-1].ravel()
    return np.minimum(back[:count], forth[wide - 1 : wide - 1 + count])
