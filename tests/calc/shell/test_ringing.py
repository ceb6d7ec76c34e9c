"""Damped tones in noise: their error against the bound of Cramer and Rao, and against scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from kitwright.calc.shell.ringing import fit, residual
from kitwright.calc.shell.spectrum import fast_length
from kitwright.calc.shell.tone_search import Band, search, spectrum_of

BAND = Band(lowest_hz=40, highest_hz=16_000)
RATE = 48_000.0

# The two modes of a thin ring (VPCS SDLL11, from memory) with the losses of a derived case.
RING = [(318.36, 2 * np.pi * 318.36 * 0.002, 1.0, 0.3), (900.46, 2 * np.pi * 900.46 * 0.0015, 1, 1)]
PAIR = [(412.0, 3.0, 1.0, 0.3), (413.2, 3.5, 0.8, 1.0)]
LONG = [(142.0, 1.0, 1.0, 0.3)]


def record(modes, seconds=2.0, sigma=0.0, seed=0, rate=RATE):
    t = np.arange(fast_length(int(seconds * rate))) / rate
    x = sum(A * np.exp(-a * t) * np.cos(2 * np.pi * f * t + p) for f, a, A, p in modes)
    return x + np.random.default_rng(seed).normal(0, sigma, len(t)) if sigma else x


def bound(modes, sigma, seconds=2.0, rate=RATE):
    """Least standard errors of the frequencies and decay rates (Cramer, Rao), from the Fisher
    information of all samples: S. M. Kay, Fundamentals of Statistical Signal Processing I, 1993,
    ch. 3 (from memory); for damped tones Y.-X. Yao, S. M. Pandit, IEEE Trans. Signal Process. 43
    (1995) 878-885."""
    t = np.arange(fast_length(int(seconds * rate))) / rate
    slopes = []
    for f, a, A, p in modes:
        e, c, s = np.exp(-a * t), np.cos(2 * np.pi * f * t + p), np.sin(2 * np.pi * f * t + p)
        slopes += [-2 * np.pi * t * A * e * s, -t * A * e * c, e * c, -A * e * s]
    jacobian = np.array(slopes).T
    scale = np.sqrt((jacobian**2).sum(axis=0))
    inverse = np.linalg.inv((jacobian / scale).T @ (jacobian / scale)) / np.outer(scale, scale)
    least = sigma * np.sqrt(np.diag(inverse))
    return np.concatenate([least[0::4], least[1::4]])


def test_the_bound_of_one_tone_that_dies_away_in_closed_form() -> None:
    """Derived: var(omega) = var(a) = 16 sigma^2 a^3 / (A^2 rate) when all of the decay is seen,
    the limit of Yao and Pandit's expression for a high rate."""
    f, a, A, p = 900.0, 12.0, 0.7, 0.4
    u_f, u_a = bound([(f, a, A, p)], 0.01)
    expected = np.sqrt(16 * 0.01**2 * a**3 / (A**2 * RATE))
    assert u_a == pytest.approx(expected, rel=2e-3)
    assert u_f == pytest.approx(expected / (2 * np.pi), rel=2e-3)


@pytest.mark.parametrize("decibels", [10, 20, 40, 60])
@pytest.mark.parametrize("modes", [RING, PAIR, LONG], ids=["ring", "pair", "long"])
def test_errors_stay_near_the_bound_and_are_known(modes, decibels) -> None:
    """Over 40 seeds: rms error within 1.5 of the bound, stated error within 20 % of it."""
    sigma = 10 ** (-decibels / 20) / np.sqrt(2)
    truth = np.array([[f, a] for f, a, _, _ in modes]).T.ravel()
    errors, stated = [], []
    for seed in range(40):
        found = search([spectrum_of(record(modes, sigma=sigma, seed=seed), RATE)], BAND)
        assert found is not None
        tones = found.tones
        assert len(tones) == len(modes)
        order = np.argsort(tones.frequency_hz)
        errors.append(np.concatenate([tones.frequency_hz[order], tones.decay_rate[order]]) - truth)
        stated.append((tones.u * np.sqrt(tones.noise))[:, order].ravel())
    least = bound(modes, sigma)
    rms = np.sqrt(np.mean(np.square(errors), axis=0))
    assert (rms < 1.5 * least).all()
    assert (rms > 0.6 * least).all()
    np.testing.assert_allclose(np.median(stated, axis=0), least, rtol=0.2)
    inside = (np.abs(errors) < 2 * np.array(stated)).mean(axis=0)
    assert (inside > 0.8).all()


def test_the_fit_is_that_of_scipy_on_the_samples() -> None:
    """Plain least squares over every sample, by scipy, ends at the same tones."""
    sigma = 0.05
    x = record(PAIR, seconds=1.5, sigma=sigma, seed=3, rate=8000)
    t = np.arange(len(x)) / 8000

    def left(p):
        f, a, c, s = p.reshape(4, -1)[:, :, None]
        e, w = np.exp(-a * t), 2 * np.pi * f * t
        return (e * (c * np.cos(w) + s * np.sin(w))).sum(axis=0) - x

    start = np.array([[f, a, A * np.cos(p), -A * np.sin(p)] for f, a, A, p in PAIR]).T.ravel()
    theirs = least_squares(left, start, x_scale="jac", xtol=1e-12, ftol=1e-12).x.reshape(4, -1)
    ours = search([spectrum_of(x, 8000)], Band(lowest_hz=40, highest_hz=3600)).tones
    order = np.argsort(ours.frequency_hz)
    least = bound(PAIR, sigma, seconds=1.5, rate=8000).reshape(2, -1)
    assert (np.abs(ours.frequency_hz[order] - theirs[0]) < 0.35 * least[0]).all()
    assert (np.abs(ours.decay_rate[order] - theirs[1]) < 0.35 * least[1]).all()


def test_without_noise_nothing_is_left() -> None:
    """The bins of a sampled tone are what the closed form says, mirror image and all: a low tone
    whose mirror lies near it leaves nothing either."""
    modes = [(31.0, 4.0, 1.0, 0.3), (900.0, 2.0, 0.5, 2.0)]
    heard = spectrum_of(record(modes, rate=8000), 8000)
    spectrum = replace(heard, floor=1e-6 * heard.floor)  # a fit goes no nearer than noise allows
    tones = fit([spectrum], np.array([31.02, 900.01]), np.array([4.1, 1.9]))
    np.testing.assert_allclose(tones.frequency_hz, [31, 900], rtol=1e-9)
    np.testing.assert_allclose(tones.decay_rate, [4, 2], rtol=1e-7)
    np.testing.assert_allclose(np.abs(tones.amplitude[0]), [1, 0.5], rtol=1e-7)
    np.testing.assert_allclose(np.angle(tones.amplitude[0]), [0.3, 2.0], atol=1e-7)
    left = residual(spectrum, tones, 0)
    assert np.abs(left).max() < 2e-4 * np.abs(spectrum.bins).max()


def test_records_share_the_tones_and_not_the_amplitudes() -> None:
    """Two records at once: the errors fall as the root of the sum of what each knows."""
    sigma = 0.05
    loud = spectrum_of(record(LONG, sigma=sigma, seed=1), RATE)
    faint = record([(142.0, 1.0, 0.5, 2.0)], seconds=1.2, sigma=sigma, seed=2)
    both = search([loud, spectrum_of(faint, RATE)], BAND).tones
    np.testing.assert_allclose(np.abs(both.amplitude[:, 0]), [1.0, 0.5], atol=0.01)
    alone = bound(LONG, sigma)
    other = bound([(142.0, 1.0, 0.5, 2.0)], sigma, seconds=1.2)
    np.testing.assert_allclose(both.u[:, 0], (alone**-2 + other**-2) ** -0.5, rtol=0.2)


@pytest.mark.parametrize("apart", [0.6, 1.5, 4.0])
def test_two_tones_nearer_than_their_width_come_apart(apart) -> None:
    """Half-power width of each: a / pi = 1.9 Hz; to the eye of a spectrum the nearest are one."""
    modes = [(700.0, 6.0, 1.0, 0.2), (700.0 + apart, 6.3, 0.8, 1.1)]
    found = search([spectrum_of(record(modes, sigma=0.001, seed=5), RATE)], BAND).tones
    assert len(found) == 2
    order = np.argsort(found.frequency_hz)
    least = bound(modes, 0.001)
    truth = np.array([[f, a] for f, a, _, _ in modes]).T.ravel()
    ours = np.concatenate([found.frequency_hz[order], found.decay_rate[order]])
    assert (np.abs(ours - truth) < 4 * least).all()
    np.testing.assert_allclose(found.decay_rate[order], [6.0, 6.3], rtol=0.01)
