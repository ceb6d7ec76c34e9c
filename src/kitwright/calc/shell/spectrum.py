"""The spectrum of a record at its own Fourier bins, lengths that are quick to transform, and how
far from a tone the bins hold something of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats

Complexes = NDArray[np.complex128]
Places = NDArray[np.intp]

LEAST_REACH: Final = 16
"""Bins on either side of a tone that take part in its fit, at the least."""
MOST_REACH: Final = 500
_WIDTHS: Final = 10.0


@dataclass(frozen=True, kw_only=True)
class Spectrum:
    """The bins of one record, and the noise expected in each."""

    bins: Complexes
    """The plain sum over the samples, from 0 Hz to half the rate or to a bin below it."""
    floor: Floats
    """Shape of `bins`: mean square of the noise in each."""
    count: int
    rate_hz: float

    @property
    def step_hz(self) -> float:
        return self.rate_hz / self.count

    def turned(self, places: Places) -> Complexes:
        """e^(-iw) of these bins."""
        return np.asarray(np.exp((-2j * np.pi / self.count) * places))


def fast_length(count: int) -> int:
    """The largest length up to `count`, at least one, that has no prime factor above five.

    >>> fast_length(44101), fast_length(7)
    (43740, 6)
    """
    return max(each for each in _smooth(count) if each <= count)


def fast_length_above(count: int) -> int:
    """The least such length of `count` or more.

    >>> fast_length_above(43741), fast_length_above(7)
    (43200, 8)
    """
    return min(each for each in _smooth(2 * count) if each >= count)


def _smooth(most: int) -> Iterator[int]:
    """Every number up to `most` without a prime factor above five."""
    two = 1
    while two <= most:
        three = two
        while three <= most:
            five = three
            while five <= most:
                yield five
                five *= 5
            three *= 3
        two *= 2


def reach(decay_rate: Floats, spectrum: Spectrum) -> Places:
    """Bins on either side that hold nearly all that is known of a tone's pitch and decay."""
    width = _WIDTHS * np.abs(decay_rate) / (2 * np.pi) / spectrum.step_hz
    return np.clip(width, LEAST_REACH, MOST_REACH).astype(int)
