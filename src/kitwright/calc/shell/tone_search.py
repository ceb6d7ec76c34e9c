"""Which damped tones a set of records holds: peaks, a matrix pencil in each band, pruning.

Peaks that stand out of the noise are taken in clusters. Round each cluster the record is brought
down to a slow complex signal that holds this band alone, and the poles of it come from the
singular vectors of its Hankel matrix (matrix pencil, total least squares [1]_), so that two tones
nearer than the width of their peaks come apart. All tones are then fitted together
(`kitwright.calc.shell.ringing`), those that the records do not bear out are dropped, and what is
left is searched again.

References
----------
.. [1] Y. Hua, T. K. Sarkar, IEEE Trans. Acoust. Speech Signal Process. 38 (1990) 814-824
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.ringing import MOST_SWEEPS, STEPS, Tones, fit, residual
from kitwright.calc.shell.spectrum import Complexes, Spectrum

PASSES: Final = 4
MOST_TONES: Final = 40
STANDS_OUT: Final[Mapping[int, float]] = MappingProxyType({1: 22.0, 9: 4.9, 33: 2.6})
"""Bins taken together -> their mean power over the noise, by chance once in e^20 or more
(Chernoff's bound for a mean of m exponential powers: exp(-m (t - 1 - ln t)))."""
BORNE_OUT: Final = 36.0
"""Square of an amplitude over its standard error, below which a tone is dropped."""
SAME: Final = 0.12
"""Of a tone's width: two nearer than this count as one, which is not the same at every tap."""
SHADOW: Final = 1e-3
"""Of a tone's power: what lies so far below it and within its width is its shadow."""
_BESIDE: Final = 10.0
_BEYOND: Final = 1.05
_SHORT: Final = 4
_BLOCK: Final = 256
_CLUSTERS: Final = 24
_PENCIL: Final = 72
_EDGE: Final = 4
_FASTEST: Final = 0.15
"""Steepest decay rate kept, over the angular frequency: beyond it nothing rings."""
_QUIETEST: Final = 1e-7
"""Noise never taken to be below this share of the largest sample (rounding of a good recorder)."""


Pole = tuple[float, float]
"""Frequency in Hz and decay rate in 1/s."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """Where tones are looked for."""

    lowest_hz: float
    highest_hz: float


def spectrum_of(samples: Floats, rate_hz: float, highest_hz: float = np.inf) -> Spectrum:
    """A record's bins, no more of them than a search up to `highest_hz` looks at, with a first
    estimate of their noise; peaks still raise it a little."""
    bins = np.fft.rfft(samples)
    bins = bins[: int(min(_BEYOND * highest_hz * len(samples) / rate_hz, len(bins))) + 1].copy()
    least = len(samples) * (_QUIETEST * float(np.abs(samples).max())) ** 2
    blank = Spectrum(bins=bins, floor=np.ones(len(bins)), count=len(samples), rate_hz=rate_hz)
    return replace(blank, floor=noise_floor(bins, least=least))


def noise_floor(bins: Complexes, *, least: float = 0.0) -> Floats:
    """Mean square of the noise in each bin, from medians over blocks of bins.

    A power of Gaussian noise has its median at ln 2 of its mean; peaks that fill less than half
    of a block hardly move it.
    """
    power = _power(bins)
    size = min(_BLOCK, len(power))
    blocks = power[: len(power) // size * size].reshape(-1, size)
    middle = np.median(blocks, axis=1) / np.log(2)
    at = size * (np.arange(len(middle)) + 0.5)
    floor = np.interp(np.arange(len(power)), at, middle)
    return np.asarray(np.maximum(floor, max(least, 1e-300)))


def _power(bins: Complexes) -> Floats:
    return np.asarray(np.square(bins.real) + np.square(bins.imag))


@dataclass(frozen=True, kw_only=True)
class Found:
    """The tones of several records, and the records with the noise beneath them known."""

    tones: Tones
    spectra: tuple[Spectrum, ...]


def search(spectra: Sequence[Spectrum], band: Band) -> Found | None:
    """The tones that the records hold within a band; None where nothing stands out.

    Each pass knows the noise better, since it looks beneath the tones of the one before; the last
    one finds nothing more, and fits once again with the noise as it is now known.
    """
    tones: Tones | None = None
    refused: list[Pole] = []
    for number in range(PASSES):
        rests = [
            spectrum.bins if tones is None else residual(spectrum, tones, record)
            for record, spectrum in enumerate(spectra)
        ]
        if tones is not None:
            spectra = [
                replace(each, floor=_floor_again(each, rest))
                for each, rest in zip(spectra, rests, strict=True)
            ]
        old = _poles(tones)
        looked = _candidates(spectra, rests, band, broad=number > 0)
        fresh = [pole for pole in looked if not _by(pole, refused, spectra)]
        sweeps = MOST_SWEEPS if number else 2  # the first does not know the noise yet
        found = _borne_out(spectra, old, fresh, band, sweeps)
        if found is None:
            break
        tones = found
        refused += [pole for pole in fresh if not _by(pole, _poles(tones), spectra)]
        if not fresh or len(tones) == len(old):
            break
    return None if tones is None else Found(tones=tones, spectra=tuple(spectra))


def _poles(tones: Tones | None) -> list[Pole]:
    if tones is None:
        return []
    return list(zip(tones.frequency_hz.tolist(), tones.decay_rate.tolist(), strict=True))


def _by(pole: Pole, others: Sequence[Pole], spectra: Sequence[Spectrum]) -> bool:
    """Whether one of the others lies within its own width of it."""
    near = 2 * max(each.step_hz for each in spectra)
    return any(abs(pole[0] - f) < max(near, abs(a) / (2 * np.pi)) for f, a in others)


def _floor_again(spectrum: Spectrum, rest: Complexes) -> Floats:
    least = float(spectrum.floor.min())
    return noise_floor(rest, least=min(least, float(np.median(spectrum.floor)) * 1e-3))


# ── candidates ───────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class _Cluster:
    """Peaks that stand together: the strongest one's bin, half the width of it at half its power,
    and how far to either side the cluster goes, in bins."""

    record: int
    middle: int
    half_width: float
    claim: int
    height: float

    def hz(self, spectrum: Spectrum) -> float:
        return self.middle * spectrum.step_hz


def _candidates(
    spectra: Sequence[Spectrum], rests: Sequence[Complexes], band: Band, *, broad: bool
) -> list[Pole]:
    """Poles of the clusters of all records, each cluster from the record in which it is highest."""
    clusters: list[_Cluster] = []
    for record, (spectrum, rest) in enumerate(zip(spectra, rests, strict=True)):
        clusters += _clusters(record, spectrum, rest, band, broad=broad)
    clusters.sort(key=lambda each: -each.height)
    taken: list[tuple[float, float]] = []
    fresh: list[Pole] = []
    for each in clusters:
        spectrum = spectra[each.record]
        at, wide = each.hz(spectrum), each.claim * spectrum.step_hz
        if any(abs(at - other) < max(wide, reaches) for other, reaches in taken):
            continue
        taken.append((at, wide))
        fresh += _pencil(spectrum, rests[each.record], each)
        if len(taken) >= _CLUSTERS:
            break
    return fresh


def _clusters(
    record: int, spectrum: Spectrum, rest: Complexes, band: Band, *, broad: bool
) -> list[_Cluster]:
    """Peaks of the power over the noise; `broad` ones too, that show only in a mean of bins."""
    power = _power(rest) / spectrum.floor
    first = max(2, int(np.ceil(band.lowest_hz / spectrum.step_hz)))
    last = min(len(power) - 2, int(band.highest_hz / spectrum.step_hz))
    if last <= first:
        return []
    found: list[_Cluster] = []
    free = np.ones(len(power), bool)
    for bins, least in STANDS_OUT.items() if broad else [(1, STANDS_OUT[1])]:
        smooth = power if bins == 1 else np.convolve(power, np.ones(bins) / bins, "same")
        inner = smooth[first:last]
        peaks = np.flatnonzero(
            (inner > least)
            & (inner >= smooth[first - 1 : last - 1])
            & (inner >= smooth[first + 1 : last + 1])
        )
        peaks = peaks[np.argsort(-inner[peaks])][: 40 * _CLUSTERS] + first
        for peak in peaks.tolist():
            if not free[peak] or len(found) >= _CLUSTERS:
                continue
            half = max(_half_width(smooth, peak), bins / 4)
            claim = max(6, round(4 * half))
            free[max(0, peak - claim) : peak + claim + 1] = False
            height = float(smooth[peak]) * bins
            found.append(
                _Cluster(record=record, middle=peak, half_width=half, claim=claim, height=height)
            )
    return found


def _half_width(power: Floats, peak: int) -> float:
    """Bins from the peak to where a mean of three falls to half, the nearer side of the two."""
    wanted, most = power[peak] / 2, 200
    sides = []
    for run in (power[peak : peak + most], power[max(0, peak - most + 1) : peak + 1][::-1]):
        below = np.flatnonzero(run < wanted)
        sides.append(float(below[0]) if len(below) else float(most))
    return max(1.0, min(sides))


def _pencil(spectrum: Spectrum, rest: Complexes, cluster: _Cluster) -> list[Pole]:
    """Poles of the band round a cluster, those within it."""
    half = int(min(max(10 * cluster.half_width, 24), 256))
    wide = half + half // 2
    places = np.arange(cluster.middle - wide, cluster.middle + wide)
    inside = (places >= 0) & (places < len(rest))
    edge = np.clip((np.abs(places - cluster.middle) - half) / (wide - half), 0, 1)
    weight = np.where(inside, np.cos(np.pi / 2 * edge) ** 2, 0.0)
    values = rest[np.clip(places, 0, len(rest) - 1)] * weight
    slow = np.fft.ifft(np.fft.ifftshift(values))
    tick = spectrum.count / spectrum.rate_hz / len(places)
    used = slow[_EDGE : min(_EDGE + _PENCIL, len(slow) - _EDGE)]
    columns = len(used) // 2
    table = np.lib.stride_tricks.sliding_window_view(used, columns + 1)
    left, size, _ = np.linalg.svd(table, full_matrices=False)
    noise = np.sqrt(float(spectrum.floor[cluster.middle]) * float((weight**2).sum())) / len(places)
    spread = 1.2 * noise * (np.sqrt(len(table)) + np.sqrt(columns + 1))
    order = int(np.count_nonzero(size > max(spread, 2e-3 * size[0])))
    order = min(max(order, 1), 5)
    basis = left[:, :order]
    turning = np.linalg.lstsq(basis[:-1], basis[1:], rcond=None)[0]
    poles = np.log(np.linalg.eigvals(turning)) / tick
    slowest = -2.0 * spectrum.rate_hz / spectrum.count
    found = []
    for pole in poles.tolist():
        away = pole.imag / (2 * np.pi)
        frequency, decay = cluster.hz(spectrum) + away, -pole.real
        near = abs(away) <= max(cluster.claim, 0.5 * half) * spectrum.step_hz
        if near and slowest < decay < _FASTEST * 2 * np.pi * frequency:
            found.append((frequency, decay))
    usual = 2 * np.pi * cluster.half_width * spectrum.step_hz / 2
    return found or [(cluster.hz(spectrum), usual)]


# ── pruning ──────────────────────────────────────────────────────────────────────────────


def _borne_out(
    spectra: Sequence[Spectrum],
    known: Sequence[Pole],
    fresh: Sequence[Pole],
    band: Band,
    sweeps: int,
) -> Tones | None:
    """The fit of those tones that the records bear out. The others are dropped after a short fit,
    the worst half of them at a time, and of those that lie within each other's width one alone: a
    tone may gain by the loss of another, and of two on one place neither stands for itself. A tone
    that was known does not fall to a fresh one beside it: the fresh one goes, and it begins anew.
    """
    start = [*known, *fresh][:MOST_TONES]
    poles, here = list(start), 1 if fresh else sweeps
    old = [index < len(known) for index in range(len(start))]
    while poles:
        frequency, decay = np.array(poles, float).T
        tones = fit(spectra, frequency, decay, sweeps=here, steps=_SHORT if here == 1 else STEPS)
        keep = _sane(tones, band) & _apart(tones)
        worth = np.where(keep, tones.significance, 0.0)
        bad = worth < BORNE_OUT
        if not bad.any() and here == sweeps:
            return tones
        here = 1 if bad.any() else sweeps
        gone: set[int] = set()
        for index in np.argsort(worth)[: (np.count_nonzero(bad) + 1) // 2].tolist():
            if any(_near(start[index], start[each], widths=1.0) for each in gone):
                continue
            beside = [j for j in range(len(poles)) if not old[j] and _near(start[index], start[j])]
            gone.update(beside if old[index] and beside else [index])
        stay = [index for index in range(len(poles)) if index not in gone]
        poles = [
            start[index]
            if old[index] and any(_near(start[index], start[each]) for each in gone)
            else (float(tones.frequency_hz[index]), float(tones.decay_rate[index]))
            for index in stay
        ]
        start, old = [start[index] for index in stay], [old[index] for index in stay]
    return None


def _near(a: Pole, b: Pole, *, widths: float = _BESIDE) -> bool:
    """Whether the first of two tones may be bent by the other."""
    return abs(a[0] - b[0]) < widths * max(a[1], b[1], 0.5) / (2 * np.pi)


def _sane(tones: Tones, band: Band) -> NDArray[np.bool_]:
    """Inside the band, and ringing at all."""
    slow = tones.decay_rate < _FASTEST * 2 * np.pi * tones.frequency_hz
    inside = (tones.frequency_hz > 0.9 * band.lowest_hz) & (
        tones.frequency_hz < 1.02 * band.highest_hz
    )
    return np.asarray(slow & inside)


def _apart(tones: Tones) -> NDArray[np.bool_]:
    """Not on top of another that is better borne out, nor in the skirt of a far louder one: what
    makes a tone not quite die away as it should is not a tone of its own."""
    keep = np.ones(len(tones), bool)
    power = np.square(np.abs(tones.amplitude)).mean(axis=0)
    width = tones.decay_rate / (2 * np.pi)
    for index in range(len(tones)):
        pitch = np.abs(tones.frequency_hz - tones.frequency_hz[index])
        apart = np.hypot(pitch, width - width[index])
        same = (apart < 2 * tones.u[0, index]) | (apart < SAME * width[index])
        on_top = same & (tones.significance > tones.significance[index])
        wide = 1.5 * np.maximum(width, width[index])
        shadow = (pitch < wide) & (power * SHADOW > power[index])
        on_top[index] = shadow[index] = False
        keep[index] = not (on_top | shadow).any()
    return keep
