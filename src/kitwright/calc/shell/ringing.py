"""Damped tones fitted to what is left of the spectrum of one or several records.

A record of N samples that holds K tones A exp(-a t) cos(2 pi f t + phi) has, at its own Fourier
bins w = 2 pi m / N, exactly the spectrum

    X(w) = sum of  c (1 - z^N) / (1 - z e^-iw)  +  conj(c) (1 - conj(z)^N) / (1 - conj(z) e^-iw),
    z = exp((-a + 2 pi i f) / rate),  c = A e^(i phi) / 2

since e^(-iwN) = 1 there: nothing is cut off and no window is needed. White noise is white in the
bins too, so least squares over the bins near the tones is the most likely fit, and its error comes
near the bound of Cramer and Rao. The frequencies and decay rates are shared by all records, the
amplitudes are each record's own and are eliminated (variable projection [1]_). Tones whose bins
meet are fitted together, group after group, each with the skirts of all others taken off, until
none moves any more.

References
----------
.. [1] G. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432; L. Kaufman, BIT 15 (1975) 49-57
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.spectrum import Complexes, Places, Spectrum, reach

STEPS: Final = 20
MOST_SWEEPS: Final = 12
_SETTLED: Final = 0.01
"""Of a standard uncertainty: a smaller step moves nothing."""
_PIECE: Final = 400_000
_RIDGE: Final = 1e-13


@dataclass(frozen=True, kw_only=True)
class Tones:
    """Frequencies and decay rates fitted to several records together, with what each holds."""

    frequency_hz: Floats
    decay_rate: Floats
    """Shape (k,), 1/s, of the amplitude."""
    amplitude: Complexes
    """Shape (records, k): A e^(i phi) at each record's first sample."""
    u: Floats
    """Shape (2, k): standard uncertainties of the frequencies and of the rates, as the floors
    have the noise."""
    significance: Floats
    """Shape (k,): square of the amplitude over its standard error, summed over the records."""
    noise: Floats
    """Shape (k,): mean square of the weighted residual round each tone, 1 if as the floors say."""
    single: Floats
    """Shape (records, k, 2): by how much each record alone would move the frequency and rate."""
    single_u: Floats
    """Shape (records, k, 2): its standard uncertainty."""

    def __len__(self) -> int:
        return len(self.frequency_hz)


def residual(spectrum: Spectrum, tones: Tones, record: int) -> Complexes:
    """What the tones leave of a record's bins.

    Near a tone every bin is worked out; further off, where its skirt is smooth, every
    sixteenth, and those between by straight lines.
    """
    left = spectrum.bins.copy()
    last = len(left) - 1
    coarse = np.append(np.arange(0, last, 16), last)
    turned = spectrum.turned(coarse)
    skirts = np.zeros(len(coarse), complex)
    everywhere = np.arange(len(left))
    for index in range(len(tones)):
        pole, amplitude = _pole(tones, index, spectrum), tones.amplitude[record, index] / 2
        middle = round(float(tones.frequency_hz[index]) / spectrum.step_hz)
        wide = 4 * reach(float(tones.decay_rate[index]), spectrum) + 128
        near = slice(max(0, middle - wide), min(last, middle + wide) + 1)
        close = everywhere[near]
        skirt = _both_sides(amplitude, pole, turned, spectrum.count)
        left[near] -= _both_sides(amplitude, pole, spectrum.turned(close), spectrum.count)
        left[near] += np.interp(close, coarse, skirt)
        skirts += skirt
    return np.asarray(left - np.interp(everywhere, coarse, skirts))


def _pole(tones: Tones, index: int, spectrum: Spectrum) -> complex:
    rate = -tones.decay_rate[index] + 2j * np.pi * tones.frequency_hz[index]
    return complex(rate / spectrum.rate_hz)


def _both_sides(amplitude: complex, pole: complex, turned: Complexes, count: int) -> Complexes:
    """A real tone's bins: the tone and its mirror image at the negative frequency."""
    mirror = amplitude.conjugate() * _shape(pole.conjugate(), turned, count)
    return np.asarray(amplitude * _shape(pole, turned, count) + mirror)


def _shape(pole: complex, turned: Complexes, count: int) -> Complexes:
    """Bins of a unit tone with this pole (per sample)."""
    return np.asarray(-np.expm1(count * pole) / _off(1 - np.exp(pole) * turned))


def _off(distance: Complexes) -> Complexes:
    """Never quite zero: a tone that neither decays nor lies between two bins."""
    return np.where(np.abs(distance) < 1e-13, 1e-13, distance)


@dataclass
class _Rows:
    """The bins of one record that take part, weighted to unit noise."""

    places: Places
    turned: Complexes
    weight: Floats
    wanted: Floats
    spectrum: Spectrum

    @classmethod
    def near(cls, spectrum: Spectrum, frequency: Floats, decay: Floats) -> _Rows:
        taking = np.zeros(len(spectrum.bins), bool)
        for first, last in _spans(spectrum, frequency, decay):
            taking[first : last + 1] = True
        places = np.flatnonzero(taking)
        weight = np.sqrt(2 / spectrum.floor[places])  # unit variance of each real part
        wanted = _stacked(spectrum.bins[places] * weight)
        return cls(places, spectrum.turned(places), weight, wanted, spectrum)

    def take_off(self, frequency: Floats, decay: Floats, amplitude: Complexes) -> None:
        """Want what these other tones leave."""
        poles = self._poles(frequency, decay)
        bins = self.spectrum.bins[self.places] - (self._shapes(poles) * amplitude / 2).sum(axis=1)
        bins -= (self._shapes(poles.conj()) * amplitude.conj() / 2).sum(axis=1)
        self.wanted = _stacked(bins * self.weight)

    def _poles(self, frequency: Floats, decay: Floats) -> Complexes:
        return np.asarray((-decay + 2j * np.pi * frequency) / self.spectrum.rate_hz)

    def _shapes(self, poles: Complexes) -> Complexes:
        bent = np.exp(poles) * self.turned[:, None]
        return np.asarray(-np.expm1(self.spectrum.count * poles) / _off(1 - bent))

    def columns(self, frequency: Floats, decay: Floats) -> tuple[Floats, Complexes, Complexes]:
        """Columns of the amplitudes' real and imaginary parts, and the derivatives of a tone and
        of its mirror image by the pole."""
        poles = self._poles(frequency, decay)
        own, own_slope = self._with_slope(poles)
        mirror, mirror_slope = self._with_slope(poles.conj())
        real, imaginary = own + mirror, 1j * (own - mirror)
        return _stacked(np.hstack([real, imaginary]) / 2), own_slope, mirror_slope

    def _with_slope(self, poles: Complexes) -> tuple[Complexes, Complexes]:
        count = self.spectrum.count
        bent = np.exp(poles) * self.turned[:, None]
        distance = _off(1 - bent)
        shape = -np.expm1(count * poles) * (self.weight[:, None] / distance)
        slope = (shape * bent - count * np.exp(count * poles) * self.weight[:, None]) / distance
        return shape, slope


def _spans(spectrum: Spectrum, frequency: Floats, decay: Floats) -> list[tuple[int, int]]:
    """First and last bin of each tone's part."""
    found = []
    for f, a in zip(frequency.tolist(), decay.tolist(), strict=True):
        middle, wide = round(f / spectrum.step_hz), reach(a, spectrum)
        found.append((max(1, middle - wide), max(1, middle + wide)))
    return found


def _stacked(values: Complexes) -> Floats:
    return np.concatenate([values.real, values.imag])


@dataclass
class _Seen:
    """One record at given frequencies and rates, its amplitudes at their best."""

    amplitude: Complexes
    left: Floats
    normal: Floats
    """Shape (2 k, 2 k), of frequencies and rates, amplitudes eliminated."""
    right: Floats
    spread: Floats
    """Shape (2 k,): variances of the amplitudes' real and imaginary parts."""


def _seen(rows: _Rows, frequency: Floats, decay: Floats) -> _Seen:
    tones = len(frequency)
    columns, own, mirror = rows.columns(frequency, decay)
    spread = _inverse(_products(columns, columns))
    parts = spread @ _products(columns, rows.wanted[:, None])[:, 0]
    left = rows.wanted - (columns * parts).sum(axis=1)
    more = spread @ _products(columns, left[:, None])[:, 0]  # the rounding of the first solution
    parts, left = parts + more, left - (columns * more).sum(axis=1)
    amplitude = parts[:tones] + 1j * parts[tones:]
    straight, back = amplitude / 2 * own, amplitude.conj() / 2 * mirror
    by_pole = np.hstack([2j * np.pi * (straight - back), -(straight + back)])
    slope = _stacked(by_pole) / rows.spectrum.rate_hz
    across = _products(columns, slope)
    return _Seen(
        amplitude=amplitude,
        left=left,
        normal=_products(slope, slope) - across.T @ spread @ across,
        right=_products(slope, left[:, None])[:, 0],
        spread=np.diag(spread),
    )


def _products(a: Floats, b: Floats) -> Floats:
    """a.T @ b, in pieces too small to be shared out over threads: for tables as narrow as these
    that costs more than it brings, and very much more on a busy machine."""
    piece = max(16, _PIECE // (a.shape[1] * b.shape[1]))
    total = np.zeros((a.shape[1], b.shape[1]))
    for start in range(0, len(a), piece):
        total += a[start : start + piece].T @ b[start : start + piece]
    return total


@dataclass
class _Group:
    """Tones whose bins meet, and where their fit stands."""

    members: Places
    rows: list[_Rows]
    frequency: Floats
    decay: Floats
    seen: list[_Seen]
    short: float = 1e-3

    def step(self) -> float:
        """One step toward the best fit of what is wanted now; how far it went, in standard
        uncertainties."""
        whole = np.sum([each.normal for each in self.seen], axis=0)
        right = np.sum([each.right for each in self.seen], axis=0)
        scale = _scale(whole)
        normal = whole / (scale[:, None] * scale)
        spectrum, tones = self.rows[0].spectrum, len(self.members)
        width = np.abs(self.decay) / (2 * np.pi) + spectrum.step_hz
        longest = np.concatenate([2 * width, 2 * np.pi * width])
        slowest = max(-2.0 * each.spectrum.rate_hz / each.spectrum.count for each in self.rows)
        while self.short < 1e8:
            bent = normal + self.short * np.eye(2 * tones)
            step = np.clip(np.linalg.solve(bent, right / scale) / scale, -longest, longest)
            frequency = np.clip(self.frequency + step[:tones], 1e-3, spectrum.rate_hz / 2)
            decay = np.maximum(self.decay + step[tones:], slowest)
            tried = [_seen(each, frequency, decay) for each in self.rows]
            if _cost(tried) <= _cost(self.seen):
                self.short = max(self.short / 10, 1e-9)
                self.frequency, self.decay, self.seen = frequency, decay, tried
                return float(np.abs(step * scale).max())
            self.short *= 10
        self.short = 1e-3
        return 0.0


def _cost(seen: Sequence[_Seen]) -> float:
    return sum(float(np.square(each.left).sum()) for each in seen)


def fit(
    spectra: Sequence[Spectrum],
    frequency_hz: Floats,
    decay_rate: Floats,
    *,
    sweeps: int = MOST_SWEEPS,
    steps: int = STEPS,
) -> Tones:
    """The tones nearest to a first guess that fit all records best.

    Parameters
    ----------
    spectra : at least one record
    frequency_hz, decay_rate : shape (k,), k >= 1; the first guess, decay rates of the amplitude
        in 1/s
    sweeps, steps : over all groups of tones, and in each group, at the most

    Notes
    -----
    Steps are those of Gauss and Newton, shortened (Levenberg, Marquardt) until the sum of squares
    falls; they end when each is small against the uncertainty of what it moves.
    """
    frequency, decay = np.array(frequency_hz, float), np.array(decay_rate, float)
    amplitude = np.array(
        [_amplitudes(_Rows.near(each, frequency, decay), frequency, decay) for each in spectra]
    )
    groups = []
    for members in _meeting(spectra, frequency, decay):
        f, a = frequency[members], decay[members]
        groups.append(_Group(members, [_Rows.near(each, f, a) for each in spectra], f, a, []))
    for _ in range(sweeps):
        furthest = 0.0
        for group in groups:
            others = np.delete(np.arange(len(frequency)), group.members)
            for record, rows in enumerate(group.rows):
                if len(others):
                    rows.take_off(frequency[others], decay[others], amplitude[record, others])
            group.seen = [_seen(rows, group.frequency, group.decay) for rows in group.rows]
            first = moved = group.step()
            for _ in range(steps):
                if moved < _SETTLED:
                    break
                moved = group.step()
            furthest = max(furthest, first)
            frequency[group.members], decay[group.members] = group.frequency, group.decay
            amplitude[:, group.members] = [each.amplitude for each in group.seen]
        if len(groups) == 1 or furthest < 3 * _SETTLED:
            break
    return _tones(groups, frequency, decay, amplitude)


def _amplitudes(rows: _Rows, frequency: Floats, decay: Floats) -> Complexes:
    """The amplitudes of one record, all at once, at the first guess of the rest."""
    columns, _, _ = rows.columns(frequency, decay)
    seen = _products(columns, rows.wanted[:, None])[:, 0]
    parts = _inverse(_products(columns, columns)) @ seen
    return np.asarray(parts[: len(frequency)] + 1j * parts[len(frequency) :])


def _meeting(spectra: Sequence[Spectrum], frequency: Floats, decay: Floats) -> list[Places]:
    """Tones in groups whose bins meet in one of the records."""
    order = np.argsort(frequency)
    starts = {0}
    starts.update(range(1, len(order)))
    for spectrum in spectra:
        spans = _spans(spectrum, frequency[order], decay[order])
        end = spans[0][1]
        for index, (first, last) in enumerate(spans[1:], start=1):
            if first <= end:
                starts.discard(index)
            end = max(end, last)
    return np.split(order, sorted(starts - {0}))


def _tones(
    groups: Sequence[_Group], frequency: Floats, decay: Floats, amplitude: Complexes
) -> Tones:
    records, tones = amplitude.shape
    found = Tones(
        frequency_hz=frequency,
        decay_rate=decay,
        amplitude=amplitude,
        u=np.zeros((2, tones)),
        significance=np.zeros(tones),
        noise=np.ones(tones),
        single=np.zeros((records, tones, 2)),
        single_u=np.zeros((records, tones, 2)),
    )
    for group in groups:
        here, count = group.members, len(group.members)
        whole = np.sum([each.normal for each in group.seen], axis=0)
        found.u[:, here] = _roots(_inverse(whole)).reshape(2, count)
        found.noise[here] = _noise(group)
        for record, each in enumerate(group.seen):
            found.significance[here] += each.amplitude.real**2 / each.spread[:count]
            found.significance[here] += each.amplitude.imag**2 / each.spread[count:]
            alone = _inverse(each.normal)
            found.single[record, here] = (alone @ each.right).reshape(2, count).T
            found.single_u[record, here] = _roots(alone).reshape(2, count).T
    return found


def _roots(variances: Floats) -> Floats:
    """Square roots of the diagonal; without bound where rounding left nothing known."""
    known = np.diag(variances)
    return np.asarray(np.sqrt(np.where(known > 0, known, np.inf)))


def _inverse(normal: Floats) -> Floats:
    """The inverse of a table of products; a ridge far below rounding keeps what is not known
    apart from growing without bound."""
    scale = _scale(normal)
    both = scale[:, None] * scale
    return np.asarray(np.linalg.inv(normal / both + _RIDGE * np.eye(len(normal))) / both)


def _scale(normal: Floats) -> Floats:
    """Square roots of the diagonal; 1 where nothing is known."""
    size = np.sqrt(np.maximum(np.diag(normal), 0))
    return np.where(size > 1e-100, size, 1.0)


def _noise(group: _Group) -> float:
    """Mean square of what the fit leaves of a group's figures, for those that it took."""
    figures = sum(len(each.left) for each in group.seen)
    taken = 2 * len(group.members) * (len(group.seen) + 1)
    return _cost(group.seen) / max(figures - taken, 1)
