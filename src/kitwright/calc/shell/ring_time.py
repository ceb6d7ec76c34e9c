"""How long a ring of several tones lasts as a whole: until its energy has fallen 60 dB.

The energy of tones that die away each at its own rate is E(t) = sum of P exp(-2 a t); near pairs
beat about it and are counted by their energies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats
from kitwright.calc.shell.loudness import a_weighting_db
from kitwright.errors import InputError

FALL: Final = math.log(1000.0)
"""What an amplitude's exponent comes to when it has fallen 60 dB."""


@dataclass(frozen=True, kw_only=True)
class Ring:
    """Seconds to fall 60 dB; the second as the ear hears it (A-weighted)."""

    ring_s: float
    ring_u_s: float
    weighted_s: float
    weighted_u_s: float


def ring_time(
    frequency_hz: ArrayLike,
    decay_rate: ArrayLike,
    power: ArrayLike,
    decay_u: ArrayLike | None = None,
) -> Ring:
    """The whole ring's time to fall 60 dB, plain and weighted as the ear does.

    Parameters
    ----------
    frequency_hz, decay_rate : shape (k,), k >= 1; decay rates of the amplitudes in 1/s
    power : shape (k,) or (taps, k), on any one scale; the mean over the taps rings. Another blow
        at another place sets the modes going in another proportion: how much the taps' own times
        differ is part of the uncertainty
    decay_u : standard uncertainties of the rates, taken as independent

    Raises
    ------
    InputError
        A rate or a mean power that is not above zero.

    >>> round(ring_time([440.0], [2.0], [1.0]).ring_s, 4)  # ln(1000) / 2
    3.4539
    """
    f, a = np.atleast_1d(np.asarray(frequency_hz, float)), np.atleast_1d(decay_rate).astype(float)
    taps = np.atleast_2d(np.asarray(power, float))
    p = taps.mean(axis=0)
    if not (len(f) == len(a) == len(p) > 0 and (a > 0).all() and (p > 0).all()):
        raise InputError("modes", "none that dies away", "give rates and powers above zero")
    u = np.zeros_like(a) if decay_u is None else np.asarray(decay_u, float)
    ear = 10 ** (a_weighting_db(f) / 10)
    plain, weighted = _fallen(a, p), _fallen(a, p * ear)
    return Ring(
        ring_s=plain,
        ring_u_s=math.hypot(_uncertainty(plain, a, p, u), _by_tap(a, taps)),
        weighted_s=weighted,
        weighted_u_s=math.hypot(_uncertainty(weighted, a, p * ear, u), _by_tap(a, taps * ear)),
    )


def _fallen(rate: Floats, power: Floats) -> float:
    """Where the energy's logarithm, convex and falling, has fallen by ln 10^6 (Newton's steps from
    the left, which never pass it)."""
    start, log_power = 0.0, np.log(power)
    wanted = _log_sum(log_power) - 2 * FALL
    for _ in range(200):
        each = log_power - 2 * rate * start
        level = _log_sum(each)
        slope = -2 * float(np.exp(each - level) @ rate)
        step = (wanted - level) / slope
        start += step
        if step <= 1e-13 * start:
            break
    return start


def _log_sum(values: Floats) -> float:
    top = float(values.max())
    return top + math.log(float(np.exp(values - top).sum()))


def _uncertainty(at: float, rate: Floats, power: Floats, u: Floats) -> float:
    share = np.log(power) - 2 * rate * at
    share = np.exp(share - share.max())
    return float(at * np.sqrt(np.square(share * u).sum()) / (share @ rate))


def _by_tap(rate: Floats, taps: Floats) -> float:
    """Standard error of the mean of the taps' own times; zero of a single tap."""
    if len(taps) < 2:
        return 0.0
    times = [_fallen(rate, np.maximum(each, 1e-30 * each.max())) for each in taps]
    return float(np.std(times, ddof=1) / math.sqrt(len(times)))


def followed_db(decay_rate: Floats, power: Floats, *, seconds: float, noise: float) -> float:
    """By how much a ring's energy falls, in dB and 60 at most, until its record ends after so many
    seconds or it has sunk to the noise's power, whichever comes first."""
    start = _log_sum(np.log(power))
    end = _log_sum(np.log(power) - 2 * decay_rate * seconds)
    fallen = start - max(end, math.log(noise))
    return float(np.clip(fallen, 0.0, 2 * FALL) * 10 / math.log(10))


def decay_s(rate: Sequence[float] | Floats) -> Floats:
    """Seconds in which amplitudes with these decay rates fall 60 dB."""
    return np.asarray(FALL / np.asarray(rate, float))
