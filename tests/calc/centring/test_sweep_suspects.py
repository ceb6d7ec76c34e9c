"""Readings that do not belong: named, shown, never dropped."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import stdtr

from kitwright.calc.centring.sweep import sweep_bore
from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_fit import basis, fit, rows_of
from kitwright.calc.centring.sweep_suspects import CHANCE, chance_beyond, misfits

QUIET = Dial(repeatability_mm=0.001, graduation_mm=0.002, error_mm=0.005)
EIGHT = np.arange(0.0, 360.0, 45.0)


def noisy(clock, rng, sigma=0.002):
    t = np.radians(clock)
    exact = -0.03 * np.sin(t) - 0.05 * np.cos(t) + 0.004 * np.cos(2 * t)
    return np.column_stack([clock, exact + rng.normal(0, sigma, len(clock))])


def bore(readings, **more):
    return sweep_bore(readings, limit_mm=0.127, dial=QUIET, form_allowance_mm=0.02, **more)


@given(t=st.floats(0, 60), freedom=st.integers(1, 60))
def test_student_against_scipy(t, freedom):
    assert chance_beyond(t, freedom) == pytest.approx(2 * stdtr(freedom, -t), abs=1e-13)


@pytest.mark.parametrize(
    ("t", "freedom", "p"), [(2.12, 16, 0.95), (2.17, 16, 0.9545), (2.92, 16, 0.99)]
)
def test_student_against_the_guide(t, freedom, p):
    """JCGM 100:2008, Table G.2, printed to two decimals."""
    below, above = (1 - chance_beyond(t + side * 0.005, freedom) for side in (-1, 1))
    assert below <= p <= above


def test_the_misfit_is_the_distance_from_the_others_curve():
    """Against fits that really leave each reading out in turn."""
    rng = np.random.default_rng(5)
    clock = np.arange(0.0, 360.0, 30.0)
    table = noisy(clock, rng)
    table[4, 1] += 0.05
    rows = rows_of(table)
    named = {m.row: m for m in misfits(fit([rows], second=True), noise_mm=0.0)}
    assert set(named) == {4}
    keep = np.arange(12) != 4
    design = np.column_stack([np.ones(12), basis(clock, second=True)])
    best, square, *_ = np.linalg.lstsq(design[keep], table[keep, 1])
    off = table[4, 1] - design[4] @ best
    assert named[4].misfit_mm == pytest.approx(off, rel=1e-9)
    variance = square[0] / (11 - 5)
    reach = 1 + design[4] @ np.linalg.inv(design[keep].T @ design[keep]) @ design[4]
    chance = 12 * 2 * stdtr(11 - 5, -off / np.sqrt(variance * reach))
    assert named[4].chance == pytest.approx(chance, rel=1e-6)


@pytest.mark.parametrize("wrong", range(8))
@pytest.mark.parametrize("by", [-0.254, 0.127])
def test_one_reading_in_eight_is_named_and_kept(wrong, by):
    table = noisy(EIGHT, np.random.default_rng(1), sigma=0.001)
    good = bore(table)
    assert good.sweep.suspects == ()
    table[wrong, 1] += by
    found = bore(table)
    (suspect,) = found.sweep.suspects
    assert suspect.clock_deg == EIGHT[wrong]
    assert suspect.misfit_mm == pytest.approx(by, abs=0.02)
    assert suspect.chance < CHANCE
    left_out = bore(np.delete(table, wrong, axis=0))
    assert suspect.without.tir_mm == pytest.approx(left_out.sweep.tir_mm, abs=1e-12)
    assert suspect.without.verdict == left_out.sweep.verdict
    moved = found.sweep.first_mm - good.sweep.first_mm  # it is used all the same
    assert np.hypot(*moved) == pytest.approx(abs(by) * 2 / 8)
    assert found.sweep.tir_u95_mm > 5 * good.sweep.tir_u95_mm  # and says so


def test_a_suspect_in_a_repeat_is_placed():
    rng = np.random.default_rng(2)
    one, two, three = (noisy(EIGHT, rng, sigma=0.001) for _ in range(3))
    two[3, 1] += 0.1
    (suspect,) = bore(one, repeats=[two, three]).sweep.suspects
    assert (suspect.sweep, suspect.clock_deg) == (1, 135.0)


def test_a_curve_that_does_not_fit_accuses_no_crowd():
    """Dents in five of forty-eight places: the worst are named, no more than one in eight."""
    clock = np.arange(0.0, 360.0, 7.5)
    table = noisy(clock, np.random.default_rng(8), sigma=0.0001)
    table[::8, 1] += 0.5
    named = bore(table).sweep.suspects
    assert len(named) <= 6
    table = noisy(clock, np.random.default_rng(8), sigma=0.0001)
    table[[5, 30], 1] += (0.2, -0.3)
    assert [s.clock_deg for s in bore(table).sweep.suspects] == [225.0, 37.5]


def test_good_sweeps_are_seldom_accused():
    """One in twenty at most, by 1500 sweeps of twelve."""
    rng = np.random.default_rng(4)
    clock = np.arange(0.0, 360.0, 30.0)
    fits = (fit([rows_of(noisy(clock, rng))], second=True) for _ in range(1500))
    accused = sum(bool(misfits(found, noise_mm=0.0)) for found in fits)
    assert 0.02 < accused / 1500 <= CHANCE + 3 * np.sqrt(CHANCE * (1 - CHANCE) / 1500)


def test_no_judge_without_witnesses():
    """Seven readings leave one degree of freedom, a steady reading no scatter to judge by."""
    seven = np.arange(7) * 360 / 7
    table = noisy(seven, np.random.default_rng(3))
    table[2, 1] += 0.3
    assert bore(table).sweep.suspects == ()
    steady = np.column_stack([EIGHT, -0.05 * np.cos(np.radians(EIGHT))])
    steady[1, 1] += 0.0005  # less than the dial's own graduation
    assert bore(steady).sweep.suspects == ()
    lone = np.array([0.0, 2, 4, 6, 8, 10, 12, 180, 90])
    table = np.column_stack([lone, np.random.default_rng(6).normal(0, 0.001, 9)])
    table[7, 1] += 1.0  # nothing else says how high 6 o'clock is
    assert 180.0 not in [s.clock_deg for s in bore(table).sweep.suspects]
