"""The signs of a sweep, held against bodies in space instead of against its own formula."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.centring.sweep import correct_bore, sweep_bore, sweep_face
from kitwright.calc.centring.sweep_dial import Dial

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "bore_runout.toml").read_text("utf-8")
)
EXACT = Dial(repeatability_mm=0.0, graduation_mm=0.0, error_mm=0.0)
EIGHT = np.arange(0.0, 360.0, 45.0)
QUARTERS = np.arange(0.0, 360.0, 90.0)

small = st.floats(-0.3, 0.3)
clocks = st.floats(0, 360)


def bore(readings, **more):
    return sweep_bore(readings, limit_mm=0.127, dial=EXACT, form_allowance_mm=0.0, **more)


def face(readings, **more):
    return sweep_face(readings, limit_mm=0.127, dial=EXACT, form_allowance_mm=0.0, **more)


def dial_in_ring(clock_deg, *, centre, axis=(0.0, 0.0), radius):
    """Readings of a dial that turns about `axis` and touches a ring: where its ray meets the wall.

    The plunger is pushed in by as much as the wall is nearer.
    """
    t = np.radians(clock_deg)
    ray = np.stack([np.sin(t), np.cos(t)], axis=-1)
    to_centre = np.subtract(centre, axis)
    ahead = ray @ to_centre
    distance = ahead + np.sqrt(radius**2 - to_centre @ to_centre + ahead**2)
    return np.column_stack([clock_deg, radius - distance])


def dial_on_plane(clock_deg, *, normal, radius):
    """Readings of a dial that turns about the z axis, its tip on a plane through the origin.

    Seen from behind x is right, y up and z rearward, toward the reader; the tip comes from
    behind, so the plunger is pushed in by the plane's height.
    """
    t = np.radians(clock_deg)
    height = -(normal[0] * radius * np.sin(t) + normal[1] * radius * np.cos(t)) / normal[2]
    return np.column_stack([clock_deg, height])


@given(x=small, y=small, radius=st.floats(40, 120))
def test_a_displaced_ring_is_found_where_it_is(x, y, radius):
    """To second order in the offset: a reading leaves out e²/2R at most."""
    found = bore(dial_in_ring(EIGHT, centre=(x, y), radius=radius))
    size = math.hypot(x, y)
    assert found.offset_x_mm == pytest.approx(x, abs=2 * size**3 / radius**2 + 2e-9)
    assert found.offset_y_mm == pytest.approx(y, abs=2 * size**3 / radius**2 + 2e-9)
    assert found.sweep.second_mm == pytest.approx(size**2 / (2 * radius), rel=1e-3, abs=1e-9)
    four = bore(dial_in_ring(QUARTERS, centre=(x, y), radius=radius))
    assert np.hypot(four.offset_x_mm - x, four.offset_y_mm - y) <= size**2 / radius + 2e-9


@given(x=small, y=small)
def test_the_bell_moved_as_told_is_centred(x, y):
    """Move the ring itself by the answer and sweep it again."""
    found = bore(dial_in_ring(EIGHT, centre=(x, y), radius=60.0))
    way = math.radians(found.move_clock_deg)
    moved = (
        x + found.offset_mm * math.sin(way),
        y + found.offset_mm * math.cos(way),
    )
    again = bore(dial_in_ring(EIGHT, centre=moved, radius=60.0))
    assert again.sweep.tir_mm < 1e-4 * 0.3 + 2 * math.hypot(x, y) ** 3 / 60.0**2


def test_the_highest_reading_is_where_to_move():
    """The garage's form: toward the highest reading, by half the TIR."""
    readings = dial_in_ring(EIGHT, centre=(0.1, 0.0), radius=60.0)
    found = bore(readings)
    assert readings[readings[:, 1].argmax(), 0] == 270
    assert found.move_clock_deg == pytest.approx(270)
    assert found.offset_mm == pytest.approx(found.tir_as_read_mm / 2, rel=1e-3)


@given(x=small, y=small, droop=st.floats(0, 0.2), clearance=st.floats(0, 0.2))
def test_a_drooping_holder_on_a_crank_at_rest(x, y, droop, clearance):
    """The dial turns about a point below the crank's middle: its droop and its rest together.

    Both figures are got as a fitter gets them, with the same holder inside a true ring.
    """
    ring = {"centre": (0.0, 0.0), "radius": 60.0}
    test = dial_in_ring(np.array([0.0, 180.0]), axis=(0.0, -droop), **ring)
    sag = test[1, 1] - test[0, 1]
    at_rest, lifted = (
        dial_in_ring(np.array([0.0]), axis=(0.0, rise), **ring)[0, 1]
        for rise in (-clearance / 2, clearance / 2)
    )
    readings = dial_in_ring(EIGHT, centre=(x, y), axis=(0.0, -droop - clearance / 2), radius=60.0)
    found = bore(readings, sag_mm=sag, bearing_clearance_mm=lifted - at_rest)
    assert found.offset_x_mm == pytest.approx(x, abs=1e-4)
    assert found.offset_y_mm == pytest.approx(y, abs=1e-4)
    assert bore(readings).offset_y_mm == pytest.approx(y + droop + clearance / 2, abs=1e-4)


# ── published ────────────────────────────────────────────────────────────────────────────


def published_readings():
    clock = PUBLISHED["procedure"]["clock_deg"]
    read = PUBLISHED["example"]["readings"]
    return [[clock[place], read[place] * 25.4] for place in "ABCD"]


def test_army_procedure_gives_twice_our_offset():
    """TM 5-2815-232-14's arithmetic on the service sheet's readings, and its printed totals."""
    example, added = PUBLISHED["example"], PUBLISHED["procedure"]["lift_added"]
    corrected = {
        place: example["readings"][place] + added[place] * example["lift"] for place in "ABCD"
    }
    vertical = corrected["C"] - corrected["A"]
    horizontal = max(corrected["B"], corrected["D"]) - min(corrected["B"], corrected["D"])
    assert vertical == pytest.approx(example["total_vertical"], abs=5e-7)
    assert horizontal == pytest.approx(example["total_horizontal"], abs=5e-7)

    found = bore(published_readings(), bearing_clearance_mm=example["lift"] * 25.4)
    assert 2 * abs(found.offset_y_mm) / 25.4 == pytest.approx(example["total_vertical"], abs=1e-9)
    assert 2 * abs(found.offset_x_mm) / 25.4 == pytest.approx(example["total_horizontal"], abs=1e-9)
    assert found.offset_x_mm > 0 > found.offset_y_mm  # highest at 9 and 12: the bore is low, right
    assert found.offset_mm / 25.4 == pytest.approx(np.hypot(0.003, 0.0025), abs=1e-9)


def test_army_lift_is_our_clearance_but_for_a_constant():
    clock, added = PUBLISHED["procedure"]["clock_deg"], PUBLISHED["procedure"]["lift_added"]
    ours = correct_bore([[clock[place], 0.0] for place in "ABCD"], bearing_clearance_mm=1.0)
    theirs = np.array([added[place] for place in "ABCD"])
    np.testing.assert_allclose(ours[:, 1] - ours[0, 1], theirs - theirs[0], atol=1e-12)


def test_published_sag_tilts_a_true_ring_by_half_of_it():
    """Tip inward on a mandrel -37 mil; inside a ring the same holder shows +37, and misses 18.5."""
    sag = -PUBLISHED["sag"]["mandrel_bottom_mil"] * 0.0254
    true_ring = [[t, sag * (1 - math.cos(math.radians(t))) / 2] for t in EIGHT]
    assert true_ring[4][1] - true_ring[0][1] == pytest.approx(sag)
    as_read, corrected = bore(true_ring), bore(true_ring, sag_mm=sag)
    assert as_read.offset_mm / 0.0254 == pytest.approx(PUBLISHED["sag"]["apparent_offset_mil"])
    assert corrected.offset_mm == 0.0


@given(x=small, y=small, sag=small, clearance=st.floats(0, 0.2))
def test_four_readings_of_a_true_ring_agree(x, y, sag, clearance):
    """12 + 6 = 3 + 9, whatever sag and lift do: common practice, no source."""
    t = np.radians(QUARTERS)
    shown = -x * np.sin(t) - y * np.cos(t) + sag * (1 - np.cos(t)) / 2 - clearance / 2 * np.cos(t)
    for known in ({}, {"sag_mm": sag, "bearing_clearance_mm": clearance}):
        found = bore(np.column_stack([QUARTERS, shown]), **known)
        assert found.sweep.sum_check_mm == pytest.approx(0, abs=1e-12)


# ── faces ────────────────────────────────────────────────────────────────────────────────


@given(clock=clocks, mrad=st.floats(0.01, 3), radius=st.floats(40, 120))
def test_a_tilted_plane_is_found_as_it_stands(clock, mrad, radius):
    way, lean = math.radians(clock), math.atan(mrad / 1000)
    normal = (-math.sin(lean) * math.sin(way), -math.sin(lean) * math.cos(way), math.cos(lean))
    found = face(dial_on_plane(EIGHT, normal=normal, radius=radius), sweep_radius_mm=radius)
    assert found.tilt_mrad == pytest.approx(mrad, rel=1e-9)
    assert math.cos(math.radians(found.tilt_clock_deg - clock)) == pytest.approx(1, abs=1e-9)
    assert found.sweep.tir_mm == pytest.approx(2 * radius * mrad / 1000, rel=1e-9)


@given(clock=clocks, mrad=st.floats(0.01, 3), x=small, y=small, ahead=st.floats(50, 300))
def test_a_shaft_square_to_the_plane_meets_the_pilot_there(clock, mrad, x, y, ahead):
    """Follow the plane's normal from the bore's centre forward to the pilot's plane."""
    way, lean = math.radians(clock), math.atan(mrad / 1000)
    normal = np.array(
        [-math.sin(lean) * math.sin(way), -math.sin(lean) * math.cos(way), math.cos(lean)]
    )
    start = np.array([x, y, 0.0])
    meets = start + normal * (-ahead / normal[2])  # z = -ahead: forward of the face
    found = face(
        dial_on_plane(EIGHT, normal=normal, radius=70.0),
        sweep_radius_mm=70.0,
        plane_distance_mm=ahead,
        bore_offset_mm=(x, y),
    )
    assert found.pilot_shift_mm == pytest.approx(np.hypot(*meets[:2]), abs=1e-9)
    if found.pilot_shift_mm > 1e-3:
        angle = math.radians(found.pilot_shift_clock_deg)
        at = found.pilot_shift_mm * np.array([math.sin(angle), math.cos(angle)])
        np.testing.assert_allclose(at, meets[:2], atol=1e-9)


@given(
    clock=clocks,
    mrad=st.floats(0.01, 3),
    warp=small,
    floats=st.lists(small, min_size=8, max_size=8),
)
def test_a_second_dial_opposite_cancels_float_and_warp(clock, mrad, warp, floats):
    """The crank slides by another amount at each stop; both dials ride on it."""
    way, lean = math.radians(clock), math.atan(mrad / 1000)
    normal = (-math.sin(lean) * math.sin(way), -math.sin(lean) * math.cos(way), math.cos(lean))

    def shows(at):
        height = dial_on_plane(at, normal=normal, radius=70.0)[:, 1]
        return height + warp * np.cos(2 * np.radians(at)) - np.array(floats)

    one = np.column_stack([EIGHT, shows(EIGHT)])
    two = np.column_stack([EIGHT, 0.5 + shows(EIGHT + 180)])
    found = face(one, readings_b=two, sweep_radius_mm=70.0)
    assert found.tilt_mrad == pytest.approx(mrad, abs=1e-9)
    together = warp * np.cos(2 * np.radians(EIGHT)) - np.array(floats)
    assert found.float_mm == pytest.approx(np.ptp(together), abs=1e-12)
    assert found.sweep.second_mm is None
