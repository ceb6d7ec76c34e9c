"""Zones at least price: against closed forms, brute force, and the balance at an optimum."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.measured import Measured
from kitwright.calc.centring.radial_budget import chance_outside, far_mm
from kitwright.calc.centring.radial_exact import chance_and_slopes
from kitwright.calc.centring.rigid import bore_influence
from kitwright.calc.centring.zone_cost import (
    CheapestZones,
    PricedZone,
    ZonePrice,
    cheapest_zones,
    price_of,
)
from kitwright.errors import InputError

LIMIT = 0.127
DOWELS = bore_influence([-170, -20], [150, 10])


def priced(
    per_inverse: float, *, today: Zone | None = None, low: float = 0.01, high: float = 1.0
) -> PricedZone:
    return PricedZone(
        today=today or Zone(zone_mm=0.1),
        price=ZonePrice(fixed=3.0, per_inverse_mm=per_inverse),
        low_mm=low,
        high_mm=high,
    )


def found(
    zones: Sequence[PricedZone], others: Sequence[Contributor] = (), **aim: float
) -> CheapestZones:
    return cheapest_zones(zones, others, limit_tir_mm=LIMIT, **aim)  # type: ignore[arg-type]


def rayleigh(zones: Sequence[float] | np.ndarray) -> float | np.ndarray:
    """The chance outside of normal zones alone, in closed form."""
    squares = np.sum(np.square(zones), axis=0)
    return np.exp(-((LIMIT / 2) ** 2) / 2 / (squares / 36))


# ── closed forms ─────────────────────────────────────────────────────────────────────────


def test_zones_are_as_the_cube_roots_of_their_prices() -> None:
    """Lagrange: least of the sum of b / z under a fixed sum of z² has z³ in proportion to b."""
    prices = (1.0, 8.0, 3.0)
    answer = found([priced(b) for b in prices], wanted_outside=0.01)
    # the sum of squares that leaves 1 % outside (Rayleigh)
    total = 36 * (LIMIT / 2) ** 2 / (2 * math.log(100))
    shape = np.cbrt(prices)
    expected = shape * math.sqrt(total / (shape @ shape))
    np.testing.assert_allclose(answer.zones_mm, expected, rtol=1e-6)
    assert answer.chance_outside == pytest.approx(0.01, rel=1e-7)
    assert answer.zones_price == pytest.approx(9 + float(np.sum(prices / expected)), rel=1e-9)
    assert answer.total_price == answer.zones_price


def test_one_zone_against_the_price_of_corrections() -> None:
    """b / z² = P dc/dz with c = exp(-18 r² / z²), solved by bisection."""
    answer = found([priced(2.0)], correction_price=375.0)

    def balance(zone: float) -> float:
        c = float(rayleigh([zone]))
        return 375 * c * 36 * (LIMIT / 2) ** 2 / zone**3 - 2 / zone**2

    low, high = 0.02, 0.15
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (low, middle) if balance(middle) > 0 else (middle, high)
    assert answer.zones_mm[0] == pytest.approx(low, rel=1e-6)
    assert answer.marginal_price == pytest.approx(375, rel=1e-6)
    assert answer.total_price == pytest.approx(3 + 2 / low + 375 * float(rayleigh([low])), rel=1e-9)


# ── brute force ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("wanted", [None, 0.002])
@pytest.mark.parametrize("correction", [20.0, 400.0, 5000.0])
def test_nothing_on_a_grid_is_cheaper(correction: float, wanted: float | None) -> None:
    zones = [priced(1.0, low=0.02, high=0.3), priced(4.0, low=0.02, high=0.3)]
    aim = {} if wanted is None else {"wanted_outside": wanted}
    answer = found(zones, correction_price=correction, **aim)
    grid = np.geomspace(0.02, 0.3, 700)
    first, second = np.meshgrid(grid, grid)
    outside = rayleigh(np.array([first, second]))
    total = 6 + 1 / first + 4 / second + correction * outside
    allowed = total[outside <= (1 if wanted is None else wanted)]
    assert answer.total_price <= allowed.min() * (1 + 1e-9)
    assert answer.total_price > 0.999 * allowed.min()


def test_of_two_valleys_the_deeper_is_found() -> None:
    """With cheap corrections it pays to let go; a little dearer, accuracy pays. Both ends of the
    jump are the least on a grid of the closed form."""
    grid = np.geomspace(0.01, 3, 20_000)
    ends = set()
    for correction in np.geomspace(5, 80, 9):
        answer = found([priced(1.0, low=0.01, high=3)], correction_price=correction)
        total = 3 + 1 / grid + correction * rayleigh([grid])
        assert answer.total_price == pytest.approx(total.min(), rel=1e-5)
        ends.add(answer.zones_mm[0] > 0.5)
    assert ends == {True, False}


# ── what holds at every optimum ──────────────────────────────────────────────────────────

OTHERS: list[Contributor] = [
    Fixed.at(180, 0.0254),
    Line.at(20, 0.02, "even"),
    Zone(zone_mm=0.05).through(DOWELS.of_b),
    Measured(np.random.default_rng(2).normal(size=(30, 2)) * 0.008),
]


@settings(max_examples=12)
@given(
    st.lists(st.floats(0.05, 20), min_size=1, max_size=3),
    st.floats(100, 5000),
    st.sampled_from(["normal", "disc", "edge"]),
)
def test_the_balance_holds_and_no_step_is_cheaper(
    prices: list[float], correction: float, spread: str
) -> None:
    today = Zone(zone_mm=0.06, spread=spread, influence=DOWELS.of_a)  # type: ignore[arg-type]
    zones = [priced(prices[0], today=today), *(priced(b) for b in prices[1:])]
    answer = found(zones, OTHERS, correction_price=correction)
    assert answer.imbalance < 1e-4
    if answer.marginal_price is not None:
        assert answer.marginal_price == pytest.approx(correction, rel=1e-4)
    for number in range(len(zones)):
        for factor in (0.97, 1.03):
            moved = list(answer.zones_mm)
            moved[number] = float(np.clip(moved[number] * factor, 0.01, 1.0))
            changed = [
                Zone(zone_mm=size, spread=each.today.spread, influence=each.today.influence)
                for each, size in zip(zones, moved, strict=True)
            ]
            outside = chance_outside([*OTHERS, *changed], limit_tir_mm=LIMIT)
            total = price_of(zones, moved) + correction * outside
            assert total >= answer.total_price * (1 - 1e-9)


def test_a_wanted_chance_and_its_price_are_one_question() -> None:
    """The price of the last correction avoided, taken as the price of all, gives the same zones."""
    zones = [priced(1.0), priced(4.0)]
    by_chance = found(zones, OTHERS, wanted_outside=0.005)
    assert by_chance.marginal_price is not None
    by_price = found(zones, OTHERS, correction_price=by_chance.marginal_price)
    np.testing.assert_allclose(by_price.zones_mm, by_chance.zones_mm, rtol=1e-4)


def test_bounds_hold_and_are_told_by_the_balance() -> None:
    zones = [priced(1.0, low=0.05, high=0.06), priced(4.0)]
    answer = found(zones, wanted_outside=0.01)
    assert 0.05 <= answer.zones_mm[0] <= 0.06
    assert answer.imbalance < 1e-5
    fixed = found([priced(1.0, low=0.05, high=0.05)], correction_price=10)
    assert fixed.zones_mm == pytest.approx((0.05,))
    assert fixed.marginal_price is None


def test_a_chance_that_costs_nothing_is_taken() -> None:
    """Where even the loosest zones are good enough, they are drawn."""
    answer = found([priced(1.0, high=0.05)], wanted_outside=0.5)
    assert answer.zones_mm == pytest.approx((0.05,))
    assert answer.chance_outside < 0.5


def test_the_currency_does_not_matter_and_lengths_scale() -> None:
    zones = [priced(1.0), priced(4.0)]
    dear = [priced(100.0), priced(400.0)]
    one, other = found(zones, correction_price=300), found(dear, correction_price=30_000)
    np.testing.assert_allclose(one.zones_mm, other.zones_mm, rtol=1e-6)
    large = [priced(10.0, low=0.1, high=10), priced(40.0, low=0.1, high=10)]
    scaled = cheapest_zones(large, (), limit_tir_mm=10 * LIMIT, correction_price=300)
    np.testing.assert_allclose(scaled.zones_mm, np.multiply(10, one.zones_mm), rtol=1e-6)


def test_zones_that_only_a_simulation_can_judge() -> None:
    """An edge and an even line: no exact way; the zone still balances within the noise."""
    today = Zone(zone_mm=0.06, spread="edge")
    others = [Line.at(30, 0.03, "even")]
    answer = found([priced(2.0, today=today, high=0.2)], others, correction_price=300)
    grid = np.geomspace(0.05, 0.1, 15)
    outside = [
        chance_outside([*others, Zone(zone_mm=size, spread="edge")], limit_tir_mm=LIMIT)
        for size in grid
    ]
    total = 3 + 2 / grid + 300 * np.array(outside)
    assert answer.total_price <= total.min() * 1.001


@pytest.mark.parametrize("spread", ["normal", "disc", "edge"])
def test_slopes_are_those_of_the_chance(spread: str) -> None:
    zones = [
        Zone(zone_mm=0.08, spread=spread),  # type: ignore[arg-type]
        Zone(zone_mm=0.07, spread=spread, influence=DOWELS.of_a),  # type: ignore[arg-type]
    ]
    known = chance_and_slopes(OTHERS, zones, 0.04, far_mm([*OTHERS, *zones]))
    assert known is not None
    chance, slopes = known
    assert chance == pytest.approx(1 - chance_outside([*OTHERS, *zones], limit_tir_mm=0.08))
    for number, zone in enumerate(zones):
        sides = []
        for factor in (math.exp(1e-4), math.exp(-1e-4)):
            changed = list(zones)
            changed[number] = Zone(
                zone_mm=zone.zone_mm * factor, spread=zone.spread, influence=zone.influence
            )
            sides.append(1 - chance_outside([*OTHERS, *changed], limit_tir_mm=0.08))
        assert slopes[number] == pytest.approx((sides[0] - sides[1]) / 2e-4, rel=1e-5)


# ── prices and what is refused ───────────────────────────────────────────────────────────


@given(st.floats(0.01, 1), st.floats(1.1, 10), st.floats(1, 100), st.floats(1, 100))
def test_a_price_goes_through_its_quotes(
    tight: float, times: float, cheap: float, rise: float
) -> None:
    quotes = [(tight, cheap + rise), (tight * times, cheap)]
    for order in (quotes, quotes[::-1]):
        price = ZonePrice.through(order)
        for zone, quoted in quotes:
            assert price.at(zone) == pytest.approx(quoted, rel=1e-9)
        assert price.at(tight / 2) > price.at(tight)


@pytest.mark.parametrize(
    ("quotes", "line"),
    [
        ([(0.1, 20.0)], "quotes: 1 given; give two, of different zones"),
        ([(0.1, 20.0), (0.1, 30.0)], "quotes: both are for the same zone; ask for two zones"),
        ([(0.1, 20.0), (0.2, 30.0)], "quotes: the tighter zone is not dearer; check them"),
        ([(0.1, 20.0), (0.2, 20.0)], "quotes: the tighter zone is not dearer; check them"),
    ],
)
def test_quotes_that_make_no_price(quotes: list[tuple[float, float]], line: str) -> None:
    with pytest.raises(InputError) as caught:
        ZonePrice.through(quotes)
    assert caught.value.lines == [line]


@pytest.mark.parametrize(
    ("zones", "aim", "line"),
    [
        ([], {"correction_price": 1}, "contributors: no zone has a cost; give one cost or quotes"),
        ([priced(1)], {}, "chance_outside: missing; give it, or the price of a correction"),
        ([priced(1)], {"correction_price": -1}, "correction: -1 is negative; give zero or more"),
        (
            [priced(1)],
            {"wanted_outside": 1e-9},
            "chance_outside: 1e-09; give 1e-07 or more, and below 1",
        ),
        (
            [priced(1, low=0.2)],
            {"wanted_outside": 0.01},
            (
                "chance_outside: 0.01 cannot be reached; the least found is 0.163; "
                "allow tighter zones, or more outside"
            ),
        ),
    ],
)
def test_aims_that_cannot_be_met(zones: list[PricedZone], aim: dict[str, float], line: str) -> None:
    with pytest.raises(InputError) as caught:
        found(zones, **aim)
    assert caught.value.lines == [line]


@pytest.mark.parametrize(
    ("bounds", "line"),
    [
        ({"low": 0.2, "high": 0.1}, "zone_limits: low is above high; swap them"),
        ({"low": 0.0}, "zone_limits.low: 0 is not above zero; give more than zero"),
        ({"high": math.nan}, "zone_limits.high: nan is not a number; give a finite number"),
    ],
)
def test_bounds_that_are_none(bounds: dict[str, float], line: str) -> None:
    with pytest.raises(InputError) as caught:
        priced(1.0, **bounds)
    assert caught.value.lines == [line]
