"""The small rigid motion of a bell on two dowels, against the finite motion it stands for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kitwright.calc.centring.rigid import bore_influence
from kitwright.errors import InputError

A = np.array([-180.0, 20.0])
B = np.array([150.0, -35.0])

place = st.tuples(st.floats(-300, 300), st.floats(-300, 300)).map(np.array)
small = st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)).map(np.array)


def turned(vector, angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]]) @ vector


def finite_bore_shift(a, b, shift_a, shift_b):
    """Where the bore goes when the bell's line is laid over the two new places, middle on middle.

    A finite rotation, nothing linearised; laying middle on middle shares the mismatch equally.
    """
    new_a, new_b = a + shift_a, b + shift_b
    old, new = a - b, new_a - new_b
    angle = np.arctan2(old[0] * new[1] - old[1] * new[0], old @ new)
    return (new_a + new_b) / 2 - turned((a + b) / 2, angle)


def test_a_true_rigid_motion_is_found_again():
    """shift = t + phi × p at both dowels: t, phi come back and nothing is left as mismatch."""
    t, phi = np.array([0.12, -0.07]), 8e-4
    found = bore_influence(A, B).motion(
        t + phi * np.array([-A[1], A[0]]), t + phi * np.array([-B[1], B[0]])
    )
    np.testing.assert_allclose(found.bore_shift_mm, t, rtol=1e-12)
    np.testing.assert_allclose(found.turn_rad, phi, rtol=1e-12)
    np.testing.assert_allclose(found.mismatch_mm, 0, atol=1e-14)


@given(place, place, small, small)
def test_agrees_with_finite_motion_to_second_order(a, b, shift_a, shift_b):
    distance = np.hypot(*(a - b))
    assume(distance > 50)
    linear = bore_influence(a, b).motion(shift_a, shift_b).bore_shift_mm
    finite = finite_bore_shift(a, b, shift_a, shift_b)
    largest = max(np.hypot(*shift_a), np.hypot(*shift_b))
    lever = 1 + max(np.hypot(*a), np.hypot(*b)) / distance
    # turn² × lever and turn × stretch of the line, both of the order shift² / distance
    assert np.hypot(*(linear - finite)) <= 8 * lever * largest**2 / distance + 1e-12


def test_the_formulas_written_out():
    """The project's own statement of the motion, term by term."""
    found = bore_influence(A, B)
    n = (A - B) / np.hypot(*(A - B))
    m = np.array([-n[1], n[0]])
    length = np.hypot(*(A - B))
    d = np.array([0.03, -0.11])
    phi = d @ m / length
    np.testing.assert_allclose(found.turn_of_a @ d, phi)
    np.testing.assert_allclose((found.of_a @ d) @ n, d @ n / 2 + phi * (A @ m))
    np.testing.assert_allclose((found.of_a @ d) @ m, -(d @ m) * (B @ n) / length)


@given(place, place, small, small)
def test_names_of_the_dowels_do_not_matter(a, b, shift_a, shift_b):
    assume(np.hypot(*(a - b)) > 1)
    one = bore_influence(a, b).motion(shift_a, shift_b)
    other = bore_influence(b, a).motion(shift_b, shift_a)
    np.testing.assert_allclose(one.bore_shift_mm, other.bore_shift_mm, atol=1e-9)
    np.testing.assert_allclose(one.turn_rad, other.turn_rad, atol=1e-12)
    np.testing.assert_allclose(one.mismatch_mm, other.mismatch_mm, atol=1e-9)


@given(place, place, st.floats(-3, 3), small, small)
def test_the_frame_does_not_matter(a, b, angle, shift_a, shift_b):
    assume(np.hypot(*(a - b)) > 1)
    still = bore_influence(a, b).motion(shift_a, shift_b)
    around = bore_influence(turned(a, angle), turned(b, angle)).motion(
        turned(shift_a, angle), turned(shift_b, angle)
    )
    np.testing.assert_allclose(turned(still.bore_shift_mm, angle), around.bore_shift_mm, atol=1e-9)
    np.testing.assert_allclose(still.turn_rad, around.turn_rad, atol=1e-12)


def test_many_shifts_at_once():
    rng = np.random.default_rng(3)
    shifts_a, shifts_b = rng.normal(0, 0.1, (2, 5, 4, 2))
    influence = bore_influence(A, B)
    together = influence.motion(shifts_a, shifts_b)
    assert together.bore_shift_mm.shape == (5, 4, 2)
    one = influence.motion(shifts_a[2, 3], shifts_b[2, 3])
    np.testing.assert_allclose(together.bore_shift_mm[2, 3], one.bore_shift_mm)
    np.testing.assert_allclose(together.turn_rad[2, 3], one.turn_rad)
    np.testing.assert_allclose(together.mismatch_mm[2, 3], one.mismatch_mm)


@pytest.mark.parametrize(
    ("a", "b", "words"),
    [
        ([10, 20], [10, 20], "dowel_b: it is in the same place as dowel_a"),
        ([0, 0], [0, 0], "same place"),
        ([10, 20, 30], [1, 2], "dowel_a: 3 numbers given; give x and y"),
        ([10, 20], [np.nan, 2], "dowel_b: .* is not finite"),
    ],
)
def test_bad_places_say_what_to_do(a, b, words):
    with pytest.raises(InputError, match=words):
        bore_influence(a, b)
