"""Each kind of contributor: moments, characteristic function, edge and draws agree."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import j0, j1
from scipy.stats import qmc

from kitwright.calc.centring.circles import BESSEL_BOUND, disc_bound, disc_wave, ring_bound
from kitwright.calc.centring.clearance import Clearance, Limits
from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.floats import FloatAnywhere, FloatResting
from kitwright.calc.centring.measured import Measured, Rings
from kitwright.calc.centring.rigid import bore_influence
from kitwright.errors import InputError

MAP = bore_influence([-170, 25], [150, -10]).of_a
LOOSE = Clearance(hole=Limits(low_mm=16, high_mm=16.4), pin=Limits(low_mm=15.7, high_mm=15.9))
TIGHT = Clearance(hole=Limits(low_mm=16, high_mm=16.3), pin=Limits(low_mm=15.9, high_mm=16.2))
BATCH = np.random.default_rng(3).normal(size=(40, 2)) * 0.2 + [0.1, -0.3]

KINDS: dict[str, Contributor] = {
    "zone, normal": Zone(zone_mm=1.2),
    "zone, disc": Zone(zone_mm=1.2, spread="disc"),
    "zone, edge": Zone(zone_mm=1.2, spread="edge"),
    "shift": Fixed.at(200, 0.4),
    "line, normal": Line.at(75, 0.7, "normal"),
    "line, even": Line.at(75, 0.7, "even"),
    "float": FloatAnywhere(clearance=LOOSE),
    "float, tight": FloatAnywhere(clearance=TIGHT),
    "float, at rest": FloatResting(clearance=LOOSE),
    "float, tight, at rest": FloatResting(clearance=TIGHT),
    "measured": Measured(BATCH),
}
KINDS |= {f"{name}, at a dowel": each.through(MAP) for name, each in list(KINDS.items())}


@pytest.fixture(params=KINDS)
def each(request: pytest.FixtureRequest) -> Contributor:
    return KINDS[request.param]


def uniforms(dimensions: int, power: int = 15) -> NDArray[np.float64]:
    sobol = qmc.Sobol(max(1, dimensions), scramble=True, rng=np.random.default_rng(8))
    return np.clip(sobol.random_base2(power), 1e-16, 1 - 1e-16)[:, :dimensions]


def test_draws_have_the_mean_and_covariance(each: Contributor) -> None:
    drawn = each.drawn(uniforms(each.dimensions))
    np.testing.assert_allclose(drawn.mean(axis=0), each.mean_mm, atol=2e-3)
    np.testing.assert_allclose(np.cov(drawn.T, bias=True), each.covariance_mm2, atol=2e-3)


def test_the_characteristic_function_is_that_of_the_draws(each: Contributor) -> None:
    drawn = each.drawn(uniforms(each.dimensions))
    kx, ky = np.array([0.0, 2.0, -3.0, 0.5, 6.0]), np.array([0.0, 1.0, 4.0, -5.0, 6.0])
    expected = [
        np.exp(1j * (x * drawn[:, 0] + y * drawn[:, 1])).mean() for x, y in zip(kx, ky, strict=True)
    ]
    np.testing.assert_allclose(each.characteristic(kx, ky), expected, atol=3e-3)


def test_the_characteristic_function_starts_with_mean_and_covariance(each: Contributor) -> None:
    """Its slope at zero is i times the mean; its curvature there the second moments, negative."""
    h = 1e-3
    at = np.array([[h, 0], [0, h], [h, h]])
    there = each.characteristic(at[:, 0], at[:, 1])
    np.testing.assert_allclose(np.imag(there[:2]) / h, each.mean_mm, atol=1e-6)
    moments = each.covariance_mm2 + np.outer(each.mean_mm, each.mean_mm)
    expected = [1 - a @ moments @ a / 2 for a in at]
    np.testing.assert_allclose(np.real(there), expected, atol=1e-11)


def test_the_edge_is_the_furthest_that_is_drawn(each: Contributor) -> None:
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False) + 0.01
    towards = np.column_stack([np.cos(turn), np.sin(turn)])
    reach = (each.extreme(towards) * towards).sum(axis=1)
    assert np.hypot(*each.extreme(towards).T).max() <= each.edge_mm * (1 + 1e-12)
    if each.normal:  # its edge is three sigma, and it goes on beyond
        sigma = np.sqrt(np.einsum("ni,ij,nj->n", towards, each.covariance_mm2, towards))
        np.testing.assert_allclose(reach, 3 * sigma, rtol=1e-12, atol=1e-12)
        return
    drawn = (each.drawn(uniforms(each.dimensions)) @ towards.T).max(axis=0)
    assert (drawn <= reach + 1e-12).all()
    np.testing.assert_allclose(drawn, reach, atol=0.04)  # a float seldom has its largest play


def test_the_envelope_bounds_and_never_rises(each: Contributor) -> None:
    k = np.geomspace(0.05, 3000, 400)
    envelope = each.envelope(k)
    assert (np.diff(envelope) <= 0).all()
    if each.normal:
        return
    for turn in np.linspace(0, np.pi, 7):
        wave = np.abs(each.characteristic(k * np.cos(turn), k * np.sin(turn)))
        assert (wave <= envelope + 1e-12).all()


@pytest.mark.parametrize(
    "name", [name for name, each in KINDS.items() if each.near_dimensions is not None]
)
def test_the_closed_form_counts_what_is_drawn(name: str) -> None:
    contributor = KINDS[name]
    drawn = contributor.drawn(uniforms(contributor.dimensions))
    assert contributor.near_dimensions is not None
    given = uniforms(contributor.near_dimensions)
    for centre in ([0.0, 0.0], [0.3, -0.2], [-0.7, 0.5]):
        for radius in (0.05, 0.35, 0.8):
            counted = (np.hypot(*(drawn + centre).T) <= radius).mean()
            centres = np.broadcast_to(np.array(centre), (len(given), 2))
            known = contributor.near(centres, radius, given).mean()
            assert known == pytest.approx(counted, abs=3e-3)


def test_a_map_is_a_map(each: Contributor) -> None:
    there_and_back = each.through(MAP).through(np.linalg.inv(MAP))
    np.testing.assert_allclose(there_and_back.covariance_mm2, each.covariance_mm2, atol=1e-12)
    np.testing.assert_allclose(there_and_back.mean_mm, each.mean_mm, atol=1e-12)
    k = np.array([3.0, -1.0])
    pulled = MAP.T @ k
    np.testing.assert_allclose(
        each.through(MAP).characteristic(k[:1], k[1:]),
        each.characteristic(pulled[:1], pulled[1:]),
        atol=1e-12,
    )


# ── bounds and large batches ─────────────────────────────────────────────────────────────


def test_the_bounds_on_bessel_functions() -> None:
    x = np.concatenate([np.linspace(1e-6, 400, 400_001), np.geomspace(400, 1e7, 4001)])
    assert (np.abs(j0(x)) * np.sqrt(x) < BESSEL_BOUND).all()
    assert (np.abs(j1(x)) * np.sqrt(x) < BESSEL_BOUND).all()
    assert (np.abs(disc_wave(x)) <= disc_bound(x)).all()
    assert (np.abs(j0(x)) <= ring_bound(x)).all()


@pytest.mark.parametrize("size", [60, 4000])
def test_a_large_batch_gathered_has_the_same_waves(size: int) -> None:
    rng = np.random.default_rng(11)
    batch = Measured(rng.normal(size=(size, 2)) * [0.03, 0.05] + [0.02, -0.04])
    k_end = 150.0
    ready = batch.ready(k_end)
    assert (ready is batch) == (size == 60)
    k, turn = rng.uniform(0, k_end, 200), rng.uniform(0, 2 * np.pi, 200)
    kx, ky = k * np.cos(turn), k * np.sin(turn)
    np.testing.assert_allclose(
        ready.characteristic(kx, ky), batch.characteristic(kx, ky), atol=1e-10
    )


def test_rings_gathered_have_the_same_waves() -> None:
    points = np.random.default_rng(5).normal(size=(5000, 2)) * 0.04
    rings = Rings.of(points)
    k = np.linspace(0, 200, 300)
    mean = j0(np.outer(k, np.hypot(*points.T))).mean(axis=1)
    gathered = rings.ready(200)
    assert len(gathered.radii_mm) < 200
    np.testing.assert_allclose(gathered.characteristic(k, 0 * k), mean, atol=1e-10)
    assert float(np.sum(gathered.weights)) == pytest.approx(1, abs=1e-12)


def test_batches_of_one_and_of_one_place() -> None:
    for points in ([[0.1, 0.2]], [[0.1, 0.2]] * 700):
        batch = Measured(np.array(points))
        assert batch.ready(1e3).characteristic(np.array([1.0]), np.array([2.0])) == pytest.approx(
            np.exp(0.5j), abs=1e-9
        )
        np.testing.assert_allclose(batch.extreme(np.array([[1.0, 0.0]])), [[0.1, 0.2]])


# ── clearances ───────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("clearance", [LOOSE, TIGHT], ids=["loose", "tight"])
def test_the_clearance_is_hole_less_pin(clearance: Clearance) -> None:
    drawn = clearance.drawn(uniforms(2))
    for size in (-0.1, 0.0, 0.05, 0.2, 0.37, 0.5, 0.65, 0.8):
        assert clearance.chance_below(size) == pytest.approx((drawn <= size).mean(), abs=2e-3)
    assert clearance.mean_mm == pytest.approx(drawn.mean(), abs=1e-3)
    assert clearance.mean_square_mm2 == pytest.approx((drawn**2).mean(), abs=1e-3)
    assert (clearance.least_mm, clearance.largest_mm) == pytest.approx(
        (drawn.min(), drawn.max()), abs=0.01
    )


def test_moments_of_a_clearance_that_never_closes() -> None:
    """Mean and variance of the difference of two even sizes: exact."""
    assert LOOSE.mean_mm == pytest.approx(16.2 - 15.8, abs=1e-12)
    variance = (0.4**2 + 0.2**2) / 12
    assert LOOSE.mean_square_mm2 == pytest.approx(variance + 0.4**2, abs=1e-12)


def test_an_interference_fit_has_no_play() -> None:
    pressed = Clearance(
        hole=Limits(low_mm=16, high_mm=16.01), pin=Limits(low_mm=16.02, high_mm=16.03)
    )
    assert (pressed.least_mm, pressed.largest_mm, pressed.mean_mm) == (0, 0, 0)
    for contributor in (FloatAnywhere(clearance=pressed), FloatResting(clearance=pressed)):
        np.testing.assert_array_equal(contributor.points_mm, [[0.0, 0.0]])
        assert contributor.edge_mm == 0


@pytest.mark.parametrize("widths", [(0, 0), (0.02, 0), (0, 0.02), (0.02, 0.02)])
def test_sizes_without_spread(widths: tuple[float, float]) -> None:
    clearance = Clearance(
        hole=Limits(low_mm=16.03, high_mm=16.03 + widths[0]),
        pin=Limits(low_mm=16.0 - widths[1], high_mm=16.0),
    )
    assert clearance.mean_mm == pytest.approx(0.03 + sum(widths) / 2, abs=1e-12)
    assert clearance.chance_below(0.0299) == 0
    assert clearance.chance_below(0.0301 + sum(widths)) == 1
    assert clearance.varies == (sum(widths) > 0)


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (lambda: Zone(zone_mm=0), "zone: 0 is not above zero; give more than zero"),
        (lambda: Zone(zone_mm=-1), "zone: -1 is not above zero; give more than zero"),
        (lambda: Zone(zone_mm=np.nan), "zone: nan is not a number; give a finite number"),
        (
            lambda: Fixed(np.array([0, np.inf])),
            "vector[0]: [0.0, inf] is not finite; measure it again",
        ),
        (lambda: Fixed.at(np.nan, 1), "clock_deg: nan is not a number; give a finite number"),
        (lambda: Line.at(0, 0, "even"), "plus_minus: 0 is not above zero; give more than zero"),
        (lambda: Measured(np.empty((0, 2))), "vectors: 0 given; give 1 or more"),
        (lambda: Measured(np.ones((2, 3))), "vectors: shape (2, 3); give rows of 2 numbers"),
        (
            lambda: Clearance(hole=Limits(low_mm=2, high_mm=1), pin=Limits(low_mm=1, high_mm=1)),
            "hole.low: 2 mm is above high; swap low and high",
        ),
        (
            lambda: Clearance(hole=Limits(low_mm=2, high_mm=2), pin=Limits(low_mm=0, high_mm=1)),
            "pin.low: 0 mm; give more than zero",
        ),
    ],
)
def test_bad_contributors_say_what_to_do(make: object, line: str) -> None:
    with pytest.raises(InputError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.lines == [line]
