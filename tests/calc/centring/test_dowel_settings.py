"""Settings of least offset, against brute force that knows no closed form and no small angle."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kitwright.calc.centring.dowel_settings import least_settings
from kitwright.calc.centring.rigid import bore_influence
from kitwright.errors import InputError

A = np.array([-180.0, 20.0])
B = np.array([165.0, -30.0])
SIZES = [0.1778, 0.3556]  # 7 and 14 thou: common practice, no source
OFFSET = np.array([-0.11, -0.15])


def unit(angle):
    return np.stack([np.sin(angle), np.cos(angle)], axis=-1)


def lengths(vectors):
    return np.hypot(vectors[..., 0], vectors[..., 1])


def finite_bore_shift(a, b, shift_a, shift_b):
    """The bell's line laid over the two new places, middle on middle; nothing linearised."""
    old, new = a - b, a + shift_a - b - shift_b
    turn = np.arctan2(
        old[0] * new[..., 1] - old[1] * new[..., 0], old[0] * new[..., 0] + old[1] * new[..., 1]
    )
    middle = (a + b) / 2
    c, s = np.cos(turn), np.sin(turn)
    turned = np.stack([c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]], axis=-1)
    return middle + (shift_a + shift_b) / 2 - turned


def least_by_brute_force(a, b, offset, size_a, size_b):
    """Least offset over a grid of both clock angles at which the bell's holes still fit.

    The holes fit where the distance of the bell ends is that of the bell's own holes; between
    neighbours on the grid where the misfit changes its sign the angle is interpolated.
    """
    angle_a = np.radians(np.arange(0, 360, 0.25))[:, None]
    angle_b = np.radians(np.arange(0, 360.5, 0.5))[None, :]
    shift_a, shift_b = size_a * unit(angle_a), size_b * unit(angle_b)
    if size_a == size_b == 0:
        return float(lengths(offset))
    misfit = lengths(a + shift_a - b - shift_b) - lengths(a - b)
    if size_b == 0:  # then the angle to solve for is a's
        fits = np.flatnonzero(np.diff(np.sign(misfit[:, 0])) != 0)
        before, after = misfit[fits, 0], misfit[fits + 1, 0]
        shift_a = size_a * unit(angle_a[fits, 0] + np.radians(0.25) * before / (before - after))
        shift_b = np.zeros(2)
    else:
        row, column = np.nonzero(np.diff(np.sign(misfit), axis=1) != 0)
        before, after = misfit[row, column], misfit[row, column + 1]
        solved = angle_b[0, column] + np.radians(0.5) * before / (before - after)
        shift_a, shift_b = size_a * unit(angle_a[row, 0]), size_b * unit(solved)
    return float(lengths(offset + finite_bore_shift(a, b, shift_a, shift_b)).min())


@pytest.mark.parametrize(("size_a", "size_b"), [*itertools.product([0, *SIZES], repeat=2)])
def test_least_offset_of_each_pair_by_brute_force_with_finite_motion(size_a, size_b):
    found = least_settings(bore_influence(A, B), OFFSET, SIZES)
    pair = (found.a_size_mm == size_a) & (found.b_size_mm == size_b)
    brute = least_by_brute_force(A, B, OFFSET, size_a, size_b)
    # what the motion leaves out is of second order, size² / distance; the grid adds far less
    second_order = (size_a + size_b) ** 2 / (2 * lengths(A - B)) + 1e-5
    assert lengths(found.offset_mm[pair]).min() == pytest.approx(brute, abs=second_order)


def closed_curve(influence, offset, size_a, size_b, points=4001):
    """Every setting of a pair that makes no mismatch, by the clock angle of the smaller dowel."""
    theta = np.linspace(0, 2 * np.pi, points)
    small, large = min(size_a, size_b), max(size_a, size_b)
    along, across = small * np.cos(theta), small * np.sin(theta)
    other = np.sqrt(large**2 - along**2)
    for side in (1, -1):
        pair = (across, side * other) if size_a <= size_b else (side * other, across)
        shift_a, shift_b = (
            along[:, None] * influence.line + each[:, None] * influence.across for each in pair
        )
        motion = influence.motion(shift_a, shift_b)
        yield pair, offset + motion.bore_shift_mm, motion.turn_rad, motion.mismatch_mm


place = st.tuples(st.floats(-300, 300), st.floats(-300, 300)).map(np.array)
offsets = st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)).map(np.array)
size = st.sampled_from([0.1778, 0.3556, 0.5334, 0.02, 0.17781, 0.1778 + 1e-9])


@given(place, place, offsets, size, size, st.none() | st.floats(0, 3e-3))
def test_no_setting_beats_the_one_found_on_any_branch(a, b, offset, size_a, size_b, most):
    assume(lengths(a - b) > 30)
    influence = bore_influence(a, b)
    found = least_settings(influence, offset, [size_a, size_b], most_turn_rad=most)
    across_a = found.shift_a_mm @ influence.across
    across_b = found.shift_b_mm @ influence.across
    mine = (found.a_size_mm == size_a) & (found.b_size_mm == size_b)
    for (curve_a, curve_b), curve, turn, mismatch in closed_curve(
        influence, offset, size_a, size_b
    ):
        np.testing.assert_allclose(mismatch, 0, atol=1e-12)
        allowed = np.ones(len(turn), bool) if most is None else np.abs(turn) <= most
        for side_a, side_b in itertools.product((1, -1), repeat=2):
            branch = allowed & (side_a * curve_a >= 0) & (side_b * curve_b >= 0)
            if not branch.any():
                continue
            here = mine & (side_a * across_a >= -1e-9) & (side_b * across_b >= -1e-9)
            least = lengths(found.offset_mm[here]).min(initial=np.inf)
            assert least <= lengths(curve[branch]).min() + 2e-6 * max(size_a, size_b)


@given(place, place, offsets, st.floats(0, 3e-3))
def test_what_is_found_is_a_setting(a, b, offset, most):
    """Sizes and turn as they must be, no mismatch, and the offset that the motion leaves."""
    assume(lengths(a - b) > 30)
    influence = bore_influence(a, b)
    found = least_settings(influence, offset, SIZES, most_turn_rad=most)
    motion = influence.motion(found.shift_a_mm, found.shift_b_mm)
    np.testing.assert_allclose(lengths(found.shift_a_mm), found.a_size_mm, atol=1e-12)
    np.testing.assert_allclose(lengths(found.shift_b_mm), found.b_size_mm, atol=1e-12)
    np.testing.assert_allclose(motion.mismatch_mm, 0, atol=1e-12)
    np.testing.assert_allclose(offset + motion.bore_shift_mm, found.offset_mm, atol=1e-12)
    np.testing.assert_allclose(motion.turn_rad, found.turn_rad, atol=1e-12)
    assert np.abs(found.turn_rad).max() <= most + 1e-12
    assert (0, 0) in set(zip(found.a_size_mm, found.b_size_mm, strict=True))


def test_the_best_of_each_pair_is_stationary():
    """The offset left is square to the way it moves when both slots turn on together."""
    influence = bore_influence(A, B)
    found = least_settings(influence, OFFSET, SIZES)
    both = (found.a_size_mm > 0) & (found.b_size_mm > 0)
    checked = 0
    for size_a, size_b in itertools.product(SIZES, repeat=2):
        rows = np.flatnonzero(both & (found.a_size_mm == size_a) & (found.b_size_mm == size_b))
        row = rows[lengths(found.offset_mm[rows]).argmin()]
        shift_a, shift_b = found.shift_a_mm[row], found.shift_b_mm[row]
        across_a, across_b = shift_a @ influence.across, shift_b @ influence.across
        along = shift_a @ influence.line
        # one step along the line; across it each must keep its size
        step_a = influence.line - along / across_a * influence.across
        step_b = influence.line - along / across_b * influence.across
        way = influence.motion(step_a, step_b).bore_shift_mm
        slope = way @ found.offset_mm[row] / lengths(way)
        assert slope == pytest.approx(0, abs=1e-8)
        checked += 1
    assert checked == 4


def test_equal_sizes_move_the_bell_straight_against_the_offset():
    """Two equal dowels with their slots alike only shift the bell: |offset| - size is left."""
    offset = 0.3 * unit(np.radians(250))
    found = least_settings(bore_influence(A, B), offset, [0.1778])
    alike = lengths(found.shift_a_mm - found.shift_b_mm) < 1e-12
    best = np.flatnonzero(alike)[lengths(found.offset_mm[alike]).argmin()]
    assert lengths(found.offset_mm[best]) == pytest.approx(0.3 - 0.1778, abs=1e-12)
    np.testing.assert_allclose(found.shift_a_mm[best], -0.1778 * offset / 0.3, atol=1e-9)
    assert found.turn_rad[best] == pytest.approx(0, abs=1e-15)


def test_two_plain_dowels_alone_leave_the_bell():
    found = least_settings(bore_influence(A, B), OFFSET, [])
    np.testing.assert_array_equal(found.offset_mm, [OFFSET])
    assert found.turn_rad.tolist() == [0]


def test_no_turn_at_all_leaves_equal_dowels_only():
    found = least_settings(bore_influence(A, B), OFFSET, SIZES, most_turn_rad=0.0)
    assert (found.a_size_mm == found.b_size_mm).all()
    np.testing.assert_allclose(found.turn_rad, 0, atol=1e-15)
    np.testing.assert_allclose(found.shift_a_mm, found.shift_b_mm, atol=1e-12)


def test_a_setting_is_given_once():
    """Branches meet where a slot lies along the line; sizes given twice are one size."""
    found = least_settings(bore_influence(A, B), np.zeros(2), [0.1778, 0.1778, 0.0])
    rows = np.column_stack([found.shift_a_mm, found.shift_b_mm]).round(9)
    assert len(np.unique(rows, axis=0)) == len(rows)


def test_bad_sizes_are_refused():
    with pytest.raises(InputError, match=r"sizes: -0\.1 is negative"):
        least_settings(bore_influence(A, B), OFFSET, [0.1, -0.1])
    with pytest.raises(InputError, match="sizes: nan is not a number"):
        least_settings(bore_influence(A, B), OFFSET, [np.nan])
