"""How long a ring lasts, and how the ear weighs it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from kitwright.calc.shell.loudness import a_weighting_db
from kitwright.calc.shell.ring_time import followed_db, ring_time
from kitwright.errors import InputError

# IEC 61672-1:2013, table 3 (A-weighting at the nominal frequencies), from memory; the frequencies
# meant are 1000 * 10^(n/10).
TABLE = {
    10: -70.4, 12.5: -63.4, 16: -56.7, 20: -50.5, 25: -44.7, 31.5: -39.4, 40: -34.6, 50: -30.2,
    63: -26.2, 80: -22.5, 100: -19.1, 125: -16.1, 160: -13.4, 200: -10.9, 250: -8.6, 315: -6.6,
    400: -4.8, 500: -3.2, 630: -1.9, 800: -0.8, 1000: 0.0, 1250: 0.6, 1600: 1.0, 2000: 1.2,
    2500: 1.3, 3150: 1.2, 4000: 1.0, 5000: 0.5, 6300: -0.1, 8000: -1.1, 10000: -2.5,
    12500: -4.3, 16000: -6.6, 20000: -9.3,
}  # fmt: skip


def test_the_table_of_the_standard() -> None:
    exact = [1000 * 10 ** (n / 10) for n in range(-20, 14)]
    assert len(exact) == len(TABLE)
    np.testing.assert_allclose(exact, list(TABLE), rtol=0.02)
    np.testing.assert_allclose(a_weighting_db(exact), list(TABLE.values()), atol=0.0501)


def test_one_mode_lasts_its_own_decay() -> None:
    """60 dB are a thousandth of the amplitude: ln(1000) / a."""
    ring = ring_time([440.0], [2.0], [5.0], [0.1])
    assert ring.ring_s == pytest.approx(math.log(1000) / 2, rel=1e-12)
    assert ring.weighted_s == pytest.approx(ring.ring_s, rel=1e-12)
    assert ring.ring_u_s == pytest.approx(ring.ring_s * 0.1 / 2, rel=1e-9)


def test_what_each_figure_does_to_the_time() -> None:
    """The stated uncertainty is the root of the squares of what each figure alone would move."""
    f, a, p = np.array([300.0, 800.0, 950.0]), np.array([2.0, 1.1, 6.0]), np.array([1.0, 0.02, 4.0])
    u = np.array([0.01, 0.03, 0.2])
    ring = ring_time(f, a, p, u)
    for which, stated in (("ring_s", ring.ring_u_s), ("weighted_s", ring.weighted_u_s)):
        moved = [
            (getattr(ring_time(f, a + 1e-4 * u * one, p), which) - getattr(ring, which)) * 1e4
            for one in np.eye(3)
        ]
        assert stated == pytest.approx(np.linalg.norm(moved), rel=2e-3)


def test_taps_in_another_proportion_are_part_of_the_uncertainty() -> None:
    """By hand: of two taps that each set one mode going, the times are ln(1000) over the rates, and
    their mean's standard error is half of how far they lie apart."""
    ring = ring_time([300.0, 500.0], [2.0, 5.0], [[1.0, 0.0], [0.0, 1.0]])
    assert ring.ring_u_s == pytest.approx(math.log(1000) * (1 / 2 - 1 / 5) / 2, rel=1e-6)
    louder = ring_time([300.0, 500.0], [2.0, 5.0], [[1.0, 0.5], [9.0, 4.5]])
    assert louder.ring_u_s == pytest.approx(0, abs=1e-9)  # louder alone is no other proportion


def test_how_far_a_ring_is_followed() -> None:
    """One mode falls 20 log10(e) a t = 8.686 a t dB; its noise, or 60 dB, is the end of it."""
    one = {"decay_rate": np.array([2.0]), "power": np.array([3.0])}
    assert followed_db(**one, seconds=1.5, noise=1e-9) == pytest.approx(8.6859 * 3, rel=1e-4)
    assert followed_db(**one, seconds=1.5, noise=0.3) == pytest.approx(10)
    assert followed_db(**one, seconds=9, noise=1e-9) == pytest.approx(60)
    assert followed_db(**one, seconds=1, noise=5.0) == 0


modes = st.lists(
    st.tuples(st.floats(30, 15000), st.floats(0.05, 200), st.floats(1e-6, 1)),
    min_size=1,
    max_size=8,
)


@given(modes)
def test_it_is_where_the_energy_is_a_millionth(rows) -> None:
    """Against scipy's root of the energy itself; between the shortest and the longest decay."""
    f, a, p = map(np.array, zip(*rows, strict=True))
    ring = ring_time(f, a, p)

    def fallen(t: float) -> float:
        return math.log((p * np.exp(-2 * a * t)).sum() / p.sum()) + 6 * math.log(10)

    limit = math.log(1000) / a.min()
    expected = brentq(fallen, 0, 1.0001 * limit, xtol=1e-12)
    assert ring.ring_s == pytest.approx(expected, rel=1e-8)
    assert math.log(1000) / a.max() * (1 - 1e-9) <= ring.ring_s <= limit * (1 + 1e-9)


def test_the_uncertainty_is_that_of_drawn_decays() -> None:
    f, a, p = [150.0, 900.0, 2500.0], np.array([1.5, 4.0, 6.0]), [1.0, 0.5, 0.5]
    u = np.array([0.01, 0.1, 0.05])
    rng = np.random.default_rng(2)
    drawn = [ring_time(f, row, p) for row in rng.normal(a, u, (4000, 3))]
    told = ring_time(f, a, p, u)
    assert told.ring_u_s == pytest.approx(np.std([each.ring_s for each in drawn]), rel=0.06)
    weighted = np.std([each.weighted_s for each in drawn])
    assert told.weighted_u_s == pytest.approx(weighted, rel=0.06)


def test_a_low_boom_lasts_longer_than_it_is_heard() -> None:
    ring = ring_time([60.0, 1500.0], [1.0, 4.0], [1.0, 1.0])
    assert ring.weighted_s < 0.75 * ring.ring_s


def test_what_does_not_die_away_is_refused() -> None:
    with pytest.raises(InputError, match="above zero"):
        ring_time([100.0], [0.0], [1.0])
