"""Block population: a textbook, SciPy's distributions, coverage by simulation, and invariances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from kitwright.calc.centring.block_population import (
    Ellipse,
    Population,
    least_count,
    population,
    t_squared,
)
from kitwright.calc.centring.clock import clock_of, clock_vector
from kitwright.calc.centring.contributors import Fixed, Line, Zone
from kitwright.errors import InputError

SAMPLES = [[0.4, -2.8], [-0.7, -2.2], [1.2, -2.7], [-0.3, -3.4], [0.9, -1.6], [0.1, -2.5]]
EVEN = np.diag([0.02, 0.02]) ** 2
UNEVEN = np.array([[9.0, 3.0], [3.0, 3.0]]) * 1e-4


@st.composite
def sets(draw: st.DrawFn, most: int = 12) -> np.ndarray:
    rows = draw(st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=3, max_size=most))
    samples = np.array(rows)
    spread = np.linalg.svd(samples - samples.mean(axis=0), compute_uv=False)
    assume(spread[1] > 1e-3)
    return samples


def drawn(rng: np.random.Generator, covariance: np.ndarray, sets_: int, n: int) -> np.ndarray:
    return rng.multivariate_normal([0.01, -0.06], covariance, (sets_, n))


# ── a textbook ───────────────────────────────────────────────────────────────────────────


def test_johnson_and_wichern_three_samples() -> None:
    """Johnson and Wichern, Applied Multivariate Statistical Analysis, example 5.1 (from memory).

    Three samples, mean (8, 6), covariance (4, -3; -3, 9), T² of (9, 5) is 7/9.
    """
    found = population(np.array([[6.0, 9], [10, 6], [8, 3]]) - [9, 5])
    np.testing.assert_allclose(found.mean_mm, [8 - 9, 6 - 5], atol=1e-14)
    np.testing.assert_allclose(found.covariance_mm2, [[4, -3], [-3, 9]], atol=1e-13)
    t2 = 3 * found.mean_mm @ np.linalg.inv(found.covariance_mm2) @ found.mean_mm
    assert t2 == pytest.approx(7 / 9, rel=1e-12)
    assert not found.shifted


def test_johnson_and_wichern_half_axes() -> None:
    """The same, example 5.3 (from memory): 42 ovens, eigenvalues .026 and .002, F(2, 40) = 3.23.

    Half axes of the mean's region printed 0.064 and 0.018.
    """
    scale = t_squared(42) / 42
    assert t_squared(42) == pytest.approx(2 * 41 / 40 * 3.23, abs=0.01)
    assert np.sqrt(scale * 0.026) == pytest.approx(0.064, abs=5e-4)
    assert np.sqrt(scale * 0.002) == pytest.approx(0.018, abs=5e-4)


# ── SciPy's distributions ────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("n", [3, 4, 5, 10, 42, 1000])
def test_hotellings_quantile_is_that_of_f(n: int) -> None:
    expected = 2 * (n - 1) / (n - 2) * stats.f.ppf(0.95, 2, n - 2)
    assert t_squared(n) == pytest.approx(expected, rel=1e-10)


@given(samples=sets())
def test_intervals_are_those_of_chi_square_and_of_student(samples: np.ndarray) -> None:
    found, n = population(samples), len(samples)
    variances = samples.var(axis=0, ddof=1)
    pairs = [
        *zip(found.sigmas_mm, variances, [n - 1, n - 1], strict=True),
        (found.sigma_mm, variances.mean(), 2 * (n - 1)),
    ]
    for interval, variance, degrees in pairs:
        low, high = (degrees * variance / stats.chi2.ppf([0.975, 0.025], degrees)) ** 0.5
        assert interval.value == pytest.approx(np.sqrt(variance), rel=1e-9)
        assert (interval.low, interval.high) == pytest.approx((low, high), rel=1e-9)
    half = stats.t.interval(0.95, n - 1)[1] * stats.sem(samples, axis=0)
    np.testing.assert_allclose(found.mean_half_mm, half, rtol=1e-9)


def rim(ellipse: Ellipse, at: float) -> np.ndarray:
    """A point of the ellipse about zero."""
    long = clock_vector(ellipse.clock_deg)
    short = clock_vector(ellipse.clock_deg + 90)
    return ellipse.long_mm * np.cos(at) * long + ellipse.short_mm * np.sin(at) * short


@given(samples=sets(), at=st.floats(0, 6.3))
def test_every_point_of_a_rim_has_the_same_t_squared(samples: np.ndarray, at: float) -> None:
    found, n = population(samples), len(samples)
    inverse = np.linalg.inv(found.covariance_mm2)
    quantile = 2 * (n - 1) / (n - 2) * stats.f.ppf(0.95, 2, n - 2)
    for ellipse, scale in ((found.mean_region, 1 / n), (found.prediction_region, 1 + 1 / n)):
        point = rim(ellipse, at)
        assert point @ inverse @ point == pytest.approx(quantile * scale, rel=1e-6)
    outward = population(samples - found.mean_mm + 1.0001 * rim(found.mean_region, at))
    inward = population(samples - found.mean_mm + 0.9999 * rim(found.mean_region, at))
    assert (outward.shifted, inward.shifted) == (True, False)


def test_the_next_block_has_the_covariance_of_the_t() -> None:
    """SciPy's multivariate t gives its own covariance; the contributors add up to it."""
    rng = np.random.default_rng(8)
    for covariance, even in ((EVEN, True), (UNEVEN, False)):
        samples = drawn(rng, covariance, 1, 14)[0]
        found, n = population(samples), 14
        assert found.even is even
        if even:
            shape, df = (1 + 1 / n) * found.variance_mm2 * np.eye(2), 2 * (n - 1)
        else:
            shape, df = (1 + 1 / n) * (n - 1) / (n - 2) * found.covariance_mm2, n - 2
        expected = stats.multivariate_t(shape=shape, df=df).rvs(400_000, random_state=1)
        following = found.next_block
        parts = [Fixed(following.shift_mm), Zone(zone_mm=following.zone_mm)]
        if following.line_mm is not None and following.line_clock_deg is not None:
            parts.append(Line.at(following.line_clock_deg, following.line_mm, "normal"))
        assert (len(parts) == 2) is even
        total = sum(part.covariance_mm2 for part in parts)
        np.testing.assert_allclose(total, shape * df / (df - 2), rtol=1e-12, atol=1e-18)
        np.testing.assert_allclose(total, np.cov(expected.T), atol=0.02 * np.trace(shape))
        np.testing.assert_allclose(sum(part.mean_mm for part in parts), found.mean_mm, atol=1e-15)


# ── coverage, by simulation ──────────────────────────────────────────────────────────────


@pytest.mark.parametrize("covariance", [EVEN, UNEVEN], ids=["even", "uneven"])
@pytest.mark.parametrize("n", [3, 5, 12])
def test_regions_and_intervals_hold_what_they_promise(covariance: np.ndarray, n: int) -> None:
    rng = np.random.default_rng(1931)
    many, true = 3000, np.array([0.01, -0.06])
    hits = np.zeros(5)
    for samples in drawn(rng, covariance, many, n + 1):
        found, following = population(samples[:n]), samples[n]
        inverse = np.linalg.inv(found.covariance_mm2)
        for k, (point, region) in enumerate(
            ((true, found.mean_region), (following, found.prediction_region))
        ):
            away = point - found.mean_mm
            edge = rim(region, 0.3)
            hits[k] += away @ inverse @ away <= edge @ inverse @ edge
        hits[2] += abs(found.mean_mm[1] - true[1]) <= found.mean_half_mm[1]
        sigma_y = found.sigmas_mm[1]
        hits[3] += sigma_y.low <= np.sqrt(covariance[1, 1]) <= sigma_y.high
        hits[4] += found.sigma_mm.low <= 0.02 <= found.sigma_mm.high
    share = hits / many
    allowed = 4 * np.sqrt(0.95 * 0.05 / many)
    np.testing.assert_allclose(share[:4], 0.95, atol=allowed)
    if covariance is EVEN:  # the pooled interval is for an even population
        assert share[4] == pytest.approx(0.95, abs=allowed)


@pytest.mark.parametrize("n", [4, 6, 15])
def test_evenness_and_suspects_err_as_seldom_as_they_say(n: int) -> None:
    """Of even normal sets 5 % look uneven, and in 5 % a sample is suspected."""
    rng = np.random.default_rng(1940)
    found = [Population(samples_mm=each) for each in drawn(rng, EVEN, 6000, n)]
    chances = np.array([each.even_chance for each in found])
    for part in (0.05, 0.3, 0.7):
        error = np.sqrt(part * (1 - part) / len(found))
        assert np.mean(chances <= part) == pytest.approx(part, abs=4 * error)
    # the bound by which n looks are allowed for is nearly exact
    assert np.mean([bool(each.suspects) for each in found]) == pytest.approx(0.05, abs=0.013)


def test_a_wild_sample_is_found() -> None:
    rng = np.random.default_rng(1964)
    samples = drawn(rng, EVEN, 1, 14)[0]
    assert population(samples).suspects == []
    samples[4] += [0.16, 0.1]
    assert population(samples).suspects == [4]
    samples[9] -= [0.5, 0.0]
    assert population(samples).suspects[0] == 9


# ── invariances ──────────────────────────────────────────────────────────────────────────


@given(samples=sets(), turn=st.floats(0, 360), factor=st.sampled_from([1e-3, 25.4]))
def test_turned_moved_scaled_and_shuffled(samples: np.ndarray, turn: float, factor: float) -> None:
    found = population(samples)
    right, up = clock_vector(turn + 90), clock_vector(turn)  # x and y, turned clockwise
    turned = factor * (samples[:, :1] * right + samples[:, 1:] * up)
    other = population(turned[::-1] - [-3.0, 2.0])
    assert other.even_chance == pytest.approx(found.even_chance, rel=1e-5, abs=1e-9)
    assert other.sigma_mm.value == pytest.approx(factor * found.sigma_mm.value, rel=1e-6)
    np.testing.assert_allclose(np.sort(other.distances), np.sort(found.distances), atol=1e-5)
    for one, two in (
        (found.mean_region, other.mean_region),
        (found.prediction_region, other.prediction_region),
    ):
        assert two.long_mm == pytest.approx(factor * one.long_mm, rel=1e-6)
        assert two.short_mm == pytest.approx(factor * one.short_mm, rel=1e-5)
        if one.long_mm > 1.01 * one.short_mm:
            apart = (two.clock_deg - one.clock_deg - turn) % 180
            assert min(apart, 180 - apart) < 0.01


@given(samples=sets())
def test_distances_add_up(samples: np.ndarray) -> None:
    """The squared distances of n samples of two coordinates sum to 2 (n - 1)."""
    assert population(samples).distances.sum() == pytest.approx(2 * (len(samples) - 1), rel=1e-6)


# ── how many more ────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("half_width", [0.1, 0.3, 0.9, 5.0])
def test_the_least_count_for_the_mean_is_enough_and_least(half_width: float) -> None:
    found = population(SAMPLES)
    largest = np.linalg.eigvalsh(found.covariance_mm2)[-1]
    count = found.count_for_mean(half_width)
    assert count is not None

    def half_axis(n: int) -> float:
        return float(np.sqrt(largest * 2 * (n - 1) / (n - 2) * stats.f.ppf(0.95, 2, n - 2) / n))

    assert half_axis(count) <= half_width
    assert count == 3 or half_axis(count - 1) > half_width


def test_counts_beyond_reason_are_not_named() -> None:
    assert population(SAMPLES).count_for_mean(1e-6) is None
    assert least_count(lambda n: n >= 1_000_000, start=3) == 1_000_000
    assert least_count(lambda n: n > 1_000_000, start=3) is None
    assert least_count(lambda n: True, start=3) == 3


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("samples", "line"),
    [
        ([], "samples: 0 given; give 3 or more"),
        ([[0, 1], [1, 2]], "samples: 2 given; give 3 or more"),
        ([[0, 1], [1, 2], [2, np.nan]], "samples[2]: [2.0, nan] is not finite; measure it again"),
        (
            [[0, 1], [1, 2], [2, 3], [5, 6]],
            "samples: all lie on one line; read the dial finer, or wait for more",
        ),
        ([[1, 1]] * 5, "samples: all lie on one line; read the dial finer, or wait for more"),
        (
            [[0, 1], [1, 0], [2, 1e7]],
            "samples[2]: [2.0, 10000000.0] mm is beyond any bell; check it and its unit",
        ),
    ],
)
def test_bad_samples_are_refused(samples: list[list[float]], line: str) -> None:
    with pytest.raises(InputError) as caught:
        population(samples)
    assert caught.value.lines == [line]


def test_a_half_width_above_zero() -> None:
    with pytest.raises(InputError, match="half_width: 0 is not above zero"):
        population(SAMPLES).count_for_mean(0.0)


def test_the_mean_in_one_number() -> None:
    assert clock_of(population(SAMPLES).mean_mm) == pytest.approx(173.99, abs=0.01)
