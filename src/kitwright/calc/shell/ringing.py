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
none moves any more. Groups of equal size take their steps at one time (`tone_rows`): there are few
bins to a group, and one call for all of them costs hardly more than a call for one.

References
----------
.. [1] G. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432; L. Kaufman, BIT 15 (1975) 49-57
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.spectrum import Complexes, Places, Spectrum, reach
from kitwright.calc.shell.tone_rows import Rows, both_sides, poles, spans, tables

STEPS: Final = 20
MOST_SWEEPS: Final = 12
_SETTLED: Final = 0.03
"""Of a standard uncertainty: after a smaller step the next one would move nothing."""
_FIRST_BINS: Final = 9
"""Spread over the top of each tone, for a first guess of the amplitudes."""
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
    at = poles(tones.frequency_hz, tones.decay_rate, spectrum.rate_hz)
    far = reach(tones.decay_rate, spectrum) + 176
    for index, pole in enumerate(at.tolist()):
        amplitude = complex(tones.amplitude[record, index])
        middle = round(float(tones.frequency_hz[index]) / spectrum.step_hz)
        wide = int(far[index])
        near = slice(max(0, middle - wide), min(last, middle + wide) + 1)
        close = everywhere[near]
        skirt = both_sides(amplitude, pole, turned, spectrum.count)
        left[near] -= both_sides(amplitude, pole, spectrum.turned(close), spectrum.count)
        left[near] += np.interp(close, coarse, skirt)
        skirts += skirt
    return np.asarray(left - np.interp(everywhere, coarse, skirts))


@dataclass
class _Seen:
    """Groups in their records at given frequencies and rates, the amplitudes at their best; each
    field of shape (records, groups, ...)."""

    amplitude: Complexes
    cost: Floats
    """Sum of squares of what is left."""
    normal: Floats
    """Shape (..., 2 k, 2 k), of frequencies and rates, amplitudes eliminated."""
    right: Floats
    spread: Floats
    """Shape (..., 2 k): variances of the amplitudes' real and imaginary parts."""

    def take(self, groups: NDArray[np.bool_], other: _Seen) -> None:
        """Some of the groups as they are in another."""
        for each in fields(self):
            getattr(self, each.name)[:, groups] = getattr(other, each.name)[:, groups]


def _seen(rows: Rows, frequency: Floats, decay: Floats) -> _Seen:
    tones = frequency.shape[1]
    table = tables(rows, poles(frequency, decay, rows.rate_hz))
    products = rows.summed(table @ table.swapaxes(1, 2))
    own, slope = slice(2 * tones), slice(2 * tones, None)
    spread = _inverse(products[..., own, own])
    parts, left = np.zeros(spread.shape[:-1]), rows.wanted
    for _ in range(2):  # the second takes off the rounding of the first
        onto = rows.summed(table[:, own] @ left[..., None])
        more = (spread @ onto)[..., 0]
        parts += more
        left = left - (more[rows.record, rows.group][:, None] @ table[:, own])[:, 0]
    turn = _by_pole(parts, rows.rate_hz)
    across = products[..., own, slope] @ turn
    onto = rows.summed(table[:, slope] @ left[..., None])
    return _Seen(
        amplitude=parts[..., :tones] + 1j * parts[..., tones:],
        cost=rows.summed(np.square(left).sum(axis=1)),
        normal=turn.swapaxes(-1, -2) @ products[..., slope, slope] @ turn
        - across.swapaxes(-1, -2) @ spread @ across,
        right=(turn.swapaxes(-1, -2) @ onto)[..., 0],
        spread=np.diagonal(spread, axis1=-2, axis2=-1).copy(),
    )


def _by_pole(parts: Floats, rate_hz: float) -> Floats:
    """What turns a table's columns of slopes, one and i by the pole, into those by the frequencies
    and the decay rates of tones with these amplitudes."""
    tones = parts.shape[-1] // 2
    real, imaginary = parts[..., :tones], parts[..., tones:]
    turn = np.zeros((*parts.shape, 2 * tones))
    one = np.arange(tones)
    turn[..., one, one] = -2 * np.pi * imaginary
    turn[..., tones + one, one] = 2 * np.pi * real
    turn[..., one, tones + one] = -real
    turn[..., tones + one, tones + one] = -imaginary
    return turn / rate_hz


@dataclass
class _Batch:
    """Groups of equally many tones, and where their fit stands; `members` of shape (groups, k)."""

    members: Places
    rows: Rows
    frequency: Floats
    decay: Floats
    slowest: float
    step_hz: float
    short: Floats = field(init=False)
    seen: _Seen = field(init=False)

    def __post_init__(self) -> None:
        self.short = np.full(len(self.members), 1e-3)

    def look(self) -> None:
        """The fit at what is wanted now."""
        self.seen = _seen(self.rows, self.frequency, self.decay)

    def step(self) -> float:
        """One step of every group toward its best fit; how far the furthest would go, in standard
        uncertainties."""
        tones = self.members.shape[1]
        whole, right = self.seen.normal.sum(axis=0), self.seen.right.sum(axis=0)
        scale = _scale(whole)
        normal = whole / (scale[:, :, None] * scale[:, None])
        bent = normal + self.short[:, None, None] * np.eye(2 * tones)
        width = np.abs(self.decay) / (2 * np.pi) + self.step_hz
        longest = np.hstack([2 * width, 2 * np.pi * width])
        step = np.linalg.solve(bent, (right / scale)[..., None])[..., 0] / scale
        step = np.clip(step, -longest, longest)
        frequency = np.clip(self.frequency + step[:, :tones], 1e-3, self.rows.rate_hz / 2)
        decay = np.maximum(self.decay + step[:, tones:], self.slowest)
        tried = _seen(self.rows, frequency, decay)
        better = tried.cost.sum(axis=0) <= self.seen.cost.sum(axis=0)
        self.short = np.where(better, np.maximum(self.short / 10, 1e-9), self.short * 10)
        self.frequency[better], self.decay[better] = frequency[better], decay[better]
        self.seen.take(better, tried)
        return float(np.abs(step * scale).max())


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
    slowest = max(-2.0 * each.rate_hz / each.count for each in spectra)
    step_hz = spectra[0].step_hz
    decay = np.maximum(decay, slowest)
    amplitude = _amplitudes(spectra, frequency, decay)
    groups = _meeting(spectra, frequency, decay)
    batches = []
    for size in sorted({len(each) for each in groups}):
        members = np.array([each for each in groups if len(each) == size])
        f, a = frequency[members], decay[members]
        batches.append(_Batch(members, Rows.near(spectra, f, a), f, a, slowest, step_hz))
    for _ in range(sweeps):
        furthest = 0.0
        for batch in batches:
            batch.rows.take_off(frequency, decay, amplitude, batch.members)
            batch.look()
            first = moved = batch.step()
            for _ in range(steps):
                if moved < _SETTLED:
                    break
                moved = batch.step()
            furthest = max(furthest, first)
            frequency[batch.members], decay[batch.members] = batch.frequency, batch.decay
            amplitude[:, batch.members] = batch.seen.amplitude
        if len(groups) == 1 or furthest < 3 * _SETTLED:
            break
    return _tones(batches, frequency, decay, amplitude)


def _amplitudes(spectra: Sequence[Spectrum], frequency: Floats, decay: Floats) -> Complexes:
    """The amplitudes in each record, all at once, at the first guess of the rest; from a few bins
    of each tone."""
    places = []
    for spectrum in spectra:
        wide = np.maximum(np.abs(decay) / (2 * np.pi * spectrum.step_hz), _FIRST_BINS // 2)
        near = frequency / spectrum.step_hz + wide * np.linspace(-1, 1, _FIRST_BINS)[:, None]
        places.append(np.clip(near.round().astype(int), 1, len(spectrum.bins) - 1))
    rows = Rows.at(spectra, places, [np.zeros(_FIRST_BINS, int)] * len(spectra))
    table = tables(rows, poles(frequency, decay, rows.rate_hz)[None])[:, : 2 * len(frequency)]
    products = rows.summed(table @ table.swapaxes(1, 2))
    parts = _inverse(products) @ rows.summed(table @ rows.wanted[..., None])
    real, imaginary = np.split(parts[:, 0, :, 0], 2, axis=1)
    return np.asarray(real + 1j * imaginary)


def _meeting(spectra: Sequence[Spectrum], frequency: Floats, decay: Floats) -> list[Places]:
    """Tones in groups whose bins meet in one of the records."""
    order = np.argsort(frequency)
    meets = np.zeros(len(order) - 1, bool)
    for spectrum in spectra:
        first, last = spans(spectrum, frequency[order], decay[order])
        meets |= first[1:] <= np.maximum.accumulate(last)[:-1]
    return np.split(order, np.flatnonzero(~meets) + 1)


def _tones(
    batches: Sequence[_Batch], frequency: Floats, decay: Floats, amplitude: Complexes
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
    for batch in batches:
        here, seen = batch.members, batch.seen
        count = here.shape[1]
        u = _roots(_inverse(seen.normal.sum(axis=0)))
        found.u[0, here], found.u[1, here] = u[:, :count], u[:, count:]
        free = np.maximum(batch.rows.figures() - 2 * count * (records + 1), 1)
        found.noise[here] = (seen.cost.sum(axis=0) / free)[:, None]
        square = np.concatenate([seen.amplitude.real, seen.amplitude.imag], axis=-1) ** 2
        worth = (square / seen.spread).sum(axis=0)
        found.significance[here] = worth[:, :count] + worth[:, count:]
        alone = _inverse(seen.normal)
        moves, known = (alone @ seen.right[..., None])[..., 0], _roots(alone)
        for part in (0, 1):
            found.single[:, here, part] = moves[..., part * count : (part + 1) * count]
            found.single_u[:, here, part] = known[..., part * count : (part + 1) * count]
    return found


def _roots(variances: Floats) -> Floats:
    """Square roots of the diagonals; without bound where rounding left nothing known."""
    known = np.diagonal(variances, axis1=-2, axis2=-1)
    return np.asarray(np.sqrt(np.where(known > 0, known, np.inf)))


def _inverse(normal: Floats) -> Floats:
    """The inverses of tables of products; a ridge far below rounding keeps what is not known
    apart from growing without bound."""
    scale = _scale(normal)
    both = scale[..., :, None] * scale[..., None, :]
    return np.asarray(np.linalg.inv(normal / both + _RIDGE * np.eye(normal.shape[-1])) / both)


def _scale(normal: Floats) -> Floats:
    """Square roots of the diagonals; 1 where nothing is known."""
    size = np.sqrt(np.maximum(np.diagonal(normal, axis1=-2, axis2=-1), 0))
    return np.where(size > 1e-100, size, 1.0)
