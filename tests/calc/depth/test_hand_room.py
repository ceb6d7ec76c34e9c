"""Room for a hand or a tool: against poses tried one by one, closed forms, and growing openings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from kitwright.calc.depth.hand_room import (
    HandRoom,
    Opening,
    Seat,
    Tool,
    hand_room,
    smallest_opening,
    stance,
)
from kitwright.calc.depth.openings import Outline
from kitwright.errors import InputError

Floats = NDArray[np.float64]


def box(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Outline:
    w, h = width / 2, height / 2
    return Outline([[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]])


def as_outline(opening: Opening, grown: float = 0.0) -> Outline:
    return box(
        opening.along_s_mm + 2 * grown, opening.along_q_mm + 2 * grown, opening.s_mm, opening.q_mm
    )


def seat(depth: float = 80.0, wall: float = 6.0, s: float = 0.0, q: float = 0.0) -> Seat:
    return Seat(s_mm=s, q_mm=q, depth_mm=depth, wall_mm=wall)


def tool(**changes: float) -> Tool:
    sizes = {
        "head_width_mm": 29.0,
        "head_thickness_mm": 6.5,
        "handle_width_mm": 13.0,
        "handle_thickness_mm": 5.0,
        "length_mm": 220.0,
        "grip_mm": 80.0,
        "swing_deg": 30.0,
    }
    return Tool(**{**sizes, **changes})


def in_outline(points: Floats, corners: Floats) -> NDArray[np.bool_]:
    """By winding number, not by crossings: the angle that the outline turns round each point."""
    a = corners[None, :, :] - points[:, None, :]
    b = np.roll(a, -1, axis=1)
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    dot = (a * b).sum(axis=2)
    return np.asarray(np.abs(np.arctan2(cross, dot).sum(axis=1)) > math.pi)


def bar_in_wall(angle: float, width: float, thickness: float, where: Seat, grown: float) -> Floats:
    """Points of a bar, at this angle, between the wall's faces, as (s, q): a solid, sampled.

    A point of the bar is so far out along its length from the adjuster, so far to its side, and
    so far along its thickness.
    """
    out = np.linspace(0, 1, 41)
    sides = np.linspace(-width / 2, width / 2, 5)
    deep = np.linspace(0, where.wall_mm, 7)
    points = []
    for w in deep:  # depth below the outer face
        for side in sides:
            # along * cos - side * sin = depth - w, for a point of the bar at this depth
            along = (where.depth_mm - w + side * math.sin(angle)) / math.cos(angle)
            points.append(where.s_mm + along * math.sin(angle) + side * math.cos(angle))
    s = np.concatenate([np.add.outer(points, [-grown, grown]).ravel()])
    q = where.q_mm + (thickness / 2 + grown) * np.linspace(-1, 1, 2 * len(out) + 1)
    grid_s, grid_q = np.meshgrid(s, q)
    return np.column_stack([grid_s.ravel(), grid_q.ravel()])


# ── openings ─────────────────────────────────────────────────────────────────────────────


def test_free_stretches_of_a_notched_outline() -> None:
    """A U: free across its foot, in two legs above."""
    u = Outline([[0, 0], [10, 0], [10, 8], [7, 8], [7, 3], [4, 3], [4, 8], [0, 8]])
    assert u.area == 80 - 15
    assert u.free(0.5, 2.5) == [pytest.approx((0, 10))]
    assert u.free(0, 3) == [pytest.approx((0, 10))]
    assert u.free(2, 5) == [pytest.approx((0, 4)), pytest.approx((7, 10))]
    assert u.free(4, 4) == [pytest.approx((0, 4)), pytest.approx((7, 10))]
    assert u.free(7, 9) == []
    assert u.free(20, 30) == []
    assert u.turned().free(4.5, 6.5) == [pytest.approx((0, 3))]


def test_free_stretches_of_a_slope() -> None:
    triangle = Outline([[0, 0], [8, 0], [0, 4]])
    assert triangle.free(1, 2) == [pytest.approx((0, 4))]
    assert all(end - start < 1e-6 for start, end in triangle.free(0, 4))
    assert triangle.free(-0.1, 1) == []


outlines = st.lists(st.floats(0.3, 1.0), min_size=5, max_size=14).map(
    lambda radii: np.array(
        [
            [
                60 * r * math.cos(2 * math.pi * k / len(radii)),
                60 * r * math.sin(2 * math.pi * k / len(radii)),
            ]
            for k, r in enumerate(radii)
        ]
    )
)
"""Starry outlines about the origin, seldom convex."""


@given(corners=outlines, strip=st.tuples(st.floats(-50, 50), st.floats(-50, 50)).map(sorted))
def test_free_stretches_hold_and_nothing_else_does(corners: Floats, strip: list[float]) -> None:
    low, high = strip[0], strip[1] + 0.5
    free = Outline(corners).free(low, high)
    y = np.linspace(low + 1e-6, high - 1e-6, 160)
    for x in np.linspace(-60, 60, 121):
        column = np.column_stack([np.full_like(y, x), y])
        inside = in_outline(column, corners).all()
        near = any(start - 0.05 < x < end + 0.05 for start, end in free)
        deep = any(start + 1e-6 < x < end - 1e-6 for start, end in free)
        assert near or not inside or _grazes(corners, x, low, high)
        assert inside or not deep


def _grazes(corners: Floats, x: float, low: float, high: float) -> bool:
    """Whether a corner between two sampled heights pokes into this column."""
    near = (np.abs(corners[:, 0] - x) < 3) & (corners[:, 1] > low - 1) & (corners[:, 1] < high + 1)
    return bool(near.any())


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([[0, 0], [1, 0]], "3 or more"),
        ([[0, 0], [1, 1], [2, 2]], "no area"),
        ([[0, 0], [2, 2], [2, 0], [0, 3]], "cross"),
        ([[0, 0], [math.nan, 1], [2, 0]], "not finite"),
        ([[k, k % 2] for k in range(500)], "400 at most"),
    ],
)
def test_a_bad_outline_says_what_to_do(corners: list[list[float]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Outline(corners)


# ── closed forms ─────────────────────────────────────────────────────────────────────────


def test_a_stance_by_hand() -> None:
    """At 45° from 80 deep behind 6 of wall, 10 wide: 74 to 80 out, less and more root 2 times 5."""
    low, high = stance(math.pi / 4, 10.0, seat())
    assert (low, high) == pytest.approx((74 - 5 * math.sqrt(2), 80 + 5 * math.sqrt(2)))
    assert stance(-math.pi / 4, 10.0, seat()) == pytest.approx((-high, -low))
    assert stance(0.0, 10.0, seat(s=3)) == pytest.approx((-2, 8))


def test_no_clearance_is_wanted_unless_it_is_given() -> None:
    least = smallest_opening(seat(q=7), tool(), clearance_mm=0)
    found = hand_room(as_outline(least), seat(q=7), tool())
    assert found == hand_room(as_outline(least), seat(q=7), tool(), clearance_mm=0)
    assert found.fits
    assert not hand_room(as_outline(least), seat(q=7), tool(), clearance_mm=0.01).fits


def test_the_smallest_opening_by_hand() -> None:
    """2 d tan 15° + b / cos 15° wide, the thicker of head and handle high, and clearance."""
    found = smallest_opening(seat(q=7), tool(), clearance_mm=2)
    sweep = 2 * 80 * math.tan(math.radians(15)) + 13 / math.cos(math.radians(15))
    assert found.along_s_mm == pytest.approx(sweep + 4)
    assert found.along_q_mm == pytest.approx(6.5 + 4)
    assert (found.s_mm, found.q_mm) == (0, 7)
    still = smallest_opening(seat(), tool(swing_deg=0.0))
    assert (still.along_s_mm, still.along_q_mm) == (29, 6.5)  # the head goes in and comes out
    # a head thicker than wide goes in turned by a quarter through the smaller opening
    ring = tool(head_width_mm=8.0, head_thickness_mm=40.0, handle_width_mm=6.0)
    turned = smallest_opening(seat(depth=60), ring)
    sweep = 2 * 60 * math.tan(math.radians(15)) + 6 / math.cos(math.radians(15))
    assert sweep < 40
    assert (turned.along_s_mm, turned.along_q_mm) == (40, 8)
    stand = hand_room(as_outline(turned), seat(depth=60), ring).stand
    assert stand is not None
    assert stand.way == "turned"


@settings(max_examples=25)
@given(
    depth=st.floats(30, 150),
    wall=st.floats(0, 12),
    handle=st.floats(4, 20),
    head=st.floats(10, 40),
    swing=st.floats(0, 60),
    clearance=st.floats(0, 5),
)
def test_the_smallest_opening_just_serves(
    depth: float, wall: float, handle: float, head: float, swing: float, clearance: float
) -> None:
    used = tool(
        handle_width_mm=handle, head_width_mm=head, swing_deg=swing, length_mm=3 * depth + 80
    )
    where = seat(depth=depth, wall=wall)
    least = smallest_opening(where, used, clearance_mm=clearance)
    exact = hand_room(as_outline(least), where, used, clearance_mm=clearance)
    assert exact.fits
    assert exact.margin_mm == pytest.approx(clearance, abs=1e-6)
    assert exact.smallest == least
    for narrower in (
        box(least.along_s_mm - 0.01, least.along_q_mm),
        box(least.along_s_mm, least.along_q_mm - 0.01),
    ):
        assert not hand_room(narrower, where, used, clearance_mm=clearance).fits


@given(
    s=st.floats(-30, 30),
    width=st.floats(20, 160),
    height=st.floats(6, 60),
    swing=st.floats(0, 60),
)
def test_no_rectangle_of_less_area_serves(
    s: float, width: float, height: float, swing: float
) -> None:
    """Whatever upright opening serves, wherever it lies, is no smaller than the smallest."""
    used = tool(swing_deg=swing)
    least = smallest_opening(seat(), used)
    if hand_room(box(width, height, s), seat(), used).fits:
        assert width * height >= least.along_s_mm * least.along_q_mm - 1e-6


# ── poses, one by one ────────────────────────────────────────────────────────────────────


@given(
    corners=outlines,
    depth=st.floats(25, 120),
    wall=st.floats(0, 12),
    s=st.floats(-15, 15),
    q=st.floats(-15, 15),
    swing=st.floats(0, 50),
)
def test_what_fits_is_clear_of_the_outline_at_every_pose(
    corners: Floats, depth: float, wall: float, s: float, q: float, swing: float
) -> None:
    where, used = seat(depth=depth, wall=wall, s=s, q=q), tool(swing_deg=swing)
    found = hand_room(Outline(corners), where, used)
    if found.margin_mm is None or found.stand is None or found.margin_mm < 0.01:
        return
    grown = found.margin_mm - 1e-3
    start = math.radians(found.stand.swing_from_deg)
    for angle in np.linspace(start, start + math.radians(swing), 9):
        points = bar_in_wall(angle, 13.0, 5.0, where, grown)
        assert in_outline(points, corners).all()
        assert abs(math.degrees(angle)) <= (found.steepest_deg or 0) + 1e-6
    enter = math.radians(found.stand.enter_deg)
    sizes = [(29.0, 6.5), (13.0, 5.0)]
    if found.stand.way == "turned":
        sizes = [(6.5, 29.0), (used.diagonal_mm, used.diagonal_mm)]
    for width, thickness in sizes:
        assert in_outline(bar_in_wall(enter, width, thickness, where, grown), corners).all()


@given(
    corners=outlines,
    depth=st.floats(25, 120),
    s=st.floats(-15, 15),
    q=st.floats(-15, 15),
    swing=st.floats(0, 50),
)
def test_what_swings_no_further_touches_at_every_first_angle(
    corners: Floats, depth: float, s: float, q: float, swing: float
) -> None:
    """Where the swing does not fit by half a millimetre, each first angle has a pose that hits."""
    where, used = seat(depth=depth, s=s, q=q), tool(swing_deg=swing)
    found = hand_room(Outline(corners), where, used)
    alone = found.swing_margin_mm
    if found.steepest_deg is None or 2 * found.steepest_deg < swing:
        return
    if alone is not None and alone > -0.5:
        return
    steepest = math.radians(found.steepest_deg)
    for start in np.linspace(-steepest, steepest - math.radians(swing), 25):
        ends = [start, start + math.radians(swing)]
        points = np.concatenate([bar_in_wall(angle, 13.0, 5.0, where, 0.0) for angle in ends])
        crossed = _hit(points, corners)
        assert crossed, math.degrees(start)


def _hit(points: Floats, corners: Floats) -> bool:
    """Whether any of the points is outside, or a corner pokes in among them."""
    if not in_outline(points, corners).all():
        return True
    low, high = points.min(axis=0), points.max(axis=0)
    return bool(((corners > low) & (corners < high)).all(axis=1).any()) or _side_between(
        low, high, corners
    )


def _side_between(low: Floats, high: Floats, corners: Floats) -> bool:
    """Whether a side of the outline runs through the box that the points fill."""
    along = np.linspace(0, 1, 400)[:, None, None]
    sides = corners[None] + along * (np.roll(corners, -1, axis=0) - corners)[None]
    return bool(((sides > low) & (sides < high)).all(axis=2).any())


# ── properties ───────────────────────────────────────────────────────────────────────────


def margin(found: HandRoom) -> float:
    return -math.inf if found.margin_mm is None else found.margin_mm


@settings(max_examples=25)
@given(
    corners=outlines,
    grown=st.floats(1, 1.5),
    depth=st.floats(25, 120),
    swing=st.floats(0, 50),
)
def test_a_larger_opening_never_hurts(
    corners: Floats, grown: float, depth: float, swing: float
) -> None:
    used = tool(swing_deg=swing)
    small = hand_room(Outline(corners), seat(depth=depth), used)
    large = hand_room(Outline(corners * grown), seat(depth=depth), used)
    assert margin(large) >= margin(small) - 1e-6
    assert large.swing_possible_deg >= small.swing_possible_deg - 1e-6


@settings(max_examples=25)
@given(corners=outlines, s=st.floats(-15, 15), q=st.floats(-15, 15), swing=st.floats(0, 50))
def test_mirrors_and_moves_change_nothing(
    corners: Floats, s: float, q: float, swing: float
) -> None:
    used = tool(swing_deg=swing)
    found = hand_room(Outline(corners), seat(s=s, q=q), used)
    mirrored = hand_room(Outline(corners * [-1, 1]), seat(s=-s, q=q), used)
    moved = hand_room(Outline(corners[::-1] + np.array([40, -7])), seat(s=s + 40, q=q - 7), used)
    for other in (mirrored, moved):
        assert margin(other) == pytest.approx(margin(found), abs=1e-6)
        assert other.swing_possible_deg == pytest.approx(found.swing_possible_deg, abs=1e-5)


@settings(max_examples=25)
@given(corners=outlines, swing=st.floats(1, 50), clearance=st.floats(0, 4))
def test_the_swing_possible_is_where_it_stops_to_fit(
    corners: Floats, swing: float, clearance: float
) -> None:
    found = hand_room(Outline(corners), seat(), tool(swing_deg=swing), clearance_mm=clearance)
    possible = found.swing_possible_deg
    assert found.fits == (possible >= swing - 1e-6) or possible == 0
    if possible > 0.1:
        less = tool(swing_deg=possible - 0.01)
        assert hand_room(Outline(corners), seat(), less, clearance_mm=clearance).fits


def test_a_way_in_apart_from_the_swing_is_no_way() -> None:
    """A narrow slot over the adjuster, and a wide hole that a bar parts from it."""
    corners = [
        [-40, -4], [20, -4], [20, -20], [60, -20], [60, 20], [20, 20], [20, 4], [-40, 4],
    ]  # fmt: skip
    whole = Outline(corners)
    used = tool(length_mm=400.0, head_thickness_mm=20.0)
    assert hand_room(whole, seat(), used).fits  # in through the hole at a slant, along the slot
    parted = Outline([[-40, -4], [19, -4], [19, 4], [-40, 4]])
    assert not hand_room(parted, seat(), used).fits
    bar = [
        [-40, -4], [19, -4], [19, 2], [21, 2], [21, -20], [60, -20], [60, 20], [20, 20], [20, 4],
        [-40, 4],
    ]  # fmt: skip
    found = hand_room(Outline(bar), seat(), used)
    assert not found.fits
    assert found.enter_margin_mm is not None
    assert found.swing_margin_mm is not None
    assert margin(found) < min(found.enter_margin_mm, found.swing_margin_mm)


def test_what_no_opening_cures() -> None:
    short = hand_room(box(500, 500), seat(), tool(length_mm=150.0))
    assert not short.fits
    assert short.steepest_deg is short.margin_mm is short.smallest is None
    barely = hand_room(box(500, 500), seat(), tool(length_mm=161.0))
    assert barely.steepest_deg == pytest.approx(math.degrees(math.acos(80 / 81)))
    assert not barely.fits
    assert barely.swing_possible_deg == pytest.approx(2 * math.degrees(math.acos(80 / 81)))
    shallow = hand_room(box(500, 500), seat(depth=20), tool())
    assert shallow.room_behind_mm == pytest.approx(20 - 6 - 14.5)
    assert not shallow.fits
    aside = hand_room(box(20, 20, 0, 200), seat(), tool())
    assert aside.margin_mm is None
    assert aside.smallest is not None


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: tool(head_width_mm=0.0), "head_width: 0 is not above zero"),
        (lambda: tool(grip_mm=-1.0), "grip: -1 is negative"),
        (lambda: tool(swing_deg=200.0), "swing: 200° cannot be swung"),
        (lambda: seat(depth=5, wall=6), "not behind the wall"),
        (lambda: hand_room(box(9, 9), seat(), tool(), clearance_mm=-1), "clearance: -1"),
    ],
)
def test_bad_sizes_say_what_to_do(make: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        make()  # type: ignore[operator]
