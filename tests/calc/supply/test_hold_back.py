"""Demand learned from counts, and bells held back, against tables, scipy.stats and textbooks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kitwright.calc.supply.days import arrival
from kitwright.calc.supply.demand import Demand, KnownRate, learn_demand, over_lead_time
from kitwright.calc.supply.hold_back import by_margins, held, opens_on, to_hold
from kitwright.calc.supply.lateness import lateness
from kitwright.calc.supply.promise import Coming
from kitwright.errors import InputError


def poisson(mean: float, most: int = 80) -> np.ndarray:
    return stats.poisson(mean).pmf(np.arange(most + 1))


# Base stock with Poisson demand over the lead time, mean 4: share served at once, shortages,
# stock on hand. By the theory of Palm and Feeney, worked to four digits.
BASE_STOCK = {
    4: (0.4335, 0.7815, 0.7815),
    5: (0.6288, 0.4103, 1.4103),
    6: (0.7851, 0.1954, 2.1954),
    7: (0.8893, 0.0848, 3.0848),
    8: (0.9489, 0.0336, 4.0336),
    9: (0.9786, 0.0123, 5.0123),
    10: (0.9919, 0.0041, 6.0041),
}


@pytest.mark.parametrize("history", [[2, 1, 3, 0, 2, 4, 1, 2], [0, 9, 0, 0, 12, 1, 0, 5]])
def test_a_kit_finds_a_bell_as_often_as_counting_kits_tells(history):
    """A kit's chance is the mean over kits, not over days. Of a rate that is not known: the
    integral of rate times Poisson's P(D < S) over the rate's gamma law. Of orders of several: each
    kit behind those of the lead time and those before it in its own order (logarithmic law)."""
    demand, lead, bells = learn_demand(history), np.array([0.0, 1.0]), 8
    law = over_lead_time(demand, lead, 1 / 3, 4000)
    seen = over_lead_time(demand, lead, 1 / 3, 4000, before_a_kit=True)
    if demand.size is None:
        rate = stats.gamma(0.5 + demand.total, scale=1 / demand.periods)
        served = rate.expect(lambda x: x * stats.poisson(3 * x).cdf(bells - 1)) / rate.mean()
    else:
        share = demand.rate / (demand.rate + demand.size)
        place = stats.geom(1 - share).pmf(np.arange(1, bells + 1))  # of a kit in its order
        before = stats.nbinom(3 * demand.size, 1 - share).cdf(bells - np.arange(1, bells + 1))
        served = float(place @ before)
    assert held(law, bells, found=seen).fill_rate == pytest.approx(served, rel=1e-6)
    assert held(law, bells).fill_rate > served + 0.01
    counts = np.arange(len(law))
    assert served == pytest.approx((counts * law)[: bells + 1].sum() / (counts @ law), rel=1e-6)


@pytest.mark.parametrize("bells", BASE_STOCK)
def test_base_stock_by_theory(bells):
    found = held(poisson(4), bells)
    told = (found.fill_rate, found.short, found.left)
    assert told == pytest.approx(BASE_STOCK[bells], abs=1e-4)
    rounded_up = held(poisson(4) * (1 + 1e-15), 80)
    assert (rounded_up.service, rounded_up.fill_rate) == (1, 1)


# Sherbrooke, Optimal Inventory Modeling of Systems, chapter 2 (from memory): ten demands a year,
# a tenth of a year to replenish; expected backorders at 0 to 4 in stock, to three digits.
@pytest.mark.parametrize(
    ("bells", "short"), [(0, 1.0), (1, 0.368), (2, 0.104), (3, 0.023), (4, 0.004)]
)
def test_expected_backorders_of_a_pipeline_of_one(bells, short):
    assert held(poisson(1), bells).short == pytest.approx(short, abs=1e-3)


# Any table of the Poisson law (from memory).
@pytest.mark.parametrize(
    ("mean", "bells", "service"),
    [
        (2, 0, 0.1353),
        (2, 3, 0.8571),
        (2, 5, 0.9834),
        (5, 5, 0.6160),
        (10, 10, 0.5830),
        (10, 15, 0.9513),
    ],
)
def test_service_is_the_tables_poisson_sum(mean, bells, service):
    assert held(poisson(mean), bells).service == pytest.approx(service, abs=1e-4)


@given(st.floats(0.2, 20), st.floats(0.5, 0.999))
def test_the_fewest_bells_that_serve(mean, service):
    law = poisson(mean)
    bells = to_hold(law, service)
    assert held(law, bells).service >= service - 1e-9
    assert bells == 0 or held(law, bells - 1).service < service
    assert bells == stats.poisson(mean).ppf(service)


@given(st.floats(0.5, 15), st.floats(1, 100), st.floats(0, 100))
def test_margins_hold_the_bell_that_is_worth_more_held(mean, kit, loose):
    """Littlewood's rule against trying every number: expected margin of the bells is greatest."""
    law = poisson(mean)
    many = 60
    k = np.arange(len(law))

    def margin(hold):
        return kit * float(np.minimum(k, hold) @ law) + loose * (many - hold)

    best = max(margin(hold) for hold in range(many + 1))
    assert margin(min(by_margins(law, kit, loose), many)) == pytest.approx(best, rel=1e-9)


# ── demand ───────────────────────────────────────────────────────────────────────────────


def test_counts_that_scatter_as_chance_does_keep_their_rate_uncertain():
    found = learn_demand([3, 5, 2, 4, 4, 6, 3, 5])
    assert found.kind == "Poisson"
    n, total = 8, 32
    reference = stats.nbinom(total + 0.5, n / (n + 2.5)).pmf(np.arange(40))
    np.testing.assert_allclose(found.law(2.5, 39), reference, rtol=1e-9)
    assert found.mean(2.5) == pytest.approx((total + 0.5) / n * 2.5)


def test_counts_that_scatter_more_are_told_and_fitted():
    counts = [0, 9, 1, 0, 14, 2, 0, 11, 3, 0]
    found = learn_demand(counts)
    assert found.kind == "over-dispersed"
    x = np.array(counts)
    assert found.index == pytest.approx(x.var(ddof=1) / x.mean())
    assert found.chance_poisson == pytest.approx(stats.chi2.sf(9 * found.index, 9))
    reference = stats.nbinom(found.size, found.size / (found.size + found.rate))
    np.testing.assert_allclose(found.law(1, 60), reference.pmf(np.arange(61)), rtol=1e-9)

    def likely(size):
        return stats.nbinom(size, size / (size + found.rate)).logpmf(x).sum()

    assert all(likely(found.size) >= likely(found.size * f) for f in (0.5, 0.9, 1.1, 2))


def test_nothing_asked_for_is_still_no_certainty():
    found = learn_demand([0, 0, 0, 0])
    assert (found.rate, found.kind, found.index) == (0, "Poisson", None)
    assert found.law(4, 5)[0] < 1
    assert found.mean(1) == 0.125


@pytest.mark.parametrize("wrong", [[], [1.5], [-1], [np.nan]])
def test_counts_that_are_none_are_refused(wrong):
    with pytest.raises(InputError, match="history"):
        learn_demand(wrong)


def test_an_uncertain_lead_time_mixes_its_laws():
    demand = learn_demand([4, 3, 5, 4])
    lead = np.array([0.25, 0, 0, 0, 0, 0, 0, 0.75])
    law = over_lead_time(demand, lead, 7.0, 60)
    expected = 0.75 * demand.law(1, 60)
    expected[0] += 0.25
    np.testing.assert_allclose(law, expected)
    np.testing.assert_allclose(over_lead_time(demand, 3 * lead, 7.0, 60), law, rtol=1e-14)


def test_a_known_rate_is_poissons_law_over_any_time():
    asked = KnownRate(rate=3.2)
    np.testing.assert_allclose(asked.law(2.5, 40), stats.poisson(8).pmf(np.arange(41)), rtol=1e-9)
    np.testing.assert_array_equal(asked.before_a_kit(2.5, 40), asked.law(2.5, 40))
    assert asked.mean(2.5) == 8
    np.testing.assert_array_equal(KnownRate(rate=0.0).law(2.5, 2), [1, 0, 0])


# ── when loose sales open ────────────────────────────────────────────────────────────────


def sure(name: str, day: int, bells: int) -> Coming:
    good = np.zeros(bells + 1)
    good[bells] = 1
    late = lateness([0.0] * 500, prior_mean=0, prior_spread=0.01)
    return Coming(name=name, arrives=arrival(day, late), good=good)


STEADY = Demand(rate=2.0, periods=10_000, total=20_000, size=None, index=1.0, chance_poisson=0.5)


def test_they_are_open_now_where_enough_is_free():
    day = opens_on(free=20, hold=10, demand=STEADY, per_period=7, coming=[], service=0.95, days=60)
    assert day == 0


def test_they_open_when_a_batch_brings_enough():
    more = [sure("B-1", 21, 30)]
    common = {"demand": STEADY, "per_period": 7.0, "service": 0.95, "days": 60}
    assert opens_on(free=5, hold=10, coming=more, **common) == 21
    assert opens_on(free=5, hold=10, coming=[], **common) is None
    assert opens_on(free=5, hold=40, coming=more, **common) is None  # demand until then


def test_the_day_is_right_by_counting():
    """Stock of 3 and a batch of 4 on day 14, two held: P(demand by the day <= 5) by scipy."""
    day = opens_on(
        free=3, hold=2, demand=STEADY, per_period=7, coming=[sure("B", 14, 4)], service=0.6, days=90
    )
    assert day == 0  # one more than is held is free today
    later = opens_on(
        free=1, hold=2, demand=STEADY, per_period=7, coming=[sure("B", 14, 9)], service=0.9, days=90
    )
    assert later == 14
    assert stats.poisson(4).cdf(8) > 0.9
    tight = opens_on(
        free=1, hold=2, demand=STEADY, per_period=7, coming=[sure("B", 14, 7)], service=0.9, days=90
    )
    assert tight is None
    assert stats.poisson(4).cdf(6) < 0.9


def test_bad_numbers_are_refused():
    with pytest.raises(InputError, match="service"):
        to_hold(poisson(2), 1.0)
    with pytest.raises(InputError, match="is not reached"):
        to_hold(poisson(2, 3), 0.999)
    with pytest.raises(InputError, match="kit_margin"):
        by_margins(poisson(2), 0, 1)
    with pytest.raises(InputError, match="bells"):
        held(poisson(2), -1)
