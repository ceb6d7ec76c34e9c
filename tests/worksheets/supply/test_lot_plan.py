"""The lot-plan worksheet: from a case as written to a plan, its cost in decimals, its words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import grids

WORKSHEET = load("lot-plan")
EXAMPLE = from_toml(WORKSHEET.example)


def usd(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "USD"}


def solved(case: dict[str, Any]) -> Any:
    return WORKSHEET.solve(read(WORKSHEET.case, case))


def changed(**more: Any) -> Any:
    return solved({**EXAMPLE, **more})


def refused(**more: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        changed(**more)
    return list(caught.value.lines)


# Wagner, Whitin, Management Science 5 (1958) 89-96: as in tests/calc/supply/test_lots.py.
WAGNER = {
    "demand": [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56],
    "set_up_cost": [usd(f"{k}") for k in (85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114)],
    "holding_cost": usd("1"),
}


def test_wagner_and_whitins_example() -> None:
    answer = solved(WAGNER)
    assert answer.total_cost.model_dump() == {"amount": "864.00", "currency": "USD"}
    sent = {row.period: row.send for row in answer.periods if row.send}
    assert sent == {1: 98, 3: 97, 5: 121, 8: 112, 10: 67, 11: 135}
    assert answer.proven
    assert answer.gap.amount == "0.00"
    assert WORKSHEET.say(answer, "mm") == (
        "Send 98 in period 1, 97 in period 3, 121 in period 5 and 3 more lots after: 864.00 USD "
        "over 12 periods, and no plan costs less."
    )


def test_a_proven_plan_leaves_nothing_to_save_by_rounding() -> None:
    """1 cent for the lot and 1.5 for what is left: rounded apart 3 cents, at once 2."""
    case = {"demand": [1, 1], "set_up_cost": usd("0.01"), "holding_cost": usd("0.01")}
    answer = solved({**case, "yield": 0.25, "whole": 3})
    assert (answer.proven, answer.gap.amount) == (True, "0.00")
    assert answer.bound == answer.total_cost


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"yield": 0.87, "whole": True, "capacity": 40},
        {"whole": True, "minimum_lot": 20, "capacity": [30] * 6 + [0] * 2 + [40] * 4},
        {"holding_cost": usd("3.33"), "yield": 0.9},
    ],
)
def test_the_cost_is_that_of_the_plan_in_decimals(more: dict[str, Any]) -> None:
    case = {**EXAMPLE, **more}
    answer = solved(case)
    stock, held = Decimal(case["on_hand"]), Decimal(0)
    for row, demand in zip(answer.periods, case["demand"], strict=True):
        good = Decimal(str(row.send)) * Decimal(str(case["yield"]))
        stock += good - demand
        assert Decimal(str(row.good)) == pytest.approx(good, abs=Decimal("1e-12"))
        assert Decimal(str(row.left)) == pytest.approx(stock, abs=Decimal("1e-11"))
        assert stock >= -Decimal("1e-11")
        held += stock
    lots = sum(Decimal(case["set_up_cost"]["amount"]) for row in answer.periods if row.send)
    holding = (held * Decimal(case["holding_cost"]["amount"])).quantize(Decimal("0.01"))
    assert Decimal(answer.set_up_total.amount) == lots
    assert Decimal(answer.holding_total.amount) == holding
    assert Decimal(answer.total_cost.amount) == lots + holding


def test_crates_capacity_and_smallest_lots_are_kept_to() -> None:
    answer = changed(whole=6, minimum_lot=13, capacity=29)
    assert {row.send for row in answer.periods} <= {0, 18, 24}
    assert changed(whole=True).periods[0].send % 1 == 0
    free = changed(whole=None, capacity=None)
    assert any(isinstance(row.send, float) for row in free.periods)
    assert free.total_cost.exact <= answer.total_cost.exact


def test_one_price_and_the_same_for_each_period_are_one_case() -> None:
    each = changed(set_up_cost=[EXAMPLE["set_up_cost"]] * 12, capacity=[30] * 12)
    assert each.total_cost == changed().total_cost


def test_yen_have_no_decimals() -> None:
    yen = {"amount": "42000", "currency": "JPY"}
    answer = changed(set_up_cost=yen, holding_cost={"amount": "377", "currency": "JPY"})
    assert "." not in answer.total_cost.amount
    parts = (answer.set_up_total, answer.holding_total)
    assert int(answer.total_cost.amount) == sum(int(each.amount) for each in parts)


def test_the_rules_stand_beside_the_plan() -> None:
    answer = changed()
    for row in answer.rules:
        assert row.extra_cost.exact == row.total_cost.exact - answer.total_cost.exact >= 0
    late = changed(on_hand=0, demand=[0, 40], capacity=30, whole=True)
    assert [row.total_cost for row in late.rules] == [None] * 5
    table = next(grid for grid in grids(late, lead="mm") if grid.name == "rules")
    assert table.columns == ("Rule",)


def test_how_often_lots_fall_short_is_said() -> None:
    answer = changed(**{"yield": 0.5, "capacity": 60, "whole": True})
    first = answer.periods[0]
    assert 0.3 < first.chance_short < 0.6
    assert "of the time: send more, or expect to wait." in WORKSHEET.say(answer, "mm")
    sure = changed(**{"yield": 1.0})
    assert {row.chance_short for row in sure.periods if row.send} == {0.0}
    assert "of the time" not in WORKSHEET.say(sure, "mm")


def test_of_lots_that_may_fall_short_the_least_sure_is_named() -> None:
    answer = solved({
        "demand": [20, 31, 10], "set_up_cost": usd("1"), "holding_cost": usd("9"), "yield": 0.5,
        "whole": True,
    })  # fmt: skip
    chances = {row.period: row.chance_unmet for row in answer.periods}
    worst = max(chances, key=lambda period: chances[period])
    assert worst != min(chances)
    assert min(chances.values()) > 0.05  # every lot may well fall short
    assert f"The lot of period {worst} brings fewer" in WORKSHEET.say(answer, "mm")


def test_what_is_on_hand_may_do() -> None:
    answer = changed(on_hand=200)
    assert answer.lots == 0
    assert WORKSHEET.say(answer, "mm").startswith("Send nothing: what is on hand meets every")


def test_what_was_left_out_is_assumed() -> None:
    said = " ".join(solved(WAGNER).assumed)
    for words in ("(yield 1)", "No bell is on hand", "part of a casting", "halves to the even"):
        assert words in said
    assert "(yield 1)" not in " ".join(changed().assumed)


def test_capacity_that_fails_says_where_and_by_how_much() -> None:
    (line,) = refused(capacity=6, on_hand=0)
    assert line.startswith("capacity: period 1 is the first to fail, 0.48 good bells short")


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({"yield": 1.5}, 'yield: "1.5" is out of range; give a number less than or equal to 1.0'),
        ({"whole": 0}, 'whole: "0" says neither; write true, or how many castings a crate holds'),
        ({"demand": [1.0001]}, "demand[0]: 1.0001 has more than 3 decimals; give 3 at most"),
        (
            {"set_up_cost": usd("1.005")},
            'set_up_cost[0].amount: "1.005" has 3 decimals; give USD with 2, as "12.50"',
        ),
        (
            {"holding_cost": {"amount": "1", "currency": "EUR"}},
            "holding_cost: currencies EUR and USD; give every amount in one currency",
        ),
        ({"capacity": [30, 30]}, "capacity: 2 given for 12 periods; give one, or 12"),
    ],
)
def test_what_is_no_case(more: dict[str, Any], line: str) -> None:
    assert refused(**more) == [line]


def test_a_wrong_name_is_answered_with_the_names_as_they_are_written() -> None:
    (line,) = refused(share_good=0.9)
    assert " yield," in line
    assert "share_good, " not in line
