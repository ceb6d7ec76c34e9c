"""The bins round groups of tones, of all records, in pieces of one size.

Near a tone there are a few dozen bins, and a fit looks at them a few dozen times: by group and by
record, most of the time would go into the calls. In pieces of equal length, the bins of all groups
that have equally many tones are one table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.spectrum import Complexes, Places, Spectrum, reach

_PIECE: Final = 36
"""Bins of a piece: a narrow tone has 33."""
_LEAST: Final = 1e-13
"""Decay per sample: a tone that does not decay has no bound at a bin of its own pitch."""


@dataclass(kw_only=True)
class Rows:
    """Bins weighted to unit noise, in p pieces of l; those that fill up the last piece of a group
    weigh nothing. The pieces stand by record, then by group."""

    bins: Complexes
    """Shape (p, l)."""
    turned: Complexes
    weight: Floats
    group: Places
    record: Places
    """Shape (p,)."""
    count: Floats
    """Shape (p,): samples of the piece's record."""
    rate_hz: float
    shape: tuple[int, int]
    """Records and groups."""
    wanted: Floats = field(init=False)
    """Shape (p, 2 l): what the fit is to meet, real and imaginary parts in turn."""

    def __post_init__(self) -> None:
        self._first = np.flatnonzero(np.diff(self.record * self.shape[1] + self.group, prepend=-1))
        self.wanted = _flat(self.bins * self.weight)

    @classmethod
    def near(cls, spectra: Sequence[Spectrum], frequency: Floats, decay: Floats) -> Rows:
        """The bins of groups of tones, of shape (groups, k), as far as they hold something of
        them."""
        places, groups = [], []
        for spectrum in spectra:
            first, last = spans(spectrum, frequency, decay)
            first, last = first.min(axis=1), last.max(axis=1)
            pieces = (last - first) // _PIECE + 1
            group = np.repeat(np.arange(len(pieces)), pieces)
            number = np.arange(len(group)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
            here = np.add.outer(first[group] + _PIECE * number, np.arange(_PIECE))
            here[here > last[group, None]] = -1
            places.append(here)
            groups.append(group)
        return cls.at(spectra, places, groups)

    @classmethod
    def at(
        cls, spectra: Sequence[Spectrum], places: Sequence[Places], groups: Sequence[Places]
    ) -> Rows:
        """Of each record the bins at places of shape (p, l), where -1 is none, of p groups."""
        parts = [*zip(spectra, places, strict=True)]
        pieces = [len(each) for each in places]
        return cls(
            bins=np.concatenate([each.bins[at] for each, at in parts]),
            turned=np.concatenate([each.turned(at) for each, at in parts]),
            weight=np.concatenate(
                [np.where(at < 0, 0.0, np.sqrt(2 / each.floor[at])) for each, at in parts]
            ),
            group=np.concatenate(groups),
            record=np.repeat(np.arange(len(spectra)), pieces),
            count=np.repeat([float(each.count) for each in spectra], pieces),
            rate_hz=spectra[0].rate_hz,
            shape=(len(spectra), int(groups[0][-1]) + 1),
        )

    def summed(self, values: Floats) -> Floats:
        """Over the pieces of each group in each record: shape (records, groups, ...)."""
        total = np.add.reduceat(values, self._first, axis=0)
        return total.reshape(*self.shape, *values.shape[1:])

    def figures(self) -> Floats:
        """How many figures each group is fitted to."""
        return np.asarray(self.summed(2.0 * (self.weight > 0).sum(axis=1)).sum(axis=0))

    def take_off(
        self, frequency: Floats, decay: Floats, amplitude: Complexes, members: Places
    ) -> None:
        """Want of each group what the tones that are not its members leave; amplitudes of shape
        (records, tones)."""
        left, count = self.bins.copy(), self.count[:, None]
        for index, pole in enumerate(poles(frequency, decay, self.rate_hz).tolist()):
            other = (members != index).all(axis=1)[self.group]
            size = np.where(other, amplitude[self.record, index], 0.0)[:, None]
            left -= both_sides(size, pole, self.turned, count)
        self.wanted = _flat(left * self.weight)


def tables(rows: Rows, pole: Complexes) -> Floats:
    """For tones with these poles, shape (groups, k): of each piece the rows of the amplitudes' real
    parts and of their imaginary ones, and of both their slopes by the pole; shape (p, 4 k, 2 l)."""
    at = pole[rows.group]
    both = np.concatenate([at, at.conj()], axis=1)[..., None]
    weight, count = rows.weight[:, None], rows.count[:, None, None]
    rise = -np.expm1(count * both)
    bent = np.exp(both) * rows.turned[:, None]
    over = 1 / (1 - bent)
    value = rise * over * weight
    slope = (value * bent - count * (1 - rise) * weight) * over
    own, mirror = np.split(value, 2, axis=1)
    own_slope, mirror_slope = np.split(slope, 2, axis=1)
    return _flat(
        np.concatenate(
            [
                own + mirror,
                1j * (own - mirror),
                own_slope + mirror_slope,
                1j * (own_slope - mirror_slope),
            ],
            axis=1,
        )
        / 2
    )


def spans(spectrum: Spectrum, frequency: Floats, decay: Floats) -> tuple[Places, Places]:
    """First and last bin of each tone's part."""
    middle = np.round(frequency / spectrum.step_hz).astype(int)
    wide = reach(decay, spectrum)
    most = len(spectrum.bins) - 1
    return np.clip(middle - wide, 1, most), np.clip(middle + wide, 1, most)


def poles(frequency: Floats, decay: Floats, rate_hz: float) -> Complexes:
    """Of tones, for each sample."""
    real = -decay / rate_hz
    real = np.where(np.abs(real) < _LEAST, -_LEAST, real)
    return np.asarray(real + 2j * np.pi * frequency / rate_hz)


def both_sides(
    amplitude: complex | Complexes, pole: complex, turned: Complexes, count: float | Floats
) -> Complexes:
    """A real tone's bins: the tone and its mirror image at the negative frequency."""
    size, z = -amplitude * np.expm1(count * pole), np.exp(pole)
    above = size.real - (size * z.conjugate()).real * turned
    return np.asarray(above / ((1 - z * turned) * (1 - z.conjugate() * turned)))


def _flat(values: Complexes | Floats) -> Floats:
    """Real and imaginary parts in turn, along the last axis."""
    return np.ascontiguousarray(values, complex).view(float)
