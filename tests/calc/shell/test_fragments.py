"""Pieces of a bursting disc: AC 20-128A's third, energies that add up, shadows by Cauchy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.shell.fragments import Disc, fragments, intermediate, own_piece, sector
from kitwright.errors import InputError

FLYWHEEL = Disc(mass_kg=9, outer_radius_mm=150, inner_radius_mm=0, thickness_mm=16, speed_rpm=7000)
RING = Disc(mass_kg=6, outer_radius_mm=160, inner_radius_mm=90, thickness_mm=12, speed_rpm=8000)


def by_name(disc: Disc, name: str):
    return next(each for each in fragments(disc) if each.name == name)


def test_a_third_of_a_solid_flywheel() -> None:
    """Derived from mechanics, after FAA AC 20-128A section 9a (translational energy alone): 9 kg,
    R 150 mm, 7000 rpm: 27.20 kJ in all, a third 5512.5 J at a centre radius of 82.70 mm."""
    third = by_name(FLYWHEEL, "one third")
    assert FLYWHEEL.energy_j == pytest.approx(27_203, abs=1)
    assert third.energy_j == pytest.approx(5512.5, abs=0.5)
    assert third.radius_mm == pytest.approx(82.70, abs=0.005)
    assert third.radius_mm / 150 == pytest.approx(0.551329, abs=5e-7)
    assert third.energy_j / FLYWHEEL.energy_j == pytest.approx(0.202642, abs=5e-7)
    assert 3 * third.energy_j / FLYWHEEL.energy_j == pytest.approx(0.607927, abs=5e-7)
    assert third.mass_kg == pytest.approx(3)


def test_the_circulars_pieces() -> None:
    """FAA AC 20-128A: a third within 3 degrees; an intermediate one of a thirtieth of the mass
    (from memory), a third of the radius long, at rim speed, within 5; small ones within 15."""
    _, third, middle, small = fragments(FLYWHEEL)
    assert (third.spread_deg, middle.spread_deg, small.spread_deg) == (3, 5, 15)
    assert middle.mass_kg == pytest.approx(0.3)
    rim = 7000 * math.pi / 30 * 0.150
    assert middle.speed_m_s == pytest.approx(rim)
    assert middle.energy_j == pytest.approx(0.3 * rim**2 / 2)
    # 50 mm long, as wide as makes up a thirtieth of the face, 16 mm thick
    width = math.pi * 150**2 / 30 / 50
    assert middle.length_mm == pytest.approx(math.sqrt(50**2 + width**2 + 16**2))
    assert middle.edge_area_mm2 == pytest.approx(width * 16)


@given(
    inner=st.floats(0, 140),
    sweep=st.floats(1, 180),
    points=st.just(60_000),
    seed=st.integers(0, 2**32 - 1),
)
def test_the_centre_is_where_random_points_have_theirs(inner, sweep, points, seed) -> None:
    disc = Disc(
        mass_kg=9, outer_radius_mm=150, inner_radius_mm=inner, thickness_mm=16, speed_rpm=7000
    )
    rng = np.random.default_rng(seed)
    r = np.sqrt(rng.uniform(inner**2, 150**2, points))
    t = np.radians(rng.uniform(-sweep / 2, sweep / 2, points))
    piece = sector(disc, sweep, name="x")
    along = r * np.cos(t)
    assert piece.radius_mm == pytest.approx(along.mean(), abs=5 * along.std() / points**0.5 + 1e-9)
    assert piece.mass_kg == pytest.approx(9 * sweep / 360)


@pytest.mark.parametrize("disc", [FLYWHEEL, RING])
@pytest.mark.parametrize("count", [2, 3, 5, 30])
def test_flight_and_turning_add_up_to_the_whole(disc: Disc, count: int) -> None:
    """Steiner: a piece's inertia about the disc's axis is its own plus m r², and n equal pieces
    hold all that the disc held. The piece's own turning energy is by points, not by our formula."""
    piece = sector(disc, 360 / count, name="x")
    steps = 400
    inner, outer = disc.inner_radius_mm, disc.outer_radius_mm
    r = inner + (np.arange(steps) + 0.5) * (outer - inner) / steps
    t = (np.arange(steps) + 0.5) / steps * 2 * math.pi / count - math.pi / count
    radius, angle = np.meshgrid(r, t)
    weight = radius / radius.sum()
    about = (radius * np.sin(angle)) ** 2 + (radius * np.cos(angle) - piece.radius_mm) ** 2
    own_inertia = piece.mass_kg * float((weight * about).sum()) * 1e-6
    turning = own_inertia * disc.omega_rad_s**2 / 2
    assert count * (piece.energy_j + turning) == pytest.approx(disc.energy_j, rel=1e-4)


def test_a_whole_cut_into_rings_and_sectors_weighs_the_same() -> None:
    outer = sector(RING, 40, name="x", from_radius_mm=120)
    inner = Disc(
        mass_kg=RING.mass_kg * (120**2 - 90**2) / (160**2 - 90**2),
        outer_radius_mm=120,
        inner_radius_mm=90,
        thickness_mm=12,
        speed_rpm=8000,
    )
    assert outer.mass_kg + sector(inner, 40, name="x").mass_kg == pytest.approx(RING.mass_kg / 9)


def test_shadows_of_a_half_disc() -> None:
    """Cauchy: the mean shadow is a quarter of the surface, here 2 half discs, rim and flat side;
    the least is edge first, the radius high."""
    half = sector(FLYWHEEL, 180, name="x")
    surface = math.pi * 150**2 + 16 * (math.pi * 150 + 300)
    assert half.mean_area_mm2 == pytest.approx(surface / 4)
    assert half.edge_area_mm2 == pytest.approx(150 * 16, rel=1e-4)
    assert half.length_mm == pytest.approx(math.hypot(300, 16))


@given(sweep=st.floats(5, 180), inner=st.floats(0, 100), tilt=st.floats(0, 90))
def test_no_shadow_is_smaller_than_the_edge(sweep: float, inner: float, tilt: float) -> None:
    """Every shadow of a straight-sided piece is face times cosine plus rim times sine."""
    disc = Disc(
        mass_kg=5, outer_radius_mm=120, inner_radius_mm=inner, thickness_mm=14, speed_rpm=6000
    )
    piece = sector(disc, sweep, name="x")
    half = math.radians(sweep) / 2
    t = np.linspace(-half, half, 400)
    shape = np.vstack([120 * np.c_[np.sin(t), np.cos(t)], inner * np.c_[np.sin(t), np.cos(t)]])
    face = half * 120**2 - inner**2 * math.sin(2 * half) / 2
    for turned in np.radians(np.arange(0, 180, 3)):
        width = np.ptp(shape @ [math.cos(turned), math.sin(turned)])
        shadow = face * math.cos(math.radians(tilt)) + 14 * width * math.sin(math.radians(tilt))
        assert shadow >= piece.edge_area_mm2 * (1 - 1e-4)


@given(times=st.floats(0.1, 5))
def test_energy_goes_with_the_square_of_speed(times: float) -> None:
    faster = Disc(
        mass_kg=9,
        outer_radius_mm=150,
        inner_radius_mm=0,
        thickness_mm=16,
        speed_rpm=7000 * times,
    )
    for slow, fast in zip(fragments(FLYWHEEL), fragments(faster), strict=True):
        assert fast.energy_j == pytest.approx(slow.energy_j * times**2)
        assert fast.mass_kg == slow.mass_kg


def test_a_piece_of_ones_own() -> None:
    piece = own_piece(FLYWHEEL, name="strap", mass_kg=0.03, radius_mm=120, across_mm=10)
    assert piece.speed_m_s == pytest.approx(7000 * math.pi / 30 * 0.12)
    assert piece.edge_area_mm2 == piece.mean_area_mm2 == pytest.approx(math.pi * 25)


GOOD = {
    "mass_kg": 9.0,
    "outer_radius_mm": 150.0,
    "inner_radius_mm": 0.0,
    "thickness_mm": 16.0,
    "speed_rpm": 7000.0,
}


@pytest.mark.parametrize(
    ("changed", "line"),
    [
        ({"mass_kg": 0.0}, "mass_kg: 0 is not above zero; give more than zero"),
        ({"speed_rpm": -7000.0}, "speed_rpm: -7000 is not above zero; give more than zero"),
        ({"thickness_mm": math.nan}, "thickness_mm: nan is not a number; give a finite number"),
        (
            {"inner_radius_mm": 150.0},
            "inner_radius_mm: 150 is not below the outer radius; give less than 150",
        ),
        ({"inner_radius_mm": -1.0}, "inner_radius_mm: -1 is negative; give zero or more"),
    ],
)
def test_what_is_no_disc_is_refused(changed: dict[str, float], line: str) -> None:
    with pytest.raises(InputError) as caught:
        Disc(**{**GOOD, **changed})
    assert caught.value.lines == [line]


@pytest.mark.parametrize(
    ("sweep", "start", "words"),
    [(0, None, "give above 0 to 180"), (181, None, "above 0 to 180"), (90, 150, "give one within")],
)
def test_what_is_no_piece_is_refused(sweep: float, start: float | None, words: str) -> None:
    with pytest.raises(InputError, match=words):
        sector(FLYWHEEL, sweep, name="x", from_radius_mm=start)
    with pytest.raises(InputError, match="mass_kg"):
        own_piece(FLYWHEEL, name="x", mass_kg=0, radius_mm=10, across_mm=10)


def test_the_intermediate_piece_of_a_ring_is_as_large_as_its_mass_says() -> None:
    piece = intermediate(RING)
    assert piece.mass_kg == pytest.approx(0.2)
    face = math.pi * (160**2 - 90**2) / 30
    length, width = 160 / 3, face / (160 / 3)
    assert piece.mean_area_mm2 == pytest.approx((2 * face + 2 * 12 * (length + width)) / 4)
