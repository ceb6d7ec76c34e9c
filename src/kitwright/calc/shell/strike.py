"""The sound of a bell that is struck: its modes, each dying away, from one blow."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

_PIECE: Final = 4096
_FADE_S: Final = 0.02


def strike(
    frequency_hz: ArrayLike,
    decay_rate: ArrayLike,
    amplitude: ArrayLike,
    *,
    rate_hz: float,
    seconds: float,
    phase_rad: ArrayLike = 0.0,
) -> Floats:
    """Samples of sum of A exp(-a t) sin(2 pi f t + phase); shape (n,).

    Each begins at zero, as a mode that a blow sets in motion does. Modes at or above half the rate
    are left out: they could not be heard at it. The last 20 ms are faded out.

    Raises
    ------
    InputError
        A value that is not finite, a frequency or decay rate that is not above zero.

    >>> strike([250.0], [1.0], [1.0], rate_hz=1000, seconds=0.1).round(3).tolist()[:4]
    [0.0, 0.999, 0.0, -0.997]
    """
    f, a, size, phase = np.broadcast_arrays(
        *(
            np.atleast_1d(np.asarray(each, float))
            for each in (frequency_hz, decay_rate, amplitude, phase_rad)
        )
    )
    if not (np.isfinite([f, a, size, phase]).all() and (f > 0).all() and (a > 0).all()):
        raise InputError("modes", "a mode that cannot ring", "give frequencies and decays above 0")
    heard = f < rate_hz / 2
    pole = (-a + 2j * np.pi * f)[heard] / rate_hz
    start = (size * np.exp(1j * phase))[heard]
    count = round(rate_hz * seconds)
    # within a piece all powers of a pole come from one table; from piece to piece it is turned on
    table = np.exp(np.outer(np.arange(min(_PIECE, count)), pole))
    sound = np.zeros(count)
    for first in range(0, count, _PIECE):
        length = min(_PIECE, count - first)
        turned = start * np.exp(first * pole)
        part = table[:length].real * turned.imag + table[:length].imag * turned.real
        sound[first : first + length] = part.sum(axis=1)
    fade = min(count, round(_FADE_S * rate_hz))
    if fade:
        sound[-fade:] *= np.linspace(1, 0, fade)
    return sound
