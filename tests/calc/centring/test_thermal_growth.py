"""Growth by heat: expansions as published, and the small geometry by hand."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.centring.thermal_growth import EXPANSION_PER_K, growth
from kitwright.errors import InputError


@pytest.mark.parametrize(
    ("material", "ppm"),
    [
        ("aluminium A380", 21.8),  # NADCA table A-3-2
        ("aluminium 380", 22.0),  # NADCA table A-3-2
        ("aluminium A356", 21.4),  # materials data sheet
        ("aluminium A356-T6", 21.5),  # castings to ASTM B108
        ("aluminium 6061-T6", 23.6),  # MIL-HDBK-5, from memory
        ("steel", 11.7),  # Shigley, table A-5, 1020, from memory
    ],
)
def test_published_expansions(material: str, ppm: float) -> None:
    assert EXPANSION_PER_K[material] == pytest.approx(ppm * 1e-6, rel=1e-12)


def test_grey_iron_is_in_its_range() -> None:
    """10 to 12 ppm/K (Shigley, table A-24, from memory)."""
    assert 10e-6 <= EXPANSION_PER_K["grey iron"] <= 12e-6


def test_a380_of_an_inch_and_a_degree_fahrenheit() -> None:
    """NADCA prints 12.1 µin/in°F for A380 as well."""
    assert EXPANSION_PER_K["aluminium A380"] * 5 / 9 == pytest.approx(12.1e-6, abs=0.05e-6)


def test_bolt_circle_of_400_mm() -> None:
    """Aluminium on steel, 400 mm, 70 K: the diameters grow apart by 0.2828 mm (derived)."""
    warm = growth(
        temperature_rise_k=70,
        bell_per_k=EXPANSION_PER_K["aluminium A380"],
        block_per_k=EXPANSION_PER_K["steel"],
        bore_mm=np.array([0.0, 0.0]),
        half_span_mm=np.array([-200.0, 0.0]),
    )
    assert warm.free_mm.tolist() == [0, 0]
    assert warm.held_mm is not None
    a_holds, b_holds = warm.held_mm
    assert 2 * np.hypot(*a_holds) == pytest.approx(0.2828, abs=5e-5)
    # dowel a is at the left and holds: the bell grows to the right
    assert a_holds[0] > 0 > b_holds[0]
    np.testing.assert_allclose(a_holds, -b_holds)


def test_steel_alone_grows_as_printed() -> None:
    """10 in of steel from 68 to 100 °F at 6.5 ppm/°F: 0.00208 in (published unit check)."""
    warm = growth(
        temperature_rise_k=32 * 5 / 9,
        bell_per_k=6.5e-6 * 9 / 5,
        block_per_k=0,
        bore_mm=np.array([0.0, 10 * 25.4]),
    )
    assert warm.free_mm[1] / 25.4 == pytest.approx(0.00208, abs=5e-6)
    assert warm.held_mm is None


def test_the_bore_moves_away_from_the_middle_and_back() -> None:
    """The bore lies above the dowels: a bell that grows more carries it up; cooling carries it
    down; equal metals leave it."""
    place = {"bore_mm": np.array([0.0, 30.0]), "half_span_mm": np.array([-170.0, 0.0])}
    up = growth(temperature_rise_k=70, bell_per_k=22e-6, block_per_k=11e-6, **place)
    down = growth(temperature_rise_k=-70, bell_per_k=22e-6, block_per_k=11e-6, **place)
    same = growth(temperature_rise_k=70, bell_per_k=11e-6, block_per_k=11e-6, **place)
    np.testing.assert_allclose(up.free_mm, [0, 30 * 11e-6 * 70])
    np.testing.assert_allclose(down.free_mm, -up.free_mm)
    np.testing.assert_allclose(same.free_mm, 0)
    # the middle of the two bounds is the free slip
    assert up.held_mm is not None
    np.testing.assert_allclose(up.held_mm.mean(axis=0), up.free_mm)


def test_numbers_that_are_none() -> None:
    with pytest.raises(InputError, match="temperature_rise: nan is not a number"):
        growth(temperature_rise_k=np.nan, bell_per_k=0, block_per_k=0, bore_mm=np.zeros(2))
