"""A recording as a table of loudness over time and pitch, coarse enough to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats

COLUMNS: Final = 110
ROWS: Final = 56
_WINDOW_S: Final = 0.06


@dataclass(frozen=True, kw_only=True)
class Spectrogram:
    """Levels in dB below the loudest cell."""

    level_db: Floats
    """Shape (rows, columns): pitch rising from row to row in equal ratios, time from left."""
    lowest_hz: float
    highest_hz: float
    seconds: float


def spectrogram(
    samples: Floats, rate_hz: float, *, lowest_hz: float, highest_hz: float
) -> Spectrogram:
    """Levels by short stretches (Hann's window, 60 ms or more) and by bands of equal ratio; each
    band shows the strongest bin in it, or what lies between two bins where it holds none."""
    size = max(32, min(round(_WINDOW_S * rate_hz), len(samples)))
    padded = np.concatenate([np.zeros(size // 2), samples, np.zeros(size)])
    starts = np.linspace(0, max(len(samples) - 1, 0), COLUMNS).astype(int)
    frames = padded[starts[:, None] + np.arange(size)] * np.hanning(size)
    power = np.square(np.abs(np.fft.rfft(frames, 2 * size))).T
    edges = np.geomspace(lowest_hz, highest_hz, ROWS + 1) / rate_hz * 2 * size
    table = np.zeros((ROWS, COLUMNS))
    for row, (low, high) in enumerate(pairwise(edges.tolist())):
        first, last = int(np.ceil(low)), int(np.ceil(high))
        if last > first:
            table[row] = power[first:last].max(axis=0, initial=0.0)
        else:
            middle = (low + high) / 2
            below = min(int(middle), len(power) - 2)
            share = middle - below
            table[row] = (1 - share) * power[below] + share * power[below + 1]
    most = max(float(table.max()), 1e-300)
    level = 10 * np.log10(np.maximum(table / most, 1e-12))
    return Spectrogram(
        level_db=level,
        lowest_hz=lowest_hz,
        highest_hz=highest_hz,
        seconds=len(samples) / rate_hz,
    )
