"""Chances after turning errors, against closed forms, product rules and published tables."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import chndtr, ndtr

from kitwright.calc.centring.dowel_chance import Edge, Spread, chance_inside

FIVE = np.radians(5.0)


def spread(still, a=(0, 0), b=(0, 0)):
    """One vector: still + a0 cos p + a1 sin p + b0 cos q + b1 sin q, complex numbers."""
    values = {"still": still, "a_cos": a[0], "a_sin": a[1], "b_cos": b[0], "b_sin": b[1]}
    return Spread(**{name: np.array([value], dtype=complex) for name, value in values.items()})


def one(*args, **kwargs):
    found = chance_inside(*args, **kwargs)
    return found.chance.item(), found.error.item()


# ── a circular normal alone ──────────────────────────────────────────────────────────────

# Offset circular normal, P(r <= k sigma) for a fixed offset of b sigma: as in any table of
# circular normal probabilities (DiDonato and Jarnagin 1962); values from memory, recomputed.
RICE = {
    0.5: (0.357286, 0.830859, 0.982156, 0.999263),
    1.0: (0.267120, 0.730988, 0.956284, 0.997110),
    2.0: (0.081892, 0.396499, 0.785638, 0.965865),
    3.0: (0.010829, 0.113279, 0.432520, 0.803488),
}
RAYLEIGH = {1: 0.393469, 1.5: 0.675348, 2: 0.864665, 2.5: 0.956063, 3: 0.988891, 4: 0.999665}


@pytest.mark.parametrize("b", RICE)
def test_table_of_the_offset_circular_normal(b):
    for k, printed in enumerate(RICE[b], start=1):
        chance, error = one(spread(0.1 * b * 1j), 0.1 * k, angle_error_rad=FIVE, blur_mm=0.1)
        assert chance == pytest.approx(printed, abs=6e-7)
        assert error < 1e-8


@pytest.mark.parametrize("k", RAYLEIGH)
def test_table_of_the_centred_circular_normal(k):
    chance, _ = one(spread(0), 0.1 * k, angle_error_rad=FIVE, blur_mm=0.1)
    assert chance == pytest.approx(RAYLEIGH[k], abs=6e-7)


@given(st.floats(0.02, 5000), st.floats(0, 1))
def test_edge_agrees_with_noncentral_chi_square(radius_in_blurs, share):
    """scipy's non-central chi-square with two degrees of freedom, another algorithm."""
    edge = Edge(radius_mm=radius_in_blurs, blur_mm=1.0)
    lowest = max(0.0, radius_in_blurs - 9)
    distance = lowest + share * (radius_in_blurs + 9 - lowest)
    expected = chndtr(radius_in_blurs**2, 2, distance**2)
    assert edge.inside(np.array([distance])).item() == pytest.approx(expected, abs=1e-9)


# ── turning errors alone ─────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("radius", [0.002, 0.01, 0.03, 0.09])
@pytest.mark.parametrize("which", ["a", "b"])
def test_one_dowel_that_would_centre_the_bore_exactly(which, radius):
    """X = s (u(t + p) - u(t)) has the length 2 s |sin(p / 2)|: a plain normal chance."""
    size, direction = 0.1, np.exp(1j * 0.7)
    turning = {which: (size * direction, 1j * size * direction)}
    chance, error = one(spread(-size * direction, **turning), radius, angle_error_rad=FIVE)
    half = 2 * np.arcsin(radius / (2 * size)) / FIVE
    assert chance == pytest.approx(ndtr(half) - ndtr(-half), abs=error)
    assert error < 3e-6


def test_one_dowel_on_a_line():
    """A mismatch s sin p no longer than C: |p| <= arcsin(C / s), the far side out of reach."""
    chance, error = one(spread(0, a=(0, 0.1778)), 0.02, angle_error_rad=FIVE)
    half = np.arcsin(0.02 / 0.1778) / FIVE
    assert chance == pytest.approx(ndtr(half) - ndtr(-half), abs=error)


def test_two_dowels_that_pull_alike_to_first_order():
    """Two sines of small angles add up: the root of two of one dowel's spread."""
    chance, _ = one(spread(0, a=(0, 0.1), b=(0, 0.1)), 0.0015, angle_error_rad=np.radians(0.5))
    half = 0.015 / np.sqrt(2) / np.radians(0.5)
    assert chance == pytest.approx(ndtr(half) - ndtr(-half), abs=2e-5)


def test_without_errors_a_setting_is_within_or_not():
    both = Spread(
        **{name: np.zeros(3, complex) for name in ("a_cos", "a_sin", "b_cos", "b_sin")},
        still=np.array([0.05, 0.0635, 0.0636], complex),
    )
    assert chance_inside(both, 0.0635, angle_error_rad=0.0).chance.tolist() == [1, 1, 0]


# ── both together ────────────────────────────────────────────────────────────────────────


def by_product_rule(vector, radius, sigma, blur, nodes):
    """Even steps over both angle errors of the non-central chi-square distribution."""
    x = np.linspace(-8, 8, nodes)
    w = np.exp(-(x**2) / 2)
    w /= w.sum()
    p, q = np.meshgrid(sigma * x, sigma * x, indexing="ij")
    distance = vector.distance(p.ravel(), q.ravel())
    return float(np.outer(w, w).ravel() @ chndtr((radius / blur) ** 2, 2, (distance / blur) ** 2))


complexes = st.tuples(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2)).map(lambda pair: complex(*pair))


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(("blur", "nodes"), [(0.03, 100), (0.004, 500)])
def test_agrees_with_a_product_rule(blur, nodes, seed):
    rng = np.random.default_rng(seed)
    a0, a1, b0, b1 = rng.normal(0, 0.15, (4, 2)) @ [1, 1j]
    still = 0.06 * np.exp(1j * rng.uniform(0, 6))
    vector = spread(still - a0 - b0, (a0, a1), (b0, b1))
    chance, error = one(vector, 0.0635, angle_error_rad=0.2, blur_mm=blur)
    expected = by_product_rule(vector, 0.0635, 0.2, blur, nodes)
    assert 0.1 < chance < 0.9
    assert chance == pytest.approx(expected, abs=error + 1e-9)


@settings(max_examples=20)
@given(complexes, complexes, complexes, complexes, complexes)
def test_chance_grows_with_the_radius_and_a_vanishing_blur_changes_nothing(still, a0, a1, b0, b1):
    vector = spread(still - a0 - b0, (a0, a1), (b0, b1))
    chances = [one(vector, r, angle_error_rad=2 * FIVE) for r in (0.02, 0.05, 0.1, 0.5)]
    for (low, low_error), (high, high_error) in itertools.pairwise(chances):
        assert low <= high + low_error + high_error
    blurred = one(vector, 0.05, angle_error_rad=2 * FIVE, blur_mm=1e-6)
    # a blur of u moves the edge by at most a few u
    around = [one(vector, 0.05 + step, angle_error_rad=2 * FIVE) for step in (-6e-6, 6e-6)]
    assert around[0][0] - around[0][1] <= blurred[0] + blurred[1]
    assert blurred[0] - blurred[1] <= around[1][0] + around[1][1]


def test_the_error_stated_holds_where_the_region_is_small():
    """A circle a fiftieth of the spread, against its own area integrated in closed form."""
    vector = spread(0.02, (0, 0.1j), (0, 0.1))
    chance, error = one(vector, 0.0005, angle_error_rad=0.25)
    # q = arcsin((x - 0.02) / 0.1), p = arcsin(y / 0.1): integrate the disc itself
    nodes, weights = np.polynomial.legendre.leggauss(200)
    y = 0.0005 * nodes
    half = np.sqrt(0.0005**2 - y**2)
    p_density = np.exp(-(np.arcsin(y / 0.1) ** 2) / 2 / 0.25**2) / np.sqrt(2 * np.pi) / 0.25
    p_density /= np.sqrt(0.1**2 - y**2)
    ends = [ndtr(np.arcsin((side * half - 0.02) / 0.1) / 0.25) for side in (1, -1)]
    exact = 0.0005 * weights @ (p_density * (ends[0] - ends[1]))
    # the far side of each sine, beyond 90 degrees or six standard errors, adds under 1e-8
    assert chance == pytest.approx(exact, abs=error + 1e-8)
    assert error < 2e-6


def test_several_at_once_are_each_as_if_alone():
    rng = np.random.default_rng(5)
    values = rng.normal(0, 0.1, (5, 40)) + 1j * rng.normal(0, 0.1, (5, 40))
    together = Spread(
        still=values[0], a_cos=values[1], a_sin=values[2], b_cos=values[3], b_sin=values[4]
    )
    chances = chance_inside(together, 0.1, angle_error_rad=0.3, blur_mm=0.01)
    for row in (0, 17, 39):
        alone = chance_inside(
            together.take(np.array([row])), 0.1, angle_error_rad=0.3, blur_mm=0.01
        )
        assert alone.chance.item() == pytest.approx(chances.chance[row], abs=2e-6)
