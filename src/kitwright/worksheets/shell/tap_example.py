"""The recording that the tap worksheet brings along: three taps of an invented bell."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np

from kitwright.calc.shell.strike import strike
from kitwright.files.wav import Sound

RATE_HZ: Final = 22_050
SECONDS: Final = 3.4
STRUCK_S: Final = (0.25, 1.3, 2.35)
MODES: Final = (
    # Hz, loss factor, loudness
    (318.4, 3.4e-3, 1.0),
    (321.1, 3.1e-3, 0.7),
    (561.7, 2.6e-3, 0.25),
    (884.2, 2.2e-3, 0.8),
    (886.9, 2.3e-3, 0.5),
    (1287.3, 2.9e-3, 0.12),
    (1704.6, 1.9e-3, 0.45),
    (2731.0, 1.7e-3, 0.3),
)
"""An invented cast aluminium bell, hung free."""
_NOISE: Final = 0.004
_HUM: Final = 0.01


@cache
def example_sound() -> Sound:
    """The same recording every time: taps of differing strength, a hammer's click, hum, noise."""
    rng = np.random.default_rng(1815)
    pitch, loss, loudness = np.array(MODES).T
    count = round(SECONDS * RATE_HZ)
    sound = rng.normal(0, _NOISE, count)
    sound += _HUM * np.sin(2 * np.pi * 50 * np.arange(count) / RATE_HZ)
    for struck, strength in zip(STRUCK_S, (1.0, 0.8, 1.1), strict=True):
        first = round(struck * RATE_HZ)
        seconds = (count - first) / RATE_HZ
        size = strength * loudness * rng.uniform(0.7, 1.3, len(pitch))
        sound[first:] += strike(pitch, np.pi * pitch * loss, size, rate_hz=RATE_HZ, seconds=seconds)
        click = round(0.001 * RATE_HZ)
        sound[first : first + click] += rng.normal(0, 0.4, click)
    sound *= 0.6 / np.abs(sound).max()
    sound.flags.writeable = False
    return Sound(samples=sound[:, None], rate_hz=RATE_HZ)
