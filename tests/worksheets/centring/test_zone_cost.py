"""The zone-cost worksheet: from quotes to zones, money at the edge, what it says and refuses."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from kitwright.errors import InputError
from kitwright.worksheets.centring.zone_cost import WORKSHEET, ZoneCostAnswer, solve
from kitwright.worksheets.reading import from_toml, read

THOU = 0.0254


def usd(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "USD"}


COST = {"a": usd("5.00"), "b": usd("40.00"), "unit": "thou"}
BORE = {
    "name": "bore",
    "kind": "zone",
    "zone": "4 thou",
    "cost": COST,
    "zone_limits": {"low": "1 thou", "high": "12 thou"},
}
HOLES = {**BORE, "name": "holes", "cost": {**COST, "b": usd("5.00")}}
CORRECTION = {"price": usd("400.00")}


def case(*contributors: dict[str, Any], **aim: Any) -> dict[str, Any]:
    return {"limit": "5 thou", "contributors": list(contributors), **aim}


def answered(*contributors: dict[str, Any], **aim: Any) -> ZoneCostAnswer:
    answer = solve(read(WORKSHEET.case, case(*contributors, **aim)))
    assert isinstance(answer, ZoneCostAnswer)
    return answer


def outside(*zones_thou: float) -> float:
    """Normal zones alone, limit 5 thou: Rayleigh."""
    return math.exp(-(2.5**2) / 2 * 36 / sum(zone**2 for zone in zones_thou))


# ── what it finds ────────────────────────────────────────────────────────────────────────


def test_a_wanted_chance_at_least_price() -> None:
    """Lagrange: the zones are as the cube roots of b, here 2 to 1; the chance is Rayleigh's."""
    answer = answered(BORE, HOLES, chance_outside=0.01)
    bore, holes = answer.zones
    squares = 36 * 2.5**2 / (2 * math.log(100))
    assert bore.zone_mm == pytest.approx(2 * math.sqrt(squares / 5) * THOU, rel=1e-6)
    assert holes.zone_mm == pytest.approx(math.sqrt(squares / 5) * THOU, rel=1e-6)
    assert answer.chance_outside == pytest.approx(0.01, rel=1e-6)
    assert answer.chance_outside_today == pytest.approx(outside(4, 4), abs=1e-12)
    # 5 + 40/z + 5 + 5/z, z in thou, to the cent
    price = 10 + 40 * THOU / bore.zone_mm + 5 * THOU / holes.zone_mm
    assert float(answer.zones_price.amount) == pytest.approx(price, abs=0.005)
    assert answer.zones_price_today.text == "21.25 USD"
    assert [row.today_price.text for row in answer.zones] == ["15.00 USD", "6.25 USD"]
    assert answer.correction_price is answer.saving is answer.tighter_pays is None


def test_break_even_is_where_both_drawings_cost_the_same() -> None:
    answer = answered(BORE, HOLES, chance_outside=0.001)
    assert answer.break_even_price is not None
    correction = answer.break_even_price
    again = answered(
        BORE,
        HOLES,
        chance_outside=0.001,
        correction={"price": {"amount": correction.amount, "currency": "USD"}},
    )
    today = float(again.zones_price_today.exact) + float(correction.exact) * outside(4, 4)
    then = float(again.zones_price.exact) + float(correction.exact) * again.chance_outside
    assert today == pytest.approx(then, abs=0.02)


def test_the_price_of_a_correction_is_hours_times_rate_and_parts() -> None:
    by_hours = {"hours": 2.5, "rate": usd("110.10"), "parts": usd("45.00")}
    answer = answered(BORE, correction=by_hours)
    assert answer.correction_price is not None
    assert answer.correction_price.exact == Fraction("320.25")
    assert answer == answered(BORE, correction={"price": usd("320.25")})


def test_against_a_grid_with_corrections() -> None:
    """Brute force over both zones, the chance in closed form."""
    answer = answered(BORE, HOLES, correction=CORRECTION)
    grid = np.geomspace(1, 12, 900)
    first, second = np.meshgrid(grid, grid)
    total = 10 + 40 / first + 5 / second + 400 * np.exp(-112.5 / (first**2 + second**2))
    assert answer.total_price is not None
    assert float(answer.total_price.exact) == pytest.approx(total.min(), abs=0.01)
    assert answer.total_price_today is not None
    assert answer.saving is not None
    today = 21.25 + 400 * outside(4, 4)
    assert float(answer.total_price_today.exact) == pytest.approx(today, abs=0.005)
    assert float(answer.saving.exact) == pytest.approx(today - total.min(), abs=0.015)
    tight = total[(first <= 4) & (second <= 4)]
    assert answer.tighter_saving is not None
    assert float(answer.tighter_saving.exact) == pytest.approx(today - tight.min(), abs=0.02)
    assert answer.tighter_pays is True


def test_quotes_are_the_curve_through_them() -> None:
    """5 + 40/z is 10.00 at 8 thou and 15.00 at 4 thou."""
    quotes = [{"zone": "8 thou", "price": usd("10.00")}, {"zone": "4 thou", "price": usd("15.00")}]
    by_quotes = {key: value for key, value in BORE.items() if key != "cost"} | {"quotes": quotes}
    assert answered(by_quotes, correction=CORRECTION) == answered(BORE, correction=CORRECTION)


def test_bounds_that_are_missing_are_assumed() -> None:
    quotes = [{"zone": "8 thou", "price": usd("10.00")}, {"zone": "3 thou", "price": usd("18.00")}]
    plain = {"name": "bore", "kind": "zone", "zone": "4 thou", "spread": "normal"}
    answer = answered({**plain, "quotes": quotes}, chance_outside=1e-5)
    assert answer.zones[0].zone_mm == pytest.approx(15 / math.sqrt(2 * math.log(1e5)) * THOU)
    assert answer.zones[0].at_bound is None
    assert "bore: the zone stays between the two quoted." in answer.assumed
    free = answered({**plain, "cost": COST}, chance_outside=0.9)
    assert free.zones[0].zone_mm == pytest.approx(16 * THOU)
    assert free.zones[0].at_bound == "largest"
    assert "bore: the zone stays between a quarter and four times today's." in free.assumed
    half = answered({**plain, "cost": COST, "zone_limits": {"high": "5 thou"}}, chance_outside=0.9)
    assert half.zones[0].zone_mm == pytest.approx(5 * THOU)


def test_a_zone_without_a_price_stays_and_counts() -> None:
    fixed = {"name": "block", "kind": "zone", "zone": "3 thou"}
    answer = answered(BORE, fixed, chance_outside=0.01)
    (row,) = answer.zones
    assert outside(row.zone_mm / THOU, 3) == pytest.approx(0.01, rel=1e-5)


# ── what it says ─────────────────────────────────────────────────────────────────────────


def test_it_says_what_to_draw_and_whether_tightening_pays() -> None:
    answer = answered(BORE, HOLES, correction=CORRECTION)
    assert WORKSHEET.say(answer, "in") == (
        "Draw bore 3.9 thou, holes 2 thou: 0.3 % outside, 23.90 USD a bell with corrections, "
        "9.24 USD less than today. A tighter drawing pays: tightening alone saves 9.24 USD a bell."
    )


def test_it_says_when_looser_is_cheaper() -> None:
    answer = answered({**BORE, "zone": "2 thou"}, correction={"price": usd("50.00")})
    said = WORKSHEET.say(answer, "mm")
    assert answer.zones[0].zone_mm > 2 * THOU
    assert answer.tighter_pays is False
    assert said.endswith("A tighter drawing does not pay.")


def test_it_says_when_the_drawing_is_right() -> None:
    best = answered(BORE, correction=CORRECTION).zones[0].zone_mm
    again = answered({**BORE, "zone": f"{best!r} mm"}, correction=CORRECTION)
    assert WORKSHEET.say(again, "in") == (
        "Leave the drawing as it is: no other zones make a bell cheaper. "
        "A tighter drawing does not pay."
    )
    assert again.saving is not None
    assert again.saving.text == "0.00 USD"


def test_it_says_the_price_at_which_a_wanted_chance_pays() -> None:
    answer = answered(BORE, chance_outside=0.0001)
    assert answer.break_even_price is not None
    assert WORKSHEET.say(answer, "in") == (
        "Draw bore 3.5 thou: 0.01 % outside, 16.45 USD a bell for these zones, 1.45 USD more than "
        f"today. A tighter drawing pays once a correction costs more than "
        f"{answer.break_even_price.text}."
    )


def test_it_says_when_a_wanted_chance_does_not_pay() -> None:
    answer = answered(BORE, chance_outside=1e-6, correction={"price": usd("1.00")})
    assert answer.saving is not None
    assert answer.saving.exact < 0
    assert "a bell more than today, corrections counted." in WORKSHEET.say(answer, "in")


# ── what it refuses ──────────────────────────────────────────────────────────────────────

QUOTE = {"zone": "4 thou", "price": usd("10.00")}
PLAIN = {"name": "bore", "kind": "zone", "zone": "4 thou"}

REFUSED: list[tuple[list[dict[str, Any]], dict[str, Any], list[str]]] = [
    ([BORE], {}, ["nothing to aim at; give chance_outside, correction or both"]),
    (
        [PLAIN],
        {"chance_outside": 0.01},
        ["contributors: no zone has a price; give one cost or quotes"],
    ),
    (
        [BORE],
        {"chance_outside": 0},
        ['chance_outside: "0" is out of range; give a number greater than or equal to 1e-07'],
    ),
    (
        [BORE],
        {"chance_outside": "1 %"},
        ['chance_outside: "1 %" is not a number; write a plain finite number'],
    ),
    (
        [{**BORE, "zone_limits": {"low": "4 thou"}}],
        {"chance_outside": 1e-6},
        [
            (
                "chance_outside: 1e-06 cannot be reached; the least found is 0.000884; "
                "allow tighter zones, or more outside"
            )
        ],
    ),
    (
        [{**BORE, "quotes": [QUOTE, QUOTE]}],
        {"chance_outside": 0.01},
        ["contributors[0]: cost and quotes given; give one of the two"],
    ),
    (
        [{**PLAIN, "quotes": [QUOTE, QUOTE]}],
        {"chance_outside": 0.01},
        ["contributors[0].quotes: both are for the same zone; ask for two zones"],
    ),
    (
        [{**PLAIN, "quotes": [QUOTE, {**QUOTE, "zone": "2 thou"}]}],
        {"chance_outside": 0.01},
        ["contributors[0].quotes: the tighter zone is not dearer; check them"],
    ),
    (
        [{**PLAIN, "quotes": [QUOTE]}],
        {"chance_outside": 0.01},
        ["contributors[0].quotes: 1 given; give 2 or more"],
    ),
    (
        [{**PLAIN, "zone_limits": {"low": "1 thou"}}],
        {"chance_outside": 0.01},
        ["contributors[0]: zone_limits without a price; give cost or quotes"],
    ),
    (
        [{**BORE, "zone_limits": {"low": "9 thou", "high": "2 thou"}}],
        {"chance_outside": 0.01},
        ["contributors[0].zone_limits: low is above high; swap them"],
    ),
    (
        [{**BORE, "cost": {**COST, "b": usd("0")}}],
        {"chance_outside": 0.01},
        ["contributors[0].cost: b is zero; a tighter zone must be dearer"],
    ),
    (
        [{**BORE, "cost": {**COST, "b": {"amount": "1", "currency": "EUR"}}}],
        {"chance_outside": 0.01},
        ["currencies EUR and USD; give every amount in one currency"],
    ),
    (
        [BORE],
        {"correction": {"price": {"amount": "1", "currency": "EUR"}}},
        ["currencies EUR and USD; give every amount in one currency"],
    ),
    (
        [{**BORE, "cost": {**COST, "a": {"amount": 5.0, "currency": "USD"}}}],
        {"chance_outside": 0.01},
        ['contributors[0].cost.a.amount: "5.0" is not text; write it as "12.50"'],
    ),
    ([BORE], {"correction": {}}, ["correction: no price; give price, or hours and rate"]),
    ([BORE], {"correction": {"hours": 3}}, ["correction: no price; give price, or hours and rate"]),
    (
        [BORE],
        {"correction": {**CORRECTION, "hours": 3, "rate": usd("1.00")}},
        ["correction: price and its parts given; give one of the two"],
    ),
    (
        [BORE, {**BORE, "zone": "0 mm", "name": "x"}],
        {"chance_outside": 0.01},
        ['contributors[1].zone: "0 mm" is not above zero; give more than zero'],
    ),
    (
        [BORE, BORE],
        {"chance_outside": 0.01},
        ['contributors[1].name: "bore" is used twice; name each once'],
    ),
]


@pytest.mark.parametrize(("contributors", "aim", "lines"), REFUSED)
def test_what_cannot_be_used_is_refused_by_name(
    contributors: list[dict[str, Any]], aim: dict[str, Any], lines: list[str]
) -> None:
    with pytest.raises(InputError) as caught:
        solve(read(WORKSHEET.case, case(*contributors, **aim)))
    assert caught.value.lines == lines


def test_money_is_never_a_float_at_the_edge() -> None:
    answer = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example))).model_dump(mode="json")
    for name, value in answer.items():
        if name.endswith(("price", "saving", "price_today")):
            assert isinstance(value["amount"], str)
            assert value["currency"] == "USD"
