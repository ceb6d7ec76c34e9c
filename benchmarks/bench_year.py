"""A year simulated 10 000 times, over a plain queue of events run after run."""

from __future__ import annotations

import random

import numpy as np

from benchmarks.plain_year import plain_year
from benchmarks.ratios import ratio, report
from kitwright.calc.supply.demand import KnownRate
from kitwright.calc.supply.year import BLOCK, Late, Policy, ShopNow, UnderWay, simulate
from kitwright.calc.supply.yields import YieldLaw

SHOP = ShopNow(
    bells=20,
    waiting=0,
    castings=60,
    under_way=(UnderWay(due=14, count=20),),
    kits=KnownRate(rate=2.0),
    loose_per_week=1.0,
    share_good=YieldLaw(a=45, b=5, batches=3, bells=50),
    late=Late(mean=3, scale=5, freedom=6),
    machining_days=35,
    crate=30,
    crate_days=28,
)
POLICY = Policy(send_at=15, lot=20, crates_at=30, reserve=8)
RUNS = 10_000
PLAIN = 100


def ours() -> None:
    for block in range(RUNS // BLOCK):
        simulate(SHOP, POLICY, seed=1, block=block)


def plain() -> None:
    """A hundredth of the runs, with the standard library's chances."""
    chance = random.Random(1)

    def days(per_week: float) -> list[int]:
        found, at = [], chance.expovariate(per_week / 7)
        while at < SHOP.days:
            found.append(int(at))
            at += chance.expovariate(per_week / 7)
        return found

    def late() -> int:
        half = SHOP.late.freedom / 2
        spread = (SHOP.late.freedom / 2 / chance.gammavariate(half, 1)) ** 0.5
        return round(SHOP.late.mean + SHOP.late.scale * chance.gauss(0, 1) * spread)

    def good(count: int) -> int:
        share = chance.betavariate(SHOP.share_good.a, SHOP.share_good.b)
        return sum(chance.random() < share for _ in range(count))

    for _ in range(PLAIN):
        plain_year(
            SHOP,
            POLICY,
            kits=days(2.0),
            loose=days(SHOP.loose_per_week),
            first=[(max(0, each.due + late()), good(each.count)) for each in SHOP.under_way],
            batch=lambda _: (max(1, SHOP.machining_days + late()), good(POLICY.lot)),
        )


def test_ten_thousand_years() -> None:
    """Wanted: 20 times faster than the plain queue; its time is of a hundredth of the runs."""
    faster = ratio(plain, ours) * RUNS / PLAIN
    report("a plain queue of events over ours, 10 000 years", faster, "at least 20")
    assert np.isfinite(faster)
    assert faster >= 20
