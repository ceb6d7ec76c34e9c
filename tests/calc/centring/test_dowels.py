"""Choosing dowels: chances against finite simulation, invariances, and when to leave alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.centring.clock import clock_of, clock_vector
from kitwright.calc.centring.dowels import choose_dowels
from kitwright.errors import InputError

A = np.array([-180.0, 20.0])
B = np.array([180.0, 20.0])
SEVEN, FOURTEEN = 0.1778, 0.3556  # mm; sizes sold: common practice, no source
FIVE_THOU = 0.127
OFFSET = 7.2 * 0.0254 * clock_vector(240.0)


def choose(offset=OFFSET, *, dowel_a=A, dowel_b=B, sizes=(SEVEN, FOURTEEN), **kwargs):
    given = {"limit_tir_mm": FIVE_THOU, **kwargs}
    return choose_dowels(offset, dowel_a=dowel_a, dowel_b=dowel_b, sizes_mm=sizes, **given)


def lengths(vectors):
    return np.hypot(vectors[..., 0], vectors[..., 1])


def simulated(candidate, rng, draws, *, clearance, angle_error_deg, u):
    """Chances within and of binding, by finite motion: sines, roots and a true rotation."""
    shifts = [
        size * clock_vector((clock or 0) + rng.normal(0, angle_error_deg, draws))
        for size, clock in (
            (candidate.a_size_mm, candidate.a_clock_deg),
            (candidate.b_size_mm, candidate.b_clock_deg),
        )
    ]
    old, new = A - B, A + shifts[0] - B - shifts[1]
    turn = np.arctan2(
        old[0] * new[:, 1] - old[1] * new[:, 0], old[0] * new[:, 0] + old[1] * new[:, 1]
    )
    middle = (A + B) / 2
    c, s = np.cos(turn), np.sin(turn)
    turned = np.column_stack([c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]])
    bore = OFFSET + middle + (shifts[0] + shifts[1]) / 2 - turned + rng.normal(0, u, (draws, 2))
    misfit = np.abs(lengths(new) - lengths(old))
    return np.mean(2 * lengths(bore) <= FIVE_THOU), np.mean(misfit > clearance)


@pytest.mark.parametrize(("angle_error_deg", "u"), [(5.0, 0.0127), (12.0, 0.0)])
def test_chances_against_simulation_with_finite_motion(angle_error_deg, u):
    errors = {"angle_error_deg": angle_error_deg}
    choice = choose(hole_clearance_mm=0.02, offset_u_mm=u, **errors)
    rng, draws = np.random.default_rng(2), 1_500_000
    rows = [row for row in choice.candidates if 1e-4 < row.chance_within < 1 - 1e-4][:6]
    assert len(rows) == 6
    for row in rows:
        found = simulated(row, rng, draws, clearance=0.02, u=u, **errors)
        for share, exact in zip(found, (row.chance_within, row.chance_binds), strict=True):
            assert abs(share - exact) <= 4 * np.sqrt(exact * (1 - exact) / draws)


def test_equal_dowels_with_slots_away_from_the_bore():
    """Common practice, no source: both slots point to the highest reading, 180 from the offset."""
    choice = choose(offset_u_mm=0.0127, hole_clearance_mm=0.03)
    best = choice.candidates[choice.recommended]
    assert choice.recommended == 0
    assert best.sizes_mm == (SEVEN, SEVEN)
    assert best.a_clock_deg == pytest.approx(60, abs=1e-6)
    assert best.b_clock_deg == pytest.approx(60, abs=1e-6)
    assert best.predicted_tir_mm == pytest.approx(2 * 0.2 * 0.0254, abs=1e-12)
    assert best.turn_mrad == pytest.approx(0, abs=1e-12)


def test_order_is_by_chance():
    chances = [row.chance_within for row in choose(offset_u_mm=0.01).candidates]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1]


# ── invariances ──────────────────────────────────────────────────────────────────────────

SEEDS = range(12)


def drawn(seed):
    """A case in general position: an offset and two dowel holes well apart."""
    rng = np.random.default_rng(seed)
    angle = rng.uniform(0, 360)
    dowel_a = rng.uniform(120, 220) * clock_vector(angle)
    dowel_b = rng.uniform(120, 220) * clock_vector(angle + rng.uniform(100, 260))
    return rng.uniform(0.05, 0.4) * clock_vector(rng.uniform(0, 360)), dowel_a, dowel_b


def summary(choice):
    """What must not change, in an order of its own."""
    return np.array(
        sorted(
            (
                round(row.a_size_mm, 9),
                round(row.b_size_mm, 9),
                round(row.predicted_offset_mm, 7),
                row.chance_within,
                row.chance_binds,
            )
            for row in choice.candidates
        )
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_turning_the_whole_case_turns_the_slots(seed):
    offset, dowel_a, dowel_b = drawn(seed)
    turn = 20.0 + 27 * seed
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    clockwise = np.array([[c, s], [-s, c]])
    common = {"offset_u_mm": 0.01, "hole_clearance_mm": 0.02}
    still = choose(offset, dowel_a=dowel_a, dowel_b=dowel_b, **common)
    around = choose(
        clockwise @ offset, dowel_a=clockwise @ dowel_a, dowel_b=clockwise @ dowel_b, **common
    )
    np.testing.assert_allclose(summary(still), summary(around), atol=3e-6)
    # and the settings themselves: each of the one is there in the other, its slots turned
    for row in still.candidates[:3]:
        left = clockwise @ [row.predicted_offset_x_mm, row.predicted_offset_y_mm]
        twin = [
            other
            for other in around.candidates
            if other.sizes_mm == row.sizes_mm
            and np.allclose(
                left, [other.predicted_offset_x_mm, other.predicted_offset_y_mm], atol=1e-6
            )
        ]
        assert twin
        assert any(
            all(
                p is q is None or abs((q - p - turn + 180) % 360 - 180) < 0.01
                for p, q in (
                    (row.a_clock_deg, other.a_clock_deg),
                    (row.b_clock_deg, other.b_clock_deg),
                )
            )
            for other in twin
        )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mirror_mirrors(seed):
    offset, dowel_a, dowel_b = drawn(seed)
    flip = np.array([-1, 1])
    common = {"offset_u_mm": 0.01, "hole_clearance_mm": 0.02}
    still = choose(offset, dowel_a=dowel_a, dowel_b=dowel_b, **common)
    mirrored = choose(offset * flip, dowel_a=dowel_a * flip, dowel_b=dowel_b * flip, **common)
    np.testing.assert_allclose(summary(still), summary(mirrored), atol=3e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_swapping_the_names_swaps_the_answer(seed):
    offset, dowel_a, dowel_b = drawn(seed)
    common = {"offset_u_mm": 0.01, "hole_clearance_mm": 0.02}
    one = summary(choose(offset, dowel_a=dowel_a, dowel_b=dowel_b, **common))
    other = summary(choose(offset, dowel_a=dowel_b, dowel_b=dowel_a, **common))[:, [1, 0, 2, 3, 4]]
    np.testing.assert_allclose(one, other[np.lexsort(other.T[::-1])], atol=3e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_scale_does_not_matter(seed):
    offset, _, _ = drawn(seed)
    factor = 0.2 + 0.4 * seed
    still = choose(offset, offset_u_mm=0.01, hole_clearance_mm=0.02)
    scaled = choose(
        offset * factor,
        dowel_a=A * factor,
        dowel_b=B * factor,
        sizes=[SEVEN * factor, FOURTEEN * factor],
        limit_tir_mm=FIVE_THOU * factor,
        offset_u_mm=0.01 * factor,
        hole_clearance_mm=0.02 * factor,
    )
    chances = [[row.chance_within for row in choice.candidates] for choice in (still, scaled)]
    np.testing.assert_allclose(*chances, atol=3e-6)
    lefts = [
        sorted(row.predicted_offset_mm for row in choice.candidates) for choice in (still, scaled)
    ]
    np.testing.assert_allclose(np.array(lefts[0]) * factor, lefts[1], atol=1e-6)
    turns = [sorted(abs(row.turn_mrad) for row in choice.candidates) for choice in (still, scaled)]
    assert turns[0][-1] == pytest.approx(turns[1][-1], abs=1e-3)


# ── what to do ───────────────────────────────────────────────────────────────────────────


def test_no_offset_is_left_alone():
    choice = choose([0, 0])
    assert (choice.outcome, choice.recommended) == ("within already", None)
    assert choice.candidates[choice.leave_alone].chance_within == 1
    assert choice.other_sizes is None


@pytest.mark.parametrize(
    ("tir", "u", "outcome"),
    [
        (0.0999, 0.0, "within already"),
        (0.0999, 0.0067, "within already"),  # 0.0999 and four u: 0.1267 of 0.127
        (0.0999, 0.0069, "turn"),
        (0.1271, 0.0, "turn"),
        (0.7, 0.0, "turn"),
        (1.2, 0.0, "out of reach"),
    ],
)
def test_when_to_turn(tir, u, outcome):
    choice = choose(tir / 2 * clock_vector(200), offset_u_mm=u)
    assert choice.outcome == outcome
    assert (choice.recommended is None) == (outcome != "turn")


def test_an_empty_drawer_is_plain_dowels():
    choice = choose(sizes=[])
    assert (choice.outcome, choice.recommended, len(choice.candidates)) == ("out of reach", None, 1)
    only = choice.candidates[choice.leave_alone]
    assert (only.a_clock_deg, only.b_clock_deg, only.chance_binds) == (None, None, 0)
    assert choose([0.01, 0], sizes=[0.0]).outcome == "within already"


def test_turning_that_is_no_surer_is_not_recommended():
    """Just over the limit, dowels far too large, slots that can be set to 45 degrees: leave it."""
    choice = choose(
        0.0640 * clock_vector(10), sizes=[0.24], angle_error_deg=45.0, offset_u_mm=0.005
    )
    assert min(row.predicted_tir_mm for row in choice.candidates) < FIVE_THOU
    assert choice.outcome == "no surer"
    assert choice.recommended is None


def test_a_setting_beyond_the_limit_is_never_recommended():
    choice = choose(0.4 * clock_vector(77), sizes=[SEVEN, FOURTEEN], offset_u_mm=0.02)
    for index in (choice.recommended,):
        assert choice.candidates[index].predicted_tir_mm <= FIVE_THOU


def test_the_other_sizes_are_others():
    choice = choose(offset_u_mm=0.0127)
    best, other = choice.candidates[choice.recommended], choice.candidates[choice.other_sizes]
    assert other.sizes_mm not in (best.sizes_mm, (0, 0))
    better = choice.candidates[: choice.other_sizes]
    assert all(row.plain or row.sizes_mm == best.sizes_mm for row in better)


# ── binding and turning ──────────────────────────────────────────────────────────────────


def test_without_clearance_every_turned_dowel_binds_and_a_plain_one_never():
    for row in choose().candidates:
        assert row.chance_binds == (0 if row.plain else 1)
    for row in choose(angle_error_deg=0.0).candidates:
        assert row.chance_binds == 0


def test_of_settings_that_are_equally_sure_the_one_that_binds_less_comes_first():
    """Two settings here leave less offset than the one to take, and bind one time in seven."""
    choice = choose(
        (-0.039, 0.093),
        dowel_a=(-180, 12),
        dowel_b=(180, 27.4),
        angle_error_deg=1.0,
        hole_clearance_mm=0.01,
    )
    best = choice.candidates[choice.recommended]
    sure = [row for row in choice.candidates if row.chance_within == best.chance_within == 1.0]
    assert best.chance_binds < 0.01
    assert max(row.chance_binds for row in sure) > 0.12
    assert min(row.predicted_offset_mm for row in sure) < best.predicted_offset_mm / 5


def test_a_turn_limit_holds_for_every_candidate():
    free, held = choose(), choose(most_turn_rad=3e-4)
    assert max(abs(row.turn_mrad) for row in free.candidates) > 0.3
    assert max(abs(row.turn_mrad) for row in held.candidates) <= 0.3 + 1e-9
    assert len(held.candidates) < len(free.candidates)


# ── bad input ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"dowel_b": A}, "dowel_b: it is in the same place"),
        ({"sizes": [-0.1]}, "sizes: -0.1 is negative"),
        ({"sizes": [20.0]}, "sizes: 20 mm is no dowel's .*; give sizes up to 18 mm"),
        ({"limit_tir_mm": 0.0}, "limit: 0 is not above zero"),
        ({"limit_tir_mm": np.nan}, "limit: nan"),
        ({"hole_clearance_mm": -0.01}, "hole_clearance: -0.01 is negative"),
        ({"angle_error_deg": -1.0}, "angle_error_deg"),
        ({"offset_u_mm": np.inf}, "offset_u95"),
        ({"offset": [0.1, 0.2, 0.3]}, "offset: .* is not x and y"),
        ({"offset": [np.nan, 0.2]}, "offset"),
    ],
)
def test_bad_input_names_the_field(change, words):
    with pytest.raises(InputError, match=words):
        choose(**change)


@given(st.floats(0, 359.99))
def test_clock_angles_go_round(clock):
    assert clock_of(0.3 * clock_vector(clock)) == pytest.approx(clock, abs=1e-9)
