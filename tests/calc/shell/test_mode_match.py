"""Heard modes beside computed ones: known pairs, known changes of the wall."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from kitwright.calc.shell.mode_match import TOLERANCE, match, pair_up
from kitwright.errors import InputError

# Free steel tube R .1 m, L .3 m, h 2 mm, E 210 GPa (Sanders' theory, derived): pairs n = 2, 3, 4.
TUBE = np.array([133.24, 156.05, 376.84, 410.20, 722.43, 759.85])


@pytest.mark.parametrize("ratio", [0.62, 0.9, 0.98, 1.0, 1.07, 1.5])
def test_the_modulus_comes_back(ratio) -> None:
    """Exact: every frequency rises as the root of E; with one mode not heard and one not of it."""
    heard = np.append(np.delete(TUBE, 3), 505.0) * math.sqrt(ratio)
    found = match(heard, TUBE)
    assert math.exp(found.change) == pytest.approx(ratio, rel=1e-9)
    assert found.pairs == ((0, 0), (1, 1), (2, 2), (3, 4), (4, 5))
    assert found.rms_after < 1e-9
    assert found.rms_before == pytest.approx(abs(math.log(ratio)) / 2, abs=1e-9)


def test_each_mode_may_rise_with_the_wall_in_its_own_way() -> None:
    """Ring modes of a thin tube rise as t, others less: ln t is found from the slopes."""
    slopes = np.array([0.95, 0.6, 0.9, 0.7, 0.97, 0.85])
    for thicker in (0.93, 1.04):
        found = match(TUBE * thicker**slopes, TUBE, slopes)
        assert math.exp(found.change) == pytest.approx(thicker, rel=1e-9)
        assert len(found.pairs) == 6


def test_scatter_gives_the_uncertainty() -> None:
    """Frequencies off by 0.5 % at random: the change's error is what it says, over 150 draws."""
    rng = np.random.default_rng(4)
    found = [match(TUBE * np.exp(rng.normal(0, 0.005, 6)), TUBE) for _ in range(150)]
    u = 0.005 / (0.5 * math.sqrt(6))
    assert np.std([each.change for each in found]) == pytest.approx(u, rel=0.2)
    assert np.median([each.change_u for each in found]) == pytest.approx(u, rel=0.15)


def test_a_pair_that_split_keeps_two() -> None:
    assert pair_up([712.0, 715.5], [713.0, 713.0, 1400.0]) == [(0, 0), (1, 1)]


def test_the_order_given_does_not_matter() -> None:
    heard, turned = TUBE[[4, 0, 2]], [5, 3, 1, 0, 2, 4]
    pairs = pair_up(heard, TUBE[turned])
    assert {(i, turned[j]) for i, j in pairs} == {(0, 4), (1, 0), (2, 2)}


logs = st.lists(st.floats(math.log(50), math.log(4000)), min_size=1, max_size=8)


@given(logs, logs)
def test_pairs_are_near_and_do_not_cross(a, b) -> None:
    """Never more than an assignment by scipy that may cross could make, and with one computed mode
    as many."""
    heard, computed = np.exp(sorted(a)), np.exp(sorted(b))
    pairs = pair_up(heard, computed)
    for i, j in pairs:
        assert abs(math.log(heard[i] / computed[j])) < TOLERANCE
    assert all(x[0] < y[0] and x[1] < y[1] for x, y in itertools.pairwise(pairs))
    away = np.abs(np.log(heard[:, None] / computed)) < TOLERANCE
    rows, columns = linear_sum_assignment(-away.astype(float))
    assert len(pairs) <= away[rows, columns].sum()
    if len(computed) == 1:
        assert len(pairs) == away[rows, columns].sum()


def test_nothing_near_is_refused() -> None:
    with pytest.raises(InputError, match="no computed mode lies near"):
        match([100.0], [9000.0])
    with pytest.raises(InputError, match="above zero"):
        match([100.0], [0.0])
    assert match([100.0], [101.0]).change_u is None


@pytest.mark.parametrize("count", [2, 3])
def test_few_pairs_say_how_little_they_know(count: int) -> None:
    """Over 150 draws the interval holds the true change 95 times in 100, also with two pairs."""
    computed = np.array([300.0, 700.0, 1100.0, 1600.0, 2200.0, 2900.0, 3700.0, 4600.0])[:count]
    rng, inside = np.random.default_rng(4), 0
    for _ in range(150):
        found = match(computed * np.exp(0.5 * 0.05 + rng.normal(0, 0.003, count)), computed)
        assert found.change_u95 is not None
        inside += abs(found.change - 0.05) < found.change_u95
    assert inside / 150 > 0.9  # twice the standard uncertainty: 0.7 with two pairs
    assert match([100.0], [101.0]).change_u95 is None
