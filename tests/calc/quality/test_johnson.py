"""Johnson curves: exact quantiles give back the curve; samples give what they were drawn from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import johnsonsb, johnsonsu, kstest, lognorm, norm

from kitwright.calc.quality.johnson import LEAST, fit_johnson

N = 20_001
PLACES = (np.arange(N) + 0.5) / N


@pytest.mark.parametrize(
    ("kind", "law"),
    [
        ("unbounded", johnsonsu(0.8, 1.6, loc=3, scale=2)),
        ("unbounded", johnsonsu(-0.5, 2.2)),
        ("bounded", johnsonsb(0.7, 1.1, loc=-1, scale=5)),
        ("bounded", johnsonsb(-0.4, 0.9)),
        ("log-normal", lognorm(0.4, loc=2, scale=3)),
    ],
)
def test_exact_quantiles_give_back_the_curve(kind: str, law: object) -> None:
    """Derived: the closed forms are exact on the curve's own quantiles (SciPy's laws)."""
    fitted = fit_johnson(law.ppf(PLACES))  # type: ignore[attr-defined]
    assert fitted is not None
    assert fitted.kind == kind
    for score in (-3.0, -1.0, 0.0, 2.0, 3.0):
        expected = law.ppf(norm.cdf(score))  # type: ignore[attr-defined]
        spread = law.std()  # type: ignore[attr-defined]
        assert fitted.quantile(score) == pytest.approx(expected, abs=0.01 * spread)


def test_a_bound_above_is_a_mirror() -> None:
    fitted = fit_johnson(np.sort(-lognorm(0.4, loc=2, scale=3).ppf(PLACES)))
    plain = fit_johnson(lognorm(0.4, loc=2, scale=3).ppf(PLACES))
    assert fitted is not None
    assert plain is not None
    assert (fitted.kind, fitted.sign) == ("log-normal", -1)
    for score in (-3.0, 0.5, 3.0):
        assert fitted.quantile(score) == pytest.approx(-plain.quantile(-score), rel=1e-9)
    assert fitted.scores(-7.0) == pytest.approx(-plain.scores(7.0), rel=1e-9)


@pytest.mark.parametrize("kind", ["exponential", "rayleigh", "gumbel", "uniform"])
def test_a_skewed_sample_is_fitted_and_its_score_comes_back(kind: str) -> None:
    values = np.sort(getattr(np.random.default_rng(9), kind)(size=400))
    fitted = fit_johnson(values)
    assert fitted is not None
    assert fitted.test.p >= 0.05
    assert kstest(fitted.scores(values), "norm").pvalue > 0.05
    for value in np.quantile(values, [0.01, 0.3, 0.9]):
        assert fitted.quantile(float(fitted.scores(value))) == pytest.approx(value, rel=1e-9)


def test_beyond_a_bound_no_score_is_finite() -> None:
    fitted = fit_johnson(johnsonsb(0.7, 1.1, loc=-1, scale=5).ppf(PLACES))
    assert fitted is not None
    assert fitted.scores([4.5, -1.5]).tolist() == [np.inf, -np.inf]


def test_no_curve_where_none_fits_or_too_little_is_known() -> None:
    rng = np.random.default_rng(10)
    two_heaps = np.sort(np.r_[rng.normal(size=300), rng.normal(9, 1, 300)])
    assert fit_johnson(two_heaps) is None
    assert fit_johnson(ndtri(PLACES[: LEAST - 1])) is None
    assert fit_johnson(np.repeat([1.0, 2.0, 3.0], 40)) is None
