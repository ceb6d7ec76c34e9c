"""How strongly the ear takes a tone: the A-weighting of IEC 61672-1.

The formula and its constants are those of IEC 61672-1:2013, annex E (from memory; they give the
standard's table to its last printed digit).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats

_F1: Final = 20.598997
_F2: Final = 107.65265
_F3: Final = 737.86223
_F4: Final = 12194.217


def a_weighting_db(frequency_hz: ArrayLike) -> Floats:
    """The A-weighting in dB, 0 at 1 kHz.

    >>> [round(float(weight), 1) for weight in a_weighting_db([100, 1000, 10_000])]
    [-19.1, 0.0, -2.5]
    """
    at = np.asarray(frequency_hz, float)
    return np.asarray(20 * np.log10(_gain(at) / _gain(np.float64(1000.0))))


def _gain(frequency: Floats | np.float64) -> Floats:
    square = np.square(frequency) + 1e-300
    over = (square + _F1**2) * (square + _F4**2)
    over = over * np.sqrt((square + _F2**2) * (square + _F3**2))
    return np.asarray(_F4**2 * square**2 / over)
