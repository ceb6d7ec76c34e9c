"""Lots at least cost: published plans, every way against the others, and what no plan escapes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.calc.supply import lot_plan, lot_programme
from kitwright.calc.supply.lot_plan import cheapest_plan, sureness
from kitwright.calc.supply.lot_programme import cheapest_by_programme
from kitwright.calc.supply.lot_recursion import recursion_of
from kitwright.calc.supply.lots import LotCase, LotPlan, least_plan, shortfall
from kitwright.calc.supply.wagner_whitin import cheapest_free
from kitwright.errors import InputError


def lots(demand: Sequence[Any], set_up: Any, holding: Any, **more: Any) -> LotCase:
    listed = set_up if isinstance(set_up, list) else [set_up] * len(demand)
    capacity = more.pop("capacity", None)
    if capacity is not None:
        capacity = capacity if isinstance(capacity, list) else [capacity] * len(demand)
        more["capacity"] = tuple(map(Fraction, capacity))
    exact = {
        name: Fraction(more.pop(name))
        for name in ("good_share", "on_hand", "least")
        if name in more
    }
    return LotCase(
        demand=tuple(map(Fraction, demand)),
        set_up=tuple(map(Fraction, listed)),
        holding=Fraction(holding),
        **exact,
        **more,
    )  # fmt: skip


# Wagner, Whitin, Management Science 5 (1958) 89-96, the table of their example: the least cost 864
# (found in about ten public files), the running minima and the orders (from memory).
DEMAND = [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56]
SET_UP = [85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114]
RUNNING = [85, 114, 186, 277, 348, 400, 469, 555, 600, 710, 789, 864]
ORDERS = [98, 0, 97, 0, 121, 0, 0, 112, 0, 67, 135, 0]


def test_wagner_and_whitins_example() -> None:
    case = lots(DEMAND, SET_UP, 1)
    found = cheapest_free(case)
    assert found.running == tuple(RUNNING)
    assert found.plan.send == tuple(ORDERS)
    answer = cheapest_plan(case)
    assert (answer.plan.total_cost, answer.bound, answer.exact) == (864, 864, True)
    assert recursion_of(case).cheapest().total_cost == 864
    assert cheapest_by_programme(case, nodes=1000).plan.total_cost == 864


def test_each_running_minimum_is_the_answer_for_so_many_periods() -> None:
    for count, cost in enumerate(RUNNING, start=1):
        case = lots(DEMAND[:count], SET_UP[:count], 1)
        assert cheapest_plan(case).plan.total_cost == cost


# Silver, Pyke, Peterson, Inventory Management and Production Planning: A = 54, h = 0.40 a month;
# least cost 501.20 (found in a public test suite that names the example).
SILVER = [10, 62, 12, 130, 154, 129, 88, 52, 124, 160, 238, 41]


def test_silver_and_petersons_example() -> None:
    assert cheapest_plan(lots(SILVER, 54, "0.4")).plan.total_cost == Fraction("501.2")


# Winston, Introduction to Probability Models (2004), chapter 6, example 4 (inputs found in a public
# teaching repository; from memory: 20 in all, of which 10 are a price of 1 a unit): capacity 5,
# set-up 3, 0.50 a unit left.
def test_winstons_example_with_a_capacity() -> None:
    answer = cheapest_plan(lots([1, 3, 2, 4], 3, "0.5", capacity=5, step=1))
    assert answer.plan.send == (1, 5, 0, 4)
    assert answer.plan.total_cost + sum(answer.plan.send) == 20
    assert answer.method == "every sum sent"


def brute(case: LotCase) -> Fraction | None:
    """Every plan of whole steps, tried."""
    most = int(case.needed[-1] + case.least_units)
    best = None
    for units in itertools.product(range(most + 1), repeat=len(case.demand)):
        plan = LotPlan(case=case, send=tuple(Fraction(each * case.unit) for each in units))
        if plan.keeps and (best is None or plan.total_cost < best):
            best = plan.total_cost
    return best


small = st.fixed_dictionaries(
    {
        "demand": st.lists(st.integers(0, 4), min_size=1, max_size=4),
        "set_up": st.lists(st.integers(0, 12), min_size=4, max_size=4),
        "holding": st.sampled_from(["0", "0.5", "1", "2.25"]),
        "capacity": st.none() | st.lists(st.integers(0, 5), min_size=4, max_size=4),
        "good_share": st.sampled_from(["1", "0.9", "0.75"]),
        "on_hand": st.integers(0, 3),
        "least": st.integers(0, 3),
        "step": st.sampled_from([1, 2]),
    }
)


def built(drawn: dict[str, Any], **changed: Any) -> LotCase:
    drawn = {**drawn, **changed}
    count = len(drawn["demand"])
    set_up = drawn["set_up"][:count]
    capacity = drawn["capacity"] and drawn["capacity"][:count]
    more = {name: drawn[name] for name in ("good_share", "on_hand", "least", "step")}
    return lots(drawn["demand"], set_up, drawn["holding"], capacity=capacity, **more)


@given(drawn=small)
def test_no_plan_of_whole_lots_is_cheaper(drawn: dict[str, Any]) -> None:
    case = built(drawn)
    best = brute(case)
    if best is None:
        assert shortfall(case) is not None
        with pytest.raises(InputError, match="is the first to fail"):
            cheapest_plan(case)
        return
    answer = cheapest_plan(case)
    assert answer.plan.keeps
    assert answer.plan.total_cost == answer.bound == best
    assert recursion_of(case).cheapest().total_cost == best


@settings(max_examples=25)
@given(drawn=small, step=st.sampled_from([None, 1, 2]))
def test_the_programme_finds_what_the_recursion_finds(drawn: dict[str, Any], step: Any) -> None:
    """Lots of any size too: the recursion looks at every sum that could matter, to the grain."""
    case = built(drawn, step=step)
    if shortfall(case) is None:
        found = cheapest_by_programme(case, nodes=1000)
        best = recursion_of(case).cheapest()
        assert found.plan.keeps
        assert found.plan.total_cost == best.total_cost
        assert found.bound == pytest.approx(float(best.total_cost), abs=1e-6)


prices = st.decimals(0, 200, places=2).map(Fraction)


@given(
    demand=st.lists(st.integers(0, 60), min_size=1, max_size=14),
    set_up=st.lists(prices, min_size=14, max_size=14),
    holding=st.decimals(0, 5, places=2).map(Fraction),
    on_hand=st.integers(0, 80),
    good_share=st.sampled_from(["1", "0.92", "0.5"]),
)
def test_free_lots_by_two_recursions(
    demand: list[int], set_up: list[Fraction], holding: Fraction, on_hand: int, good_share: str
) -> None:
    case = lots(demand, set_up[: len(demand)], holding, on_hand=on_hand, good_share=good_share)
    plan = cheapest_free(case).plan
    assert plan.keeps
    assert plan.total_cost == recursion_of(case).cheapest().total_cost
    # nothing is sent while bells that were sent for are left (Wagner and Whitin's first theorem)
    held = [a - b for a, b in zip(plan.left, case.fixed_left, strict=True)]
    assert all(not sent or not before for sent, before in zip(plan.send[1:], held, strict=False))


@given(drawn=small, more=st.lists(st.integers(0, 2), min_size=4, max_size=4))
def test_more_demand_never_costs_less_in_lots(drawn: dict[str, Any], more: list[int]) -> None:
    """With nothing on hand and no crates: every plan for the greater demand serves the lesser."""
    drawn = {**drawn, "on_hand": 0, "least": 0, "capacity": None}
    case = built(drawn, step=None)
    greater = [a + b for a, b in zip(drawn["demand"], more, strict=False)]
    dearer = built({**drawn, "demand": greater}, step=None)
    assert cheapest_plan(dearer).plan.total_cost >= cheapest_plan(case).plan.total_cost


@given(drawn=small)
def test_what_binds_less_never_costs_more(drawn: dict[str, Any]) -> None:
    case = built(drawn)
    if shortfall(case) is None:
        bound = cheapest_plan(case).plan.total_cost
        for freer in (
            replace(case, capacity=None),
            replace(case, least=Fraction(0)),
            replace(case, step=1) if case.step == 2 and case.least == 0 else case,
        ):
            assert cheapest_plan(freer).plan.total_cost <= bound


@given(drawn=small, opened=st.lists(st.booleans(), min_size=4, max_size=4))
def test_the_least_plan_for_given_periods_is_least_in_every_period(
    drawn: dict[str, Any], opened: list[bool]
) -> None:
    case = built(drawn)
    opened = opened[: len(case.demand)]
    plan = least_plan(case, opened)
    most = int(case.needed[-1] + case.least_units)
    sizes = [range(int(case.least_units), most + 1) if each else range(1) for each in opened]
    others = []
    for units in itertools.product(*sizes):
        other = LotPlan(case=case, send=tuple(Fraction(each * case.unit) for each in units))
        if other.keeps:
            others.append(other)
    if plan is None:
        assert not others
    else:
        assert plan.keeps
        assert all(a <= b for other in others for a, b in zip(plan.left, other.left, strict=True))


def test_a_plans_cost_is_what_its_lots_and_its_stock_cost() -> None:
    case = lots(DEMAND, 85, "1.37", good_share="0.92", on_hand=40, step=6, capacity=150)
    plan = cheapest_plan(case).plan
    stock, cost = Fraction(40), Fraction(0)
    for sent, wanted in zip(plan.send, DEMAND, strict=True):
        stock += sent * Fraction(92, 100) - wanted
        assert stock >= 0
        assert sent % 6 == 0
        assert sent <= 150
        cost += (85 if sent else 0) + Fraction("1.37") * stock
    assert plan.total_cost == cost


# ── capacity that does not suffice ───────────────────────────────────────────────────────


def test_the_first_period_that_fails_and_by_how_much() -> None:
    # 2 crates of 6 a period at 0.9 are 10.8 good: 21.6 by period 2, where 5 + 20 - 2 are wanted
    case = lots([5, 20, 1], 3, 1, capacity=17, step=6, good_share="0.9", on_hand=2)
    found = shortfall(case)
    assert (found.period, found.bells, found.castings) == (2, Fraction("1.4"), 6)
    with pytest.raises(InputError) as caught:
        cheapest_plan(case)
    (line,) = caught.value.lines
    assert line == (
        "capacity: period 2 is the first to fail, 1.4 good bells short with a full lot in every "
        "period; make room for 6 more castings by then, or have more on hand"
    )
    assert cheapest_plan(replace(case, on_hand=Fraction("3.4"))).plan.keeps  # just that much


def test_a_smallest_lot_over_the_capacity_is_no_lot() -> None:
    case = lots([1, 1], 3, 1, capacity=[10, 40], least=20)
    assert shortfall(case).period == 1
    assert cheapest_plan(replace(case, on_hand=Fraction(1))).plan.send == (0, 20)


# ── the programme ────────────────────────────────────────────────────────────────────────


def fine(count: int) -> LotCase:
    demand = [(7 * period * period + 3 * period) % 23 for period in range(count)]
    return lots(demand, 120, "1.6", good_share="0.913", capacity=31)


def test_what_has_too_many_sums_goes_to_the_programme(monkeypatch: pytest.MonkeyPatch) -> None:
    case = fine(12)
    known = recursion_of(case).cheapest().total_cost
    monkeypatch.setattr("kitwright.calc.supply.lot_recursion.MOST_SUMS", 1000)
    monkeypatch.setattr("kitwright.calc.supply.lot_plan.MOST_BY_PROGRAMME", 12)
    assert recursion_of(case) is None
    answer = cheapest_plan(case)
    assert answer.method == "mixed-integer programme"
    assert not answer.exact
    assert answer.plan.total_cost == known
    assert float(answer.bound) == pytest.approx(float(known), abs=1e-6)


def test_without_capacities_the_programme_is_whole_without_being_asked() -> None:
    """Krarup and Bilde 1977: the location programme of lots of any size has whole corners."""
    programme = lot_programme.programme_of(lots(DEMAND, SET_UP, 1))
    free = replace(programme, whole=0 * programme.whole)
    assert lot_programme.solve(free, nodes=1).fun == pytest.approx(864, abs=1e-6)


def test_a_programme_stopped_early_says_how_far_it_came() -> None:
    case = fine(20)
    best = float(recursion_of(case).cheapest().total_cost)
    found = cheapest_by_programme(case, nodes=1)
    assert found.plan.keeps
    assert found.bound <= best + 1e-6
    assert float(found.plan.total_cost) >= best - 1e-6


def test_too_many_periods_for_the_programme() -> None:
    count = lot_plan.MOST_BY_PROGRAMME + 1
    case = lots([997, 3] * count, 9000, "1.6", good_share="0.9137", capacity=1100)
    with pytest.raises(InputError, match="122 periods of so many different amounts"):
        cheapest_plan(case)


def test_a_cut_is_added_where_the_tolerance_let_too_little_through() -> None:
    """A pattern that fails exactly is answered by one more lot, before the period that fails."""
    case = lots([5, 5, 5], 3, 1, capacity=6, step=1)
    programme = lot_programme.programme_of(case)
    cut = lot_programme._with_one_more(programme, case, [True, False, True])
    added = cut.rows.toarray()[-1]
    assert added[:3].tolist() == [0, 1, 0]
    assert added[3:].tolist() == [0] * (len(added) - 3)
    assert (cut.low[-1], len(cut.low)) == (1, len(programme.low) + 1)
    assert lot_programme.solve(cut, nodes=100).x[1] == pytest.approx(1)


# ── how sure lots are ────────────────────────────────────────────────────────────────────


def binomial_below(count: int, share: Fraction, fewer: Fraction) -> Fraction:
    return sum(
        math.comb(count, k) * share**k * (1 - share) ** (count - k)
        for k in range(count + 1)
        if k < fewer
    )


@given(
    count=st.integers(1, 40), share=st.sampled_from(["0.92", "0.5", "1"]), wanted=st.integers(0, 30)
)
def test_how_often_a_lot_falls_short_is_binomial(count: int, share: str, wanted: int) -> None:
    case = lots([wanted, 0], 1, 1, good_share=share)
    plan = LotPlan(case=case, send=(Fraction(count), Fraction(0)))
    first, second = sureness(plan)
    exact = Fraction(share)
    assert first.below_mean == pytest.approx(
        float(binomial_below(count, exact, count * exact)), abs=1e-12
    )
    assert first.unmet == pytest.approx(
        float(binomial_below(count, exact, Fraction(wanted))), abs=1e-12
    )
    assert (second.below_mean, second.unmet) == (None, None)


def test_a_lot_has_to_last_until_the_next_one() -> None:
    case = lots([4, 3, 5], 1, 1, good_share="0.5", on_hand=1)
    plan = LotPlan(case=case, send=(Fraction(14), Fraction(0), Fraction(9)))
    first, _, third = sureness(plan)
    half = Fraction(1, 2)
    assert first.unmet == pytest.approx(float(binomial_below(14, half, Fraction(6))))  # 4 + 3 - 1
    left = 1 + 7 - 7
    assert third.unmet == pytest.approx(float(binomial_below(9, half, Fraction(5 - left))))
    parted = sureness(LotPlan(case=case, send=(Fraction(29, 2), Fraction(0), Fraction(9))))
    assert (parted[0].below_mean, parted[0].unmet) == (None, None)  # no half castings
    assert parted[2].unmet == pytest.approx(float(binomial_below(9, half, Fraction("3.75"))))


# ── what is no case ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"demand": ()}, "demand: none given"),
        ({"set_up": (Fraction(1),)}, "set_up_cost: 1 given for 2 periods; give one, or 2"),
        ({"capacity": (Fraction(1),)}, "capacity: 1 given for 2 periods"),
        ({"holding": Fraction(-1)}, "holding_cost: below zero"),
        ({"good_share": Fraction(0)}, "yield: 0; give above 0"),
        ({"step": 0}, "whole: 0"),
    ],
)
def test_bad_cases_say_what_to_do(changed: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        replace(lots([1, 2], 3, 1), **changed)
