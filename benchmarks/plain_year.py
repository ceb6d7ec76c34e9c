"""A shop's year as anyone would write it first: events in a queue, one run after the other.

What chance decides is handed in, so that it can be compared run by run.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kitwright.calc.supply.year import Policy, ShopNow


@dataclass
class PlainYear:
    """What came of one run."""

    asked: int = 0
    at_once: int = 0
    waited: int = 0
    days_short: int = 0
    loose: int = 0
    batches: int = 0
    crates: int = 0
    bells: int = 0
    waiting: int = 0


ARRIVES, KIT, LOOSE, CLOSE = range(4)
"""Kinds of events, in the order in which a day takes them."""


def plain_year(  # noqa: PLR0915 - one plain loop is the point
    shop: ShopNow,
    policy: Policy,
    *,
    kits: Sequence[int],
    loose: Sequence[int],
    first: Sequence[tuple[int, int]],
    batch: Callable[[int], tuple[int, int]],
) -> PlainYear:
    """One run.

    Parameters
    ----------
    kits, loose : the day of each kit and each loose bell asked for
    first : day of coming and good bells of each batch under way
    batch : number of a batch sent → days until it is back, and its good bells
    """
    told = PlainYear(bells=shop.bells, waiting=shop.waiting)
    floor, ordered = shop.castings, 0
    away = sum(each.count for each in shop.under_way)
    order = itertools.count()
    queue: list[tuple[int, int, int, tuple[int, int, int]]] = []

    def put(day: int, kind: int, what: tuple[int, int, int] = (0, 0, 0)) -> None:
        if day < shop.days:
            heapq.heappush(queue, (day, kind, next(order), what))

    for (day, good), under_way in zip(first, shop.under_way, strict=True):
        put(day, ARRIVES, (good, under_way.count, 0))
    for day in kits:
        put(day, KIT)
    for day in loose:
        put(day, LOOSE)

    def decide(day: int) -> None:
        nonlocal floor, ordered, away
        position = told.bells - told.waiting + away * shop.share_good.mean
        if position <= policy.send_at and floor >= policy.lot:
            back, good = batch(told.batches)
            put(day + back, ARRIVES, (good, policy.lot, 0))
            floor -= policy.lot
            away += policy.lot
            told.batches += 1
            put(day + 1, CLOSE)  # another may be due on the next day
        if floor + ordered <= policy.crates_at:
            told.crates += 1
            ordered += shop.crate
            put(day + shop.crate_days, ARRIVES, (0, 0, shop.crate))
            put(day + 1, CLOSE)

    put(0, CLOSE)
    closed, last = -1, 0
    while queue:
        day, kind, _, (good, count, crate) = heapq.heappop(queue)
        told.waited += told.waiting * (day - last)
        told.days_short += (day - last) if told.waiting else 0
        last = day
        if kind == ARRIVES:
            away -= count
            floor += crate
            ordered -= crate
            told.bells += good
            shipped = min(told.bells, told.waiting)
            told.bells -= shipped
            told.waiting -= shipped
            put(day, CLOSE)
        elif kind == KIT:
            told.asked += 1
            if told.bells:
                told.bells -= 1
                told.at_once += 1
            else:
                told.waiting += 1
            put(day, CLOSE)
        elif kind == LOOSE:
            if told.bells > policy.reserve:
                told.bells -= 1
                told.loose += 1
                put(day, CLOSE)
        elif day != closed:
            decide(day)
            closed = day
    told.waited += told.waiting * (shop.days - last)
    told.days_short += (shop.days - last) if told.waiting else 0
    return told
