"""Where a recording was struck: the moments from which something new rings.

A bell that rings is predictable from sample to sample, a strike is not: the error of a linear
prediction, the same for the whole recording, jumps at each strike however loud the last one still
is. A low tone that begins in noise shows in the plain energy instead; either will do, if the sound
is stronger afterwards than it was before.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.spectrum import fast_length_above

FRAME_S: Final = 0.001
APART_S: Final = 0.06
"""Strikes nearer than this are one: a hammer that bounced."""
_ORDER: Final = 32
_ENERGY_RISE: Final = 8.0
_ERROR_RISE: Final = 20.0
_STRONGER: Final = 1.6
_FAINT: Final = 1e-4
"""Of the loudest strike's energy: below it nothing counts as a strike."""
_LOWER: Final = (1, 4, 16)
_MIDWAY: Final = 0.1
"""The same for a recording that begins within a ring."""
_BEFORE: Final = 20
_AFTER: Final = 3
_SPAN: Final = 40
_PIECE: Final = 8192


def onsets(samples: Floats, rate_hz: float) -> list[int]:
    """Samples at which the strikes begin, in order of time; none where nothing was struck."""
    size = max(1, round(FRAME_S * rate_hz))
    frames = len(samples) // size
    if frames < 2 * _AFTER:
        return []
    energy = _by_frame(samples, size)
    rise, jump = _rise(energy), np.zeros(frames)
    for lower, error in _unpredicted(samples):
        if size >= lower:
            jump = np.maximum(jump, _rise(_frames_of(error, frames)))
    marks = np.flatnonzero((rise > _ENERGY_RISE) | (jump > _ERROR_RISE))
    apart = round(APART_S / FRAME_S)
    groups = np.split(marks, np.flatnonzero(np.diff(marks) > apart) + 1) if len(marks) else []
    starts = [_start(group, rise, jump) for group in groups]
    if not starts or starts[0] > apart:
        starts.insert(0, 0)  # it may begin after the strike; its loudness has to bear it out
    loud = [_mean(energy, at, at + _SPAN) for at in starts]
    before = [_mean(energy, at - _SPAN, at - 1) for at in starts]
    if starts[0] < _SPAN:
        blocks = energy[: frames // _SPAN * _SPAN].reshape(-1, _SPAN).mean(axis=1)
        before[0] = max(before[0], float(blocks.min(initial=np.inf)) if len(blocks) > 1 else 0.0)
    return [
        at * size
        for at, after, earlier in zip(starts, loud, before, strict=True)
        if after > _STRONGER * earlier and after > (_FAINT if at else _MIDWAY) * max(loud)
    ]


def _start(group: NDArray[np.intp], rise: Floats, jump: Floats) -> int:
    """The frame of a group of marks in which the strike begins: at its steepest rise."""
    first = int(group[0])
    window = slice(first, first + 2 * _AFTER)
    steep = np.maximum(rise[window] / _ENERGY_RISE, jump[window] / _ERROR_RISE)
    return first + int(np.argmax(steep))


def _by_frame(samples: Floats, size: int) -> Floats:
    frames = len(samples) // size
    return np.asarray(np.square(samples[: frames * size]).reshape(frames, size).mean(axis=1))


def _mean(energy: Floats, start: int, end: int) -> float:
    part = energy[max(0, start) : max(0, end)]
    return float(part.mean()) if len(part) else 0.0


def _rise(energy: Floats) -> Floats:
    """Of each frame and the next two, over the mean of those before it."""
    total = np.concatenate([[0.0], np.cumsum(energy)])
    at = np.arange(len(energy))
    low, high = np.maximum(at - _BEFORE, 0), np.minimum(at + _AFTER, len(energy))
    before = (total[at] - total[low]) / np.maximum(at - low, 1)
    after = (total[high] - total[at]) / (high - at)
    rise = after / np.maximum(before, 1e-12 * total[-1] / len(energy) + 1e-300)
    rise[:2] = 0.0
    rise[-_BEFORE:] = 0.0  # where the rate was brought down, the end of the recording rings
    return np.asarray(rise)


def _frames_of(error: Floats, frames: int) -> Floats:
    """Mean square by frame of something that has several samples a frame, not always as many."""
    edges = np.linspace(0, len(error), frames + 1).astype(int)
    return np.asarray(np.add.reduceat(np.square(error), edges[:-1]) / np.diff(edges))


def _unpredicted(samples: Floats) -> Iterator[tuple[int, Floats]]:
    """Each sample less its best linear prediction from those before (autocorrelation method), at
    several rates: low tones are not told apart at a high one. With each the factor between them."""
    unit = 2 * max(_LOWER)
    padded = fast_length_above((len(samples) + _ORDER * max(_LOWER)) // unit + 1) * unit
    whole = np.fft.rfft(samples, padded)
    for lower in _LOWER:
        slow, size = samples, padded // lower
        if lower > 1:
            slow = np.fft.irfft(whole[: size // 2 + 1], size)[: len(samples) // lower]
        order = min(_ORDER, len(slow) // 4)
        lags = np.array([_product(slow, k) for k in range(order + 1)])
        lags[0] = lags[0] * (1 + 1e-9) + 1e-300
        table = lags[np.abs(np.subtract.outer(np.arange(order), np.arange(order)))]
        weights = np.linalg.lstsq(table, lags[1:], rcond=1e-12)[0]
        yield lower, np.convolve(slow, np.concatenate([[1.0], -weights]))[: len(slow)]


def _product(samples: Floats, lag: int) -> float:
    """Of samples with those a lag later; in pieces too small to be shared out over threads, which
    costs more than it brings, and very much more on a busy machine."""
    later = samples[lag:]
    pieces = [slice(at, at + _PIECE) for at in range(0, len(later), _PIECE)]
    return float(sum(later[each] @ samples[: len(later)][each] for each in pieces))
