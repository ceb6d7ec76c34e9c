"""Positions in a zone: chances over a circle against SciPy's laws, and whether intervals hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import binomtest, chi2, multivariate_normal, ncx2, norm

from kitwright.calc.quality.disc import disc_chances
from kitwright.calc.quality.zone_capability import _Law, assess_positions, by_differences
from kitwright.errors import InputError

RNG = np.random.default_rng(16)


@given(
    away=st.floats(0, 12), turn=st.floats(0, 6.3), radius=st.floats(0.01, 15), fine=st.booleans()
)
def test_an_even_spread_is_noncentral_chi_square(
    away: float, turn: float, radius: float, fine: bool
) -> None:
    inside, outside = disc_chances(
        away * np.cos(turn), away * np.sin(turn), 1, 1, radius, fine=fine
    )
    law = ncx2(2, away**2) if away > 1e-6 else chi2(2)
    near = 1e-12 if fine else 1e-6
    assert inside == pytest.approx(law.cdf(radius**2), abs=near)
    assert outside == pytest.approx(law.sf(radius**2), abs=near)


def test_a_faint_chance_outside_keeps_its_figures() -> None:
    """exp(-r²/2) for a centred even spread, down to 1e-250."""
    radius = np.array([5.0, 10.0, 20.0, 33.9])
    _, outside = disc_chances(0, 0, 1, 1, radius)
    np.testing.assert_allclose(outside, np.exp(-(radius**2) / 2), rtol=1e-9)


@given(
    along=st.floats(-3, 3), across=st.floats(-3, 3), thin=st.floats(1e-4, 1), r=st.floats(0.1, 6)
)
def test_any_spread_against_plain_quadrature(
    along: float, across: float, thin: float, r: float
) -> None:
    """Over the short axis by SciPy's adaptive rule, where ours takes the long one."""

    def at(y: float) -> float:
        half = np.sqrt(max(r * r - y * y, 0))
        inner = norm.cdf(half - along) - norm.cdf(-half - along)
        return inner * norm.pdf(y, across, thin)

    ends = np.clip([across - 9 * thin, across + 9 * thin], -r, r)
    theirs = quad(at, *ends, limit=400, epsabs=1e-10, points=[np.clip(across, *ends)])[0]
    inside, outside = disc_chances(along, across, 1, thin, r)
    assert inside == pytest.approx(theirs, abs=3e-8)
    assert inside + outside == pytest.approx(1, abs=1e-11)


def test_all_on_one_line() -> None:
    inside, _ = disc_chances(0.1, 0.3, 0.2, 0.0, 0.5)
    assert inside == pytest.approx(norm.cdf(1.5) - norm.cdf(-2.5), abs=1e-9)


# ── assessed ─────────────────────────────────────────────────────────────────────────────


def made(count: int) -> np.ndarray:
    covariance = [[0.0009, 0.0003], [0.0003, 0.0004]]
    return np.random.default_rng(17).multivariate_normal([0.02, -0.01], covariance, count)


def test_the_chance_is_that_of_the_fitted_law() -> None:
    places = made(60)
    found = assess_positions(places, zone=0.2)
    law = multivariate_normal(places.mean(axis=0), np.cov(places.T))
    drawn = law.rvs(400_000, random_state=np.random.default_rng(18))
    share = (np.hypot(*drawn.T) > 0.1).mean()
    assert found.normal.method == found.outside.method == "normal"
    assert found.outside.chance == pytest.approx(share, abs=4 * (share / 4e5) ** 0.5)
    assert found.outside.interval.low < found.outside.chance < found.outside.interval.high
    # ISO 22514-6: the index of one characteristic with the same chance outside
    assert 2 * norm.sf(3 * found.ppk.value) == pytest.approx(found.outside.chance, rel=1e-9)
    assert 2 * norm.sf(3 * found.ppk.low) == pytest.approx(found.outside.interval.high, rel=1e-9)
    assert found.pp.value > found.ppk.value
    assert found.covariance == pytest.approx(np.cov(places.T)[[0, 0, 1], [0, 1, 1]], rel=1e-12)
    steps = np.diff(places, axis=0)
    assert found.within == pytest.approx(np.sqrt((steps**2).sum(axis=0) / 118), rel=1e-12)


@pytest.mark.parametrize("count", [5, 15])
def test_the_interval_of_the_chance_holds(count: int) -> None:
    """90 % intervals over 60 samples of a process that leans and lies off its place."""
    covariance = np.array([[0.0009, 0.0003], [0.0003, 0.0004]])
    truth = _truth(np.array([0.02, -0.01]), covariance, 0.1)
    rng, held = np.random.default_rng(19), 0
    for _ in range(60):
        places = rng.multivariate_normal([0.02, -0.01], covariance, count)
        around = assess_positions(places, zone=0.2, confidence=0.90).normal.interval
        held += around.low <= truth <= around.high
    assert held / 60 == pytest.approx(0.90, abs=2.5 * (0.09 / 60) ** 0.5)


@pytest.mark.parametrize(("count", "away", "thin"), [(4, 0.0, 1.0), (4, 4.0, 1.0), (12, 1.0, 0.4)])
def test_each_end_of_the_interval_holds(count: int, away: float, thin: float) -> None:
    """About the true place and off it, even and lean: of 80 intervals of 90 %, five in a hundred
    may miss on each side, and chance adds three sigma. A generalized interval alone misses below
    for 24 of the first."""
    rng, missed = np.random.default_rng(21), np.zeros(2)
    mean, sigmas = np.array([away, 0.0]), np.array([1.0, thin])
    radius = 2.5 + 0.8 * away
    truth = _truth(mean, np.diag(sigmas**2), radius)
    for _ in range(80):
        places = mean + rng.normal(size=(count, 2)) * sigmas
        law = _Law(places.mean(axis=0), np.cov(places.T), count - 1, count, radius, 0.90)
        around = law.outside(places.mean(axis=0))[1]
        missed += [truth < around.low, truth > around.high]
    assert (missed / 80 <= 0.05 + 3 * (0.05 * 0.95 / 80) ** 0.5).all()


def test_the_covariances_allowed_for_have_the_mean_that_theory_gives() -> None:
    """Of the pivots: n s1²/(n - 2) along the long axis, n s2² (n - 1)/((n - 2)(n - 3)) across it,
    from the means of 1/chi-square, and no slant on average (derived)."""
    law = _Law(np.array([1.0, 2.0]), np.diag([4.0, 9.0]), 40, 41, 1.0, 0.95)
    l11, l21, l22 = law.allowed
    assert (l11**2).mean() == pytest.approx(9 * 40 / 38, rel=0.01)
    assert (l21**2 + l22**2).mean() == pytest.approx(4 * 40 * 39 / (38 * 37), rel=0.01)
    assert (l11 * l21).mean() == pytest.approx(0, abs=0.1)


def test_the_samples_tried_have_the_moments_that_theory_gives() -> None:
    """Of Wishart's law: the covariance on average, 2 s⁴/v its variance (Bartlett 1933); the means
    spread by the covariance over n."""
    law = _Law(np.array([1.0, 2.0]), np.diag([4.0, 9.0]), 40, 41, 1.0, 0.95)
    l11, l21, l22 = law.tried
    assert (l11**2).mean() == pytest.approx(9, rel=0.01)
    assert (l11**2).var() == pytest.approx(2 * 81 / 40, rel=0.05)
    assert (l21**2 + l22**2).mean() == pytest.approx(4, rel=0.01)
    assert (l11 * l21).mean() == pytest.approx(0, abs=0.05)
    assert (l11 * l21).var() == pytest.approx(36 / 40, rel=0.05)
    assert [shift.var() for shift in law.tried_shift] == pytest.approx([9 / 41, 4 / 41], rel=0.05)


@settings(max_examples=40)
@given(
    away=st.floats(0, 60), thin=st.sampled_from([0.0, 1e-6, 0.1, 1.0]), radius=st.floats(0.01, 60),
    count=st.integers(3, 40),
)  # fmt: skip
def test_an_interval_comes_for_any_law(away: float, thin: float, radius: float, count: int) -> None:
    law = _Law(np.array([away, 0.2]), np.diag([1, thin**2]), count - 1, count, radius, 0.95)
    for mean in (np.array([away, 0.2]), np.zeros(2)):
        chance, around = law.outside(mean)
        assert 0 <= around.low <= chance <= around.high <= 1


def _truth(mean: np.ndarray, covariance: np.ndarray, radius: float) -> float:
    variances, axes = np.linalg.eigh(covariance)
    short, long = mean @ axes
    return float(disc_chances(long, short, variances[1] ** 0.5, variances[0] ** 0.5, radius)[1])


@settings(max_examples=15)
@given(turn=st.floats(0, 6.3), size=st.sampled_from([25.4, 0.001]))
def test_the_frame_and_the_unit_do_not_matter(turn: float, size: float) -> None:
    places = made(12)
    cos, sin = np.cos(turn), np.sin(turn)
    turned = places @ np.array([[cos, sin], [-sin, cos]]) * size
    one, other = assess_positions(places, zone=0.2), assess_positions(turned, zone=0.2 * size)
    assert other.outside.chance == pytest.approx(one.outside.chance, rel=1e-8)
    assert other.ppk.low == pytest.approx(one.ppk.low, rel=1e-6)
    assert other.normal_test is not None
    assert one.normal_test is not None
    assert other.normal_test.p == pytest.approx(one.normal_test.p, rel=1e-6)


def test_positions_that_are_not_normal() -> None:
    """Even over a disc of 0.05: nothing beyond it, though a normal law sees some there."""
    rng = np.random.default_rng(20)
    r, t = 0.05 * np.sqrt(rng.uniform(size=3000)), rng.uniform(0, 2 * np.pi, 3000)
    found = assess_positions(np.c_[r * np.cos(t), r * np.sin(t)], zone=0.104)
    assert found.normal_test is not None
    assert found.normal_test.p < 0.05
    assert found.normal.chance > 0.05
    assert found.outside.chance < 0.004
    theirs = binomtest(0, 3000).proportion_ci()
    assert found.outside.interval.high == pytest.approx(theirs.high, rel=1e-9)
    assert found.counted == 0


def test_a_hundred_thousand_positions() -> None:
    places = made(100_000)
    found = assess_positions(places, zone=0.2)
    truth = _truth(np.array([0.02, -0.01]), np.array([[0.0009, 0.0003], [0.0003, 0.0004]]), 0.1)
    assert found.outside.interval.low < truth < found.outside.interval.high
    assert found.outside.interval.high < 1.1 * truth


@pytest.mark.parametrize(
    ("positions", "zone", "words"),
    [
        ([[0, 0], [1, 1]], 1.0, "positions: 2 given; give 3 or more"),
        ([[0.1, 0.2]] * 5, 1.0, "positions: all 5 are the same"),
        ([[0, 0], [1, 1], [0, 1]], 0.0, "zone: 0 is not above zero"),
        ([[0, 0], [1, 1], [0, np.nan]], 1.0, "not finite"),
        ([[0, 0, 0]] * 4, 1.0, "rows of 2 numbers"),
    ],
)
def test_what_is_refused(positions: object, zone: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        assess_positions(positions, zone=zone)


def test_three_positions_on_a_line_are_answered() -> None:
    found = assess_positions([[0, 0], [0.01, 0.01], [0.02, 0.02]], zone=0.1)
    assert 0 <= found.outside.interval.low <= found.outside.chance <= found.outside.interval.high
    assert found.outside.interval.high > 0.3


@pytest.mark.parametrize("count", [2, 3, 7, 50])
def test_differences_are_as_sure_as_the_moments_of_their_form_tell(count: int) -> None:
    """Of a quadratic form x'Ax in normal values: mean tr A, variance 2 tr A², so that it is as
    sure as chi-square with (tr A)²/tr A² degrees (Satterthwaite)."""
    differences = np.diff(np.eye(count), axis=0)
    form = differences.T @ differences
    degrees = np.trace(form) ** 2 / np.trace(form @ form)
    assert by_differences(count) == pytest.approx(degrees, rel=1e-12)
