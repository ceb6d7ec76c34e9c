"""A year of the shop: run by run against a plain queue of events, and what must hold of any."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from benchmarks.plain_year import plain_year
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kitwright.calc.supply.days import arrival
from kitwright.calc.supply.demand import KnownRate, learn_demand
from kitwright.calc.supply.lateness import lateness
from kitwright.calc.supply.year import (
    Draws,
    Late,
    Policy,
    ShopNow,
    UnderWay,
    Years,
    simulate,
)
from kitwright.calc.supply.yields import YieldLaw
from kitwright.errors import InputError

SHOP = {
    "bells": 12, "waiting": 1, "castings": 60, "under_way": (UnderWay(due=14, count=20),),
    "kits": KnownRate(rate=2.0), "loose_per_week": 1.0,
    "share_good": YieldLaw(a=45, b=5, batches=3, bells=150),
    "late": Late(mean=3, scale=5, freedom=6), "machining_days": 35, "crate": 30,
    "crate_days": 28, "days": 200,
}  # fmt: skip
POLICY = {"send_at": 15, "lot": 20, "crates_at": 30, "reserve": 6}


def shop(**more):
    return ShopNow(**{**SHOP, **more})


def policy(**more):
    return Policy(**{**POLICY, **more})


@given(
    bells=st.integers(0, 30),
    waiting=st.integers(0, 5),
    castings=st.integers(0, 80),
    rate=st.floats(0, 9),
    loose=st.floats(0, 5),
    lot=st.integers(1, 40),
    send_at=st.integers(-3, 40),
    crates_at=st.integers(0, 60),
    reserve=st.integers(0, 15),
    crate_days=st.integers(1, 50),
    seed=st.integers(0, 1000),
)
@settings(max_examples=40, deadline=None)
def test_every_run_is_what_a_queue_of_events_makes_of_the_same_chances(
    bells, waiting, castings, rate, loose, lot, send_at, crates_at, reserve, crate_days, seed
):
    waiting = 0 if bells else waiting  # none waits while a bell is on the shelf
    here = shop(
        bells=bells, waiting=waiting, castings=castings, kits=KnownRate(rate=rate),
        loose_per_week=loose, crate_days=crate_days, days=90,
    )  # fmt: skip
    how = policy(lot=lot, send_at=send_at, crates_at=crates_at, reserve=reserve)
    runs = 4
    years = simulate(here, how, seed=seed, block=0, runs=runs)
    draws = Draws(here, how, seed=seed, block=0, runs=runs)
    firsts = [draws.first_batch(place) for place in range(len(here.under_way))]
    for run in range(runs):

        def batch(number, run=run):
            which = np.array([run])
            back, good = draws.batch(np.full(runs, number), which)
            return int(back[0]), int(good[0])

        plain = plain_year(
            here,
            how,
            kits=[d for d in range(90) for _ in range(draws.kits[d, run])],
            loose=[d for d in range(90) for _ in range(draws.loose[d, run])],
            first=[(int(day[run]), int(good[run])) for day, good in firsts],
            batch=batch,
        )
        told = {
            "asked": years.asked[run], "at_once": years.at_once[run],
            "waited": years.waited[run], "days_short": years.days_short[run],
            "loose": years.loose[run], "batches": years.batches[run],
            "crates": years.crates[run], "bells": years.bells[run, -1],
            "waiting": years.waiting[run, -1],
        }  # fmt: skip
        assert told == vars(plain)


@pytest.mark.parametrize("due", [14, 0, -12, -60, -4000])
def test_a_batch_under_way_comes_as_the_promise_reckons_it(due):
    """The law of `days.arrival`, which asks what has not come yet; its own machinist's, not the
    shop's. Kolmogorov's distance of 40,000 draws stays below 1.95/√n but once in a thousand."""
    learnt = lateness([1, 0, 4, 2, 2, -1] * 12 if due == -4000 else [0, 3, 5, 2, 9])
    late = Late(mean=learnt.mean, scale=learnt.scale, freedom=learnt.freedom)
    here = shop(under_way=(UnderWay(due=due, count=20, late=late, to_inspect=2),))
    draws = Draws(here, policy(), seed=11, block=0, runs=40_000)
    day, _ = draws.first_batch(0)
    by = arrival(due, learnt, extra=2).by
    seen = np.searchsorted(np.sort(day), np.arange(len(by)), side="right") / len(day)
    assert day.min() >= 2
    assert np.abs(seen - by).max() < 1.95 / np.sqrt(len(day))


def test_demand_beyond_a_few_a_day_takes_no_more_room():
    """A thousand a week over two years and 400 runs: drawn by the day, the same Poisson law."""
    here = shop(kits=KnownRate(rate=1000.0), days=730)
    draws = Draws(here, policy(), seed=2, block=0, runs=400)
    assert draws.kits.mean() == pytest.approx(1000 / 7, rel=1e-3)
    assert draws.kits.var() == pytest.approx(1000 / 7, rel=0.02)
    tracemalloc.start()
    Draws(here, policy(), seed=2, block=0, runs=400)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40 * 730 * 400


def test_castings_and_bells_add_up_to_what_came_in():
    here, how = shop(), policy()
    years = simulate(here, how, seed=3, block=0, runs=400)
    assert (years.waiting >= 0).all()
    assert (years.bells >= 0).all()
    assert (years.castings >= 0).all()
    assert ((years.bells == 0) | (years.waiting == 0)).all()
    assert (years.castings_peak >= years.castings_mean).all()
    assert (years.loose <= years.loose_asked).all()


def test_a_block_is_the_same_wherever_it_is_worked():
    one = simulate(shop(), policy(), seed=5, block=3, runs=50)
    other = simulate(shop(), policy(), seed=5, block=3, runs=50)
    for name in Years.__dataclass_fields__:
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    another = simulate(shop(), policy(), seed=5, block=4, runs=50)
    assert (one.asked != another.asked).any()


def test_policies_meet_the_same_chances():
    """Compared policies see the same kits on the same days, and a batch of the same number of
    castings turns out alike whatever day it is sent: what differs is the policy."""
    early = simulate(shop(), policy(send_at=30), seed=5, block=0, runs=200)
    late = simulate(shop(), policy(send_at=5), seed=5, block=0, runs=200)
    np.testing.assert_array_equal(early.asked, late.asked)
    assert early.days_short.mean() < late.days_short.mean()


def test_demand_by_the_year_follows_its_law():
    """Against scipy: Poisson of a known rate; negative binomial where the rate was learned."""
    known = simulate(shop(), policy(), seed=7, block=0, runs=4000)
    mean = 2.0 * 200 / 7
    assert known.asked.mean() == pytest.approx(mean, rel=0.01)
    assert known.asked.var() == pytest.approx(mean, rel=0.08)
    demand = learn_demand([2, 1, 3, 2, 4, 0])
    learned = simulate(shop(kits=demand), policy(), seed=7, block=0, runs=4000)
    weeks = 200 / 7
    law = stats.nbinom(12.5, 6 / (6 + weeks))
    assert learned.asked.mean() == pytest.approx(law.mean(), rel=0.02)
    assert learned.asked.std() == pytest.approx(law.std(), rel=0.05)
    wild = learn_demand([0, 9, 0, 0, 8, 0, 0, 3, 0, 0])
    scattered = simulate(shop(kits=wild), policy(), seed=7, block=0, runs=4000)
    law = stats.nbinom(wild.size * weeks, wild.size / (wild.size + wild.rate))
    assert scattered.asked.mean() == pytest.approx(law.mean(), rel=0.03)
    assert scattered.asked.std() == pytest.approx(law.std(), rel=0.06)


def test_service_from_a_full_shelf_is_the_base_stocks():
    """One for one: every kit sends one casting at once, all good, back after a fixed time; the
    share served at once is Poisson's P(D <= S - 1) (Palm; days make it a little coarser)."""
    stock, rate, back = 6, 2.0, 14
    here = shop(
        bells=stock, waiting=0, castings=100_000, under_way=(), kits=KnownRate(rate=rate),
        loose_per_week=0.0, share_good=YieldLaw(a=1e9, b=1e-6, batches=1, bells=1),
        late=Late(mean=0, scale=1e-9, freedom=10), machining_days=back, days=1500,
    )  # fmt: skip
    how = policy(send_at=stock - 1, lot=1, reserve=0, crates_at=0)
    years = simulate(here, how, seed=1, block=0, runs=60)
    share = years.at_once.sum() / years.asked.sum()
    assert share == pytest.approx(stats.poisson(rate * back / 7).cdf(stock - 1), abs=0.05)


def test_loose_sales_open_for_good():
    always = simulate(shop(bells=5000), policy(), seed=1, block=0, runs=10)
    assert (always.opened == 0).all()
    never = simulate(
        shop(bells=0, castings=0, under_way=()), policy(crates_at=-1), seed=1, block=0, runs=10
    )
    assert (never.opened == 200).all()
    assert never.days_short.min() > 0


@pytest.mark.parametrize(
    ("here", "how", "words"),
    [
        ({}, {"lot": 0}, "lot: 0; give 1 or more"),
        ({"crate": 0}, {}, "crate: 0"),
        ({"days": 0}, {}, "days: 0"),
        ({"machining_days": 0}, {}, "machining_days"),
        ({}, {"reserve": -1}, "reserve"),
    ],
)
def test_numbers_that_no_shop_has_are_refused(here, how, words):
    with pytest.raises(InputError, match=words):
        simulate(shop(**here), policy(**how), seed=1, block=0, runs=1)
