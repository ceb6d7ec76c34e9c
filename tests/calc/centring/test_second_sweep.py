"""What a second sweep should read and what it teaches, against invented errors found again."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.centring.clock import clock_vector
from kitwright.calc.centring.dowels import choose_dowels
from kitwright.calc.centring.rigid import bore_influence
from kitwright.calc.centring.second_sweep import Setting, expected_readings, learn, next_turn
from kitwright.errors import InputError

A, B = np.array([-180.0, 20.0]), np.array([170.0, -40.0])
INFLUENCE = bore_influence(A, B)
SEVEN, FOURTEEN = 0.1778, 0.3556  # mm; sizes sold: common practice, no source
SETTING = Setting(a_size_mm=SEVEN, a_clock_deg=60, b_size_mm=FOURTEEN, b_clock_deg=100)
BEFORE = np.array([-0.21, 0.08])


def really_moved(setting, error_a, error_b):
    """The bore's shift with both slots further round by these errors, sines written out."""
    shift_a = setting.a_size_mm * clock_vector((setting.a_clock_deg or 0) + error_a)
    shift_b = setting.b_size_mm * clock_vector((setting.b_clock_deg or 0) + error_b)
    return INFLUENCE.motion(shift_a, shift_b).bore_shift_mm


def taught(setting, after, *, error=5.0, before_u=1e-5, after_u=1e-5, before=BEFORE):
    return learn(
        INFLUENCE,
        setting,
        before,
        after,
        angle_error_deg=error,
        before_u_mm=before_u,
        after_u_mm=after_u,
    )


@pytest.mark.parametrize(("error_a", "error_b"), [(0, 0), (4, -7), (-12, 3), (9, 9)])
def test_errors_are_found_again_by_sweeps_that_are_all_but_perfect(error_a, error_b):
    found = taught(SETTING, BEFORE + really_moved(SETTING, error_a, error_b))
    assert found.a_error_deg == pytest.approx(error_a, abs=0.05)
    assert found.b_error_deg == pytest.approx(error_b, abs=0.05)
    np.testing.assert_allclose(found.unexplained_mm, 0, atol=1e-5)
    np.testing.assert_allclose(found.plain_mm, BEFORE, atol=1e-5)
    np.testing.assert_allclose(found.moved_mm, really_moved(SETTING, error_a, error_b))
    np.testing.assert_allclose(found.expected_mm, really_moved(SETTING, 0, 0))


def test_a_slot_set_the_wrong_way_round_is_found():
    alone = Setting(a_size_mm=FOURTEEN, a_clock_deg=30, b_size_mm=0.0, b_clock_deg=None)
    found = taught(alone, BEFORE + really_moved(alone, 176, 0), after_u=5e-4, before_u=5e-4)
    assert found.a_error_deg == pytest.approx(176, abs=1)
    assert (found.b_error_deg, found.b_error_u95_deg) == (0, 0)


def test_poor_sweeps_teach_little():
    """Uncertain sweeps leave the errors near zero and as unsure as they were before."""
    after = BEFORE + really_moved(SETTING, 6, -6)
    found = taught(SETTING, after, before_u=5.0, after_u=10.0)
    assert abs(found.a_error_deg) + abs(found.b_error_deg) < 0.02
    assert found.a_error_u95_deg == pytest.approx(10, abs=0.01)
    # what is not explained is put down to the sweeps, by their variances 25 and 100
    np.testing.assert_allclose(found.plain_mm, BEFORE + np.array(found.unexplained_mm) / 5)


def test_the_errors_found_cost_least():
    """No neighbour explains the move more probably; the stated cost, written out here."""
    after = BEFORE + really_moved(SETTING, 8, -5) + [0.004, -0.002]
    found = taught(SETTING, after, before_u=0.004, after_u=0.006)
    best = np.array([found.a_error_deg, found.b_error_deg])

    def cost(errors):
        missed = after - BEFORE - really_moved(SETTING, *errors)
        return missed @ missed / (0.004**2 + 0.006**2) + errors @ errors / 5.0**2

    for step in np.array([[1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [1, -1]]) * 0.01:
        assert cost(best + step) > cost(best)


def test_uncertainty_of_the_errors_by_repeated_sweeps():
    """Errors drawn as assumed are within their stated k = 2 uncertainty about 95 times in 100."""
    rng = np.random.default_rng(4)
    inside, draws = 0, 300
    for _ in range(draws):
        truth = rng.normal(0, 5, 2)
        before = BEFORE + rng.normal(0, 0.004, 2)
        after = BEFORE + really_moved(SETTING, *truth) + rng.normal(0, 0.006, 2)
        found = taught(SETTING, after, before=before, before_u=0.004, after_u=0.006)
        inside += abs(found.a_error_deg - truth[0]) <= found.a_error_u95_deg
        inside += abs(found.b_error_deg - truth[1]) <= found.b_error_u95_deg
    # 2 standard deviations hold 95.45 %; four standard errors of 600 draws are 3.4 %
    assert inside / (2 * draws) == pytest.approx(0.9545, abs=0.034)


def test_perfect_hands_have_no_errors():
    found = taught(SETTING, BEFORE + really_moved(SETTING, 5, 5), error=0.0)
    assert (found.a_error_deg, found.b_error_deg, found.a_error_u95_deg) == (0, 0, 0)
    assert np.hypot(*found.unexplained_mm) > 0.01


def test_mismatch_is_that_of_the_slots_as_read():
    n = (A - B) / np.hypot(*(A - B))
    by_hand = (SEVEN * clock_vector(60) - FOURTEEN * clock_vector(100)) @ n
    assert taught(SETTING, BEFORE).mismatch_mm == pytest.approx(by_hand)


# ── the next turn ────────────────────────────────────────────────────────────────────────


def test_the_next_turn_ends_at_the_crank_axis():
    """Made exactly, from where the dowels really stand, it leaves what is predicted."""
    offset = 0.2 * clock_vector(230)
    common = {"dowel_a": A, "dowel_b": B, "sizes_mm": [SEVEN, FOURTEEN], "limit_tir_mm": 0.127}
    first = choose_dowels(offset, **common)
    best = first.candidates[first.recommended]
    setting = Setting(
        a_size_mm=best.a_size_mm,
        a_clock_deg=best.a_clock_deg,
        b_size_mm=best.b_size_mm,
        b_clock_deg=best.b_clock_deg,
    )
    error_a, error_b = 28.0, 22.0
    after = offset + really_moved(setting, error_a, error_b)
    learned = taught(setting, after, error=15.0, before=offset)
    choice = choose_dowels(np.array(learned.plain_mm), angle_error_deg=15.0, **common)
    turn = next_turn(choice, setting, learned, limit_tir_mm=0.127)
    assert turn.candidate.sizes_mm == best.sizes_mm
    moved = really_moved(setting, error_a + turn.a_turn_deg, error_b + turn.b_turn_deg)
    left = np.hypot(*(offset + moved))
    assert left == pytest.approx(turn.candidate.predicted_offset_mm, abs=5e-4)
    assert left < 0.0635 < np.hypot(*after)


def test_other_dowels_have_no_turn_and_no_dowels_no_next():
    setting = Setting(a_size_mm=SEVEN, a_clock_deg=10, b_size_mm=0.0, b_clock_deg=None)
    learned = taught(setting, BEFORE)
    plain = np.array([0.5, 0.0])
    common = {"dowel_a": A, "dowel_b": B, "limit_tir_mm": 0.127}
    found = next_turn(
        choose_dowels(plain, sizes_mm=[SEVEN, 0.5], **common), setting, learned, limit_tir_mm=0.127
    )
    assert found.candidate.sizes_mm == (0.5, 0.5)
    assert (found.a_turn_deg, found.b_turn_deg) == (None, None)
    none = choose_dowels(plain, sizes_mm=[SEVEN], **common)
    assert next_turn(none, setting, learned, limit_tir_mm=0.127) is None


# ── what to expect ───────────────────────────────────────────────────────────────────────


def test_expected_readings_are_those_of_a_displaced_bore():
    """The dial reads c - e·u(t), here by hand: bore 0.03 right and 0.01 down, zero at 12."""
    rows = expected_readings(
        INFLUENCE, SETTING, (0.03, -0.01), (0, 90, 180, 270), angle_error_deg=0, offset_u_mm=0.005
    )
    np.testing.assert_allclose(
        [row.reading_mm for row in rows], [0, -0.04, -0.02, 0.02], atol=1e-15
    )
    # u(0) - u(t) is as long as a chord: 0, root 2, 2, root 2
    np.testing.assert_allclose(
        [row.reading_u95_mm for row in rows],
        2 * 0.005 * np.array([0, np.sqrt(2), 2, np.sqrt(2)]),
        atol=1e-15,
    )


def test_spread_of_expected_readings_against_simulation():
    rng = np.random.default_rng(6)
    errors, blur = rng.normal(0, 2, (2, 200_000)), rng.normal(0, 0.004, (200_000, 2))
    bore = BEFORE + really_moved(SETTING, errors[0], errors[1]) + blur
    left = BEFORE + really_moved(SETTING, 0, 0)
    rows = expected_readings(
        INFLUENCE, SETTING, left, (45, 135, 180, 290), angle_error_deg=2, offset_u_mm=0.004
    )
    for row in rows:
        read = -(bore @ clock_vector(row.clock_deg)) + bore @ clock_vector(0)
        # four standard errors of a spread from this many draws are 0.7 %; sines add a little
        assert 2 * read.std() == pytest.approx(row.reading_u95_mm, rel=0.01)
        assert read.mean() == pytest.approx(row.reading_mm, abs=3e-4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"after": [np.nan, 0]}, "offset_after: .* is not x and y"),
        ({"after": [1, 0, 0]}, "offset_after"),
        ({"before": [1]}, "offset: "),
        ({"before_u": 0.0}, "offset_u95: 0 is not above zero"),
        ({"after_u": -1.0}, "offset_after_u95: -1 is not above zero"),
        ({"error": -5.0}, "angle_error_deg: -5 is negative"),
    ],
)
def test_bad_input_names_the_field(change, words):
    with pytest.raises(InputError, match=words):
        taught(SETTING, **{"after": BEFORE, **change})
