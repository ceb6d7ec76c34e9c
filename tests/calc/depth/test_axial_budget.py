"""Axial budgets: a textbook stack, 200 simulated ones, and what must not change an answer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr
from scipy.stats import binom

from kitwright.calc.depth.axial_budget import PERCENTILES, Term, axial_budget
from kitwright.calc.depth.links import Link
from kitwright.calc.depth.stack_simulation import Wanted, simulate
from kitwright.errors import InputError


def term(
    sense: int, nominal: float, plus: float, minus: float | None = None, **how: object
) -> Term:
    size = Link(nominal=nominal, plus=plus, minus=plus if minus is None else minus, **how)  # type: ignore[arg-type]
    return Term(link=size, sense=1 if sense > 0 else -1)


# Shigley, Mechanical Engineering Design, Example 1-7 (9th/10th ed.; from memory): a shouldered
# screw, inches; the gap w = a - b - c - d is .005 ± .010, and with a = 1.758 at least .003.
SHOULDERED_SCREW = {
    "a": term(1, 1.750, 0.003),
    "b": term(-1, 0.750, 0.001),
    "c": term(-1, 0.120, 0.005),
    "d": term(-1, 0.875, 0.001),
}


def test_shigley_1_7() -> None:
    """5a; the chance is derived: limits at three sigma make it Phi(-2.5)."""
    found = axial_budget(SHOULDERED_SCREW, low=0.0)
    assert found.nominal == pytest.approx(0.005, abs=1e-12)
    assert found.worst_case == pytest.approx((-0.005, 0.015), abs=1e-12)
    assert found.rss == pytest.approx((-0.001, 0.011), abs=1e-12)
    assert found.mean == pytest.approx(0.005, abs=1e-12)
    assert found.sigma == pytest.approx(0.002, abs=1e-12)
    assert found.chance_outside == pytest.approx(ndtr(-2.5), rel=1e-9)
    assert found.chance_outside == pytest.approx(0.0062, abs=5e-5)
    assert found.chance_above == 0
    longer = {**SHOULDERED_SCREW, "a": term(1, 1.758, 0.003)}
    assert axial_budget(longer, low=0.003).worst_case[0] == pytest.approx(0.003, abs=1e-12)


def test_a_stack_that_just_meets_its_limits_is_never_outside() -> None:
    even = {
        name: term(each.sense, each.link.nominal, each.link.plus, spread="even")
        for name, each in SHOULDERED_SCREW.items()
    }
    found = axial_budget(even, low=-0.005, high=0.015)
    assert found.chance_outside == 0
    assert found.chance_within == 1
    # a thousandth inside the end: the corner of a cube of four, (0.001)^4 / (4! prod 2 a)
    corner = 0.001**4 / (24 * math.prod(2 * each.link.half for each in even.values()))
    inside = axial_budget(even, low=-0.004, high=0.015)
    assert inside.chance_below == pytest.approx(corner, rel=1e-9)
    assert inside.chance_outside == inside.chance_below


def test_limits_that_nothing_reaches_and_stacks_that_do_not_spread() -> None:
    rigid = {"a": term(1, 10.0, 0.0), "b": term(-1, 9.7, 0.0)}
    on = axial_budget(rigid, low=0.3, high=0.3)
    assert (on.chance_within, on.chance_outside, on.sigma) == (1, 0, 0)
    assert list(on.percentiles.values()) == pytest.approx([0.3] * len(PERCENTILES))
    assert axial_budget(rigid, low=0.300001).chance_below == 1
    assert axial_budget(rigid, high=0.299999).chance_above == 1
    assert [each.share for each in on.contributions] == [0, 0]


def test_a_process_off_the_middle_by_cpk() -> None:
    """Mean 0.1 above the middle of ±0.4 at a cpk of 1: the nearer limit is at three sigma."""
    found = axial_budget({"a": term(1, 10.0, 0.4, cpk=1.0, process_mean=10.1)}, low=9.6, high=10.4)
    assert found.sigma == pytest.approx(0.1)
    assert found.mean == pytest.approx(10.1)
    assert found.nominal == 10.0
    assert found.rss == pytest.approx((9.6, 10.4))
    assert found.chance_above == pytest.approx(ndtr(-3), rel=1e-9)
    assert found.chance_below == pytest.approx(ndtr(-5), rel=1e-9)


def test_limits_unequal_about_the_nominal() -> None:
    found = axial_budget({"a": term(-1, 5.0, 0.3, 0.1, spread="even")}, low=-5.3, high=-4.9)
    assert found.nominal == -5.0
    assert found.mean == pytest.approx(-5.1)
    assert found.worst_case == pytest.approx((-5.3, -4.9))
    assert found.chance_outside == 0


# ── simulation ───────────────────────────────────────────────────────────────────────────


def random_chain(rng: np.random.Generator) -> dict[str, Term]:
    chain = {}
    for number in range(rng.integers(1, 13)):
        half = 10 ** -rng.uniform(0, 2)
        share = rng.uniform(0, 1)
        spread = rng.choice(["normal", "even", "triangle"])
        how: dict[str, object] = {"spread": spread}
        if spread == "normal" and rng.random() < 0.5:
            how["cpk"] = rng.uniform(0.6, 2)
        chain[f"link {number}"] = term(
            rng.choice([-1, 1]), rng.uniform(0, 50), 2 * half * share, 2 * half * (1 - share), **how
        )
    return chain


def moments(chain: dict[str, Term]) -> tuple[float, float]:
    mean = sum(each.sense * each.link.mean for each in chain.values())
    return mean, math.hypot(*(each.link.sigma for each in chain.values()))


def test_200_random_stacks_by_simulation() -> None:
    """Counts are binomial; a test at 200 stacks that fails once in 1000 runs by chance."""
    rng = np.random.default_rng(54)
    draws, rare = 20_000, 1e-3 / 200
    for number in range(200):
        chain = random_chain(rng)
        mean, sigma = moments(chain)
        low = mean - rng.uniform(-0.5, 3) * sigma
        high = max(low, mean + rng.uniform(-0.5, 3) * sigma)
        found = axial_budget(chain, low=low, high=high)
        drawn = simulate(
            {name: each.link for name, each in chain.items()},
            [Wanted(senses={name: each.sense for name, each in chain.items()}, low=low, high=high)],
            draws=draws,
            seed=number,
        )
        count = round(drawn.within[0] * draws)
        assert drawn.within_all == drawn.within[0]
        at_most = binom.cdf(count, draws, found.chance_within)
        at_least = binom.sf(count - 1, draws, found.chance_within)
        assert min(at_most, at_least) > rare / 2, (number, found.chance_within, count)


def test_drawn_links_have_their_mean_and_spread() -> None:
    links = {
        "normal": Link(nominal=1, plus=0.3, minus=0.1, cpk=0.8, process_mean=1.05),
        "even": Link(nominal=2, plus=0.2, minus=0.4, spread="even"),
        "triangle": Link(nominal=3, plus=0.5, minus=0.1, spread="triangle"),
    }
    draws = 100_000
    for name, link in links.items():
        for z in (-1.0, 0.0, 0.7):
            exact = axial_budget({name: Term(link=link, sense=1)}, high=link.mean + z * link.sigma)
            drawn = simulate(
                links,
                [Wanted(senses={name: 1}, high=link.mean + z * link.sigma)],
                draws=draws,
                seed=7,
            )
            error = drawn.standard_error(exact.chance_within)
            assert abs(drawn.within[0] - exact.chance_within) < 5 * error


def test_requirements_share_their_draws() -> None:
    """Two that are one another's mirror are met together only where both are."""
    links = {"a": Link(nominal=0, plus=1, minus=1, spread="even")}
    wanted = [Wanted(senses={"a": 1}, low=0.5), Wanted(senses={"a": -1}, low=-0.5)]
    drawn = simulate(links, wanted, draws=50_000, seed=3)
    assert drawn.within_all == 0
    assert drawn.within[0] == pytest.approx(0.25, abs=0.01)
    assert drawn.within[1] == pytest.approx(0.75, abs=0.01)
    assert simulate(links, wanted, draws=50_000, seed=3) == drawn
    assert simulate(links, wanted, draws=50_000, seed=4) != drawn


# ── properties ───────────────────────────────────────────────────────────────────────────

halves = st.floats(1e-3, 1)
terms = st.builds(
    term,
    st.sampled_from([-1, 1]),
    st.floats(-50, 50),
    halves,
    halves,
    spread=st.sampled_from(["normal", "even", "triangle"]),
)
chains = st.lists(terms, min_size=1, max_size=7).map(
    lambda listed: {f"link {number}": each for number, each in enumerate(listed)}
)
gaps = st.tuples(st.floats(-3, 3), st.floats(-3, 3)).map(sorted)


def gap_of(chain: dict[str, Term], gap: list[float]) -> dict[str, float]:
    mean, sigma = moments(chain)
    return {"low": mean + gap[0] * sigma, "high": mean + gap[1] * sigma}


@given(chain=chains, gap=gaps)
def test_within_and_outside_add_up_and_bounds_nest(
    chain: dict[str, Term], gap: list[float]
) -> None:
    found = axial_budget(chain, **gap_of(chain, gap))
    assert (found.mean, found.sigma) == pytest.approx(moments(chain))
    assert found.chance_below + found.chance_above == pytest.approx(found.chance_outside, abs=1e-13)
    assert found.chance_within + found.chance_outside == pytest.approx(1, abs=1e-12)
    low, high = found.worst_case
    assert low - 1e-9 <= found.rss[0] <= found.rss[1] <= high + 1e-9
    assert sum(each.share for each in found.contributions) == pytest.approx(1)
    listed = [found.percentiles[name] for name in PERCENTILES]
    assert listed == sorted(listed)
    assert found.percentiles["50"] == found.mean


@given(chain=chains, gap=gaps)
def test_turning_every_sense_round_mirrors_everything(
    chain: dict[str, Term], gap: list[float]
) -> None:
    limits = gap_of(chain, gap)
    found = axial_budget(chain, **limits)
    turned = {name: Term(link=each.link, sense=-each.sense) for name, each in chain.items()}  # type: ignore[arg-type]
    other = axial_budget(turned, low=-limits["high"], high=-limits["low"])
    assert other.nominal == -found.nominal
    assert other.mean == -found.mean
    assert other.worst_case == pytest.approx((-found.worst_case[1], -found.worst_case[0]))
    assert other.chance_below == pytest.approx(found.chance_above, rel=1e-12)
    assert other.chance_above == pytest.approx(found.chance_below, rel=1e-12)
    assert other.percentiles["1"] == pytest.approx(-found.percentiles["99"], abs=1e-12)


@given(chain=chains, gap=gaps, moved=st.floats(-20, 20))
def test_moving_a_link_moves_the_gap_and_nothing_else(
    chain: dict[str, Term], gap: list[float], moved: float
) -> None:
    limits = gap_of(chain, gap)
    found = axial_budget(chain, **limits)
    further = {**chain, "spacer": term(1, moved, 0.0)}
    other = axial_budget(further, low=limits["low"] + moved, high=limits["high"] + moved)
    assert other.mean == pytest.approx(found.mean + moved, abs=1e-9)
    assert other.sigma == pytest.approx(found.sigma, rel=1e-13)
    assert other.chance_outside == pytest.approx(found.chance_outside, rel=1e-9, abs=1e-12)
    spacer = next(each for each in other.contributions if each.name == "spacer")
    assert spacer.share == 0
    assert spacer.chance_outside_without == pytest.approx(other.chance_outside, rel=1e-12)


@given(chain=chains, percent=st.sampled_from(PERCENTILES))
def test_percentiles_are_where_their_share_ends(chain: dict[str, Term], percent: str) -> None:
    found = axial_budget(chain, low=0)
    below = axial_budget(chain, low=found.percentiles[percent]).chance_below
    assert below == pytest.approx(float(percent) / 100, rel=1e-8, abs=1e-12)


def test_without_a_link_its_chance_goes() -> None:
    found = axial_budget(SHOULDERED_SCREW, low=0.0)
    without = {each.name: each.chance_outside_without for each in found.contributions}
    assert without["c"] == pytest.approx(ndtr(-5 / (math.sqrt(11) / 3)), rel=1e-9)
    assert without["b"] == pytest.approx(ndtr(-5 / (math.sqrt(35) / 3)), rel=1e-9)
    shares = {each.name: each.share for each in found.contributions}
    assert shares == pytest.approx({"a": 9 / 36, "b": 1 / 36, "c": 25 / 36, "d": 1 / 36})


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("how", "where", "words"),
    [
        ({"plus": -0.1, "minus": 0.1}, "plus", "negative"),
        ({"plus": 0.1, "minus": math.nan}, "minus", "not a number"),
        ({"plus": 0.1, "minus": 0.1, "cpk": 0.0}, "cpk", "above zero"),
        ({"plus": 0.1, "minus": 0.1, "spread": "even", "cpk": 1.0}, "cpk", "even"),
        ({"plus": 0.1, "minus": 0.1, "spread": "even", "process_mean": 1.0}, "mean", "even"),
        ({"plus": 0.1, "minus": 0.1, "process_mean": 1.2}, "mean", "outside"),
        ({"plus": 0.1, "minus": 0.1, "process_mean": 1.1, "cpk": 1.0}, "cpk", "on a limit"),
        ({"plus": 0.0, "minus": 0.0, "cpk": 1.0}, "cpk", "limits apart"),
        ({"plus": 0.1, "minus": 0.1, "spread": "flat"}, "spread", "not known"),
    ],
)
def test_a_bad_link_says_what_to_do(how: dict[str, object], where: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        Link(nominal=1.0, **how)  # type: ignore[arg-type]
    assert caught.value.problems[0].where == where


def test_bad_limits_say_what_to_do() -> None:
    for limits, words in (
        ({}, "neither"),
        ({"low": 1.0, "high": 0.5}, "swap"),
        ({"low": math.nan}, "no limits"),
        ({"low": math.inf}, "no limits"),
    ):
        with pytest.raises(InputError, match=words):
            axial_budget(SHOULDERED_SCREW, **limits)
    with pytest.raises(InputError, match="none given"):
        axial_budget({}, low=0)
    with pytest.raises(InputError, match="out of range"):
        simulate({}, [], draws=0, seed=1)
