"""The choose-bell worksheet: what is out comes first, then an order that can be followed."""

from __future__ import annotations

import datetime
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.shell.choose_bell import WORKSHEET, solve
from kitwright.worksheets.shell.choose_bell_case import ChooseBellAnswer


def usd(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "USD"}


CAST = {
    "name": "cast",
    "material": "cast aluminium",
    "mass_kg": 7.0,
    "price": usd("700.00"),
    "certified": False,
    "ring_s": 0.5,
    "opening_width": "90 mm",
    "opening_height": "60 mm",
}
STEEL = {
    "name": "steel",
    "material": "certified steel",
    "mass_kg": 14.0,
    "price": usd("1400.00"),
    "certified": True,
    "certificate": "SD-1",
    "certificate_last_day": "2027-01-31",
    "ring_s": 1.0,
    "opening_width": "90 mm",
    "opening_height": "40 mm",
}
DEAR = {**STEEL, "name": "dear", "price": usd("2000.00"), "mass_kg": 13.0, "ring_s": 0.8}
RULE = {"body": "Body", "use": "drag", "demands": "certified shell", "source": "book 1"}
DAY = "2026-06-01"


def answered(*designs: dict[str, Any], **changed: Any) -> ChooseBellAnswer:
    case = {"use": "street", "day_of_use": DAY, "designs": list(designs), **changed}
    answer = solve(read(WORKSHEET.case, case))
    assert isinstance(answer, ChooseBellAnswer)
    return answer


# ── what is out ──────────────────────────────────────────────────────────────────────────


def test_a_rule_that_counts_puts_out_every_bell_that_is_not_certified() -> None:
    answer = answered(CAST, STEEL, rules=[{**RULE, "copied_on": "2026-02-03", "spec": "class B"}])
    assert answer.recommended == "steel"
    [out] = answer.excluded
    assert out.name == "cast"
    assert out.reason == "a certified shell (class B) is demanded, and this is none"
    assert out.rule == "Body, drag: book 1, copied 2026-02-03; check the current book"
    assert "Body, drag demands class B: see that the bell's certificate says the same." in (
        answer.to_check
    )


@pytest.mark.parametrize(
    ("rule", "car", "counts", "why"),
    [
        ({}, {}, "yes", "it has no limit in numbers, so it counts"),
        ({"from_what": "11 s"}, {}, "yes", 'it has no limit in numbers ("11 s"), so it counts'),
        ({"from_power_kw": 400}, {"power_kw": 400}, "yes", "power 400 of 400 kW"),
        ({"from_power_kw": 400}, {"power_kw": 399}, "no", "power 399 of 400 kW"),
        ({"from_power_kw": 400}, {}, "yes", "power not given, so it counts"),
        (
            {"from_power_kw": 400, "from_speed_rpm": 6000},
            {"power_kw": 300, "speed_rpm": 7000},
            "yes",
            "power 300 of 400 kW, speed 7000 of 6000 rpm",
        ),
        (
            {"from_power_kw": 400, "from_speed_rpm": 6000},
            {"power_kw": 300},
            "yes",
            "speed not given, so it counts",
        ),
        ({"applies": "no"}, {}, "no", "as you say"),
        ({"applies": "yes", "from_power_kw": 400}, {"power_kw": 1}, "yes", "as you say"),
    ],
)
def test_whether_a_rule_counts(
    rule: dict[str, Any], car: dict[str, Any], counts: str, why: str
) -> None:
    answer = answered(CAST, STEEL, rules=[{**RULE, **rule}], **car)
    assert (answer.rules[0].counts, answer.rules[0].why) == (counts, why)
    assert answer.recommended == ("steel" if counts == "yes" else "cast")


def test_a_rule_that_demands_none_puts_nothing_out() -> None:
    answer = answered(CAST, STEEL, rules=[{**RULE, "demands": "no certified shell"}])
    assert answer.excluded == []


@pytest.mark.parametrize(("day", "out"), [("2027-01-31", False), ("2027-02-01", True)])
def test_a_certificate_counts_to_the_end_of_its_last_day(day: str, out: bool) -> None:
    answer = answered(CAST, STEEL, day_of_use=day)
    assert [row.name for row in answer.excluded] == (["steel"] if out else [])
    if out:
        assert answer.excluded[0].reason == (
            "its certificate's last day is 2027-01-31, the first use 2027-02-01"
        )


@pytest.mark.parametrize(
    ("design", "asked", "reason"),
    [
        ({}, {"budget": usd("699.99")}, "700.00 USD is over the budget of 699.99 USD"),
        ({}, {"budget": usd("700.00")}, None),
        ({"ships": False}, {}, "it cannot be shipped: none is free and none is under way"),
        (
            {"ships_on": "2026-05-02"},
            {"wanted_by": "2026-05-01"},
            "it ships on 2026-05-02, wanted by 2026-05-01",
        ),
        ({"ships_on": "2026-05-01"}, {"wanted_by": "2026-05-01"}, None),
        ({}, {"wanted_by": "2026-05-01"}, None),
        (
            {},
            {"needed_width": "91 mm", "needed_height": "10 mm"},
            "its opening is 90.00 mm along the crank, and 91.00 mm are needed",
        ),
        (
            {},
            {"needed_width": "10 mm", "needed_height": "61 mm"},
            "its opening is 60.00 mm round the bell, and 61.00 mm are needed",
        ),
        ({}, {"needed_width": "90 mm", "needed_height": "60 mm"}, None),
    ],
)
def test_every_other_reason(
    design: dict[str, Any], asked: dict[str, Any], reason: str | None
) -> None:
    answer = answered({**CAST, **design}, **asked)
    assert [row.reason for row in answer.excluded] == ([] if reason is None else [reason])
    assert answer.recommended == ("cast" if reason is None else None)


def test_all_out_is_said_with_every_reason() -> None:
    answer = answered(
        CAST, {**STEEL, "certificate_last_day": "2026-01-01"}, rules=[RULE], budget=usd("100.00")
    )
    assert answer.recommended is answer.price is answer.close is None
    assert answer.ranked == answer.counted == answer.turns == answer.why == []
    assert [row.name for row in answer.excluded] == ["cast", "cast", "steel", "steel"]
    said = WORKSHEET.say(answer, "mm")
    assert said.startswith("No bell on offer is left. cast: a certified shell is demanded")
    assert "steel: its certificate's last day is 2026-01-01" in said


# ── the order ────────────────────────────────────────────────────────────────────────────


def test_the_score_by_hand() -> None:
    """Price and mass count alike: steel is twice as dear and twice as heavy, so it scores 1/2;
    dear is 20/7 as dear and 13/7 as heavy."""
    answer = answered(CAST, STEEL, DEAR)
    assert [row.name for row in answer.ranked] == ["cast", "steel", "dear"]
    assert [row.score for row in answer.ranked] == pytest.approx(
        [1, 0.5, (20 / 7 * 13 / 7) ** -0.5]
    )
    factors: dict[str, float] = {}
    for row in answer.counted:
        factors[row.name] = factors.get(row.name, 1) * row.factor
        assert row.factor == pytest.approx(row.times_best**-row.weight_share)
    for row in answer.ranked:
        assert factors[row.name] == pytest.approx(row.score)
    assert answer.why == ["Against steel: 700.00 USD less, 7 kg lighter."]
    assert answer.assumed == ["Weights: price, mass count the same."]
    assert answer.weights_may_move_percent == 100
    assert answer.close is False


def test_wishes_bring_figures_in() -> None:
    answer = answered(
        CAST, STEEL, noise_wish="as quiet as can be", hand_room_wish="as roomy as can be"
    )
    assert {row.figure for row in answer.counted} == {"price", "mass", "ring", "hand room"}
    # the opening: 90 by 60 against 90 by 40
    assert answer.ranked[1].score == pytest.approx((2 * 2 * 2 * 1.5) ** -0.25)
    assert answer.why == [
        (
            "Against steel: 700.00 USD less, 7 kg lighter, rings for 0.5 s against 1 s, an "
            "opening 1.5 times as large."
        )
    ]


@given(price=st.floats(0, 9), mass=st.floats(0, 9), ring=st.floats(0, 9), hand=st.floats(0, 9))
def test_the_order_is_that_of_the_products(
    price: float, mass: float, ring: float, hand: float
) -> None:
    weights = {"price": price, "mass": mass, "ring": ring, "hand_room": hand}
    if sum(weights.values()) < 1e-3:
        return
    answer = answered(CAST, STEEL, DEAR, weights=weights)
    worth = {
        each["name"]: -price * math.log(float(each["price"]["amount"]))
        - mass * math.log(each["mass_kg"])
        - ring * math.log(each["ring_s"])
        + hand * math.log(float(each["opening_height"].split()[0]))
        for each in (CAST, STEEL, DEAR)
    }
    found = [worth[row.name] for row in answer.ranked]
    assert found == sorted(found, reverse=True) or found == pytest.approx(
        sorted(found, reverse=True)
    )


def test_a_small_change_of_the_weights_is_said() -> None:
    """Twice as dear against half as heavy: level at equal weights, one of 1.05 to 1 decides."""
    light = {**CAST, "name": "light", "mass_kg": 3.5, "price": usd("1400.00")}
    close = answered(CAST, light, weights={"price": 1.05, "mass": 1, "ring": 0, "hand_room": 0})
    assert close.recommended == "cast"
    assert close.close is True
    assert close.weights_may_move_percent == pytest.approx(100 * 0.05 / 2.05)
    assert "It is close" in WORKSHEET.say(close, "mm")
    price, mass = close.turns[:2]
    assert (price.below, price.below_first) == (pytest.approx(1), "light")
    assert (mass.above, mass.above_first) == (pytest.approx(1.05), "light")
    beyond = answered(CAST, light, weights={"price": 0.99, "mass": 1, "ring": 0, "hand_room": 0})
    assert beyond.recommended == "light"


def test_a_figure_that_one_lacks_counts_for_none() -> None:
    lacking = {key: value for key, value in STEEL.items() if key != "ring_s"}
    answer = answered(CAST, lacking, noise_wish="as quiet as can be")
    assert "Ring does not count: not known of steel." in answer.assumed
    assert {row.figure for row in answer.counted} == {"price", "mass"}
    only = answered(CAST, lacking, weights={"price": 0, "mass": 0, "ring": 1, "hand_room": 0})
    assert {row.figure for row in only.counted} == {"price", "mass"}
    assert "No figure that weighs is known of every bell" in " ".join(only.assumed)


def test_a_ring_known_as_a_range_counts_by_its_middle_and_its_ends_are_tried() -> None:
    wide = {**CAST, "name": "wide", "ring_s": 0.2, "ring_most_s": 1.8, "price": usd("700.01")}
    weights = {"price": 1, "mass": 0, "ring": 1, "hand_room": 0}
    answer = answered(CAST, wide, weights=weights)
    row = next(each for each in answer.counted if (each.name, each.figure) == ("wide", "ring"))
    assert row.times_best == pytest.approx(0.6 / 0.5)
    assert "The ring of wide is known as a range and counts by its middle." in answer.assumed
    assert "At the ends of these ranges wide could come first." in answer.assumed
    narrow = answered(CAST, {**wide, "ring_s": 0.59, "ring_most_s": 0.61}, weights=weights)
    assert not any("could come first" in line for line in narrow.assumed)


def test_one_alone_needs_no_order() -> None:
    answer = answered(CAST)
    assert (answer.recommended, answer.close, answer.turns) == ("cast", None, [])
    assert answer.why == ["It is the only one that is left."]
    assert WORKSHEET.say(answer, "mm").startswith("One bell is left: cast, 700.00 USD, 7 kg.")


def test_what_is_not_known_is_listed_to_check() -> None:
    bare = {key: value for key, value in CAST.items() if not key.startswith("opening")}
    answer = answered(bare, wanted_by="2026-05-01", needed_width="10 mm", needed_height="10 mm")
    told = " ".join(answer.to_check)
    assert answer.recommended == "cast"
    for words in ("No rule is given", "can ship: it is not known", "The opening of cast"):
        assert words in told


def test_money_is_decimal_and_days_are_days() -> None:
    answer = answered(CAST, {**STEEL, "ships_on": "2026-05-21"}).model_dump(mode="json")
    assert answer["price"] == {"amount": "700.00", "currency": "USD"}
    assert answer["ranked"][1]["ships_on"] == "2026-05-21"
    example = read(WORKSHEET.case, from_toml(WORKSHEET.example))
    assert example.day_of_use == datetime.date(2026, 8, 15)


REFUSED = [
    ({"designs": []}, "designs: 0 given; give 1 or more"),
    (
        {"designs": [CAST, {**STEEL, "price": {"amount": "1.00", "currency": "EUR"}}]},
        "currencies EUR and USD; give every amount in one currency",
    ),
    (
        {"budget": {"amount": "1.00", "currency": "EUR"}},
        "currencies EUR and USD; give every amount in one currency",
    ),
    (
        {"weights": {"price": 0, "mass": 0, "ring": 0, "hand_room": 0}},
        "weights: all are zero; give one above zero",
    ),
    (
        {"weights": {"price": -1, "mass": 0, "ring": 0, "hand_room": 0}},
        'weights.price: "-1" is out of range; give a number greater than or equal to 0.0',
    ),
    ({"designs": [CAST, CAST]}, 'designs[1].name: "cast" is used twice; name each once'),
    (
        {"designs": [{**CAST, "mass_kg": 0}]},
        'designs[0].mass_kg: "0" is out of range; give a number greater than 0.0',
    ),
    (
        {"designs": [{**CAST, "price": usd("0.00")}]},
        "designs[0]: its price is zero; give more than zero",
    ),
    (
        {"designs": [{**CAST, "certified": True}]},
        "designs[0]: certified without a last day; give certificate_last_day",
    ),
    (
        {"designs": [{**CAST, "certificate": "SD-9"}]},
        "designs[0]: a certificate and certified = false; say which of the two holds",
    ),
    (
        {"designs": [{**CAST, "ring_most_s": 0.4}]},
        "designs[0]: ring_s is above ring_most_s; swap them",
    ),
    (
        {"designs": [{k: v for k, v in CAST.items() if k != "opening_width"}]},
        "designs[0]: half an opening; give opening_width and opening_height",
    ),
    (
        {"needed_width": "1 mm"},
        "needed_width: half an opening; give needed_width and needed_height",
    ),
    ({"day_of_use": "86400"}, 'day_of_use: "86400" is not a day; write it as 2026-05-04'),
    ({"use": ""}, 'use: "" cannot be used; string should have at least 1 character'),
    (
        {"designs": [{**CAST, "certified": "maybe"}]},
        'designs[0].certified: "maybe" is not a yes or a no; write true or false',
    ),
]


@pytest.mark.parametrize(("changed", "line"), REFUSED)
def test_what_cannot_be_used_is_refused_by_name(changed: dict[str, Any], line: str) -> None:
    with pytest.raises(InputError) as caught:
        answered(*changed.pop("designs", [CAST, STEEL]), **changed)
    assert caught.value.lines == [line]
