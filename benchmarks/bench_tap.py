"""How long a recording lasts over how long it takes to find its modes, beside a plain search, and
how near the modes come to what the noise allows.

The recordings: six seconds at 48 kHz, three taps of a bell, hum and noise. One bell has eight
modes, two near pairs among them, the other twenty. The work is timed by the processor, so that who
else uses the machine does not matter; it keeps to one thread, so that alone on the machine it takes
no longer. The plain search is what anyone would write with scipy: a nonlinear least squares fit of
all modes to the samples, told beforehand how many there are and about where. What noise allows is
the bound of Cramer and Rao, from the Fisher information of all samples after the tap.
"""

from __future__ import annotations

import math
import statistics
import time

import numpy as np
import pytest
from scipy.optimize import least_squares

from benchmarks.ratios import ratio, report
from kitwright.calc.shell.strike import strike
from kitwright.calc.shell.tap import SETTLE_S, identify

RATE_HZ = 48_000
SECONDS = 6.0
STRUCK_S = (0.3, 2.2, 4.1)
TARGET = 50.0
TARGET_PLAIN = 0.1
PITCH = np.array([318.4, 321.1, 561.7, 884.2, 886.9, 1287.3, 1704.6, 2731.0])
LOSS = np.array([3.4, 3.1, 2.6, 2.2, 2.3, 2.9, 1.9, 1.7]) * 1e-3
SIZE = np.array([1.0, 0.7, 0.25, 0.8, 0.5, 0.12, 0.45, 0.3])
MANY = np.geomspace(150, 6000, 20)
MANY[[5, 11]] = MANY[[4, 10]] + [2.5, 12.0]  # near pairs
MANY_LOSS = np.linspace(3.5, 1.5, 20) * 1e-3
NEAR_BOUND = 1.5


def recording(
    pitch: np.ndarray = PITCH, loss: np.ndarray = LOSS, size: np.ndarray = SIZE
) -> np.ndarray:
    rng = np.random.default_rng(5)
    count = round(SECONDS * RATE_HZ)
    sound = rng.normal(0, 0.004, count) + 0.01 * np.sin(2 * np.pi * 50 * np.arange(count) / RATE_HZ)
    for moment in STRUCK_S:
        first = round(moment * RATE_HZ)
        rest = (count - first) / RATE_HZ
        blow = size * rng.uniform(0.7, 1.3, len(size))
        sound[first:] += strike(pitch, math.pi * pitch * loss, blow, rate_hz=RATE_HZ, seconds=rest)
    return sound


def plain(sound: np.ndarray) -> np.ndarray:
    """Frequencies from the samples after the first tap alone, from a guess a little off."""
    ring = sound[round(0.31 * RATE_HZ) : round(2.19 * RATE_HZ)]
    t = np.arange(len(ring)) / RATE_HZ

    def left(p: np.ndarray) -> np.ndarray:
        f, a, c, s = p.reshape(4, -1)
        made = np.zeros(len(t))
        for each in range(len(f)):
            w = 2 * np.pi * f[each] * t
            made += np.exp(-a[each] * t) * (c[each] * np.cos(w) + s[each] * np.sin(w))
        return made - ring

    guess = np.concatenate([PITCH + 0.05, 1.1 * math.pi * PITCH * LOSS, SIZE, SIZE])
    return least_squares(left, guess, x_scale="jac", max_nfev=12).x[: len(PITCH)]


def lasting_over_work(sound: np.ndarray, pitch: np.ndarray) -> float:
    """Seconds of the recording for each second of work."""
    taken = []
    for _ in range(9):
        start = time.process_time()
        found = identify(sound, RATE_HZ, lowest_hz=60, highest_hz=16_000)
        taken.append(time.process_time() - start)
        np.testing.assert_allclose([mode.frequency_hz for mode in found.modes], pitch, atol=0.05)
    return SECONDS / statistics.median(taken)


def test_modes_are_found_far_faster_than_the_bell_rings() -> None:
    sound = recording()
    many = recording(MANY, MANY_LOSS, np.linspace(1.0, 0.2, len(MANY)))
    for what, each, pitch in (("eight", sound, PITCH), ("twenty", many, MANY)):
        times = lasting_over_work(each, np.sort(pitch))
        report(
            f"{what} modes: seconds of recording for each of work", times, f"at least {TARGET:g}"
        )
        assert times >= TARGET
    beside = ratio(
        lambda: identify(sound, RATE_HZ, lowest_hz=60, highest_hz=16_000),
        lambda: plain(sound),
        rounds=1,
    )
    report("work over that of a plain fit to the samples", beside, f"at most {TARGET_PLAIN:g}")
    assert beside <= TARGET_PLAIN


def bound(since: np.ndarray, sigma: float) -> np.ndarray:
    """Least standard errors of the twenty frequencies, in Hz, for amplitudes of one."""
    slopes = []
    for f, a in zip(MANY, math.pi * MANY * MANY_LOSS, strict=True):
        e, w = np.exp(-a * since), 2 * np.pi * f * since
        s, c = e * np.sin(w), e * np.cos(w)
        slopes += [2 * np.pi * since * c, -since * s, s, c]
    jacobian = np.array(slopes)
    scale = np.sqrt((jacobian**2).sum(axis=1))
    jacobian /= scale[:, None]
    variance = np.diag(np.linalg.inv(jacobian @ jacobian.T)) * (sigma / scale) ** 2
    return np.sqrt(variance[::4])


@pytest.mark.parametrize("decibels", [10, 20, 40, 60])
def test_twenty_modes_stay_near_the_bound(decibels: int) -> None:
    sigma, struck, takes = 10 ** (-decibels / 20) / math.sqrt(2), 0.3, 24
    rng, count = np.random.default_rng(decibels), round(2.3 * RATE_HZ)
    clean = np.zeros(count)
    clean[round(struck * RATE_HZ) :] = strike(
        MANY, math.pi * MANY * MANY_LOSS, np.ones(len(MANY)), rate_hz=RATE_HZ, seconds=2.0
    )
    heard = []
    for _ in range(takes):
        sound = clean + rng.normal(0, sigma, count)
        tap = identify(sound, RATE_HZ, lowest_hz=60, highest_hz=16_000)
        heard.append([mode.frequency_hz for mode in tap.modes])
    since = np.arange(round(SETTLE_S * RATE_HZ), 2 * RATE_HZ) / RATE_HZ
    error = np.sqrt(np.mean(np.square(np.array(heard) - np.sort(MANY)), axis=0))
    over = float(np.sqrt(np.mean((error / bound(since, sigma)[np.argsort(MANY)]) ** 2)))
    report(
        f"rms error of the pitches over the bound, {decibels} dB", over, f"at most {NEAR_BOUND:g}"
    )
    assert over <= NEAR_BOUND
