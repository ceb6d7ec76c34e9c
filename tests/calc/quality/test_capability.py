"""Capability of values: published examples, exact theory, and whether intervals hold."""

from __future__ import annotations

import tomllib
from math import inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, nct, norm

from kitwright.calc.quality.capability import (
    Capability,
    assess,
    counted_interval,
    indices,
)
from kitwright.calc.quality.spread import (
    Sigma,
    from_moving_ranges,
    from_ranges,
    overall,
    pooled,
)
from kitwright.errors import InputError

RINGS = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "piston_rings.toml").read_text("utf-8")
)


def weighed(values: object, **asked: float) -> Capability:
    x = np.asarray(values, dtype=float)
    return assess(x, within=from_moving_ranges(x), **asked)


# ── published ────────────────────────────────────────────────────────────────────────────


def test_nist_example() -> None:
    """6a: NIST/SEMATECH e-Handbook 6.1.6 (from memory): limits 8 and 20, mean 16, sigma 2."""
    sigma = Sigma(value=2.0, degrees=1e9)
    both = indices(16, sigma, 10**9, 8, 20, 0.95)
    assert both.width is not None
    assert both.width.value == pytest.approx(1.0, abs=1e-4)
    assert both.nearer.value == pytest.approx(0.6667, abs=1e-4)
    assert indices(16, sigma, 10**9, 8, inf, 0.95).nearer.value == pytest.approx(1.3333, abs=1e-4)
    assert indices(16, sigma, 10**9, -inf, 20, 0.95).nearer.value == pytest.approx(0.6667, abs=1e-4)
    assert indices(16, sigma, 10**9, -inf, 20, 0.95).width is None


def test_montgomery_interval_of_cp() -> None:
    """6b: Montgomery, Ex. 8.4, 6th ed. (from memory): 62 and 38, s 1.75, n 20: 1.57 to 3.01."""
    width = indices(50, Sigma(value=1.75, degrees=19), 20, 38, 62, 0.95).width
    assert width is not None
    assert width.value == pytest.approx(2.29, abs=0.005)
    assert (width.low, width.high) == pytest.approx((1.57, 3.01), abs=0.01)
    assert (width.low, width.high) == pytest.approx((1.565, 3.006), abs=1e-3)


def test_bissells_interval_of_cpk() -> None:
    """6c: Bissell's formula (Montgomery 8.21, from memory) at 1.33, n 20: 0.883 to 1.777.

    0.99 to 1.67, remembered beside it, does not follow from it.
    """
    nearer = indices(0, Sigma(value=1.0, degrees=19), 20, -3 * 1.33, inf, 0.95).nearer
    assert (nearer.low, nearer.high) == pytest.approx((0.88260, 1.77740), abs=1e-4)


@pytest.mark.parametrize(
    ("index", "per_million"), [(1.00, 2699.80), (4 / 3, 63.342), (5 / 3, 0.5733), (2.0, 0.00197)]
)
def test_parts_per_million_of_a_centred_process(index: float, per_million: float) -> None:
    """6d: as in the e-Handbook 6.1.6 (from memory): 2700, 64, 0.57 and 0.002 in a million."""
    values = norm.ppf((np.arange(100_000) + 0.5) / 100_000)
    values /= values.std(ddof=1)
    found = weighed(values, low=-3 * index, high=3 * index)
    assert found.outside.method == "normal"
    assert 1e6 * found.outside.chance == pytest.approx(per_million, rel=2e-3)
    assert found.by_overall.nearer.value == pytest.approx(index, rel=1e-9)


def test_piston_rings() -> None:
    """6e: 74 ± 0.05, first 25 samples: Cp 1.70 and Cpk 1.66 by the mean range (was read).

    Derived beside it: Pp 1.6551, 95 % interval 1.4492 to 1.8606.
    """
    table = np.array(RINGS["subgroups"][: RINGS["phase_1"]])
    found = assess(table.ravel(), within=from_ranges(table), low=73.95, high=74.05)
    assert found.by_within.width is not None
    assert found.by_overall.width is not None
    assert found.by_within.width.value == pytest.approx(1.70, abs=0.005)
    assert found.by_within.nearer.value == pytest.approx(1.66, abs=0.005)
    assert found.by_within.width.value == pytest.approx(1.70328, abs=1e-4)  # with d2 = 2.326
    assert found.by_within.nearer.value == pytest.approx(1.66322, abs=1e-4)
    whole = found.by_overall.width
    assert (whole.value, whole.low, whole.high) == pytest.approx((1.6551, 1.4492, 1.8606), abs=1e-4)
    within = pooled(table.ravel(), np.full(25, 5.0))
    assert within.value == pytest.approx(0.009863, abs=1e-6)


@pytest.mark.parametrize(
    ("n", "enough"),
    [(92, False), (93, True), (58, False), (59, False)],
)
def test_wilks_sample_sizes(n: int, enough: bool) -> None:
    """Wilks (1941), from memory: the extremes of 93 values hold 95 % with confidence 95 %."""
    free = weighed(np.arange(n, dtype=float), low=-1e3, high=1e3).tolerance.free
    assert (free is not None) is enough
    if free is not None:
        assert (free.low, free.high) == (0, n - 1)


# ── whether the intervals hold ───────────────────────────────────────────────────────────


def simulated(n: int, times: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(50, 0.003, (times, n))


@pytest.mark.parametrize("n", [4, 10])
def test_intervals_of_few_values_hold(n: int) -> None:
    """True Ppk 1: 50 ± 0.009 and sigma 0.003; 90 % intervals over 300 samples."""
    safe = exact = width = 0
    for values in simulated(n, 300, 11):
        sigma = overall(values)
        both = indices(values.mean(), sigma, n, 49.991, 50.009, 0.90)
        one = indices(values.mean(), sigma, n, -inf, 50.009, 0.90)
        assert both.width is not None
        safe += both.safe.low <= 1 <= both.safe.high
        exact += one.safe.low <= 1 <= one.safe.high
        width += both.width.low <= 1 <= both.width.high
    three_errors = 3 * (0.09 / 300) ** 0.5
    assert width / 300 == pytest.approx(0.90, abs=three_errors)
    assert exact / 300 == pytest.approx(0.90, abs=three_errors)
    assert safe / 300 > 0.90 - three_errors


def test_safe_intervals_are_noncentral_t() -> None:
    """By SciPy's: the lower end at 5 %, the upper at 5 % with one limit and 2.5 % with two."""
    sigma = Sigma(value=1.0, degrees=9)
    one = indices(0.0, sigma, 10, -inf, 4.2, 0.90).safe
    two = indices(0.0, sigma, 10, -4.2, 4.2, 0.90).safe
    seen, root = 4.2 * np.sqrt(10), 3 * np.sqrt(10)
    assert nct.cdf(seen, 9, root * one.low) == pytest.approx(0.95, abs=1e-7)
    assert nct.cdf(seen, 9, root * one.high) == pytest.approx(0.05, abs=1e-7)
    assert two.low == one.low
    assert nct.cdf(seen, 9, root * two.high) == pytest.approx(0.025, abs=1e-7)


@pytest.mark.parametrize("limits", [(49.991, 50.009), (-inf, 50.006), (49.995, 50.012)])
def test_the_interval_of_the_chance_outside_holds(limits: tuple[float, float]) -> None:
    truth = norm.cdf(limits[0], 50, 0.003) + norm.sf(limits[1], 50, 0.003)
    held = 0
    for values in simulated(6, 200, 12):
        around = weighed(values, low=limits[0], high=limits[1], confidence=0.90).normal.interval
        held += around.low <= truth <= around.high
    assert held / 200 > 0.90 - 3 * (0.09 / 200) ** 0.5
    if limits[0] == -inf:
        assert held / 200 == pytest.approx(0.90, abs=3 * (0.09 / 200) ** 0.5)


@pytest.mark.parametrize("side", ["two", "one"])
def test_tolerance_intervals_hold(side: str) -> None:
    """At least 90 % of the process, with a confidence of 80 %, over 3000 samples of five."""
    held = 0
    samples = simulated(5, 3000, 13)
    found = weighed(samples[0], low=0, high=100, coverage=0.90, confidence=0.80).tolerance
    first, spread = samples[0].mean(), samples[0].std(ddof=1)
    assert [found.low, found.high, found.one_low, found.one_high] == pytest.approx(
        [
            first + k * spread
            for k in (-found.factor, found.factor, -found.one_factor, found.one_factor)
        ]
    )
    factor = found.factor if side == "two" else found.one_factor
    for mean, sigma in zip(samples.mean(axis=1), samples.std(axis=1, ddof=1), strict=True):
        high = mean + factor * sigma
        low = mean - factor * sigma if side == "two" else -inf
        held += norm.cdf(high, 50, 0.003) - norm.cdf(low, 50, 0.003) >= 0.90
    assert held / 3000 == pytest.approx(0.80, abs=3 * (0.16 / 3000) ** 0.5)


@given(of=st.integers(1, 5000), share=st.floats(0, 1), confidence=st.sampled_from([0.8, 0.99]))
def test_counted_intervals_are_clopper_and_pearsons(
    of: int, share: float, confidence: float
) -> None:
    count = round(share * of)
    made = counted_interval(count, of, confidence)
    theirs = binomtest(count, of).proportion_ci(confidence)
    assert (made.low, made.high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


# ── values that are not normal ───────────────────────────────────────────────────────────


def test_a_skewed_process_has_indices_by_its_quantiles() -> None:
    """Offsets are Rayleigh: 0.135 % lie above 3.635 sigma, far more than a normal law would say."""
    values = 0.01 * np.sqrt(-2 * np.log1p(-(np.arange(2000) + 0.5) / 2000))
    truth = float(np.exp(-((0.04 / 0.01) ** 2) / 2))
    found = weighed(np.random.default_rng(14).permutation(values), high=0.04)
    assert found.outside.method == "counted"
    assert found.outside.chance == (values > 0.04).sum() / 2000
    assert found.normal.chance < truth / 8
    assert found.outside.interval.low <= truth <= found.outside.interval.high
    by = found.by_quantiles
    assert by is not None
    assert by.width is None
    # at the ends of the values the curve is an extrapolation, good to a few per cent
    assert by.method == "Pearson curve"
    assert by.highest == pytest.approx(0.01 * np.sqrt(-2 * np.log(0.00135)), rel=0.02)
    assert by.median == pytest.approx(0.01 * np.sqrt(2 * np.log(2)), rel=0.005)
    assert by.nearer == pytest.approx((0.04 - by.median) / (by.highest - by.median), rel=1e-12)
    assert by.nearer < 0.85 * found.by_overall.nearer.value


def test_two_heaps_are_counted() -> None:
    rng = np.random.default_rng(15)
    values = rng.permutation(np.r_[rng.normal(0, 1, 300), rng.normal(9, 1, 200)])
    found = weighed(values, high=8.0)
    assert found.outside.method == "counted"
    assert found.curve is found.by_quantiles is None
    assert found.outside.chance == (values > 8).sum() / 500
    theirs = binomtest(int((values > 8).sum()), 500).proportion_ci()
    assert found.outside.interval.low == pytest.approx(theirs.low, abs=1e-9)
    assert found.counted == (values > 8).sum()


def test_very_many_values_that_fit_no_curve_have_counted_quantiles() -> None:
    """Even values in two heaps: the 0.135 % points are read off the values."""
    values = np.r_[np.linspace(0, 1, 10_000), np.linspace(5, 6, 10_000)]
    by = weighed(values, low=-1, high=7).by_quantiles
    assert by is not None
    assert by.method == "counted"
    assert (by.lowest, by.highest) == pytest.approx((0.0027, 5.9973), abs=1e-4)
    assert by.width == pytest.approx(8 / (by.highest - by.lowest), rel=1e-12)


def test_seven_values_are_not_tested() -> None:
    assert weighed([1.0, 2, 4, 3, 2, 5, 90], high=99).normal_test is None
    assert weighed([1.0, 2, 4, 3, 2, 5, 90, 3], high=99).normal_test is not None


# ── properties ───────────────────────────────────────────────────────────────────────────


@given(
    values=st.lists(st.integers(-500, 500), min_size=3, max_size=60).filter(
        lambda v: len(set(v)) > 2
    ),
    limits=st.tuples(st.integers(-900, 900), st.integers(-900, 900)).filter(lambda t: t[0] < t[1]),
    size=st.sampled_from([25.4, 1e-3, 1e4]),
)
def test_the_unit_does_not_matter_nor_which_side_is_up(
    values: list[int], limits: tuple[int, int], size: float
) -> None:
    x, (low, high) = np.array(values, float), limits
    one = weighed(x, low=low, high=high)
    for other in (
        weighed(x * size, low=low * size, high=high * size),
        weighed(-x, low=-high, high=-low),
    ):
        assert other.by_within.nearer.value == pytest.approx(
            one.by_within.nearer.value, rel=1e-8, abs=1e-9
        )
        assert other.normal.chance == pytest.approx(one.normal.chance, rel=1e-8)
        assert other.by_overall.safe.low == pytest.approx(one.by_overall.safe.low, abs=1e-7)
        assert other.counted == one.counted
    assert one.by_within.width is not None
    assert one.by_within.nearer.value <= one.by_within.width.value + 1e-9
    assert one.by_within.nearer.low <= one.by_within.nearer.value <= one.by_within.nearer.high
    assert one.normal.interval.low <= one.normal.chance <= one.normal.interval.high


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("values", "limits", "words"),
    [
        ([1.0], {"high": 2.0}, "values: 1 given; a spread needs 2"),
        ([3.0] * 9, {"high": 4.0}, "values: all 9 are the same; read the instrument"),
        ([1e6, 1e6 * (1 + 1e-15)], {"high": 4.0}, "are the same"),
        ([1.0, 2.0], {"low": 3.0, "high": 1.0}, "limits: low 3 is not below high 1; swap them"),
        ([1.0, 2.0], {}, "limits: neither low nor high given"),
        ([1.0, 2.0], {"high": float("nan")}, "limits: not a number"),
    ],
)
def test_bad_values_and_limits(values: list[float], limits: dict[str, float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        assess(np.array(values), within=Sigma(value=1.0, degrees=3), **limits)
