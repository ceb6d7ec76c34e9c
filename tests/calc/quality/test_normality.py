"""The test of normality, against SciPy's statistic, published critical values and chance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import anderson

from kitwright.calc.quality.normality import NormalTest, _chance, anderson_darling

# D'Agostino and Stephens (1986), Table 4.7, mean and sigma estimated (from memory): the adjusted
# statistic and its chance.
CRITICAL = [
    (0.341, 0.50),
    (0.470, 0.25),
    (0.561, 0.15),
    (0.631, 0.10),
    (0.752, 0.05),
    (0.873, 0.025),
    (1.035, 0.01),
    (1.159, 0.005),
]


@pytest.mark.parametrize(("statistic", "p"), CRITICAL)
def test_published_critical_values(statistic: float, p: float) -> None:
    assert _chance(statistic) == pytest.approx(p, rel=0.03)


@pytest.mark.parametrize("n", [8, 30, 1000])
@pytest.mark.parametrize("kind", ["normal", "exponential", "uniform"])
def test_the_statistic_is_scipys(n: int, kind: str) -> None:
    values = getattr(np.random.default_rng(7), kind)(size=n)
    theirs = anderson(values, "norm", method="interpolate").statistic
    assert anderson_darling(values).statistic == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("n", [8, 25, 200])
def test_normal_values_fail_as_often_as_p_says(n: int) -> None:
    """Four thousand normal samples: p below 5 % and 20 % that often, to four standard errors."""
    rng = np.random.default_rng(8)
    p = np.array([anderson_darling(rng.normal(size=n)).p for _ in range(4000)])
    for level in (0.05, 0.20):
        assert (p < level).mean() == pytest.approx(level, abs=4 * (level / 4000) ** 0.5)


@given(
    values=st.lists(st.integers(-100, 100), min_size=8, max_size=40).filter(
        lambda v: len(set(v)) > 1
    ),
    scale=st.sampled_from([-25.4, 0.001, 1.0, 1e4]),
)
def test_unit_origin_and_order_do_not_matter(values: list[int], scale: float) -> None:
    x = np.array(values, float)
    plain, other = anderson_darling(x), anderson_darling(x[::-1] * scale + 3 * scale)
    assert other.statistic == pytest.approx(plain.statistic, rel=1e-7, abs=1e-9)


def test_p_falls_without_a_step_and_never_climbs_back() -> None:
    a = np.linspace(0.001, 200, 20_000)
    p = np.array([_chance(each) for each in a])
    assert (np.diff(p[a > 0.2]) <= 2e-3).all()  # the pieces of the formula meet to a thousandth
    for joint in (0.2, 0.34, 0.6):
        below, above = _chance(joint - 1e-9), _chance(joint + 1e-9)
        assert above == pytest.approx(below, abs=4e-3)
    assert 0 < p[-1] < 1e-20
    assert _chance(9.99) > p[-1] == _chance(10.0) == _chance(10.01)
    assert NormalTest(statistic=0.1, p=p[0]).p <= 1
