"""The fit of a sweep, its uncertainty and its verdict."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from kitwright.calc.centring.sweep import sweep_bore, sweep_face
from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_fit import rows_of, swing
from kitwright.calc.centring.sweep_judge import judge, verdict_of
from kitwright.calc.quality.conformity import decide_length
from kitwright.errors import InputError

EXACT = Dial(repeatability_mm=0.0, graduation_mm=0.0, error_mm=0.0)
DIAL = Dial(repeatability_mm=0.003, graduation_mm=0.01, error_mm=0.01)
LIMIT = 0.127
FORM = 0.02

small = st.floats(-0.3, 0.3)
spreads = st.sampled_from(
    [
        np.arange(0.0, 360.0, 120.0),
        np.arange(0.0, 360.0, 90.0),
        np.arange(10.0, 370.0, 72.0),
        np.arange(0.0, 360.0, 60.0),
        np.arange(0.0, 360.0, 45.0),
        np.array([0.0, 90.0, 180.0]),
        np.array([0.0, 50.0, 110.0, 160.0, 230.0, 270.0, 340.0]),
        np.arange(0.0, 360.0, 90.0) + np.array([3.0, -2.0, 5.0, 0.0]),
    ]
)


def curve(clock_deg, x, y, a=0.0, b=0.0, c=0.0):
    t = np.radians(np.asarray(clock_deg, dtype=float))
    height = c - x * np.sin(t) - y * np.cos(t) + a * np.cos(2 * t) + b * np.sin(2 * t)
    return np.column_stack([clock_deg, height])


def bore(readings, *, dial=DIAL, limit=LIMIT, form=FORM, **more):
    return sweep_bore(readings, limit_mm=limit, dial=dial, form_allowance_mm=form, **more)


# ── the fit ──────────────────────────────────────────────────────────────────────────────


@given(
    angles=st.lists(st.integers(0, 359), min_size=6, max_size=20, unique=True),
    shape=st.tuples(small, small, small, small, small),
)
def test_offset_and_second_harmonic_are_recovered(angles, shape):
    """Any angles, however uneven: the joint fit does not mix the two."""
    x, y, a, b, c = shape
    try:
        found = bore(curve(angles, x, y, a, b, c), dial=EXACT)
    except InputError:
        assume(False)
    assume(found.sweep.second_mm is not None)
    assert found.offset_x_mm == pytest.approx(x, abs=1e-9)
    assert found.offset_y_mm == pytest.approx(y, abs=1e-9)
    assert found.sweep.second_mm == pytest.approx(2 * np.hypot(a, b), abs=1e-9)
    assert found.sweep.residual_mm < 1e-9
    whole = curve(np.linspace(0, 360, 100_001), x, y, a, b)[:, 1]
    assert found.sweep.tir_mm == pytest.approx(np.ptp(whole), abs=1e-8)


def test_residuals_are_square_to_the_curve():
    """Least squares: what is left is orthogonal to every term, a constant among them."""
    rng = np.random.default_rng(7)
    clock = np.sort(rng.uniform(0, 360, 11))
    readings = np.column_stack([clock, rng.normal(0, 0.05, 11)])
    found = bore(readings)
    t = np.radians(clock)
    design = np.column_stack([np.ones(11), np.sin(t), np.cos(t), np.cos(2 * t), np.sin(2 * t)])
    best, square, *_ = np.linalg.lstsq(design, readings[:, 1])
    assert found.offset_x_mm == pytest.approx(-best[1], abs=1e-12)
    assert found.offset_y_mm == pytest.approx(-best[2], abs=1e-12)
    assert found.sweep.residual_mm == pytest.approx(np.sqrt(square[0] / 11), rel=1e-9)
    assert found.sweep.noise == "residuals"
    assert found.sweep.dial.repeatability_mm == pytest.approx(np.sqrt(square[0] / 6), rel=1e-9)


@given(clock=spreads, x=small, y=small, a=small, turn=st.floats(0, 360))
def test_a_turned_case_turns_its_answer(clock, x, y, a, turn):
    assume(np.hypot(x, y) > 1e-3)
    one = bore(curve(clock, x, y, a / 10))
    shown = one_turned(curve(clock, x, y, a / 10), turn)
    other = bore(shown)
    assert other.offset_mm == pytest.approx(one.offset_mm, abs=1e-9)
    apart = np.radians(other.offset_clock_deg - one.offset_clock_deg - turn)
    assert np.cos(apart) == pytest.approx(1, abs=1e-9)
    assert other.offset_u95_mm == pytest.approx(one.offset_u95_mm, rel=1e-6)
    assert other.sweep.tir_mm == pytest.approx(one.sweep.tir_mm, abs=1e-9)
    assert other.sweep.tir_u95_mm == pytest.approx(one.sweep.tir_u95_mm, rel=1e-6)
    assert other.cause == one.cause


def one_turned(readings, turn):
    return readings + np.array([turn, 0.0])


@given(clock=spreads, x=small, y=small, a=small)
def test_a_mirrored_case_mirrors_its_answer(clock, x, y, a):
    one = bore(curve(clock, x, y, a / 10))
    other = bore(curve(clock, x, y, a / 10) * np.array([-1.0, 1.0]))
    assert other.offset_x_mm == pytest.approx(-one.offset_x_mm, abs=1e-9)
    assert other.offset_y_mm == pytest.approx(one.offset_y_mm, abs=1e-9)
    assert other.sweep.tir_u95_mm == pytest.approx(one.sweep.tir_u95_mm, rel=1e-6)


@given(clock=spreads, x=small, y=small, scale=st.floats(0.1, 25.4))
def test_another_unit_scales_everything(clock, x, y, scale):
    assume(np.hypot(x, y) > 1e-3)
    one = bore(curve(clock, x, y))
    dial = Dial(repeatability_mm=0.003 * scale, graduation_mm=0.01 * scale, error_mm=0.01 * scale)
    table = curve(clock, x, y) * np.array([1.0, scale])
    other = bore(table, dial=dial, limit=LIMIT * scale, form=FORM * scale)
    assert other.offset_mm == pytest.approx(scale * one.offset_mm, rel=1e-9)
    assert other.sweep.tir_mm == pytest.approx(scale * one.sweep.tir_mm, rel=1e-9)
    assert other.sweep.tir_u95_mm == pytest.approx(scale * one.sweep.tir_u95_mm, rel=1e-6)
    assert other.sweep.verdict == one.sweep.verdict


@given(clock=spreads, x=small, y=small, c=st.floats(-10, 10), seed=st.integers(0, 99))
def test_a_constant_and_an_order_change_nothing(clock, x, y, c, seed):
    one = bore(curve(clock, x, y))
    table = curve(clock, x, y, c=c)
    other = bore(np.random.default_rng(seed).permutation(table))
    assert other.offset_x_mm == pytest.approx(one.offset_x_mm, abs=1e-9)
    assert other.offset_y_mm == pytest.approx(one.offset_y_mm, abs=1e-9)
    assert other.sweep.tir_u95_mm == pytest.approx(one.sweep.tir_u95_mm, abs=1e-9)
    assert other.sweep.sum_check_mm == pytest.approx(one.sweep.sum_check_mm, abs=1e-9)


@given(x=small, y=small, a=small, b=small)
@example(x=0.0, y=0.00390625, a=0.25, b=0.001953125)  # two troughs nearly alike
def test_the_swing_is_the_curves_and_has_its_slope(x, y, a, b):
    assume(max(abs(x), abs(y), abs(a), abs(b)) > 1e-3)
    shape = np.array([x, y, a, b])
    found = swing(shape)
    fine = curve(np.linspace(0, 360, 200_001), x, y, a, b)[:, 1]
    assert found.full_mm[0] == pytest.approx(np.ptp(fine), abs=1e-9)
    assert found.full_mm[0] >= np.ptp(fine) - 1e-12
    # a swing is of first degree in its curve (Euler): slope · shape = swing
    assert found.slope()[0] @ shape == pytest.approx(found.full_mm[0], abs=1e-12)


# ── places ───────────────────────────────────────────────────────────────────────────────


def test_closure_is_one_place_and_shows_drift():
    readings = [[0, 0.0], [90, -0.03], [180, -0.06], [270, -0.03], [360, 0.02]]
    found = bore(readings)
    assert found.sweep.closure_mm == pytest.approx(0.02)
    assert found.sweep.places == 4
    shuffled = [readings[i] for i in (4, 1, 0, 3, 2)]
    assert bore(shuffled).sweep.closure_mm == pytest.approx(0.02)
    assert bore([*readings[:4], [0, 0.02]]).sweep.closure_mm == pytest.approx(0.02)
    assert bore([[t - 360, r] for t, r in readings]).sweep.closure_mm == pytest.approx(0.02)
    assert bore(readings[:4]).sweep.closure_mm is None
    # 12 o'clock counts once, by the mean of its two readings
    assert found.offset_y_mm == pytest.approx(-(0.01 + 0.06) / 2)
    assert found.offset_x_mm == pytest.approx(0.0, abs=1e-12)


def test_five_angles_and_their_closure_are_not_six():
    clock = [0, 72, 144, 216, 288, 360]
    assert bore(curve(clock, 0.03, 0.04)).sweep.second_mm is None
    near = [0, 72, 144, 216, 288, 290]
    assert bore(curve(near, 0.03, 0.04)).sweep.second_mm is None
    half = np.arange(0, 180, 22.5)
    assert bore(curve(half, 0.03, 0.04)).sweep.second_mm is None  # eight, but half way round
    assert bore(curve(np.arange(0, 360, 60), 0.03, 0.04)).sweep.second_mm is not None


@given(share=st.floats(0, 1), step=st.booleans(), size=st.floats(0.02, 0.2), n=st.integers(3, 12))
def test_no_one_way_drift_moves_the_offset_further_than_allowed(share, step, size, n):
    """Ramp or step, early or late: within the expanded uncertainty that the closure brings."""
    clock = np.linspace(0, 360, n + 1)
    when = np.linspace(0, 1, n + 1)
    drift = (when > share) * 1.0 if step else when
    if step and share == 1:
        drift[-1] = 1.0
    table = curve(clock, 0.05, 0.02)
    table[:, 1] += size * drift
    found = bore(table, dial=EXACT, form=0.0)
    error = np.hypot(found.offset_x_mm - 0.05, found.offset_y_mm - 0.02)
    allowed = 2 * np.sqrt(np.linalg.eigvalsh(found.sweep.first_mm2)[-1])
    assert error <= allowed * (1 + 1e-9)


@pytest.mark.parametrize("clock", [[0, 1, 180], [0, 5, 180], [0, 120, 121], [0, 10, 20]])
def test_near_angles_are_refused(clock):
    with pytest.raises(InputError) as refused:
        bore(curve(clock, 0.03, 0.04))
    listed = ", ".join(map(str, clock))
    close = f"readings: the angles {listed} are too close together to fix an offset"
    apart = "read three or more well apart, best one every 45 degrees"
    assert refused.value.lines == [f"{close}; {apart}"]


@pytest.mark.parametrize("clock", [[0, 10, 180], [0, 30, 60], [0, 1, 120, 240]])
def test_poor_angles_are_answered_with_their_uncertainty(clock):
    """The uncertainty grows with the conditioning; it is not hidden."""
    found = bore(curve(clock, 0.03, 0.04))
    even = bore(curve([0, 120, 240], 0.03, 0.04))
    assert (found.offset_u95_mm > 3 * even.offset_u95_mm) == (len(clock) == 3)


def test_two_places_are_refused():
    with pytest.raises(InputError, match=r"readings: only 2 different places \(0, 180\)"):
        bore([[0, 0], [180, 1], [360, 0], [540, 1]])
    near = curve([0, 1, 2], 0.03, 0.04)
    with pytest.raises(InputError, match=r"repeats\[1\]: the angles 0, 1, 2 are too close"):
        bore(GOOD, repeats=[GOOD, near])


# ── uncertainty ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("n", [3, 4, 6])
def test_uncertainty_of_an_even_sweep(n):
    """For n even places u along any direction is u√(2/n), twice it for the TIR (GUM 5.1.2)."""
    clock = np.arange(n) * 360.0 / n
    found = bore(curve(clock, 0.03, 0.04), form=0.0)
    u = np.sqrt(0.003**2 + 0.01**2 / 12 + 0.01**2 / 3)
    assert found.sweep.dial.reading_u_mm == pytest.approx(u, rel=1e-12)
    assert found.offset_u95_mm == pytest.approx(2 * u * np.sqrt(2 / n), rel=1e-9)
    assert found.sweep.tir_u95_mm == pytest.approx(4 * u * np.sqrt(2 / n), rel=1e-6)
    assert found.sweep.second_u95_mm == (pytest.approx(4 * u * np.sqrt(2 / n)) if n > 5 else None)
    assert found.sweep.sum_check_u95_mm == (pytest.approx(2 * 2 * u) if n == 4 else None)
    angle = np.degrees(np.arcsin(found.offset_u95_mm / 0.05))
    assert found.offset_clock_u95_deg == pytest.approx(angle, rel=1e-6)


@pytest.mark.parametrize("n", [3, 4, 6, 8])
def test_a_dial_that_never_moves_is_not_exact(n):
    """No swing at all still has the uncertainty of a swing."""
    found = bore(curve(np.arange(n) * 360.0 / n, 0.0, 0.0), limit=0.005, form=0.0)
    assert (found.sweep.tir_mm, found.sweep.verdict) == (0.0, "too close to call")
    assert found.sweep.tir_u95_mm >= 4 * DIAL.reading_u_mm * np.sqrt(2 / n) * (1 - 1e-9)
    assert (found.offset_mm, found.offset_clock_deg) == (0.0, 0.0)
    assert found.offset_clock_u95_deg is None


@pytest.mark.parametrize(
    "clock",
    [
        np.array([0.0, 90.0, 180.0]),
        np.array([0.0, 60.0, 150.0, 200.0]),
        np.array([0.0, 50.0, 110.0, 160.0, 230.0, 270.0, 340.0]),
    ],
)
def test_covariance_agrees_with_simulation(clock):
    rng = np.random.default_rng(11)
    dial = Dial(repeatability_mm=0.005, graduation_mm=0.0, error_mm=0.0)
    truth = curve(clock, 0.03, 0.05)
    offsets = []
    for _ in range(2000):
        noisy = truth + np.column_stack([0 * clock, rng.normal(0, 0.005, len(clock))])
        found = bore(noisy, dial=dial, form=0.0)
        offsets.append((found.offset_x_mm, found.offset_y_mm))
    seen = np.cov(np.array(offsets).T)
    stated = bore(truth, dial=dial, form=0.0).sweep.first_mm2
    np.testing.assert_allclose(seen, stated, atol=0.12 * np.trace(stated) / 2)


def test_residuals_count_from_eight_and_only_when_larger():
    rng = np.random.default_rng(3)
    eight, six = np.arange(0, 360, 45.0), np.arange(0, 360, 60.0)
    rough8 = curve(eight, 0.03, 0.04) + np.column_stack([0 * eight, rng.normal(0, 0.02, 8)])
    rough6 = curve(six, 0.03, 0.04) + np.column_stack([0 * six, rng.normal(0, 0.02, 6)])
    assert bore(rough8).sweep.noise == "residuals"
    assert bore(rough6).sweep.noise == "given"
    calm = bore(curve(eight, 0.03, 0.04)).sweep
    assert (calm.noise, calm.dial) == ("given", DIAL)


def test_repeats_are_combined_and_their_spread_counts():
    """Each sweep has its own zero; the mean offset, and the spread of the three about it."""
    clock = np.arange(0, 360, 90.0)
    offsets = np.array([[0.03, 0.05], [0.05, 0.03], [0.04, 0.01]])
    one, *others = (curve(clock, x, y, c=c) for (x, y), c in zip(offsets, (0, 1, -3), strict=True))
    found = bore(one, dial=EXACT, form=0.0, repeats=others)
    np.testing.assert_allclose(found.sweep.first_mm, offsets.mean(axis=0), atol=1e-12)
    spread = np.sqrt(np.sum((offsets - offsets.mean(axis=0)) ** 2) / 4)  # per axis, n - 1
    assert found.sweep.noise in ("repeated sweeps", "residuals")
    assert found.offset_u95_mm >= 2 * spread / np.sqrt(3) * (1 - 1e-9)
    alike = bore(one, repeats=[one + np.array([0.0, 5.0])] * 3)
    single = bore(one)
    assert alike.sweep.noise == "given"
    assert alike.offset_mm == pytest.approx(single.offset_mm)
    # only the repeatability averages out; graduation and dial error stay
    lasting = np.sqrt(0.01**2 / 12 + 0.01**2 / 3)
    u = np.hypot(0.003 / 2, lasting)
    assert alike.offset_u95_mm == pytest.approx(2 * u * np.sqrt(2 / 4), rel=1e-6)


def test_readings_repeated_in_place_count_by_their_scatter():
    clock = np.repeat(np.arange(0, 360, 90.0), 3)
    wobble = np.tile([-0.02, 0.0, 0.02], 4)
    found = bore(curve(clock, 0.03, 0.04) + np.column_stack([0 * clock, wobble]))
    assert found.sweep.noise == "repeated readings"
    assert found.sweep.dial.repeatability_mm == pytest.approx(0.02)
    assert found.offset_x_mm == pytest.approx(0.03)
    u = np.hypot(0.02 / np.sqrt(3), DIAL.lasting_u_mm)
    assert found.offset_u95_mm == pytest.approx(2 * u * np.sqrt(2 / 4), rel=1e-6)


# ── the verdict ──────────────────────────────────────────────────────────────────────────


@given(tir=st.floats(0, 0.3), u95=st.floats(0, 0.1), limit=st.floats(0.001, 0.3))
def test_verdict_is_that_of_conformity(tir, u95, limit):
    """One rule in two places, so that a sweep does not load scipy: held equal here."""
    assume(min(abs(tir + u95 - limit), abs(tir - u95 - limit)) > 2e-9)
    ours = verdict_of(tir, u95_mm=u95, limit_mm=limit)
    assert ours == decide_length(tir, u95=u95, high=limit).verdicts.item()


def test_a_limit_holds_its_own_value():
    """5 thou against 5 thou, exactly known: binary rounding must not call it outside."""
    for clock in (np.arange(0, 360, 90.0), np.arange(0, 360, 45.0), np.arange(0, 360, 120.0)):
        for turn in (0, 33, 71):
            t = np.radians(turn)
            table = curve(clock, LIMIT / 2 * np.sin(t), LIMIT / 2 * np.cos(t))
            assert bore(table, dial=EXACT, form=0.0).sweep.verdict == "within"
            over = bore(table * np.array([1, 1.0001]), dial=EXACT, form=0.0)
            assert over.sweep.verdict == "outside"


def at_the_limit(n, rng, *, ovality):
    """Curves whose true TIR is the limit: any direction, any out of round up to `ovality`."""
    way, bent = rng.uniform(0, 2 * np.pi, (2, n))
    amount = rng.uniform(0, ovality / 2, n)
    size = np.full(n, LIMIT / 2)
    for _ in range(8):  # Newton, for the offset that makes it so
        shapes = np.column_stack(
            [size * np.sin(way), size * np.cos(way), amount * np.cos(bent), amount * np.sin(bent)]
        )
        found = swing(shapes)
        slope = found.slope()
        size -= (found.full_mm - LIMIT) / (slope[:, 0] * np.sin(way) + slope[:, 1] * np.cos(way))
    np.testing.assert_allclose(swing(shapes).full_mm, LIMIT, atol=1e-9)
    return shapes


@pytest.mark.parametrize("n", [3, 4, 5, 6, 8])
def test_a_true_tir_at_the_limit_is_called_within_at_most_one_in_forty(n):
    """2.5 %, by 2500 sweeps of bores out of round by no more than is allowed for."""
    rng = np.random.default_rng(n)
    clock = np.arange(n) * 360.0 / n
    called = {"within": 0, "outside": 0, "too close to call": 0}
    tries = 2500
    for shape in at_the_limit(tries, rng, ovality=FORM):
        table = curve(clock, *shape)
        table[:, 1] += rng.normal(0, DIAL.reading_u_mm, n)
        rows = [rows_of(table)]
        called[judge(rows, limit_mm=LIMIT, dial=DIAL, form_allowance_mm=FORM).verdict] += 1
    three_sigma = 3 * np.sqrt(0.025 * 0.975 / tries)
    assert called["within"] / tries <= 0.025 + three_sigma
    assert called["outside"] / tries <= 0.025 + three_sigma


@pytest.mark.parametrize(
    ("shape", "cause"),
    [
        ((0.0, 0.0, 0.0), None),
        ((0.10, 0.0, 0.0), "offset"),
        ((0.10, 0.0, 0.01), "offset"),
        ((0.01, 0.0, 0.10), "out of round"),
        ((0.10, 0.0, 0.10), "both"),
        ((0.055, 0.0, 0.055), "both"),  # neither alone is over the limit
        ((0.0634, 0.0, 0.001), "offset"),  # too close to call, the oval part does not matter
        ((0.001, 0.0, 0.0634), "out of round"),
    ],
)
def test_cause(shape, cause):
    x, y, a = shape
    assert bore(curve(np.arange(0, 360, 45.0), x, y, a)).cause == cause


def test_few_readings_do_not_tell_the_cause():
    found = bore(curve([0, 90, 180, 270], 0.2, 0.0))
    assert (found.sweep.verdict, found.cause, found.sweep.second_mm) == ("outside", None, None)


# ── refusals ─────────────────────────────────────────────────────────────────────────────

GOOD = curve([0, 90, 180, 270], 0.03, 0.04)


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({"limit": 0.0}, "limit: 0 is not above zero; give more than zero"),
        ({"limit": float("nan")}, "limit: nan is not a number; give a finite number"),
        ({"form": -1.0}, "form_allowance: -1 is negative; give zero or more"),
        ({"sag_mm": float("inf")}, "sag: inf is not a number; give a finite number"),
        (
            {"bearing_clearance_mm": -0.1},
            "bearing_clearance: -0.1 is negative; give zero or more",
        ),
        (
            {"bore_diameter_mm": 0.5},
            (
                "bore_diameter: 0.5 mm is too small for an offset of 0.05 mm; "
                "check the units of both"
            ),
        ),
    ],
)
def test_a_bore_says_what_it_cannot_use(more, line):
    with pytest.raises(InputError) as refused:
        bore(GOOD, **more)
    assert refused.value.lines == [line]


@pytest.mark.parametrize(
    ("readings", "line"),
    [
        ([[0, 1], [90, 2]], "readings: 2 given; give 3 or more"),
        ([], "readings: 0 given; give 3 or more"),
        ([[0, 1, 2]] * 3, "readings: shape (3, 3); give rows of 2 numbers"),
        (
            [[0, 1], [90, float("nan")], [180, 2]],
            "readings[1]: [90.0, nan] is not finite; measure it again",
        ),
    ],
)
def test_readings_that_cannot_be_used(readings, line):
    with pytest.raises(InputError) as refused:
        bore(readings)
    assert refused.value.lines == [line]


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({"sweep_radius_mm": 0.0}, "sweep_radius: 0 is not above zero; give more than zero"),
        (
            {"sweep_radius_mm": 0.1},
            (
                "sweep_radius: 0.1 mm is too small for readings that rise 0.05 mm; "
                "check the units of both"
            ),
        ),
        ({"plane_distance_mm": -1.0}, "plane_distance: -1 is negative; give zero or more"),
        (
            {"readings_b": GOOD[:3]},
            (
                "readings_b: its angles are not those of readings; "
                "give a row for each, by the first dial's angle"
            ),
        ),
    ],
)
def test_a_face_says_what_it_cannot_use(more, line):
    given = {"sweep_radius_mm": 80.0, **more}
    with pytest.raises(InputError) as refused:
        sweep_face(GOOD, limit_mm=LIMIT, dial=DIAL, form_allowance_mm=FORM, **given)
    assert refused.value.lines == [line]


def test_uncertainty_of_a_face():
    """Tilt and shift scale with the rise's uncertainty; the bore's own adds in quadrature."""
    taken = {"limit_mm": LIMIT, "dial": DIAL, "form_allowance_mm": FORM, "sweep_radius_mm": 80.0}
    found = sweep_face(
        curve(np.arange(0, 360, 60.0), 0.03, 0.04),
        plane_distance_mm=160.0,
        bore_offset_mm=(0.1, 0.0),
        bore_offset_u95_mm=0.02,
        **taken,
    )
    u = DIAL.reading_u_mm * np.sqrt(2 / 6)
    assert found.tilt_u95_mrad == pytest.approx(2 * u / 80 * 1000, rel=1e-9)
    assert found.pilot_shift_u95_mm == pytest.approx(np.hypot(2 * u * 2, 0.02), rel=1e-9)
    both = sweep_face(GOOD, readings_b=-GOOD * [-1, 1], **taken)
    one = sweep_face(GOOD, **taken)
    assert both.tilt_mrad == pytest.approx(one.tilt_mrad)
    assert both.tilt_u95_mrad == pytest.approx(one.tilt_u95_mrad / np.sqrt(2), rel=1e-6)
