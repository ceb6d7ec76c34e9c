"""Lots of castings over time: what a plan must keep to, what it costs, and the least plan for lots
in given periods. Exact: whole numbers and fractions, never a float.

Every casting sent becomes good with the mean share `good_share`; demand is met from what is left
and from the period's own lot, on the mean; what is left at a period's end is paid for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate

from kitwright.errors import InputError

Amounts = tuple[Fraction, ...]


@dataclass(frozen=True, kw_only=True)
class LotCase:
    """What is wanted in each period, and what lots may be.

    `demand` and `on_hand` are good bells; `capacity`, `least` and `step` are castings: a lot is at
    most its period's capacity, at least `least`, and a multiple of `step` where one is given.
    `set_up` (by period) and `holding` (one bell left for one period) are money in any one unit.

    Raises
    ------
    InputError
        No period, lists of other lengths, or a number out of its range.
    """

    demand: Amounts
    set_up: Amounts
    holding: Fraction
    good_share: Fraction = Fraction(1)
    on_hand: Fraction = Fraction(0)
    capacity: Amounts | None = None
    least: Fraction = Fraction(0)
    step: int | None = None

    def __post_init__(self) -> None:
        count = len(self.demand)
        if not count:
            raise InputError("demand", "none given", "give one period or more")
        for name, listed in (("set_up_cost", self.set_up), ("capacity", self.capacity)):
            if listed is not None and len(listed) != count:
                raise InputError(
                    name, f"{len(listed)} given for {count} periods", f"give one, or {count}"
                )
        for name, values in (
            ("demand", self.demand),
            ("set_up_cost", self.set_up),
            ("capacity", self.capacity or ()),
            ("holding_cost", (self.holding,)),
            ("on_hand", (self.on_hand,)),
            ("minimum_lot", (self.least,)),
        ):
            if any(value < 0 for value in values):
                raise InputError(name, "below zero", "give zero or more")
        if not 0 < self.good_share <= 1:
            raise InputError("yield", f"{float(self.good_share):g}", "give above 0, at most 1")
        if self.step is not None and self.step < 1:
            raise InputError("whole", f"{self.step}", "give castings a crate, one or more")

    # ── in units: a crate, or one casting where lots may be of any size ──────────────────────

    @cached_property
    def unit(self) -> int:
        """Castings in one unit."""
        return self.step or 1

    @cached_property
    def good_a_unit(self) -> Fraction:
        """Good bells to expect of one unit."""
        return self.good_share * self.unit

    @cached_property
    def net(self) -> Amounts:
        """Demand of each period that the bells on hand do not meet."""
        before = (Fraction(0), *self.short[:-1])
        return tuple(now - then for now, then in zip(self.short, before, strict=True))

    @cached_property
    def short(self) -> Amounts:
        """Good bells that must have come by the end of each period."""
        return tuple(max(Fraction(0), total - self.on_hand) for total in accumulate(self.demand))

    @cached_property
    def fixed_left(self) -> Amounts:
        """Bells on hand that no demand has taken by the end of each period."""
        gone = accumulate(self.demand)
        return tuple(max(Fraction(0), self.on_hand - total) for total in gone)

    @cached_property
    def needed(self) -> Amounts:
        """Units that must have been sent by the end of each period."""
        return tuple(self._up(short / self.good_a_unit) for short in self.short)

    @cached_property
    def least_units(self) -> Fraction:
        """Units in the smallest lot allowed."""
        return self._up(self.least / self.unit)

    @cached_property
    def most_units(self) -> Amounts | None:
        """Units in the largest lot allowed in each period; zero where none is."""
        if self.capacity is None:
            return None
        most = [self._down(each / self.unit) for each in self.capacity]
        return tuple(each if each >= self.least_units else Fraction(0) for each in most)

    @property
    def is_free(self) -> bool:
        """Whether a lot may be of any size."""
        return self.capacity is None and self.step is None and not self.least

    def _up(self, units: Fraction) -> Fraction:
        return units if self.step is None else Fraction(math.ceil(units))

    def _down(self, units: Fraction) -> Fraction:
        return units if self.step is None else Fraction(math.floor(units))


@dataclass(frozen=True, kw_only=True)
class LotPlan:
    """Castings to send in each period, and what comes of them."""

    case: LotCase
    send: Amounts

    @cached_property
    def good(self) -> Amounts:
        """Good bells to expect of each lot."""
        return tuple(each * self.case.good_share for each in self.send)

    @cached_property
    def left(self) -> Amounts:
        """Good bells left at each period's end, below zero where demand is not met."""
        come, gone = accumulate(self.good), accumulate(self.case.demand)
        return tuple(self.case.on_hand + a - b for a, b in zip(come, gone, strict=True))

    @cached_property
    def set_up_cost(self) -> Fraction:
        """For the lots, each once."""
        return sum(
            (cost for cost, each in zip(self.case.set_up, self.send, strict=True) if each),
            Fraction(0),
        )

    @cached_property
    def holding_cost(self) -> Fraction:
        """For what is left, period by period."""
        return self.case.holding * sum(self.left)

    @property
    def total_cost(self) -> Fraction:
        return self.set_up_cost + self.holding_cost

    @property
    def keeps(self) -> bool:
        """Whether it meets every demand, and every lot is of a size that is allowed."""
        case = self.case
        most = case.most_units or (None,) * len(self.send)
        return all(left >= 0 for left in self.left) and all(
            not each
            or (
                case.least_units <= each / case.unit
                and (high is None or each / case.unit <= high)
                and (case.step is None or each % case.step == 0)
            )
            for each, high in zip(self.send, most, strict=True)
        )


@dataclass(frozen=True, kw_only=True)
class Shortfall:
    """The first period whose demand cannot be met, however much is sent."""

    period: int
    bells: Fraction
    castings: Fraction


def shortfall(case: LotCase) -> Shortfall | None:
    """Where capacity first fails and by how much; None where it suffices.

    Sending as much as is allowed in every period leaves the least to want in each, so the first
    period that fails then fails with any plan.
    """
    if case.most_units is None:
        return None
    for number, (sent, needed, short) in enumerate(
        zip(accumulate(case.most_units), case.needed, case.short, strict=True), start=1
    ):
        if sent < needed:
            missing = short - sent * case.good_a_unit
            return Shortfall(period=number, bells=missing, castings=(needed - sent) * case.unit)
    return None


def least_plan(case: LotCase, opened: Sequence[bool]) -> LotPlan | None:
    """The plan with least stock whose lots come in just the `opened` periods; None if there is
    none.

    What was sent by each period's end, as a running sum, must be what is needed, rise by at least
    the smallest lot and at most the largest one. Of all such sums one is least in every period:
    what later periods need is handed back past what they can take themselves, then the smallest
    lots are handed on.
    """
    least = case.least_units
    most = case.most_units or (case.needed[-1] + least,) * len(opened)
    low = list(case.needed)
    for period in range(len(low) - 1, 0, -1):
        room = most[period] if opened[period] else Fraction(0)
        low[period - 1] = max(low[period - 1], low[period] - room)
    sent: list[Fraction] = []
    before = Fraction(0)
    for period, wanted in enumerate(low):
        now = max(wanted, before + least) if opened[period] else before
        if now < wanted or (opened[period] and now - before > most[period]):
            return None
        sent.append((now - before) * case.unit)
        before = now
    return LotPlan(case=case, send=tuple(sent))
