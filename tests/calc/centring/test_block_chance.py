"""The chance outside of blocks alone: by other integrals, other programs, and by coverage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import dblquad

from kitwright.calc.centring.block_chance import (
    chance_beyond,
    chance_outside,
    count_for_chance,
)
from kitwright.calc.centring.block_population import population
from kitwright.calc.centring.contributors import Fixed, Line, Zone
from kitwright.calc.centring.radial_budget import radial_budget
from kitwright.calc.quality.conformity import decide_position
from kitwright.errors import InputError

LIMIT_MM = 0.127
EVEN = np.diag([0.02, 0.02]) ** 2
UNEVEN = np.array([[9.0, 3.0], [3.0, 3.0]]) * 1e-4


def beyond(mean: list[float], covariance: np.ndarray, radius: float) -> float:
    return float(chance_beyond(np.array([mean]), covariance[None], radius)[0])


# ── the integral ─────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("sigma", [1e-5, 0.001, 0.01, 0.03, 0.3, 30.0])
def test_an_even_law_is_rices(sigma: float) -> None:
    x, y = np.array([[0.03, 0.0, 0.2, 0.06, 0.0635], [0.02, 0.0, 0.0, 0.01, 0.0]])
    found = chance_beyond(np.stack([x, y], 1), np.tile(sigma**2 * np.eye(2), (5, 1, 1)), 0.0635)
    rice = decide_position(x, y, u95=2 * sigma, zone=LIMIT_MM).chance_outside
    np.testing.assert_allclose(found, rice, atol=1e-10)


@pytest.mark.parametrize("mean", [[0.0, 0.0], [0.02, -0.06], [-0.08, 0.01]])
def test_an_uneven_law_by_two_dimensional_quadrature(mean: list[float]) -> None:
    law = stats.multivariate_normal(mean, UNEVEN)

    def density(t: float, r: float) -> float:
        return float(r * law.pdf([r * np.cos(t), r * np.sin(t)]))

    inside, _ = dblquad(density, 0, 0.0635, 0, 2 * np.pi, epsabs=1e-10)
    assert beyond(mean, UNEVEN, 0.0635) == pytest.approx(1 - inside, abs=1e-8)


def test_a_radial_budget_of_the_next_block_agrees() -> None:
    rng = np.random.default_rng(3)
    found = population(rng.multivariate_normal([0.01, -0.05], UNEVEN, 15))
    following = found.next_block
    assert following.line_mm is not None
    assert following.line_clock_deg is not None
    parts = {
        "shift": Fixed(following.shift_mm),
        "zone": Zone(zone_mm=following.zone_mm),
        "line": Line.at(following.line_clock_deg, following.line_mm, "normal"),
    }
    budget = radial_budget(parts, limit_tir_mm=LIMIT_MM)
    covariance = sum(part.covariance_mm2 for part in parts.values())
    own = beyond(found.mean_mm.tolist(), np.asarray(covariance), LIMIT_MM / 2)
    assert own == pytest.approx(budget.chance_outside, abs=1e-8)


@given(
    x=st.floats(-0.1, 0.1), y=st.floats(-0.1, 0.1), turn=st.floats(0, 6.3), ratio=st.floats(1, 900)
)
def test_turning_everything_changes_nothing(x: float, y: float, turn: float, ratio: float) -> None:
    covariance = 1e-4 * np.diag([1, 1 / ratio])
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    here = beyond([x, y], covariance, 0.0635)
    there = beyond((turned @ [x, y]).tolist(), turned @ covariance @ turned.T, 0.0635)
    assert there == pytest.approx(here, abs=1e-9)
    assert beyond([x, y], covariance, 0.07) <= here + 1e-12


# ── what the samples leave open ──────────────────────────────────────────────────────────


def centred(rng: np.random.Generator, covariance: np.ndarray, n: int) -> np.ndarray:
    samples = rng.multivariate_normal([0, 0], covariance, n)
    return np.asarray(samples - samples.mean(axis=0))


@pytest.mark.parametrize("n", [4, 8, 25])
def test_the_next_of_an_even_population_is_a_t(n: int) -> None:
    """About a mean of zero its squared length over twice the scale is F, 2 and 2 (n - 1)."""
    found = population(centred(np.random.default_rng(n), EVEN, n))
    assert found.even
    scale2 = (1 + 1 / n) * found.variance_mm2
    expected = stats.f.sf((LIMIT_MM / 2) ** 2 / (2 * scale2), 2, 2 * (n - 1))
    assert chance_outside(found, limit_tir_mm=LIMIT_MM).next_block == pytest.approx(
        expected, rel=0.1, abs=1e-3
    )


@pytest.mark.parametrize("n", [6, 20])
@pytest.mark.parametrize("slant", [0.0, 1.0])
def test_the_next_of_an_uneven_population_is_a_t(n: int, slant: float) -> None:
    rng = np.random.default_rng(n)
    free = centred(rng, EVEN, n)
    root = np.linalg.inv(np.linalg.cholesky(np.cov(free.T))).T @ [[0.03, 0.01 * slant], [0, 0.006]]
    found = population(free @ root + [0.01, -0.03])
    assert not found.even
    shape = (1 + 1 / n) * (n - 1) / (n - 2) * found.covariance_mm2
    law = stats.multivariate_t(loc=found.mean_mm, shape=shape, df=n - 2)
    following = law.rvs(400_000, random_state=11)
    expected = np.mean(np.hypot(*following.T) > LIMIT_MM / 2)
    own = chance_outside(found, limit_tir_mm=LIMIT_MM).next_block
    assert own == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(
    ("covariance", "n", "least"), [(EVEN, 5, 0.88), (EVEN, 12, 0.88), (UNEVEN, 20, 0.86)]
)
def test_the_interval_holds_the_true_chance(covariance: np.ndarray, n: int, least: float) -> None:
    """In 95 % of all sets, nearly; 120 sets, so give or take 4 %."""
    rng = np.random.default_rng(1963)
    mean = [0.01, -0.03]
    true = beyond(mean, covariance, LIMIT_MM / 2)
    hits = 0
    for samples in rng.multivariate_normal(mean, covariance, (120, n)):
        estimate = chance_outside(population(samples), limit_tir_mm=LIMIT_MM).estimate
        assert estimate.low <= estimate.value <= estimate.high
        hits += estimate.low <= true <= estimate.high
    assert least <= hits / 120 <= 0.99


def test_the_same_seed_gives_the_same_and_another_nearly() -> None:
    found = population(centred(np.random.default_rng(2), EVEN, 10))
    one = chance_outside(found, limit_tir_mm=LIMIT_MM)
    assert one == chance_outside(found, limit_tir_mm=LIMIT_MM)
    other = chance_outside(found, limit_tir_mm=LIMIT_MM, seed=7)
    assert other.seed == 7
    assert other.estimate.value == one.estimate.value
    assert other != one
    assert other.estimate.high == pytest.approx(one.estimate.high, rel=0.15)


@pytest.mark.parametrize("covariance", [EVEN, UNEVEN])
def test_the_least_count_for_the_chance(covariance: np.ndarray) -> None:
    """Where so many samples of the same mean and covariance stand, the interval is as wanted."""
    base = np.random.default_rng(4).multivariate_normal([0.01, -0.03], covariance, 15)
    found = population(base)
    count = count_for_chance(found, limit_tir_mm=LIMIT_MM, accuracy=0.04)
    assert count is not None
    assert count > 15

    def width(n: int) -> float:
        """The half width with n samples that have the mean and covariance of the fifteen."""
        rng = np.random.default_rng(6)
        free = rng.normal(size=(n, 2))
        free -= free.mean(axis=0)
        free = np.linalg.solve(np.linalg.cholesky(np.cov(free.T)), free.T)
        samples = (np.linalg.cholesky(found.law_mm2) @ free).T + found.mean_mm
        estimate = chance_outside(population(samples), limit_tir_mm=LIMIT_MM).estimate
        return (estimate.high - estimate.low) / 2

    assert width(count) == pytest.approx(0.04, rel=0.02)
    assert width(count // 2) > 0.05
    assert count_for_chance(found, limit_tir_mm=LIMIT_MM, accuracy=0.4) == 15
    finer = count_for_chance(found, limit_tir_mm=LIMIT_MM, accuracy=0.02)
    assert finer == pytest.approx(4 * count, rel=0.15)  # half the width takes four times as many


def test_a_chance_that_no_million_would_settle() -> None:
    found = population(centred(np.random.default_rng(2), EVEN, 10))
    assert count_for_chance(found, limit_tir_mm=0.05, accuracy=1e-5) is None


@pytest.mark.parametrize("accuracy", [0.0, 1.0, -0.1, float("nan")])
def test_an_accuracy_that_is_none(accuracy: float) -> None:
    found = population(centred(np.random.default_rng(2), EVEN, 10))
    with pytest.raises(InputError, match=r"accuracy: \S+ is out of range"):
        count_for_chance(found, limit_tir_mm=LIMIT_MM, accuracy=accuracy)
    with pytest.raises(InputError, match="limit: 0 is not above zero"):
        chance_outside(found, limit_tir_mm=0.0)
