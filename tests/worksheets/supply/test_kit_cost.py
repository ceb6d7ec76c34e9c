"""The kit-cost worksheet: sums to the last unit, dated rates, names that agree, words."""

from __future__ import annotations

import copy
from collections import defaultdict
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

WORKSHEET = load("kit-cost")
EXAMPLE = from_toml(WORKSHEET.example)


def solved(case: dict[str, Any]) -> Any:
    return WORKSHEET.solve(read(WORKSHEET.case, case))


def changed(**more: Any) -> Any:
    return solved({**copy.deepcopy(EXAMPLE), **more})


def refused(case: dict[str, Any]) -> list[str]:
    with pytest.raises(InputError) as caught:
        solved(case)
    return list(caught.value.lines)


def test_a_yield_that_is_not_written_down_is_assumed_to_be_all() -> None:
    case = copy.deepcopy(EXAMPLE)
    cast = [bell["name"] for bell in case["bells"] if "machining" in bell]
    assert "comes out good" not in " ".join(solved(case).assumed)
    del case["bells"][0]["machining"]["yield"]
    assert f"Every casting comes out good: {cast[0]}." in solved(case).assumed


def money(amount: str, currency: str = "USD") -> dict[str, str]:
    return {"amount": amount, "currency": currency}


def check_sums(answer: Any) -> None:
    """Every amount that is a sum is the sum of what stands beneath it, to the last unit."""
    tops: dict[str, Decimal] = defaultdict(Decimal)
    for at, row in enumerate(answer.lines):
        if not row.level:
            tops[row.of] += Decimal(row.cost.amount)
        beneath = []
        for other in answer.lines[at + 1 :]:
            if other.level <= row.level or other.of != row.of:
                break
            if other.level == row.level + 1:
                beneath.append(Decimal(other.cost.amount))
        assert not beneath or Decimal(row.cost.amount) == sum(beneath)
    for row in answer.variants:
        price, cost, left = (Decimal(each.amount) for each in (row.price, row.cost, row.margin))
        assert cost == tops[row.variant]
        assert cost == Decimal(row.bell_cost.amount) + Decimal(row.parts_cost.amount)
        assert left == price - cost
    for row in answer.options:
        assert Decimal(row.cost.amount) == tops[row.option]
    by_name = {row.variant: row for row in answer.variants}
    for step in answer.steps:
        base, other = by_name[step.base], by_name[step.variant]
        for name, field in (
            ("price_step", "price"),
            ("cost_step", "cost"),
            ("margin_step", "margin"),
        ):
            difference = getattr(other, field).exact - getattr(base, field).exact
            assert getattr(step, name).exact == difference
        assert step.cost_step.exact == step.bell_step.exact + step.parts_step.exact
        assert step.price_step.exact == step.cost_step.exact + step.margin_step.exact


def test_the_example_by_hand() -> None:
    """Worked by hand, in decimals, with the example's rate of 1.0842."""
    answer = changed()
    check_sums(answer)
    rate = Decimal("1.0842")
    casting, freight = 158 * rate, Decimal(340) / 24 * rate
    spent = casting + freight + casting * Decimal("0.025") + 35 + 196 + 18
    bell = (spent - Decimal("0.08") * 9) / Decimal("0.92") + Decimal("14.5")
    cast, steel = answer.variants
    assert abs(Decimal(cast.bell_cost.amount) - bell) < Decimal("0.04")  # eight lines, rounded
    assert steel.bell_cost.amount == str(Decimal("742.00") + Decimal("32.50") + 18 + 17)
    bolts = (
        Decimal("5.28") + (6 * Decimal("0.0395") * rate).quantize(Decimal("0.01")) + Decimal("0.80")
    )
    parts = 148 + bolts + Decimal("6.20") + 164 + Decimal("42.80")
    assert Decimal(cast.parts_cost.amount) == parts
    assert Decimal(steel.parts_cost.amount) == parts + 52
    (step,) = answer.steps
    assert (step.price_step.amount, step.parts_step.amount) == ("545.00", "52.00")
    assert step.cost_share == pytest.approx(float(step.cost_step.exact / 545))
    (option,) = answer.options
    assert (option.cost.amount, option.margin.amount) == ("48.60", "40.40")
    (saved,) = answer.alternatives
    assert (saved.part, saved.alternative) == ("hydraulic release bearing", "cable release")
    assert saved.saves.amount == "-23.50"


@given(data=st.data())
def test_any_prices_add_up_to_the_last_unit(data: st.DataObject) -> None:
    currency = data.draw(st.sampled_from(["USD", "EUR", "JPY", "KWD"]))
    case = copy.deepcopy(EXAMPLE)
    case["currency"] = currency
    rates = st.decimals("0.0001", 999, places=4).map(lambda rate: f"{rate:f}")
    case["rates"] = [
        {"from": source, "to": currency, "rate": data.draw(rates), "date": "2026-02-20"}
        for source in ("USD", "EUR")
        if source != currency
    ]
    prices = st.decimals(0, 900, places=2).map(lambda amount: money(f"{amount:.2f}"))
    for part in case["parts"]:
        if "price" in part:
            part["price"] = data.draw(prices)
    case["bells"][0]["machining"]["yield"] = data.draw(st.sampled_from([0.5, 0.77, 0.92, 1.0]))
    answer = solved(case)
    check_sums(answer)
    decimals = {"JPY": 0, "KWD": 3}.get(currency, 2)
    assert {len(row.cost.amount.partition(".")[2]) for row in answer.lines} == {decimals}


def test_the_price_wanted_leaves_the_share_wanted() -> None:
    for row in changed(wanted_margin=0.45).variants:
        price, cost = Decimal(row.price_wanted.amount), Decimal(row.cost.amount)
        assert (price - cost) / price >= Decimal("0.45")
        cent_less = price - Decimal("0.01")
        assert (cent_less - cost) / cent_less < Decimal("0.45")


def test_a_part_in_two_assemblies_is_counted_in_both() -> None:
    case = {
        "currency": "USD",
        "variants": [{"name": "kit", "price": money("90.00"), "parts": [{"part": "front"}]}],
        "shared": [{"part": "rear", "count": 2}],
        "parts": [
            {"name": "bolt", "price": money("2.00")},
            {"name": "pair", "made_of": [{"part": "bolt", "count": 2}]},
            {"name": "front", "made_of": [{"part": "pair", "count": 2}, {"part": "bolt"}]},
            {"name": "rear", "made_of": [{"part": "pair"}], "assembling": money("1.00")},
        ],
    }
    answer = solved(case)
    check_sums(answer)
    assert answer.variants[0].cost.amount == "20.00"  # nine bolts and two dollars
    assert [(row.level, row.part, row.count) for row in answer.lines] == [
        (0, "rear", 2), (1, "pair", 2), (2, "bolt", 4), (1, "putting it together", 2),
        (0, "front", 1), (1, "pair", 2), (2, "bolt", 4), (1, "bolt", 1),
    ]  # fmt: skip


def test_a_loop_is_named() -> None:
    case = copy.deepcopy(EXAMPLE)
    mount = next(part for part in case["parts"] if part["name"] == "cross member")
    del mount["price"]
    mount["made_of"] = [{"part": "mount kit"}]
    (line,) = refused(case)
    assert line == (
        "parts: mount kit is made of cross member is made of mount kit; an assembly cannot "
        "contain itself: take one of these out"
    )


# ── rates ────────────────────────────────────────────────────────────────────────────────


def test_an_old_rate_is_told() -> None:
    fresh, old = changed(on="2026-03-22"), changed(on="2026-03-23")
    assert (fresh.rates[0].days, fresh.rates[0].old, fresh.told) == (30, False, [])
    assert (old.rates[0].days, old.rates[0].old) == (31, True)
    assert old.told == ["The rate of EUR in USD is 31 days old: look it up again."]
    assert WORKSHEET.say(old, "mm").endswith(old.told[0])
    assert changed(on="2026-03-23", oldest_rate_days=31).told == []


def test_every_missing_rate_is_told_at_once() -> None:
    assert refused({**EXAMPLE, "currency": "JPY", "rates": []}) == [
        f"rates: none from {each} to JPY by 2026-03-02; write down what one {each} was worth, "
        "with the date"
        for each in ("EUR", "USD")
    ]
    assert refused({**EXAMPLE, "on": None}) == [
        "on: missing, and amounts are in EUR; give the day: rates go by it"
    ]
    later = [{"from": "EUR", "to": "USD", "rate": "1.1", "date": "2026-03-03"}]
    assert refused({**EXAMPLE, "rates": later})[0].startswith("rates: none from EUR to USD by")


def test_a_turned_rate_is_said() -> None:
    answer = changed(currency="EUR")
    assert "USD in EUR is one over the rate of EUR in USD." in answer.assumed
    check_sums(answer)
    assert answer.variants[0].price.amount == str(
        (Decimal(3295) / Decimal("1.0842")).quantize(Decimal("0.01"))
    )


# ── what is told and what is refused ─────────────────────────────────────────────────────


def test_a_kit_sold_below_its_cost_is_told() -> None:
    case = copy.deepcopy(EXAMPLE)
    case["variants"][1]["price"] = money("300.00")
    answer = solved(case)
    assert answer.told == ["certified steel bell costs more than it is sold for."]
    assert "is sold for 2995.00 USD less than cast bell and costs 369.59 USD more." in (
        WORKSHEET.say(answer, "mm")
    )


def test_a_variant_alone_has_no_step() -> None:
    answer = changed(variants=EXAMPLE["variants"][:1])
    assert answer.steps == []
    assert "sold for" not in WORKSHEET.say(answer, "mm")


def bad(change: Any) -> list[str]:
    case = copy.deepcopy(EXAMPLE)
    change(case)
    return refused(case)


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (
            lambda c: c["shared"].append({"part": "nut"}),
            'shared[4].part: "nut" is not listed; list it among the parts',
        ),
        (
            lambda c: c["shared"][1].update(alternative="nut"),
            'shared[1].alternative: "nut" is not listed; list it among the parts',
        ),
        (
            lambda c: c["parts"].append({"name": "nut"}),
            "parts[11].price: missing; give it, or what the part is made of",
        ),
        (
            lambda c: c["parts"][2].update(price=money("1")),
            "parts[2].price: given with made_of; leave it out: an assembly costs its parts",
        ),
        (
            lambda c: c["parts"][0].update(assembling=money("1")),
            "parts[0].assembling: given without made_of; say what it is made of, or leave it out",
        ),
        (
            lambda c: c["variants"][1].update(bell="iron bell"),
            'variants[1].bell: "iron bell" is not listed; list it among the bells',
        ),
        (
            lambda c: c["variants"][1].update(name="cast bell"),
            'variants[1].name: "cast bell" is listed twice; name it once',
        ),
        (lambda c: c.update(base="street"), 'base: "street" is not a variant; name one of them'),
        (
            lambda c: c["rates"].append(c["rates"][0]),
            "rates[1]: EUR in USD is listed twice for 2026-02-20; keep the right one",
        ),
        (
            lambda c: c["rates"][0].update(to="EUR"),
            "rates[0].to: EUR in itself; name another",
        ),
        (
            lambda c: c["rates"][0].update(rate=1.0842),
            'rates[0].rate: "1.0842" is not text; write it as "1.0842"',
        ),
        (
            lambda c: c["rates"][0].update(rate="0.0"),
            'rates[0].rate: "0.0" is not a rate; write it above zero, as "1.0842"',
        ),
        (
            lambda c: c["rates"][0].update(date="20.2.2026"),
            'rates[0].date: "20.2.2026" is not a day; write it as 2026-03-01',
        ),
    ],
)
def test_what_is_no_case(change: Any, line: str) -> None:
    assert bad(change) == [line]
