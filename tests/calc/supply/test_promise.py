"""Promises: laws over days, yields and their sums, against scipy.stats and plain enumeration."""

from __future__ import annotations

import itertools
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kitwright.calc.supply.days import (
    DaysLaw,
    arrival,
    here_now,
    triangle,
)
from kitwright.calc.supply.lateness import lateness
from kitwright.calc.supply.promise import Coming, Needed, arrived, enough_by, promise
from kitwright.calc.supply.yields import YieldLaw, learn_yield
from kitwright.errors import InputError

# ── days ─────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("least", "likely", "most"), [(3, 5, 12), (0, 0, 9), (2.5, 8, 8)])
def test_lead_times_follow_the_triangle_as_scipy_has_it(least, likely, most):
    law = triangle(least, likely, most, days=20)
    shape = (likely - least) / (most - least)
    reference = stats.triang(shape, loc=least, scale=most - least).cdf(np.arange(21))
    np.testing.assert_allclose(law.by, reference, atol=1e-14)


def test_a_certain_lead_time_is_certain():
    assert triangle(7, 7, 7).day(1.0) == 7
    assert here_now().day(1.0) == 0


@pytest.mark.parametrize("wrong", [(5, 3, 9), (-1, 2, 3), (1, 2, np.nan)])
def test_lead_times_out_of_order_are_refused(wrong):
    with pytest.raises(InputError, match=r"lead_days: .*give least, likely and most in order"):
        triangle(*wrong)


def test_lateness_is_the_conjugate_law_worked_by_brute_force():
    """Posterior predictive by quadrature over mean and spread of the same prior and data."""
    seen = np.array([2.0, 9.0, -1.0, 5.0])
    late = lateness(seen, prior_mean=3, prior_spread=7, prior_count=2)
    k0, m0, s0 = 2.0, 3.0, 7.0
    mean = np.linspace(-80, 90, 1701)[:, None]
    variance = np.exp(np.linspace(np.log(0.5), np.log(6e4), 1201))[None, :]
    log = (
        -(k0 / 2 + 1) * np.log(variance)
        - k0 * s0**2 / (2 * variance)
        - 0.5 * np.log(variance)
        - k0 * (mean - m0) ** 2 / (2 * variance)
        + np.log(variance)  # of the grid in its logarithm
    )
    for each in seen:
        log = log - 0.5 * np.log(variance) - (each - mean) ** 2 / (2 * variance)
    weight = np.exp(log - log.max())
    for days in (-4.0, 4.0, 15.0):
        below = stats.norm.cdf((days - mean) / np.sqrt(variance))
        assert late.by(np.array([days]))[0] == pytest.approx(
            float((weight * below).sum() / weight.sum()), abs=2e-4
        )


def test_many_batches_outweigh_what_was_thought_before():
    rng = np.random.default_rng(3)
    late = lateness(rng.normal(10, 2, 4000))
    assert (late.mean, late.scale) == pytest.approx((10, 2), abs=0.15)


def test_a_batch_that_has_not_come_will_not_come_yesterday():
    late = lateness([1, 2, 3, 2])
    law = arrival(-3, late)  # three days overdue
    assert law.chance.sum() == pytest.approx(1, abs=1e-3)
    assert law.by[0] > 0.05
    fresh = late.by(np.arange(5) + 3.5)
    before = late.by(np.array([2.5]))[0]
    np.testing.assert_allclose(law.by[:5], (fresh - before) / (1 - before), rtol=1e-12)
    hopeless = arrival(-4000, lateness([0.0] * 200, prior_spread=0.1))
    assert hopeless.by[-1] == pytest.approx(1, abs=1e-6)
    assert hopeless.day(0.9) < 10


def test_inspecting_delays_what_came():
    late = lateness([0, 1])
    assert arrival(5, late, extra=3).by[12] == pytest.approx(arrival(5, late).by[9])


# ── yields ───────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("a", "b", "n"), [(0.5, 0.5, 7), (46, 4, 50), (900.0, 31.0, 200)])
def test_good_bells_follow_the_beta_binomial_as_scipy_has_it(a, b, n):
    law = YieldLaw(a=a, b=b, batches=1, bells=1)
    reference = stats.betabinom(n, a, b).pmf(np.arange(n + 1))
    np.testing.assert_allclose(law.good(n), reference, rtol=1e-9, atol=1e-14)


def test_the_chances_of_a_great_batch_add_up_to_one():
    assert YieldLaw(a=46, b=4, batches=1, bells=1).good(500_000).sum() == pytest.approx(
        1, abs=1e-14
    )


def test_batches_that_differ_more_than_chance_widen_the_law():
    """Most likely: no other beta law on a fine grid makes what was seen likelier."""
    good, made = [48, 31, 50, 39, 49, 20], [50, 50, 52, 50, 50, 50]
    law = learn_yield(good, made)
    assert law.a + law.b < 30

    def likely(a, b):
        return sum(stats.betabinom(n, a, b).logpmf(k) for k, n in zip(good, made, strict=True))

    best = likely(law.a, law.b)
    for a, b in itertools.product(np.geomspace(0.2, 5, 15), repeat=2):
        assert likely(law.a * a, law.b * b) <= best + 1e-9


def test_batches_that_differ_no_more_than_chance_share_one_law():
    law = learn_yield([45, 46, 44, 45], [50, 50, 50, 50])
    assert (law.a, law.b) == (180.5, 20.5)
    assert learn_yield([], []).mean == 0.5
    assert learn_yield([50], [50]).mean == pytest.approx(50.5 / 51)


@pytest.mark.parametrize(
    ("good", "made"), [([10, 10, 0], [10, 10, 10]), ([1, 0, 0, 0], [1, 5, 5, 5])]
)
def test_a_few_batches_do_not_show_that_each_is_all_good_or_none(good, made):
    """Most likely is a law whose batches are whole or lost; it is kept to what may be learned:
    the likeliest of those with a + b = 1, Jeffreys' spread, as scipy's beta-binomial has it."""
    law = learn_yield(good, made)
    assert law.a + law.b == pytest.approx(1)
    assert law.good(24)[1:-1].sum() > 0.2

    def likely(a):
        return sum(stats.betabinom(n, a, 1 - a).logpmf(k) for k, n in zip(good, made, strict=True))

    assert all(likely(law.a) >= likely(a) - 1e-9 for a in np.linspace(0.01, 0.99, 99))


@pytest.mark.parametrize(("good", "made"), [([3], [2]), ([-1], [2]), ([1, 2], [3])])
def test_yields_that_cannot_be_are_refused(good, made):
    with pytest.raises(InputError, match="good"):
        learn_yield(good, made)


# ── promises ─────────────────────────────────────────────────────────────────────────────

LAWS = st.lists(st.floats(0.01, 1), min_size=2, max_size=4).map(
    lambda weights: np.array(weights) / sum(weights)
)


@given(st.lists(st.tuples(LAWS, LAWS), min_size=1, max_size=3), st.integers(1, 6))
@settings(max_examples=60, deadline=None)
def test_enough_by_is_what_counting_every_case_gives(batches, short):
    coming = [
        Coming(name=str(k), arrives=DaysLaw(chance=days), good=good)
        for k, (days, good) in enumerate(batches)
    ]
    found = enough_by(short, coming, days=4)
    for day in range(5):
        total = 0.0
        cases = [
            [
                (p * q, d, g)
                for d, p in enumerate(each.arrives.chance)
                for g, q in enumerate(each.good)
            ]
            for each in coming
        ]
        for case in itertools.product(*cases):
            if sum(g for _, d, g in case if d <= day) >= short:
                total += float(np.prod([p for p, _, _ in case]))
        assert found[day] == pytest.approx(total, abs=1e-12)


def batch(name="B-1", due=10, count=20, good=18, late=(0, 2, 1)):
    law = learn_yield([good], [count])
    return Coming(name=name, arrives=arrival(due, lateness(late)), good=law.good(count))


def test_many_bells_take_no_more_room_than_their_law():
    """3,000 bells: beside the law itself, days by bells, only what is worked at once."""
    good = YieldLaw(a=9, b=1, batches=3, bells=90).good(1000)
    coming = [Coming(name="", arrives=arrival(5, lateness([])), good=good)] * 3
    tracemalloc.start()
    law = arrived(coming, days=730)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    np.testing.assert_allclose(law.sum(axis=1), 1, atol=1e-9)
    assert peak < law.nbytes + 80e6


def test_a_free_bell_is_promised_today():
    found = promise(ahead=2, on_shelf=3, coming=[])
    assert (found.day, found.chance, found.brings) == (0, 1.0, [("", 1.0)])


def test_without_a_bell_to_come_nothing_is_promised():
    found = promise(ahead=0, on_shelf=0, coming=[])
    assert (found.day, found.chance) == (None, None)
    assert not found.bell.any()
    late = promise(ahead=30, on_shelf=0, coming=[batch()])
    assert late.day is None


def test_the_day_is_the_first_that_holds():
    found = promise(ahead=5, on_shelf=1, coming=[batch(), batch("B-2", due=40)], wanted=0.95)
    assert found.ready[found.day] >= 0.95 > found.ready[found.day - 1]
    assert found.chance == found.ready[found.day]
    assert dict(found.brings)["B-1"] > 0.99
    assert sum(share for _, share in found.brings) <= 1 + 1e-12


def test_a_surer_day_is_a_later_one_and_more_ahead_is_no_sooner():
    days = [
        promise(ahead=10, on_shelf=0, coming=[batch()], wanted=wanted).day
        for wanted in (0.5, 0.8, 0.9, 0.95)
    ]
    assert days == sorted(days)
    waits = [promise(ahead=n, on_shelf=0, coming=[batch()]).ready for n in range(20)]
    for one, other in itertools.pairwise(waits):
        assert (other <= one + 1e-12).all()


def test_a_part_that_is_short_holds_the_order_up():
    slow = Needed(name="flywheel", arrives=triangle(20, 30, 60))
    quick = Needed(name="fork", arrives=here_now())
    found = promise(ahead=0, on_shelf=1, coming=[], needed=[quick, slow], wanted=0.9)
    assert found.slowest == "flywheel"
    assert found.day == triangle(20, 30, 60).day(0.9)
    both = promise(ahead=0, on_shelf=0, coming=[batch()], needed=[slow])
    np.testing.assert_allclose(both.ready, both.bell * both.parts)


def test_drawing_the_future_many_times_agrees():
    """Monte Carlo of the same story, seed kept; three standard errors."""
    rng = np.random.default_rng(11)
    runs = 40_000
    late, law = lateness([0, 4, 2]), YieldLaw(a=18, b=3, batches=3, bells=60)
    coming = [
        Coming(name="B-1", arrives=arrival(6, late), good=law.good(8)),
        Coming(name="B-2", arrives=arrival(15, late), good=law.good(8)),
    ]
    found = promise(ahead=7, on_shelf=1, coming=coming)
    have = np.zeros((runs, 60))
    for each in coming:
        chance = np.append(each.arrives.chance, max(0, 1 - each.arrives.chance.sum()))
        days = rng.choice(len(chance), runs, p=chance / chance.sum())
        good = rng.choice(len(each.good), runs, p=each.good)
        have += np.where(days[:, None] <= np.arange(60), good[:, None], 0)
    seen = (have >= 7).mean(axis=0)
    error = np.sqrt(seen * (1 - seen) / runs) + 1e-3
    assert (np.abs(seen - found.bell[:60]) < 3 * error).all()


@pytest.mark.parametrize(
    "wrong", [{"ahead": -1}, {"on_shelf": -1}, {"wanted": 0.0}, {"wanted": 1.0}]
)
def test_bad_numbers_are_refused(wrong):
    with pytest.raises(InputError):
        promise(**{"ahead": 0, "on_shelf": 0, "coming": [], **wrong})
