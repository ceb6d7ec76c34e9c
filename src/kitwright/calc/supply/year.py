"""A year of the shop, day by day, many times over: stock, waiting orders, castings paid for.

All runs go through a day together, so a day costs a few array operations however many runs there
are. What a run meets depends on the seed and the block's number alone: blocks may be worked
anywhere, in any order, and give the same years.

A day: batches and crates come in; kits are asked for and wait; bells go to those who wait; what is
free beyond the reserve goes loose where it is asked for; a batch is sent when bells on hand and
under way fall to the sending point and the floor has castings for it; crates are ordered when the
floor and what is ordered fall to the ordering point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from kitwright.calc.supply.demand import Asked, Demand
from kitwright.calc.supply.yields import YieldLaw
from kitwright.errors import InputError

Counts = NDArray[np.int32] | NDArray[np.int64]

_WHOLE: Final = np.int32  # no shop has two thousand million castings; half the memory to go through

WEEK: Final = 7
STEADY: Final = 60
"""Days on end for which loose sales must be open before they count as open for good."""
_FIRST: Final = 16
_MANY_A_WEEK: Final = 21.0
_NEVER_SEEN: Final = 1e-9
BLOCK: Final = 5000
"""Runs worked together."""


@dataclass(frozen=True, kw_only=True)
class Late:
    """Days late as a t law, see `days.Lateness`."""

    mean: float
    scale: float
    freedom: float


@dataclass(frozen=True, kw_only=True)
class UnderWay:
    """A batch that is at the machinist's on the first day, and has not come before it.

    `due` is below zero where that day is past; `late` its own machinist's, or the shop's where it
    is None; `to_inspect` the days from its coming to its bells being ready.
    """

    due: int
    count: int
    late: Late | None = None
    to_inspect: int = 0


@dataclass(frozen=True, kw_only=True)
class Policy:
    """What the shop decides: when to send how many, when to order crates, what to hold back."""

    send_at: int
    """A batch is sent when bells on hand and under way, less those waited for, are no more."""
    lot: int
    """Castings in a batch."""
    crates_at: int
    """Crates are ordered when castings on the floor and ordered are no more."""
    reserve: int
    """Bells that are never sold loose."""


@dataclass(frozen=True, kw_only=True)
class ShopNow:
    """The shop on the first day, and what it meets."""

    bells: int
    waiting: int
    castings: int
    under_way: tuple[UnderWay, ...]
    kits: Asked
    """Kits asked for; a week is one period."""
    loose_per_week: float
    share_good: YieldLaw
    late: Late
    machining_days: int
    crate: int
    """Castings in a crate."""
    crate_days: int
    days: int = 365


@dataclass(frozen=True, kw_only=True)
class Years:
    """What came of n runs; shapes (n,), and (n, days) for what is followed day by day.

    `at_once` counts kits that found a bell on the day they were asked for; `opened` is the first
    day from which loose sales stayed open for `STEADY` days on end, `days` where there is none.
    """

    asked: Counts
    at_once: Counts
    waited: Counts
    """Kit-days of waiting."""
    days_short: Counts
    """Days that ended with a kit waiting."""
    loose: Counts
    loose_asked: Counts
    batches: Counts
    crates: Counts
    castings_mean: NDArray[np.float64]
    """Paid for and not yet bells: on the floor and at the machinist's."""
    castings_peak: Counts
    opened: Counts
    bells: Counts
    """At each day's end, (n, days)."""
    waiting: Counts
    castings: Counts

    @staticmethod
    def joined(parts: list[Years]) -> Years:
        """The runs of several blocks, in the blocks' order."""
        names = Years.__dataclass_fields__
        return Years(
            **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
        )


def check(shop: ShopNow, policy: Policy) -> None:
    """Refuse numbers that no shop has."""
    for where, value, least in (
        ("lot", policy.lot, 1),
        ("crate", shop.crate, 1),
        ("days", shop.days, 1),
        ("machining_days", shop.machining_days, 1),
        ("crate_days", shop.crate_days, 0),
        ("reserve", policy.reserve, 0),
    ):
        if value < least:
            raise InputError(where, f"{value}", f"give {least} or more")


def simulate(shop: ShopNow, policy: Policy, *, seed: int, block: int, runs: int = BLOCK) -> Years:
    """One block of runs, by the seed and the block's number alone."""
    check(shop, policy)
    years = _Years(shop, policy, Draws(shop, policy, seed=seed, block=block, runs=runs))
    for day in range(shop.days):
        years.receive(day)
        years.serve_kits(day)
        years.sell_loose(day)
        years.send_batches(day)
        years.order_crates(day)
        years.close(day)
    return years.told()


class _Years:
    """The state of every run on the day that is being worked."""

    def __init__(self, shop: ShopNow, policy: Policy, draws: Draws) -> None:
        self.shop, self.policy, self.draws = shop, policy, draws
        runs, days = draws.runs, shop.days

        def every(value: int) -> Counts:
            return np.full(runs, value, dtype=_WHOLE)

        self.bells, self.waiting = every(shop.bells), every(shop.waiting)
        self.floor = every(shop.castings)
        self.away = every(sum(each.count for each in shop.under_way))
        self.ordered, self.sent, self.crates = every(0), every(0), every(0)
        self.at_once, self.loose = every(0), every(0)
        self.comes = np.zeros((days, runs), dtype=_WHOLE)
        """Good bells by the day they come."""
        self.freed = np.zeros((days, runs), dtype=_WHOLE)
        """Castings that are no longer away, by that day."""
        self.crates_come = np.zeros((days, runs), dtype=_WHOLE)
        self.bells_at = np.empty((days, runs), dtype=_WHOLE)
        self.waiting_at = np.empty((days, runs), dtype=_WHOLE)
        self.castings_at = np.empty((days, runs), dtype=_WHOLE)
        for place, under_way in enumerate(shop.under_way):
            day, good = draws.first_batch(place)
            self._expect(day, good, np.arange(runs), under_way.count)

    def _expect(self, day: Counts, good: Counts, runs: NDArray[np.intp], count: int) -> None:
        """Write a batch down for the day it comes, where that is still within the year."""
        seen = day < len(self.comes)
        at = day[seen], runs[seen]  # no run twice, so that plain adding will do
        self.comes[at] += good[seen]
        self.freed[at] += count

    def receive(self, day: int) -> None:
        self.bells += self.comes[day]
        self.away -= self.freed[day]
        self.floor += self.crates_come[day]
        self.ordered -= self.crates_come[day]

    def serve_kits(self, day: int) -> None:
        asked = self.draws.kits[day]
        free = np.maximum(self.bells - self.waiting, 0)
        self.at_once += np.minimum(asked, free)
        self.waiting += asked
        shipped = np.minimum(self.bells, self.waiting)
        self.bells -= shipped
        self.waiting -= shipped

    def sell_loose(self, day: int) -> None:
        """What is free beyond the reserve; none waits while a bell is left, so none is short."""
        free = np.maximum(self.bells - self.policy.reserve, 0)
        sold = np.minimum(self.draws.loose[day], free)
        self.bells -= sold
        self.loose += sold

    def send_batches(self, day: int) -> None:
        lot = self.policy.lot
        position = self.bells - self.waiting + self.away * self.shop.share_good.mean
        sends = np.flatnonzero((position <= self.policy.send_at) & (self.floor >= lot))
        if not len(sends):
            return
        back, good = self.draws.batch(self.sent, sends)
        self._expect(day + back, good, sends, lot)
        self.floor[sends] -= lot
        self.away[sends] += lot
        self.sent[sends] += 1

    def order_crates(self, day: int) -> None:
        buys = np.flatnonzero(self.floor + self.ordered <= self.policy.crates_at)
        if not len(buys):
            return
        self.crates[buys] += 1
        comes = day + self.shop.crate_days
        if comes == day:
            self.floor[buys] += self.shop.crate
            return
        self.ordered[buys] += self.shop.crate
        if comes < self.shop.days:
            self.crates_come[comes, buys] += self.shop.crate

    def close(self, day: int) -> None:
        self.bells_at[day] = self.bells
        self.waiting_at[day] = self.waiting
        np.add(self.floor, self.away, out=self.castings_at[day])

    def told(self) -> Years:
        open_at = (self.bells_at > self.policy.reserve) & (self.waiting_at == 0)
        return Years(
            asked=self.draws.kits.sum(axis=0),
            at_once=self.at_once,
            waited=self.waiting_at.sum(axis=0),
            days_short=(self.waiting_at > 0).sum(axis=0),
            loose=self.loose,
            loose_asked=self.draws.loose.sum(axis=0),
            batches=self.sent,
            crates=self.crates,
            castings_mean=self.castings_at.mean(axis=0),
            castings_peak=self.castings_at.max(axis=0),
            opened=_opens(open_at),
            bells=self.bells_at.T,
            waiting=self.waiting_at.T,
            castings=self.castings_at.T,
        )


def _opens(open_at: NDArray[np.bool_]) -> Counts:
    """The first day from which it is open for `STEADY` days on end, for each run."""
    days = len(open_at)
    length = min(STEADY, days)
    count = np.cumsum(np.concatenate([np.zeros_like(open_at[:1]), open_at]), axis=0, dtype=_WHOLE)
    steady = count[length:] - count[:-length] == length
    return np.where(steady.any(axis=0), np.argmax(steady, axis=0), days)


class Draws:
    """All that chance decides in one block of runs, the same however it is asked for.

    The j-th batch of every run is drawn as one row when the first run sends its j-th batch.
    """

    def __init__(self, shop: ShopNow, policy: Policy, *, seed: int, block: int, runs: int) -> None:
        self.shop, self.policy, self.runs = shop, policy, runs
        self._root = (seed, block)
        rng = self._rng(0)
        self.kits = _kits(shop, rng, runs)
        """Kits asked for, (days, runs)."""
        self.loose = _scattered(np.full(runs, shop.loose_per_week), shop.days, rng)
        self._drawn = 0
        self._back = np.empty((_FIRST, runs), dtype=_WHOLE)
        self._good_of = np.empty((_FIRST, runs), dtype=_WHOLE)

    def _rng(self, *path: int) -> np.random.Generator:
        return np.random.default_rng(np.random.SeedSequence([*self._root, *path]))

    def first_batch(self, place: int) -> tuple[Counts, Counts]:
        """Day of coming and good bells of a batch that is under way on the first day."""
        batch = self.shop.under_way[place]
        law = batch.late or self.shop.late
        rng = self._rng(1, place)
        # As `days.arrival`: what could have come before the first day did not.
        left = float(stdtr(law.freedom, (batch.due + 0.5 + law.mean) / law.scale))
        if left < _NEVER_SEEN:
            comes = np.ceil(rng.exponential(law.scale, self.runs))
        else:
            beyond = stdtrit(law.freedom, left * rng.uniform(0.0, 1.0, self.runs))
            comes = np.rint(batch.due + law.mean - law.scale * beyond)
        ready = np.clip(comes, 0, 1e6).astype(_WHOLE) + batch.to_inspect
        return ready, self._good(rng, batch.count)

    def batch(self, number: Counts, which: NDArray[np.intp]) -> tuple[Counts, Counts]:
        """Days until back and good bells of the next batch of these runs; `number` sent before."""
        wanted = number[which]
        for place in range(self._drawn, int(wanted.max()) + 1):
            if place == len(self._back):
                self._back = np.concatenate([self._back, np.empty_like(self._back)])
                self._good_of = np.concatenate([self._good_of, np.empty_like(self._good_of)])
            rng = self._rng(2, place)
            self._back[place] = np.maximum(self.shop.machining_days + self._late(rng), 1)
            self._good_of[place] = self._good(rng, self.policy.lot)
            self._drawn = place + 1
        return self._back[wanted, which], self._good_of[wanted, which]

    def _late(self, rng: np.random.Generator) -> Counts:
        law = self.shop.late
        late = law.mean + law.scale * rng.standard_t(law.freedom, self.runs)
        return np.rint(np.clip(late, -1e6, 1e6)).astype(_WHOLE)

    def _good(self, rng: np.random.Generator, count: int) -> Counts:
        law = self.shop.share_good
        return rng.binomial(count, rng.beta(law.a, law.b, self.runs))


def _kits(shop: ShopNow, rng: np.random.Generator, runs: int) -> Counts:
    """Kits asked for by day and run, from the law of the demand."""
    kits = shop.kits
    if isinstance(kits, Demand) and kits.size is not None:
        draw: Callable[..., Counts] = rng.negative_binomial
        share = kits.size / (kits.size + kits.rate)
        return draw(kits.size / WEEK, share, (shop.days, runs)).astype(_WHOLE)
    if isinstance(kits, Demand):
        rate = rng.gamma(0.5 + kits.total, 1 / kits.periods, runs)
    else:
        rate = np.full(runs, kits.mean(1.0))
    return _scattered(rate, shop.days, rng)


def _scattered(per_week: NDArray[np.float64], days: int, rng: np.random.Generator) -> Counts:
    """Poisson arrivals: so many in the year, each on a day that chance picks.

    Where a day has several, as many as that are drawn for each day: the same law in less room.
    """
    runs = len(per_week)
    if per_week.max(initial=0.0) > _MANY_A_WEEK:
        return rng.poisson(per_week / WEEK, (days, runs)).astype(_WHOLE)
    totals = rng.poisson(per_week * days / WEEK)
    day = rng.integers(0, days, int(totals.sum()))
    at = day * runs + np.repeat(np.arange(runs), totals)
    return np.bincount(at, minlength=days * runs).reshape(days, runs).astype(_WHOLE)
