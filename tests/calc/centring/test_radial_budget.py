"""The radial budget as a whole: what must hold whatever the contributors are."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import ncx2

from kitwright.calc.centring.clearance import Clearance, Limits
from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.floats import FloatAnywhere, FloatResting
from kitwright.calc.centring.measured import Measured
from kitwright.calc.centring.radial_budget import (
    PERCENTILES,
    chance_outside,
    far_mm,
    law_of,
    radial_budget,
)
from kitwright.calc.centring.radial_exact import ByInversion
from kitwright.calc.centring.radial_law import ByCounting, merged
from kitwright.calc.centring.radial_simulation import BySimulation, by_simulation
from kitwright.calc.centring.rigid import bore_influence
from kitwright.calc.centring.worst_case import (
    largest_offset_mm,
    mean_and_covariance,
    root_sum_square_mm,
)
from kitwright.errors import InputError

DOWELS = bore_influence([-170, 20], [165, -15])


def turned(angle: float) -> NDArray[np.float64]:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def drawn_clearance(rng: np.random.Generator) -> Clearance:
    widths, gap = rng.uniform(0, 0.04, 2), rng.uniform(-0.02, 0.05)
    return Clearance(
        hole=Limits(low_mm=16, high_mm=16 + widths[0]),
        pin=Limits(low_mm=16 - gap, high_mm=16 - gap + widths[1]),
    )


def any_contributor(rng: np.random.Generator) -> Contributor:
    clock = rng.uniform(0, 360)
    makers = (
        lambda: Zone(zone_mm=rng.uniform(0.02, 0.2)),
        lambda: Zone(zone_mm=rng.uniform(0.02, 0.2), spread="disc"),
        lambda: Zone(zone_mm=rng.uniform(0.02, 0.1), spread="edge"),
        lambda: Fixed.at(clock, rng.uniform(0, 0.05)),
        lambda: Line.at(clock, rng.uniform(0.01, 0.1), "normal"),
        lambda: Line.at(clock, rng.uniform(0.01, 0.1), "even"),
        lambda: FloatAnywhere(clearance=drawn_clearance(rng)),
        lambda: FloatResting(clearance=drawn_clearance(rng)),
        lambda: Measured(rng.normal(size=(rng.integers(1, 60), 2)) * 0.02),
    )
    made: Contributor = makers[rng.integers(len(makers))]()
    where = rng.integers(5)
    return made if where > 1 else made.through((DOWELS.of_a, DOWELS.of_b)[where])


def any_budget(rng: np.random.Generator) -> list[Contributor]:
    """A normal zone, so that the chance is exact, and up to five others."""
    zone = Zone(zone_mm=rng.uniform(0.06, 0.2))
    return [zone, *(any_contributor(rng) for _ in range(rng.integers(0, 6)))]


def telling_radius(contributors: list[Contributor], rng: np.random.Generator) -> float:
    mean, covariance = mean_and_covariance(contributors)
    return float(np.sqrt(np.trace(covariance) + mean @ mean) * rng.uniform(0.5, 2.5))


budgets = st.integers(0, 10**9).map(lambda seed: any_budget(np.random.default_rng(seed)))


def chance(contributors: list[Contributor], radius: float) -> float:
    return law_of(contributors, radius_mm=radius).chance_within(radius)


# ── exact against simulation ─────────────────────────────────────────────────────────────


def test_exact_agrees_with_simulation_over_200_budgets() -> None:
    """200 random budgets, seeded; 16 scrambles each. Student's t with 15 degrees of freedom
    exceeds 6.5 by chance once in 100 000: once in 500 such runs of 200."""
    rng = np.random.default_rng(20_001)
    for _ in range(200):
        contributors = any_budget(rng)
        radius = telling_radius(contributors, rng)
        exact = law_of(contributors, radius_mm=radius)
        assert exact.method == "exact"
        parts = merged(contributors)
        simulated = by_simulation(parts, radius, far_mm(parts), seed=7, power=10)
        error = simulated.error(radius)
        apart = abs(exact.chance_within(radius) - simulated.chance_within(radius))
        # a chance near 0 or 1 may leave every scramble the same: one point more is in doubt
        assert apart < 6.5 * error + 1 / (16 * 2**10), (contributors, radius)
        assert error < 3e-3


def test_plain_simulation_agrees_too() -> None:
    """With every contributor drawn, so that no closed form is shared."""
    rng = np.random.default_rng(31)
    for _ in range(12):
        contributors = any_budget(rng)
        radius = telling_radius(contributors, rng)
        far = far_mm(contributors)
        simulated = by_simulation(contributors, radius, far, 5, closed_forms=False, power=13)
        apart = abs(chance(contributors, radius) - simulated.chance_within(radius))
        assert apart < 6.5 * simulated.error(radius) + 1 / 2**17


def test_the_same_seed_gives_the_same_chance() -> None:
    parts = [Zone(zone_mm=0.1, spread="edge"), Line.at(40, 0.05, "even")]
    laws = [by_simulation(parts, 0.06, 0.1, seed, power=8) for seed in (1, 1, 2)]
    first, again, other = (law.chance_within(0.06) for law in laws)
    assert first == again != other


# ── invariances ──────────────────────────────────────────────────────────────────────────


@settings(max_examples=40)
@given(budgets, st.floats(0, 2 * np.pi), st.floats(0.5, 2))
def test_turning_mirroring_and_scaling(
    contributors: list[Contributor], angle: float, part: float
) -> None:
    radius = part * np.sqrt(np.trace(mean_and_covariance(contributors)[1])) + 0.01
    expected = chance(contributors, radius)
    turn = turned(angle)
    mirror = turn @ np.diag([1, -1])
    for influence, scale in ((turn, 1), (mirror, 1), (3.7 * turn, 3.7)):
        moved = [each.through(influence) for each in contributors]
        assert chance(moved, scale * radius) == pytest.approx(expected, abs=2e-9)
        assert largest_offset_mm(moved) == pytest.approx(scale * largest_offset_mm(contributors))
        assert root_sum_square_mm(moved) == pytest.approx(scale * root_sum_square_mm(contributors))


@settings(max_examples=30)
@given(budgets, st.randoms(use_true_random=False))
def test_order_and_nothing_change_nothing(contributors: list[Contributor], random: object) -> None:
    radius = 0.08
    expected = chance(contributors, radius)
    pressed = Clearance(hole=Limits(low_mm=9, high_mm=9.1), pin=Limits(low_mm=9.1, high_mm=9.2))
    nothing = [
        Fixed(np.zeros(2)),
        FloatAnywhere(clearance=pressed),
        FloatResting(clearance=pressed),
        Measured(np.zeros((3, 2))),
        Zone(zone_mm=1e-9, spread="disc"),
    ]
    shuffled = contributors + nothing
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert chance(shuffled, radius) == pytest.approx(expected, abs=1e-9)
    assert largest_offset_mm(shuffled) == pytest.approx(largest_offset_mm(contributors), abs=1e-9)


@given(st.floats(0.01, 0.3), st.floats(0.01, 0.3), st.floats(0.005, 0.2))
def test_two_normal_zones_are_one_of_root_sum_square(a: float, b: float, radius: float) -> None:
    shift = Fixed.at(15, 0.02)
    two = [Zone(zone_mm=a), Zone(zone_mm=b), shift]
    one = [Zone(zone_mm=float(np.hypot(a, b))), shift]
    assert chance(two, radius) == pytest.approx(chance(one, radius), abs=1e-11)


def test_two_normal_lines_square_to_each_other_are_a_zone() -> None:
    lines = [Line.at(25, 0.05, "normal"), Line.at(115, 0.05, "normal"), Fixed.at(80, 0.03)]
    assert chance(lines, 0.04) == pytest.approx(
        chance([Zone(zone_mm=0.1), Fixed.at(80, 0.03)], 0.04), abs=1e-12
    )


def test_a_batch_is_the_mean_over_its_bells() -> None:
    """A mixture: the chance of the batch is the mean of the chances of each of its vectors."""
    vectors = np.random.default_rng(4).normal(size=(500, 2)) * 0.03
    rest: list[Contributor] = [Zone(zone_mm=0.12), Line.at(20, 0.04, "even")]
    each = [chance([*rest, Fixed(vector)], 0.06) for vector in vectors[:100]]
    assert chance([*rest, Measured(vectors[:100])], 0.06) == pytest.approx(np.mean(each), abs=1e-9)
    level = [Zone(zone_mm=0.12)]  # nothing but the batch knows a direction: Rice for each
    expected = ncx2.cdf((0.06 / 0.02) ** 2, 2, (np.hypot(*vectors.T) / 0.02) ** 2).mean()
    assert chance([*level, Measured(vectors)], 0.06) == pytest.approx(expected, abs=1e-10)


def test_two_batches_are_every_pair() -> None:
    rng = np.random.default_rng(9)
    one, two = rng.normal(size=(7, 2)) * 0.03, rng.normal(size=(5, 2)) * 0.03
    pairs = np.array([a + b for a, b in itertools.product(one, two)])
    found = law_of([Measured(one), Measured(two)], radius_mm=0.03)
    assert isinstance(found, ByCounting)
    assert found.chance_within(0.03) == np.mean(np.hypot(*pairs.T) <= 0.03)


def test_dowel_zones_reach_the_bore_as_the_rigid_motion_says() -> None:
    """Midway between the dowels two equal zones z make one of z / root 2 at the bore."""
    middle = bore_influence([-170, 0], [170, 0])
    zones = [Zone(zone_mm=0.1).through(middle.of_a), Zone(zone_mm=0.1).through(middle.of_b)]
    bore = [Zone(zone_mm=0.1 / np.sqrt(2))]
    for radius in (0.02, 0.035, 0.06):
        assert chance(zones, radius) == pytest.approx(chance(bore, radius), abs=1e-12)


def test_dowel_errors_drawn_and_moved_one_by_one() -> None:
    """Off the middle: against draws of both holes put through the stated rigid motion."""
    a, b = np.array([-170.0, 20.0]), np.array([165.0, -15.0])
    n = (a - b) / np.hypot(*(a - b))
    m = np.array([-n[1], n[0]])
    length = np.hypot(*(a - b))
    rng = np.random.default_rng(12)
    d_a, d_b = rng.normal(size=(2, 400_000, 2)) * [[[0.02]], [[0.01]]]
    turn_a, turn_b = d_a @ m / length, -(d_b @ m) / length
    along = d_a @ n / 2 + turn_a * (a @ m) + d_b @ n / 2 + turn_b * (b @ m)
    across = -turn_a * (b @ n) - turn_b * (a @ n)
    offsets = np.hypot(along, across)
    zones = [Zone(zone_mm=0.12).through(DOWELS.of_a), Zone(zone_mm=0.06).through(DOWELS.of_b)]
    for radius in (0.01, 0.02, 0.03):
        assert chance(zones, radius) == pytest.approx((offsets <= radius).mean(), abs=0.004)


# ── worst case, root sum square, shares ──────────────────────────────────────────────────


@settings(max_examples=40)
@given(budgets)
def test_the_worst_case_is_the_best_of_every_direction(contributors: list[Contributor]) -> None:
    turn = np.linspace(0, 2 * np.pi, 20_000, endpoint=False)
    towards = np.column_stack([np.cos(turn), np.sin(turn)])
    reach = sum((each.extreme(towards) * towards).sum(axis=1) for each in contributors)
    worst = largest_offset_mm(contributors)
    # nowhere further, and within what this step of direction can miss
    assert np.max(reach) <= worst * (1 + 1e-12)
    assert np.max(reach) >= worst * np.cos(np.pi / 20_000) * (1 - 1e-12)
    rng = np.random.default_rng(1)
    drawn = np.zeros((500, 2))
    for each in contributors:
        if not each.normal:
            drawn += each.drawn(rng.uniform(size=(500, each.dimensions)))
    assert np.hypot(*drawn.T).max() <= worst


def test_worst_case_and_root_sum_square_by_hand() -> None:
    """A zone of 6, lines of 2 up and down and 1 across, shifts of 3 up and 4 right."""
    contributors = {
        "zone": Zone(zone_mm=6),
        "up": Line.at(0, 2, "normal"),
        "across": Line.at(90, 1, "even"),
        "shift up": Fixed.at(0, 3),
        "shift right": Fixed.at(90, 4),
    }
    answer = radial_budget(contributors, limit_tir_mm=10)
    assert answer.worst_case_tir_mm == pytest.approx(2 * (3 + np.hypot(3 + 2, 4 + 1)), rel=1e-12)
    assert answer.rss_tir_mm == pytest.approx(2 * (5 + np.sqrt(3**2 + 2**2 + 1**2)), rel=1e-12)
    assert answer.mean_mm == pytest.approx((4, 3), abs=1e-12)
    total = 2 * 1 + (2 / 3) ** 2 + 1 / 3 + 25
    shares = {each.name: each.share for each in answer.contributions}
    assert shares == pytest.approx(
        {
            "zone": 2 / total,
            "up": (2 / 3) ** 2 / total,
            "across": 1 / 3 / total,
            "shift up": 9 / total,
            "shift right": 16 / total,
        }
    )


@settings(max_examples=25)
@given(budgets)
def test_shares_sum_to_one_and_leaving_out_is_leaving_out(contributors: list[Contributor]) -> None:
    named = {str(number): each for number, each in enumerate(contributors)}
    answer = radial_budget(named, limit_tir_mm=0.15)
    assert sum(each.share for each in answer.contributions) == pytest.approx(1)
    for row in answer.contributions:
        others = [each for name, each in named.items() if name != row.name]
        if law_of(others, radius_mm=0.075).method == "exact":
            assert row.chance_outside_without == pytest.approx(1 - chance(others, 0.075), abs=1e-12)
    assert answer.chance_within + answer.chance_outside == 1


def test_a_shift_against_the_others_has_a_share_below_zero() -> None:
    answer = radial_budget(
        {"up": Fixed.at(0, 3), "down": Fixed.at(180, 1), "zone": Zone(zone_mm=1)}, limit_tir_mm=5
    )
    up, down, _ = answer.contributions
    assert down.share < 0 < up.share
    assert down.chance_outside_without > answer.chance_outside


@settings(max_examples=25)
@given(budgets)
def test_percentiles_undo_the_chance(contributors: list[Contributor]) -> None:
    named = {str(number): each for number, each in enumerate(contributors)}
    answer = radial_budget(named, limit_tir_mm=0.15)
    assert tuple(answer.tir_percentiles_mm) == PERCENTILES
    found = law_of(contributors, radius_mm=0.075)
    for percent, tir in answer.tir_percentiles_mm.items():
        assert found.chance_within(tir / 2) == pytest.approx(float(percent) / 100, abs=1e-10)


def test_a_percentile_is_the_least_radius_that_will_do() -> None:
    """Half the bells lie in a disc about the axis, half far off: the median ends the disc."""
    batch = Measured(np.array([[0.0, 0.0], [10.0, 0.0]]))
    found = law_of([batch, Zone(zone_mm=2, spread="disc")], radius_mm=1)
    assert [found.chance_within(radius) for radius in (1, 8.9)] == [0.5, 0.5]
    assert found.radius_mm(0.5) == pytest.approx(1, abs=1e-6)
    assert found.radius_mm(0.5001) > 9
    assert law_of([batch], radius_mm=1).radius_mm(0.5) == 0
    assert law_of([batch], radius_mm=1).radius_mm(0.51) == 10


# ── without anything that damps ──────────────────────────────────────────────────────────


def test_only_shifts_make_a_step_and_the_limit_counts_as_within() -> None:
    shifts = {"right": Fixed.at(90, 3), "up": Fixed.at(0, 4)}
    for limit, within in ((10, 1), (10 * (1 + 1e-15), 1), (9.999_999, 0), (11, 1)):
        answer = radial_budget(shifts, limit_tir_mm=limit)
        assert (answer.chance_within, answer.method) == (within, "exact")
        assert list(answer.tir_percentiles_mm.values()) == pytest.approx([10] * 5)
    assert answer.worst_case_tir_mm == answer.rss_tir_mm == pytest.approx(10)


def test_a_bell_that_cannot_be_outside_never_is() -> None:
    parts = {
        "zone": Zone(zone_mm=0.1, spread="edge"),
        "line": Line.at(10, 0.02, "even"),
        "disc": Zone(zone_mm=0.04, spread="disc"),
        "shift": Fixed.at(10, 0.01),
    }
    worst = radial_budget(parts, limit_tir_mm=1).worst_case_tir_mm
    assert worst == pytest.approx(2 * 0.1)
    assert chance_outside(list(parts.values()), limit_tir_mm=worst) == 0
    assert chance_outside(list(parts.values()), limit_tir_mm=0.9 * worst) > 0


@pytest.mark.parametrize(
    ("contributors", "way"),
    [
        ([Fixed.at(0, 1)], ByCounting),
        ([Line.at(0, 1, "normal"), Measured(np.ones((3, 2)))], ByCounting),
        ([Zone(zone_mm=1, spread="disc"), Measured(np.eye(2))], ByCounting),
        ([Zone(zone_mm=1), Line.at(0, 1, "even")], ByInversion),
        ([Zone(zone_mm=1, spread="disc"), Zone(zone_mm=1, spread="disc")], ByInversion),
        ([Zone(zone_mm=1, spread="edge"), Line.at(0, 1, "even")], BySimulation),
    ],
)
def test_the_way_that_is_taken(contributors: list[Contributor], way: type) -> None:
    found = law_of(contributors, radius_mm=0.7)
    assert isinstance(found, way)
    assert found.error(0.7) < 2e-5
    assert found.method == ("simulated" if way is BySimulation else "exact")


def test_a_simulation_keeps_its_seed() -> None:
    parts = {"zone": Zone(zone_mm=1, spread="edge"), "line": Line.at(0, 1, "even")}
    answer = radial_budget(parts, limit_tir_mm=1.4, seed=99)
    assert (answer.method, answer.seed) == ("simulated", 99)
    assert 0 < answer.standard_error < 2e-5
    again = radial_budget(parts, limit_tir_mm=1.4, seed=99)
    assert again.chance_within == answer.chance_within
    assert radial_budget({"zone": Zone(zone_mm=1)}, limit_tir_mm=1.4, seed=99).seed is None


@pytest.mark.parametrize("size", [1e-13, 1e13])
def test_any_scale(size: float) -> None:
    """What is far too small or far too large to matter does not break it."""
    parts = {"one": Zone(zone_mm=1), "other": Zone(zone_mm=size), "line": Line.at(0, 1, "even")}
    answer = radial_budget(parts, limit_tir_mm=1)
    assert answer.chance_within == pytest.approx(
        chance([Zone(zone_mm=1), Line.at(0, 1, "even")], 0.5) if size < 1 else 0, abs=1e-9
    )


@pytest.mark.parametrize(
    ("contributors", "limit", "line"),
    [
        ({}, 1, "contributors: none given; give one or more"),
        ({"a": Fixed.at(0, 1)}, 0, "limit: 0 is not above zero; give more than zero"),
        ({"a": Fixed.at(0, 1)}, np.nan, "limit: nan is not a number; give a finite number"),
    ],
)
def test_bad_budgets_say_what_to_do(
    contributors: dict[str, Contributor], limit: float, line: str
) -> None:
    with pytest.raises(InputError) as caught:
        radial_budget(contributors, limit_tir_mm=limit)
    assert caught.value.lines == [line]
