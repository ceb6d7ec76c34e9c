"""The radial budget against published values and closed forms.

Circular-normal tables (Rayleigh, Rice; DiDonato and Jarnagin 1962 print such): from memory, and
recomputed by two methods. Others name their source beside them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import ncx2

from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.radial_budget import law_of, radial_budget
from kitwright.calc.centring.radial_exact import ByInversion
from kitwright.calc.centring.radial_law import RadialLaw

SIX_SIGMA = 6.0  # a zone of 6 has a sigma of 1


def law(*contributors: Contributor, at: float = 1.0) -> RadialLaw:
    return law_of(contributors, radius_mm=at)


# ── normal zones ─────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("radius", "chance"),
    [
        *((1, 0.393469), (1.5, 0.675348), (2, 0.864665), (2.5, 0.956063)),
        *((3, 0.988891), (3.5, 0.997813), (4, 0.999665)),
    ],
)
def test_rayleigh(radius: float, chance: float) -> None:
    """Circular normal, sigma 1 on each axis, printed to six decimals (from memory)."""
    found = law(Zone(zone_mm=SIX_SIGMA))
    assert found.chance_within(radius) == pytest.approx(chance, abs=1e-6)
    assert found.chance_within(radius) == pytest.approx(1 - math.exp(-(radius**2) / 2), abs=1e-12)


@pytest.mark.parametrize(
    ("chance", "radius"),
    [
        *((0.50, 1.177410), (0.90, 2.145966), (0.95, 2.447747)),
        *((0.99, 3.034854), (0.9973, 3.439332), (0.999, 3.716922)),
    ],
)
def test_rayleigh_radii(chance: float, radius: float) -> None:
    """CEP = 1.1774 sigma, R95 = 2.4477 sigma (from memory)."""
    assert law(Zone(zone_mm=SIX_SIGMA)).radius_mm(chance) == pytest.approx(radius, abs=1e-6)


RICE = {
    0.5: (0.357286, 0.830859, 0.982156, 0.999263),
    1: (0.267120, 0.730988, 0.956284, 0.997110),
    2: (0.081892, 0.396499, 0.785638, 0.965865),
    3: (0.010829, 0.113279, 0.432520, 0.803488),
}


@pytest.mark.parametrize("offset", RICE)
def test_rice(offset: float) -> None:
    """A fixed offset under a circular normal: radii 1 to 4 (from memory)."""
    found = law(Zone(zone_mm=SIX_SIGMA), Fixed.at(77, offset))
    chances = [found.chance_within(radius) for radius in (1, 2, 3, 4)]
    assert chances == pytest.approx(RICE[offset], abs=1e-6)


@pytest.mark.parametrize(
    ("offset", "beyond"), [(0.5, 0.642714), (1, 0.732880), (2, 0.918108), (3, 0.989171)]
)
def test_marcum(offset: float, beyond: float) -> None:
    """Marcum's Q1(b, 1): the chance beyond one sigma (from memory)."""
    found = law(Zone(zone_mm=SIX_SIGMA), Fixed.at(200, offset))
    assert 1 - found.chance_within(1) == pytest.approx(beyond, abs=1e-6)


def test_three_sigma_an_axis_is_not_three_sigma_in_the_plane() -> None:
    """A circle of plus or minus 3 sigma covers 98.89 % in the plane, not 99.73 %."""
    answer = radial_budget({"zone": Zone(zone_mm=SIX_SIGMA)}, limit_tir_mm=6.0)
    assert answer.chance_within == pytest.approx(0.988891, abs=1e-6)


@pytest.mark.parametrize("offset", [0.0, 0.3, 2.0, 7.0, 40.0])
@pytest.mark.parametrize("outside", [0.5, 1e-2, 1e-4, 1e-7])
def test_the_tail_against_scipy(offset: float, outside: float) -> None:
    """scipy.stats.ncx2 as the reference; the stated bound holds, the tail keeps its figures."""
    radius = float(np.sqrt(ncx2.isf(outside, 2, offset**2)))
    found = law(Zone(zone_mm=SIX_SIGMA), Fixed.at(10, offset))
    assert isinstance(found, ByInversion)
    reference = float(ncx2.sf(radius**2, 2, offset**2))
    error = abs(1 - found.chance_within(radius) - reference)
    assert error < 1e-11
    assert error <= found.error(radius) + 1e-12  # the reference's own
    assert found.error(radius) < 1e-9


def test_a_normal_ellipse() -> None:
    """Two normal lines: against a quadrature of the density over the circle."""
    found = law(Line.at(0, 3, "normal"), Line.at(90, 3 * 0.35, "normal"))

    def density(angle: float) -> float:
        rate = np.sin(angle) ** 2 / 0.35**2 + np.cos(angle) ** 2
        return float(-np.expm1(-rate * 1.7**2 / 2) / rate / (2 * np.pi * 0.35))

    reference, _ = quad(density, 0, 2 * np.pi, epsabs=1e-13)
    assert found.chance_within(1.7) == pytest.approx(reference, abs=1e-11)


# ── JCGM 101:2008 ────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("offset", "low", "high"),
    [(0.0, 0.0, 150e-6), (0.010, 0.0, 367e-6), (0.050, 1590e-6, 3543e-6)],
)
def test_squared_offset(offset: float, low: float, high: float) -> None:
    """JCGM 101:2008, 9.4: y = x1² + x2², u = 0.005 each, 95 % intervals (from memory, 2 %)."""
    found = law(Zone(zone_mm=6 * 0.005), Fixed.at(90, offset), at=0.01)
    inside = found.chance_within(math.sqrt(high)) - found.chance_within(math.sqrt(low))
    assert inside == pytest.approx(0.95, abs=0.003)


def test_the_mean_square_is_exact() -> None:
    """JCGM 101:2008, 9.4: the mean of y is x1² + 2 u² (exact theory): 150e-6 at x1 = 0.010."""
    answer = radial_budget(
        {"spread": Zone(zone_mm=0.03), "shift": Fixed.at(90, 0.010)}, limit_tir_mm=0.04
    )
    shares = {each.name: each.share for each in answer.contributions}
    assert shares == pytest.approx({"spread": 50 / 150, "shift": 100 / 150}, rel=1e-12)


def test_four_normal_lines_in_line() -> None:
    """JCGM 101:2008, 9.2.2: the sum of four N(0, 1), 95 % within 3.92 (from memory)."""
    found = law(*(Line.at(30, 3, "normal") for _ in range(4)))
    assert found.method == "exact"
    assert found.radius_mm(0.95) == pytest.approx(3.92, abs=0.005)
    assert found.radius_mm(0.95) == pytest.approx(2 * 1.9599639845400543, abs=1e-9)


def test_four_even_lines_in_line() -> None:
    """JCGM 101:2008, 9.2.3: four rectangular, sd 1: 95 % within 3.88 (from memory).

    The exact end is 2 root 3 (2 - (3/5)^(1/4)).
    """
    end = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    found = law(*(Line.at(30, math.sqrt(3), "even") for _ in range(4)), at=end)
    assert found.radius_mm(0.95) == pytest.approx(3.88, abs=0.005)
    assert abs(found.chance_within(end) - 0.95) < 6 * found.error(end) + 1e-9


def test_one_wide_even_line() -> None:
    """JCGM 101:2008, 9.2.4: as 9.2.3 with one of sd 10: 95 % within 17.0 (from memory)."""
    lines = [Line.at(30, math.sqrt(3) * size, "even") for size in (1, 1, 1, 10)]
    assert law(*lines, at=17).radius_mm(0.95) == pytest.approx(17.0, abs=0.05)


# ── geometry with exact answers ──────────────────────────────────────────────────────────


@pytest.mark.parametrize("steps", range(2, 12))
def test_random_flight(steps: int) -> None:
    """J. C. Kluyver 1906: n >= 2 unit steps in random directions end within 1 by 1/(n + 1)."""
    found = law(*(Zone(zone_mm=2, spread="edge") for _ in range(steps)))
    assert abs(found.chance_within(1) - 1 / (steps + 1)) < 6 * found.error(1) + 1e-9
    assert found.error(1) < 2e-5


def test_many_steps_are_exact() -> None:
    assert law(*(Zone(zone_mm=2, spread="edge") for _ in range(9))).method == "exact"


def test_two_points_in_a_disc() -> None:
    """Two random points of a unit disc are within 1 of each other by 1 - 3 root 3 / (4 pi)."""
    found = law(*(Zone(zone_mm=2, spread="disc") for _ in range(2)))
    assert found.method == "exact"
    assert found.chance_within(1) == pytest.approx(1 - 3 * math.sqrt(3) / (4 * math.pi), abs=1e-10)


def test_the_lens_of_two_equal_circles() -> None:
    """Centres a radius apart: 2/3 - root 3 / (2 pi) of the disc (elementary geometry)."""
    found = law(Zone(zone_mm=2, spread="disc"), Fixed.at(300, 1))
    lens = 2 / 3 - math.sqrt(3) / (2 * math.pi)
    assert found.chance_within(1) == pytest.approx(lens, abs=1e-12)


def test_the_circle_in_its_square() -> None:
    """Two even lines square to each other fill a square: its inscribed circle has pi/4 of it."""
    found = law(Line.at(20, 1, "even"), Line.at(110, 1, "even"))
    assert abs(found.chance_within(1) - math.pi / 4) < 6 * found.error(1) + 1e-9
    assert found.chance_within(math.sqrt(2)) == 1


def test_a_disc_alone() -> None:
    found = law(Zone(zone_mm=2, spread="disc"))
    assert [found.chance_within(r) for r in (0.3, 1, 2)] == pytest.approx([0.09, 1, 1], abs=1e-14)
    assert found.radius_mm(0.25) == pytest.approx(0.5, abs=1e-12)
