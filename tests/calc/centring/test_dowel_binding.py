"""The chance that a bell binds, against closed forms, another method and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from kitwright.calc.centring.dowel_binding import bind_mm, chance_binds
from kitwright.calc.centring.dowel_chance import Spread, chance_inside

SEVEN = 0.1778  # mm; sizes sold: common practice, no source
FIVE = np.radians(5.0)


def binds(a, b, clearance, error):
    """For dowels a and b given as (size, angle of the slot from the line)."""
    parts = [
        np.atleast_1d(size * np.array(wave(angle)))
        for size, angle in (a, b)
        for wave in (np.cos, lambda angle: -np.sin(angle))
    ]
    return chance_binds(*parts, hole_clearance_mm=clearance, angle_error_rad=error)


def test_both_holes_together_give_one_diametral_clearance():
    """One dowel, slot across the line: it binds where |s sin p| exceeds the clearance."""
    for clearance in (0.005, 0.02, 0.06):
        edge = np.arcsin(clearance / SEVEN) / FIVE
        for pair in (((SEVEN, np.pi / 2), (0, 0)), ((0, 0), (SEVEN, -np.pi / 2))):
            found = binds(*pair, clearance, FIVE)
            assert found.chance.item() == pytest.approx(2 * ndtr(-edge), abs=1e-11)
    np.testing.assert_allclose(
        bind_mm([-0.05, 0.03, 0.02, 0.01], hole_clearance_mm=0.02), [0.03, 0.01, 0, 0], atol=1e-15
    )


def test_slot_along_the_line():
    """One dowel, slot along the line and matched: s (1 - cos p) is of second order in p."""
    found = binds((SEVEN, 0.0), (1e-12, 0.0), 1e-3, FIVE)
    # against a plain dowel the shift s itself is a mismatch far beyond the clearance
    assert found.chance.item() == 1
    equal = binds((SEVEN, 0.0), (SEVEN, 0.0), 0.002, FIVE)
    rng = np.random.default_rng(8)
    p, q = rng.normal(0, FIVE, (2, 2_000_000))
    share = np.mean(np.abs(SEVEN * (np.cos(p) - np.cos(q))) > 0.002)
    chance = equal.chance.item()
    assert abs(share - chance) <= 4 * np.sqrt(chance * (1 - chance) / 2e6)


@pytest.mark.parametrize("seed", range(10))
def test_agrees_with_the_method_of_rays(seed):
    """The plane of both errors ray by ray is another algorithm for the same chance."""
    rng = np.random.default_rng(seed)
    a, b = rng.uniform(0.1, 0.5, 2)
    angle_a = rng.uniform(-np.pi, np.pi)
    angle_b = np.arccos(np.clip(a * np.cos(angle_a) / b, -1, 1)) * rng.choice([-1, 1])
    clearance, error = rng.uniform(0.01, 0.05), rng.uniform(0.03, 0.3)
    mine = binds((a, angle_a), (b, angle_b), clearance, error)
    mismatch = Spread(
        still=np.zeros(1, complex),
        a_cos=np.array([a * np.cos(angle_a)], complex),
        a_sin=np.array([-a * np.sin(angle_a)], complex),
        b_cos=np.array([-b * np.cos(angle_b)], complex),
        b_sin=np.array([b * np.sin(angle_b)], complex),
    )
    rays = chance_inside(mismatch, clearance, angle_error_rad=error)
    allowed = mine.error.item() + rays.error.item()
    assert 0 < mine.chance.item() < 1
    assert mine.chance.item() == pytest.approx(1 - rays.chance.item(), abs=allowed)
    assert mine.error.item() < 5e-5


def test_errors_that_go_all_the_way_round():
    """Half a turn of standard error: the far sides of both circles count too."""
    found = binds((0.3, 1.0), (0.2, 0.5), 0.05, 2.5)
    rng = np.random.default_rng(9)
    p, q = rng.normal(0, 2.5, (2, 2_000_000))
    share = np.mean(np.abs(0.3 * np.cos(1.0 + p) - 0.2 * np.cos(0.5 + q)) > 0.05)
    chance = found.chance.item()
    assert 0.1 < chance < 0.9
    assert abs(share - chance) <= 4 * np.sqrt(chance * (1 - chance) / 2e6)


def test_nothing_binds_without_errors_and_everything_turned_without_clearance():
    a, b, none = np.array([0.1, 0.0]), np.array([0.1, 0.0]), np.zeros(2)
    still = chance_binds(a, none, b, none, hole_clearance_mm=0.01, angle_error_rad=0.0)
    assert still.chance.tolist() == [0, 0]
    tight = chance_binds(a, none, b, none, hole_clearance_mm=0.0, angle_error_rad=FIVE)
    assert tight.chance.tolist() == [1, 0]
    plain = chance_binds(none, none, none, none, hole_clearance_mm=0.01, angle_error_rad=FIVE)
    assert plain.chance.tolist() == [0, 0]
