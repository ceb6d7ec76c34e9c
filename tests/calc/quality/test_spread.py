"""Constants of charts and estimates of sigma: published tables, theory, certified sets."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from kitwright.calc.quality.spread import (
    Sigma,
    c4,
    from_moving_ranges,
    from_ranges,
    from_sigmas,
    matched,
    overall,
    pooled,
    range_constants,
)
from kitwright.errors import InputError

PUBLISHED = Path(__file__).parents[2] / "published"

# Montgomery, Introduction to Statistical Quality Control, Appendix VI, and ASTM's tables (from
# memory, recomputed; c4(10) was read): n, d2, d3, c4, A2, D3, D4, A3, B3, B4.
TABLE = [
    (2, 1.1284, 0.8525, 0.7979, 1.880, 0, 3.267, 2.659, 0, 3.267),
    (3, 1.6926, 0.8884, 0.8862, 1.023, 0, 2.575, 1.954, 0, 2.568),
    (4, 2.0588, 0.8798, 0.9213, 0.729, 0, 2.282, 1.628, 0, 2.266),
    (5, 2.3259, 0.8641, 0.9400, 0.577, 0, 2.114, 1.427, 0, 2.089),
    (6, 2.5344, 0.8480, 0.9515, 0.483, 0, 2.004, 1.287, 0.030, 1.970),
    (7, 2.7044, 0.8332, 0.9594, 0.419, 0.076, 1.924, 1.182, 0.118, 1.882),
    (8, 2.8472, 0.8198, 0.9650, 0.373, 0.136, 1.864, 1.099, 0.185, 1.815),
    (9, 2.9700, 0.8078, 0.9693, 0.337, 0.184, 1.816, 1.032, 0.239, 1.761),
    (10, 3.0775, 0.7971, 0.9727, 0.308, 0.223, 1.777, 0.975, 0.284, 1.716),
]
# d2* of one subgroup of n = 2 ... 10, read in three copies of a published gauge study.
ONE_SUBGROUP = [1.41421, 1.91155, 2.23887, 2.48124, 2.67253, 2.82981, 2.96288, 3.07794, 3.17905]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"n={row[0]}")
def test_the_table_of_constants(row: tuple[float, ...]) -> None:
    n = int(row[0])
    (d2, d3), c = range_constants(n), c4(n)
    wide, high = 3 * d3 / d2, 3 * math.sqrt(1 - c * c) / c
    made = [d2, d3, c, 3 / (d2 * math.sqrt(n)), max(0, 1 - wide), 1 + wide]
    made += [3 / (c * math.sqrt(n)), max(0, 1 - high), 1 + high]
    np.testing.assert_allclose(made[:3], row[1:4], atol=6e-5)
    np.testing.assert_allclose(made[3:], row[4:], atol=1.5e-3)


def test_constants_in_closed_form() -> None:
    """Two and three values: 2/sqrt(pi), sqrt(2 - 4/pi), 3/sqrt(pi); c4(2) is sqrt(2/pi)."""
    d2, d3 = range_constants(2)
    assert d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-13)
    assert d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-12)
    assert range_constants(3)[0] == pytest.approx(3 / math.sqrt(math.pi), abs=1e-13)
    assert c4(2) == pytest.approx(math.sqrt(2 / math.pi), abs=1e-15)
    assert [round(c4(n), 5) for n in (15, 20, 25)] == [0.98232, 0.98693, 0.98964]


@pytest.mark.parametrize(("n", "published"), list(enumerate(ONE_SUBGROUP, start=2)))
def test_the_root_mean_square_range(n: int, published: float) -> None:
    """d2* of one subgroup is sqrt(d2² + d3²), and what matching makes of the mean range."""
    d2, d3 = range_constants(n)
    assert math.hypot(d2, d3) == pytest.approx(published, abs=1.2e-5)
    assert d2 / matched(1.0, (d3 / d2) ** 2).shrink == pytest.approx(published, abs=1.2e-5)


def test_a_range_of_very_many_values_is_still_right() -> None:
    rng = np.random.default_rng(3)
    ranges = np.ptp(rng.standard_normal((4000, 1000)), axis=1)
    d2, d3 = range_constants(1000)
    assert ranges.mean() == pytest.approx(d2, abs=5 * d3 / math.sqrt(4000))
    for n in (1, 1001):
        with pytest.raises(InputError, match="2 to 1000"):
            range_constants(n)


@pytest.mark.parametrize(("lead", "tail"), [(1.2, 0), (1000000.2, 1e-9), (10000000.2, 1e-8)])
def test_nist_certified_numacc(lead: float, tail: float) -> None:
    """NIST StRD univariate NumAcc2, 3, 4 (from memory): a lead, then 500 times -0.1 and +0.1."""
    values = np.array([lead] + [lead - 0.1, lead + 0.1] * 500)
    assert values.mean() == pytest.approx(lead, rel=1e-14)
    assert overall(values).value == pytest.approx(0.1, rel=max(tail, 1e-14))


def test_nist_certified_michelson() -> None:
    """NIST StRD univariate Michelso: mean 299.8524, sigma 0.0790105478190518."""
    kept = tomllib.loads((PUBLISHED / "michelson_1879.toml").read_text("utf-8"))["values"]
    values = 299 + np.array(kept) / 1000
    assert values.mean() == pytest.approx(299.8524, rel=1e-14)
    assert overall(values).value == pytest.approx(0.0790105478190518, rel=1e-12)


def test_piston_rings_four_ways() -> None:
    """Derived from the published rings: sigma by mean range, mean sigma, pooled, and over all."""
    kept = tomllib.loads((PUBLISHED / "piston_rings.toml").read_text("utf-8"))
    table = np.array(kept["subgroups"][: kept["phase_1"]])
    flat = table.ravel()
    within = pooled(flat, np.full(25, 5.0))
    found = [from_ranges(table), from_sigmas(table), within, overall(flat)]
    np.testing.assert_allclose(
        [sigma.value for sigma in found], [0.009785, 0.009830, 0.009863, 0.0100700], atol=5e-7
    )
    assert (within.degrees, overall(flat).degrees) == (100, 124)
    # a range of five is nearly as good as a standard deviation of five, and never better
    assert 0.85 * 100 < found[0].degrees < found[1].degrees < 100


def test_pooled_over_uneven_subgroups_is_the_mean_square_within() -> None:
    rng = np.random.default_rng(4)
    sizes = [3, 1, 5, 2]
    rows = [rng.normal(place, 1, size) for place, size in enumerate(sizes)]
    found = pooled(np.concatenate(rows), np.array(sizes, float))
    squares = sum(row.var(ddof=1) * (len(row) - 1) for row in rows if len(row) > 1)
    assert found.value == pytest.approx(math.sqrt(squares / 7), rel=1e-14)
    assert found.degrees == 7


@pytest.mark.parametrize("n", [2, 5, 30])
def test_a_mean_moving_range_varies_as_cryer_and_ryan_say(n: int) -> None:
    """(0.8264 n - 1.082) / (n - 1)² (from memory), and what simulation says."""
    found = from_moving_ranges(np.arange(n, dtype=float))
    relative = 1 / found.shrink**2 - 1
    assert relative == pytest.approx((0.8264 * n - 1.082) / (n - 1) ** 2, rel=2e-3)
    rng = np.random.default_rng(5)
    made = np.abs(np.diff(rng.standard_normal((100_000, n)), axis=1)).mean(axis=1)
    made *= math.sqrt(math.pi) / 2
    assert made.mean() == pytest.approx(1, abs=0.01)
    assert made.var() == pytest.approx(relative, rel=0.03)


@pytest.mark.parametrize(("n", "tolerance"), [(5, 0.015), (20, 0.01)])
def test_the_interval_of_a_matched_sigma_holds_its_confidence(n: int, tolerance: float) -> None:
    """Moving ranges of normal values: 90 % intervals, by 20 000 simulated samples."""
    rng = np.random.default_rng(6)
    made = np.abs(np.diff(rng.standard_normal((20_000, n)), axis=1)).mean(axis=1)
    likeness = from_moving_ranges(np.arange(n, dtype=float))
    one = Sigma(value=1.0, degrees=likeness.degrees, shrink=likeness.shrink)
    low, high = (bound * made * math.sqrt(math.pi) / 2 for bound in one.interval(0.90))
    assert ((low <= 1) & (high >= 1)).mean() == pytest.approx(0.90, abs=tolerance)


def test_the_interval_of_sigma_is_chi_square() -> None:
    low, high = Sigma(value=1.75, degrees=19).interval(0.95)
    # 6b: Montgomery, Ex. 8.4 (from memory, recomputed): chi-square 8.91 and 32.85 at 19 degrees
    assert 19 * 1.75**2 / high**2 == pytest.approx(8.91, abs=0.005)
    assert 19 * 1.75**2 / low**2 == pytest.approx(32.85, abs=0.005)
    assert chi2.cdf(19 * 1.75**2 / low**2, 19) == pytest.approx(0.975, abs=1e-12)


@given(degrees=st.floats(0.5, 1e6), value=st.floats(1e-6, 1e6))
def test_matching_comes_back(degrees: float, value: float) -> None:
    """A chi of so many degrees has the mean and variance that give these degrees again."""
    shrink = c4(degrees + 1)
    found = matched(value, 1 / shrink**2 - 1)
    # beyond ten thousand degrees the variance itself has few figures left
    assert found.degrees == pytest.approx(degrees, rel=1e-8 + 1e-14 * degrees**2)
    assert found.shrink == pytest.approx(shrink, rel=1e-12)
