"""Pearson curves: exact moments give back every law of the family; samples come near others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, betaprime, expon, gamma, norm, rayleigh, t, uniform

from kitwright.calc.quality.pearson import LEAST, curve_of, fit_pearson

# Laws of SciPy's that are Pearson curves: beta (I), gamma (III), beta of the second kind (VI),
# Student's (VII, on the whole line) and the normal itself.
FAMILY = [
    beta(2, 5), beta(0.8, 3), uniform(), gamma(2), gamma(30), expon(), betaprime(3, 12),
    t(8), t(12), t(300), norm(),
]  # fmt: skip
SCORES = (-3.0, -1.0, 0.0, 1.0, 3.0)


@pytest.mark.parametrize("law", FAMILY, ids=lambda law: f"{law.dist.name}{law.args}")
@pytest.mark.parametrize("side", [1, -1])
def test_the_moments_give_back_the_law(law: object, side: int) -> None:
    mean, variance, skew, excess = (float(x) for x in law.stats("mvsk"))  # type: ignore[attr-defined]
    sigma = variance**0.5
    curve = curve_of(side * mean, sigma, side * skew, excess + 3)
    assert curve is not None
    for score in SCORES:
        expected = side * law.ppf(norm.cdf(side * score))  # type: ignore[attr-defined]
        assert curve.quantile(score) == pytest.approx(expected, abs=2e-4 * sigma)
        assert curve.scores(curve.quantile(score)) == pytest.approx(score, abs=1e-6)


@pytest.mark.parametrize(("skew", "kurtosis"), [(0.3, 4.0), (0.8, 5.0), (1.2, 7.5), (0.0, 3.6)])
def test_on_the_whole_line_the_moments_come_back(skew: float, kurtosis: float) -> None:
    """Type IV, for which SciPy has no law: moments of the quantile function, summed."""
    curve = curve_of(10.0, 2.0, skew, kurtosis)
    assert curve is not None

    scores = np.linspace(-6, 6, 1201)
    values = np.array([(curve.quantile(score) - 10) / 2 for score in scores])

    def moment(power: int) -> float:
        return float((values**power * norm.pdf(scores)).sum() * 0.01)

    made = [moment(power) for power in (1, 2, 3)]
    assert made == pytest.approx([0, 1, skew], abs=4e-3)
    assert moment(4) == pytest.approx(kurtosis, rel=0.03)  # of the tails beyond 5.5


def test_kinds_meet_without_a_step() -> None:
    """Along a line of kurtosis the curve passes from a beta over the gamma to one on the line."""
    at = [curve_of(0, 1, 0.8, k).quantile(3.0) for k in np.linspace(3.6, 4.6, 401)]  # type: ignore[union-attr]
    assert np.abs(np.diff(at)).max() < 0.005


@pytest.mark.parametrize(("skew", "kurtosis"), [(1.0, 1.9), (2.0, 5.0), (0.0, 1.0)])
def test_no_law_has_such_moments(skew: float, kurtosis: float) -> None:
    """Kurtosis is above skewness squared and one, for any law (Pearson 1916)."""
    assert curve_of(0, 1, skew, kurtosis) is None


@given(skew=st.floats(-2, 2), more=st.floats(0.05, 8), a=st.floats(-4, 4), b=st.floats(-4, 4))
def test_every_curve_rises(skew: float, more: float, a: float, b: float) -> None:
    curve = curve_of(0.0, 1.0, skew, skew**2 + 1 + more)
    if curve is not None:
        low, high = sorted((a, b))
        assert curve.scores(low) <= curve.scores(high)
        assert curve.quantile(low) <= curve.quantile(high)


def test_samples_of_offsets() -> None:
    """Rayleigh is no Pearson curve, but near: its 99.865 % point within 10 % from 400 values."""
    found = [
        fit_pearson(np.sort(rayleigh.rvs(size=400, random_state=np.random.default_rng(seed))))
        for seed in range(40)
    ]
    points = [curve.quantile(3.0) for curve in found if curve is not None]
    assert len(points) >= 36
    assert np.median(points) == pytest.approx(rayleigh.ppf(norm.cdf(3)), rel=0.04)
    assert np.std(points) < 0.1 * np.median(points)


def test_no_curve_where_none_fits_or_too_little_is_known() -> None:
    rng = np.random.default_rng(10)
    assert fit_pearson(np.sort(np.r_[rng.normal(size=300), rng.normal(9, 1, 300)])) is None
    assert fit_pearson(np.sort(rng.normal(size=LEAST - 1))) is None
    assert fit_pearson(np.repeat([1.0, 2.0, 3.0], 40)) is None
    fitted = fit_pearson(np.sort(rng.normal(size=LEAST)))
    assert fitted is not None
    assert fitted.test is not None
