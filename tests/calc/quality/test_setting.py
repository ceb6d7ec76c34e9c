"""Where a machine stands: the line and its intervals against scipy, the decisions by chance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kitwright.calc.quality.setting import LEAST, setting
from kitwright.errors import InputError

# Longley-free data of our own; the reference is scipy.stats, which anyone would use.
WORN = np.array([0.002, 0.004, 0.003, 0.007, 0.006, 0.010, 0.009, 0.012, 0.013, 0.012])
STEADY = np.array([0.021, 0.018, 0.022, 0.019, 0.020, 0.023, 0.019, 0.020])


@pytest.mark.parametrize("values", [WORN, STEADY])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_line_and_mean_as_scipy_has_them(values, confidence):
    found = setting(values, target=0.0, confidence=confidence)
    n = len(values)
    line = stats.linregress(np.arange(n), values)
    reach = stats.t.ppf((1 + confidence) / 2, n - 2) * line.stderr
    assert found.slope.value == pytest.approx(line.slope, rel=1e-12)
    assert found.slope.high - found.slope.value == pytest.approx(reach, rel=1e-9)
    low, high = stats.t.interval(confidence, n - 1, values.mean(), stats.sem(values))
    assert (found.mean.low, found.mean.high) == pytest.approx((low, high), rel=1e-12)


def test_the_level_of_the_next_piece_as_the_line_and_its_covariance_have_it():
    found = setting(WORN, target=0.0)
    n = len(WORN)
    design = np.column_stack([np.ones(n), np.arange(n)])
    fit, rss, *_ = np.linalg.lstsq(design, WORN, rcond=None)
    covariance = np.linalg.inv(design.T @ design) * rss[0] / (n - 2)
    ahead = np.array([1, n])
    reach = stats.t.ppf(0.975, n - 2) * np.sqrt(ahead @ covariance @ ahead)
    assert found.wanders
    assert found.off
    assert found.level.value == pytest.approx(ahead @ fit, rel=1e-12)
    assert found.level.high - found.level.value == pytest.approx(reach, rel=1e-9)
    assert found.shift == pytest.approx(-(ahead @ fit), rel=1e-12)


def test_a_steady_machine_beside_its_target_is_shifted_by_its_mean():
    found = setting(STEADY, target=0.01)
    assert not found.wanders
    assert found.off
    assert found.level == found.mean
    assert found.shift == pytest.approx(0.01 - STEADY.mean())


def test_what_chance_explains_is_left_alone():
    found = setting(STEADY, target=STEADY.mean() + 0.0005)
    assert not found.off
    assert found.shift == 0


def test_a_true_machine_is_disturbed_no_oftener_than_said():
    """5 % of true, steady machines are shifted by the mean, and as many called drifting; together
    at most 10 % (Bonferroni), at least 5 %. Monte Carlo of our own, seed kept."""
    rng = np.random.default_rng(20260301)
    disturbed = drifting = 0
    runs = 4000
    for values in rng.normal(0, 1, (runs, 12)):
        found = setting(values, target=0.0)
        disturbed += found.off
        drifting += found.wanders
    assert 0.04 < drifting / runs < 0.06
    assert 0.05 < disturbed / runs < 0.10


@given(
    st.lists(st.floats(-1, 1), min_size=LEAST, max_size=30),
    st.floats(-1, 1),
    st.floats(0.1, 100),
)
def test_moving_and_scaling_the_values_moves_and_scales_the_answer(values, by, scale):
    one = setting(values, target=0.0)
    other = setting(np.array(values) * scale + by, target=by)
    assert other.level.value - by == pytest.approx(one.level.value * scale, rel=1e-6, abs=1e-9)
    assert other.slope.value == pytest.approx(one.slope.value * scale, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("values", "more", "words"),
    [
        ([1, 2, 3, 4], {}, "values: 4 given; give 5 or more"),
        ([1, 2, 3, 4, np.nan], {}, "is not finite; measure it again"),
        ([1, 2, 3, 4, 5], {"target": np.inf}, "target: inf is not a number"),
        ([1, 2, 3, 4, 5], {"confidence": 1}, "confidence: 1; give a share"),
    ],
)
def test_bad_values_say_what_to_do(values, more, words):
    with pytest.raises(InputError, match=words):
        setting(values, **{"target": 0.0, **more})


@pytest.mark.parametrize("count", range(LEAST, 40))
def test_values_that_are_all_alike_do_not_wander(count):
    found = setting([0.1] * count, target=0.0)
    assert not found.wanders
    assert found.shift == pytest.approx(-0.1)
