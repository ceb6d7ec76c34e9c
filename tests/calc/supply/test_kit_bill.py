"""Bills within bills, landed bells and dated rates: exact, and adding up to the last unit."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.supply.bell_cost import BellCost
from kitwright.calc.supply.kit_bill import MOST_LEVELS, Bill, BillPart, Line, Margin, Use
from kitwright.calc.supply.rates import Rate, rate_on
from kitwright.errors import InputError


def bought(cost: Any) -> BillPart:
    return BillPart(cost=Fraction(cost))


def made(*uses: tuple[str, int], cost: Any = 0) -> BillPart:
    listed = tuple(Use(part=part, count=count) for part, count in uses)
    return BillPart(cost=Fraction(cost), made_of=listed)


@st.composite
def bills(draw: st.DrawFn) -> Bill:
    """Any bill without a loop: a part is made of parts before it, if of any."""
    parts: dict[str, BillPart] = {}
    for number in range(draw(st.integers(1, 7))):
        cost = draw(st.fractions(0, 5000, max_denominator=300))
        uses = [(name, draw(st.integers(1, 7))) for name in parts if draw(st.integers(0, 2)) == 0][
            :3
        ]
        parts[f"p{number}"] = made(*uses, cost=cost) if uses else bought(cost)
    return Bill(parts)


def within(lines: list[Line], at: int) -> list[Line]:
    """The lines directly beneath the one at this place."""
    found = []
    for line in lines[at + 1 :]:
        if line.level <= lines[at].level:
            break
        if line.level == lines[at].level + 1:
            found.append(line)
    return found


@given(bill=bills(), count=st.integers(1, 9))
def test_every_sum_is_the_sum_of_its_lines(bill: Bill, count: int) -> None:
    top = list(bill.parts)[-1]
    lines = bill.lines([Use(part=top, count=count)])
    for at, line in enumerate(lines):
        beneath = within(lines, at)
        assert line.bought == (not beneath)
        if beneath:
            assert line.cost == sum(each.cost for each in beneath)
    leaves = [line for line in lines if line.bought]
    assert lines[0].cost == sum(each.cost for each in leaves)
    exact = bill.cost_of_one(top) * count
    assert abs(lines[0].cost - exact) <= Fraction(len(leaves), 2)


@given(bill=bills())
def test_counts_multiply_down_the_bill(bill: Bill) -> None:
    top = list(bill.parts)[-1]
    once, thrice = (bill.lines([Use(part=top, count=count)]) for count in (1, 3))
    assert [3 * line.count for line in once] == [line.count for line in thrice]
    exact = sum(
        bill.parts[line.part].cost * line.count
        for line in once
        if line.bought and line.part in bill.parts
    )
    exact += sum(
        bill.parts[line.part].cost * line.count for line in once if not line.bought
    )  # putting together
    assert exact == bill.cost_of_one(top)


def test_a_line_is_rounded_once_halves_to_even() -> None:
    """ISO 80000-1:2009, annex B, rule A: of two equally near, the even one."""
    bill = Bill({"a": bought("0.5"), "b": bought("1.5"), "set": made(("a", 1), ("b", 1), ("a", 5))})
    costs = [line.cost for line in bill.lines([Use(part="set", count=1)])]
    assert costs == [0 + 2 + 2, 0, 2, 2]


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ({"a": made(("a", 1))}, "a is made of a"),
        (
            {"x": bought(1), "a": made(("x", 1), ("b", 2)), "b": made(("a", 1))},
            "a is made of b is made of a",
        ),
        (
            {"kit": made(("a", 1)), "a": made(("b", 1)), "b": made(("c", 1)), "c": made(("a", 1))},
            "a is made of b is made of c is made of a",
        ),
    ],
)  # fmt: skip
def test_an_assembly_that_contains_itself_is_refused_naming_the_loop(
    parts: dict[str, BillPart], told: str
) -> None:
    with pytest.raises(InputError) as caught:
        Bill(parts)
    assert caught.value.problems[0].given == told


def test_what_is_no_bill() -> None:
    with pytest.raises(InputError, match='"nut" is not listed'):
        Bill({"set": made(("nut", 1))})
    with pytest.raises(InputError, match='"nut" is not listed'):
        Bill({"bolt": bought(1)}).lines([Use(part="nut", count=1)])
    chain = {f"p{n}": made((f"p{n + 1}", 1)) for n in range(MOST_LEVELS)}
    for parts in (
        {**chain, f"p{MOST_LEVELS}": bought(1)},
        {f"p{MOST_LEVELS}": bought(1), **dict(reversed(chain.items()))},
    ):
        with pytest.raises(InputError, match="more than 20 levels deep"):
            Bill(parts)
    doubling = {f"p{n}": made((f"p{n + 1}", 1), (f"p{n + 1}", 1)) for n in range(15)}
    wide = Bill({**doubling, "p15": bought(1)})
    with pytest.raises(InputError, match="more than 2000 lines"):
        wide.lines([Use(part="p0", count=1)])
    tripling = {f"p{n}": made((f"p{n + 1}", 1), (f"p{n + 1}", 2)) for n in range(19)}
    steep = Bill({**tripling, "p19": bought(1)})  # each part looked at once, not each way to it
    assert steep.cost_of_one("p0") == 3**19
    dear = Bill({"a": bought(10**12)})
    with pytest.raises(InputError, match="costs more than any kit"):
        dear.lines([Use(part="a", count=10_000)])


def test_what_is_left_of_a_price() -> None:
    margin = Margin(price=329500, cost=85925)
    assert (margin.amount, margin.share) == (243575, 243575 / 329500)
    assert Margin(price=0, cost=5).share is None


@given(cost=st.integers(0, 10**9), share=st.fractions(0, Fraction(99, 100), max_denominator=1000))
def test_the_price_for_a_share_is_the_least_that_leaves_it(cost: int, share: Fraction) -> None:
    price = Margin(price=0, cost=cost).price_for(share)
    assert price - cost >= share * price
    assert price == 0 or price - 1 - cost < share * (price - 1)


# ── bells ────────────────────────────────────────────────────────────────────────────────

amounts = st.fractions(0, 50_000, max_denominator=100)


@given(
    amounts=st.tuples(*[amounts] * 8),
    batch=st.integers(1, 40),
    good=st.integers(1, 40),
)
def test_good_bells_pay_for_the_whole_batch(
    amounts: tuple[Fraction, ...], batch: int, good: int
) -> None:
    """What a batch of so many castings costs in all, less its scrap, over those that came good."""
    good = min(good, batch)
    price, freight, duty, set_up, machining, inspection, scrap, packing = amounts
    bell = BellCost(
        price=price, freight=freight, duty=duty, set_up=set_up, batch=batch, machining=machining,
        inspection=inspection, good_share=Fraction(good, batch), scrap=scrap, packing=packing,
    )  # fmt: skip
    batch_cost = batch * (price + freight + duty + machining + inspection) + set_up
    batch_cost += good * packing - (batch - good) * scrap
    assert sum(cost for _, cost in bell.lines()) == batch_cost / good


def test_a_bell_bought_ready_costs_what_it_costs() -> None:
    assert BellCost(price=Fraction(742)).lines() == [("casting, or as bought", 742)]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"batch": 0}, "batch: 0; give one casting or more"),
        ({"good_share": Fraction(0)}, "yield: 0; give above 0"),
        ({"packing": Fraction(-1)}, "price: below zero"),
    ],
)
def test_what_is_no_bell(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        BellCost(price=Fraction(1), **wrong)


# ── rates ────────────────────────────────────────────────────────────────────────────────

DAY = date(2026, 3, 1)


def rate(source: str, target: str, value: str, days_before: int = 0) -> Rate:
    return Rate(
        source=source,
        target=target,
        rate=Fraction(value),
        day=DAY - timedelta(days=days_before),
    )


def test_the_newest_rate_of_the_day_counts() -> None:
    known = [
        rate("EUR", "USD", "1.05", 90),
        rate("EUR", "USD", "1.08", 9),
        rate("EUR", "USD", "1.2", -1),  # not known yet
        rate("EUR", "GBP", "0.86", 1),
    ]
    used = rate_on(known, "EUR", "USD", DAY)
    assert (used.factor, used.days, used.turned) == (Fraction("1.08"), 9, False)
    assert rate_on(known, "EUR", "USD", DAY - timedelta(days=10)).factor == Fraction("1.05")


def test_a_rate_the_other_way_round_is_turned_exactly() -> None:
    known = [
        rate("EUR", "USD", "1.08", 9),
        rate("USD", "EUR", "0.9", 9),
        rate("USD", "EUR", "0.8", 12),
    ]
    assert rate_on(known[:1], "USD", "EUR", DAY).factor * Fraction("1.08") == 1
    assert rate_on(known, "USD", "EUR", DAY).factor == Fraction("0.9")
    assert rate_on(known, "EUR", "USD", DAY).factor == Fraction("1.08")


def test_a_missing_rate_is_told_and_never_guessed() -> None:
    known = [rate("EUR", "USD", "1.08"), rate("USD", "JPY", "150"), rate("EUR", "JPY", "160", -3)]
    with pytest.raises(InputError) as caught:
        rate_on(known, "EUR", "JPY", DAY)
    (line,) = caught.value.lines
    assert line == (
        "rates: none from EUR to JPY by 2026-03-01; write down what one EUR was worth, "
        "with the date"
    )
