"""How long a recording lasts over how long it takes to find its modes, and beside a plain search.

The recording: six seconds at 48 kHz, three taps of a bell with eight modes, two near pairs among
them, hum and noise. The plain search is what anyone would write with scipy: a nonlinear least
squares fit of all modes to the samples, told beforehand how many there are and about where.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import least_squares

from benchmarks.ratios import ratio, report, seconds
from kitwright.calc.shell.strike import strike
from kitwright.calc.shell.tap import identify

RATE_HZ = 48_000
SECONDS = 6.0
STRUCK_S = (0.3, 2.2, 4.1)
TARGET = 50.0
TARGET_PLAIN = 0.1
PITCH = np.array([318.4, 321.1, 561.7, 884.2, 886.9, 1287.3, 1704.6, 2731.0])
LOSS = np.array([3.4, 3.1, 2.6, 2.2, 2.3, 2.9, 1.9, 1.7]) * 1e-3
SIZE = np.array([1.0, 0.7, 0.25, 0.8, 0.5, 0.12, 0.45, 0.3])


def recording() -> np.ndarray:
    rng = np.random.default_rng(5)
    count = round(SECONDS * RATE_HZ)
    sound = rng.normal(0, 0.004, count) + 0.01 * np.sin(2 * np.pi * 50 * np.arange(count) / RATE_HZ)
    for moment in STRUCK_S:
        first = round(moment * RATE_HZ)
        rest = (count - first) / RATE_HZ
        size = SIZE * rng.uniform(0.7, 1.3, len(SIZE))
        sound[first:] += strike(PITCH, math.pi * PITCH * LOSS, size, rate_hz=RATE_HZ, seconds=rest)
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


def test_modes_are_found_far_faster_than_the_bell_rings() -> None:
    sound = recording()

    def ours() -> object:
        return identify(sound, RATE_HZ, lowest_hz=60, highest_hz=16_000)

    found = identify(sound, RATE_HZ, lowest_hz=60, highest_hz=16_000)
    np.testing.assert_allclose([mode.frequency_hz for mode in found.modes], PITCH, atol=0.02)
    taken = min(seconds(ours) for _ in range(15))  # the best: others use this machine too
    times = SECONDS / taken
    report("seconds of recording for each second of work", times, f"at least {TARGET:g}")
    beside = ratio(ours, lambda: plain(sound), rounds=1)
    report("work over that of a plain fit to the samples", beside, f"at most {TARGET_PLAIN:g}")
    assert times >= TARGET
    assert beside <= TARGET_PLAIN
