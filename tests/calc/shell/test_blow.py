"""What a blow sets going: reciprocity, mass, and a place where a mode stands still."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.shell.bell_lines import Lines
from kitwright.calc.shell.bell_modes import bell_modes
from kitwright.calc.shell.bell_shape import BellShape
from kitwright.calc.shell.blow import _outside, spoken
from kitwright.calc.shell.bricks import Isotropic

TUBE = BellShape(outline_mm=((0.0, 100.0), (200.0, 100.0)), wall_mm=4.0)
METAL = Isotropic(e_gpa=70.0, nu=0.33, density_kg_m3=2700.0)


@pytest.fixture(scope="module")
def modes():
    return bell_modes(TUBE, METAL, count=6)


def test_the_same_blow_moves_twice_the_mass_half_as_much(modes) -> None:
    heavy = bell_modes(TUBE, Isotropic(e_gpa=70.0, nu=0.33, density_kg_m3=5400.0), count=6)
    light = spoken(modes, z_mm=90, clock_deg=20)
    np.testing.assert_allclose(spoken(heavy, z_mm=90, clock_deg=20), light / 2, rtol=2e-3)


def test_a_pair_of_modes_speaks_alike_wherever_a_tube_is_struck(modes) -> None:
    """Two modes of a round tube with the same waves: struck anywhere round it, what one does not
    take the other does, so that their squares add up to the same."""
    first = [spoken(modes, z_mm=30, clock_deg=t)[:2] for t in (0.0, 17.0, 45.0, 110.0)]
    total = np.square(first).sum(axis=1)
    np.testing.assert_allclose(total, total[0], rtol=1e-3)
    assert np.ptp([each[0] for each in first]) > 0.3 * max(each[0] for each in first)


def test_the_speed_is_that_of_the_lowest_ring_mode(modes) -> None:
    """Derived: a ring mode w = cos 2t over a long thin tube of mass M, its tangential part half of
    it (Rayleigh's inextensional form): generalised mass 5 M / 8 for w = 1 at its most; struck
    there, w' = J / (5 M / 8), and its root mean square round the tube that over root two."""
    ring = modes
    most = max(float(spoken(ring, z_mm=100, clock_deg=t)[0]) for t in np.linspace(0, 90, 91))
    expected = 1 / (5 / 8 * ring.mass_kg) / np.sqrt(2)
    assert most == pytest.approx(expected, rel=0.03)


def test_the_outside_is_weighed_by_its_area(modes) -> None:
    """The outside of a round tube is 2 pi R L; and a mesh twice as fine round one end, where some
    modes move most, hears the same."""
    _, area, _ = _outside(modes)
    assert area.sum() == pytest.approx(2 * np.pi * 102 * 200, rel=2e-4)
    even = modes.mesh.lines
    crowded = np.unique(np.concatenate([even.along_mm, np.linspace(150, 200, 11)]))
    fine = bell_modes(TUBE, METAL, count=6, lines=Lines(along_mm=crowded, round_rad=even.round_rad))
    pair = [np.square(spoken(each, z_mm=90, clock_deg=20)).reshape(3, 2).sum(axis=1)
            for each in (modes, fine)]  # fmt: skip
    np.testing.assert_allclose(pair[0], pair[1], rtol=1e-2)
