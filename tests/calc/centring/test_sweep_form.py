"""What three and four readings cannot show, held against bores that hide it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.centring.sweep import sweep_bore
from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_fit import swing

EXACT = Dial(repeatability_mm=0.0, graduation_mm=0.0, error_mm=0.0)


def bore(clock, shape, *, form, dial=EXACT):
    x, y, a, b = shape
    t = np.radians(np.asarray(clock, dtype=float))
    shown = -x * np.sin(t) - y * np.cos(t) + a * np.cos(2 * t) + b * np.sin(2 * t)
    return sweep_bore(
        np.column_stack([clock, shown]), limit_mm=0.127, dial=dial, form_allowance_mm=form
    )


def test_three_readings_take_an_oval_for_an_offset():
    """A round crank, a centred oval: the offset found is half the oval's indicator movement."""
    for bent in np.radians([0, 30, 77]):
        shape = (0.0, 0.0, 0.01 * np.cos(bent), 0.01 * np.sin(bent))
        found = bore([0, 120, 240], shape, form=0.02)
        assert found.offset_mm == pytest.approx(0.02 / 2)
        assert found.offset_u95_mm == pytest.approx(0.02 / 2)
        assert found.sweep.unseen.shown_mm == pytest.approx(0, abs=1e-12)


def test_four_readings_see_the_part_at_their_own_places():
    found = bore([0, 90, 180, 270], (0.04, 0.03, 0.01, 0.0), form=0.0)
    assert found.sweep.sum_check_mm == pytest.approx(4 * 0.01)
    assert found.sweep.unseen.shown_mm == pytest.approx(0.02)
    assert found.offset_u95_mm == pytest.approx(0, abs=1e-12)  # and it does not move the offset
    blind = bore([0, 90, 180, 270], (0.04, 0.03, 0.0, 0.01), form=0.02)
    assert blind.sweep.sum_check_mm == pytest.approx(0, abs=1e-12)
    assert blind.sweep.unseen.shown_mm == pytest.approx(0, abs=1e-12)
    assert blind.offset_mm == pytest.approx(0.05)
    assert blind.offset_u95_mm == pytest.approx(0, abs=1e-12)


@given(
    clock=st.sampled_from(
        [(0, 120, 240), (0, 90, 180), (0, 90, 180, 270), (0, 70, 190, 250), (0, 72, 144, 216, 288)]
    ),
    size=st.floats(0, 0.2),
    way=st.floats(0, 6.3),
    amount=st.floats(0, 1),
    bent=st.floats(0, 6.3),
)
def test_no_oval_within_the_allowance_escapes_the_uncertainty(clock, size, way, amount, bent):
    """Exact readings, so that nothing but the unseen part is left to err."""
    form = 0.03
    q = amount * form / 2
    shape = (size * np.sin(way), size * np.cos(way), q * np.cos(bent), q * np.sin(bent))
    found = bore(clock, shape, form=form)
    truth = float(swing(shape).full_mm[0])
    # 36 directions are tried, not all: a thousandth of the allowance is left
    assert abs(found.sweep.tir_mm - truth) <= found.sweep.tir_u95_mm + form / 500
    error = np.hypot(found.offset_x_mm - shape[0], found.offset_y_mm - shape[1])
    largest = 2 * np.sqrt(np.linalg.eigvalsh(found.sweep.first_mm2)[-1])
    assert error <= largest + 1e-9


def test_five_uneven_places_show_all_and_it_is_all_counted():
    """Exact readings of an oval that nothing hides: the rest of its TIR is known to the micron."""
    clock, shape = [0, 60, 130, 200, 290], (0.05, 0.02, 0.012, -0.009)
    found = bore(clock, shape, form=0.0)
    assert found.sweep.second_mm is None
    assert found.sweep.unseen.shown_mm == pytest.approx(0.03)
    missed = float(swing(shape).full_mm[0]) - found.sweep.tir_mm
    assert abs(missed) > 0.001
    assert found.sweep.tir_u95_mm == pytest.approx(abs(missed), abs=1e-9)


def test_more_shows_more_is_allowed_for():
    """An oval that shows beyond the allowance refutes it; as much again may be unseen."""
    shown = bore([0, 90, 180, 270], (0.05, 0.0, 0.02, 0.0), form=0.01)
    assert shown.sweep.unseen.allowed_mm == pytest.approx(0.04)
    assert bore([0, 90, 180, 270], (0.05, 0.0, 0.0, 0.0), form=0.01).sweep.unseen.allowed_mm == 0.01
    six = bore(np.arange(0, 360, 60), (0.05, 0.0, 0.02, 0.0), form=0.01)
    assert six.sweep.unseen is None


def test_the_widest_hides_where_it_hurts_most():
    """Four readings, offset at 12: an oval at 45 degrees widens the TIR in second order."""
    hidden = bore([0, 90, 180, 270], (0.0, 0.06, 0.0, 0.0), form=0.02).sweep
    most = float(swing([0.0, 0.06, 0.0, 0.01]).full_mm[0]) - 0.12
    assert most > 0
    assert hidden.tir_u95_mm == pytest.approx(most, rel=0.02)
