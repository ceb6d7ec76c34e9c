"""What a recording of taps tells of the bell: its tones, how each dies away, how surely.

From the record after each strike (`onsets`) to the next, all tones are found and fitted together
(`tone_search`, `ringing`). Tones that do not die away, or that were there before the first
strike, are none of the bell's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.shell.onsets import onsets
from kitwright.calc.shell.ring_time import FALL, Ring, followed_db, ring_time
from kitwright.calc.shell.ringing import Tones
from kitwright.calc.shell.spectrum import Spectrum, fast_length
from kitwright.calc.shell.tone_search import Band, search, spectrum_of
from kitwright.errors import InputError

LEAST_RATE_HZ: Final = 4000.0
MOST_TAPS: Final = 12
MOST_MODES: Final = 30
SETTLE_S: Final = 0.006
"""Left out after each strike: the hammer may still touch the bell."""
LEAST_RING_S: Final = 0.08
_BEFORE_NEXT_S: Final = 0.004
_FAINTEST_DB: Final = -70.0
_FAINTEST_STEADY: Final = 1e-6
_QUIET_S: Final = 0.15
_MOST_QUIET_S: Final = 0.5
_AS_BEFORE: Final = 0.4
"""Of a tone's amplitude: how far it may be from where it would have gone without the strike."""
_ROW: Final = 160
_LONGEST_S: Final = 300.0
_WASHES: Final = 0.06
"""Decay rate over angular frequency beyond which a tone is a thud: it falls 60 dB in 18 turns."""


@dataclass(frozen=True, kw_only=True)
class Mode:
    """One tone of the bell. Uncertainties are standard ones (k = 1)."""

    frequency_hz: float
    frequency_u_hz: float
    decay_rate: float
    """Of the amplitude, 1/s."""
    decay_u: float
    powers: tuple[float, ...]
    """Squared amplitude at the strike, of each tap, in the recording's own scale."""
    level_db: float
    """Against the loudest mode."""

    @property
    def power(self) -> float:
        """Mean over the taps."""
        return float(np.mean(self.powers))

    @property
    def decay_s(self) -> float:
        """Time to fall 60 dB."""
        return FALL / self.decay_rate

    @property
    def decay_s_u(self) -> float:
        return self.decay_s * self.decay_u / self.decay_rate

    @property
    def loss_factor(self) -> float:
        """Twice the share of critical damping: the band 3 dB down over the frequency."""
        return self.decay_rate / (np.pi * self.frequency_hz)


@dataclass(frozen=True, kw_only=True)
class Tap:
    """All that the taps tell together."""

    modes: tuple[Mode, ...]
    """By frequency."""
    ring: Ring
    followed_db: float
    """How far of 60 dB the whole ring could be followed, at the best tap; then the decays that were
    found carry on."""
    strikes_s: tuple[float, ...]
    """When the bell was struck, each time that was heard."""
    used: int
    """Strikes with a ring behind them that was fitted."""
    steady_hz: tuple[float, ...]
    """Tones left out since they do not die away or were there before; faint ones are not told."""
    fainter: int
    """Modes left out since they are faint, or since there are too many."""
    noise_db: float
    """What the tones leave, against the loudest mode's beginning, both as powers."""


@dataclass(frozen=True)
class _Record:
    """The ring after one strike."""

    struck: int
    start: int
    samples: Floats


def identify(
    samples: Floats,
    rate_hz: float,
    *,
    lowest_hz: float,
    highest_hz: float,
    clipped: NDArray[np.bool_] | None = None,
    where: str = "file",
) -> Tap:
    """Find the modes in a recording of one or more taps.

    Parameters
    ----------
    samples : shape (n,), one channel, any scale
    rate_hz : samples a second
    lowest_hz, highest_hz : where modes are looked for
    clipped : shape (n,), samples that the recorder cut off; a ring is fitted from its last one on
    where : what a refusal names

    Raises
    ------
    InputError
        No tap is heard, or nothing rings after it.
    """
    x = np.asarray(samples, float)
    largest = float(np.abs(x).max(initial=0.0))
    if not largest > 0:
        raise InputError(where, "it is silent", "record the bell being struck")
    x = x / largest
    strikes = onsets(x, rate_hz)
    if not strikes:
        raise InputError(
            where, "no tap is heard in it", "record the bell being struck, nearer or in quiet"
        )
    cut = np.zeros(len(x), bool) if clipped is None else clipped
    records = _records(x, rate_hz, strikes, cut)
    if not records:
        raise InputError(
            where,
            f"no clean ring of {1000 * LEAST_RING_S:.0f} ms follows a tap",
            "let the bell ring out before the next tap, and record it less loud if it clips",
        )
    found = search(
        [spectrum_of(each.samples, rate_hz, highest_hz) for each in records],
        Band(lowest_hz=lowest_hz, highest_hz=highest_hz),
    )
    modes, steady = [], []
    if found is not None:
        there = _were_there(x, rate_hz, found.tones, records[0])
        for mode, before in zip(_modes(found.tones, records, rate_hz), there, strict=True):
            dies = mode.decay_rate > 2 * mode.decay_u and mode.decay_s < _LONGEST_S
            if before or not dies:
                steady.append(mode)
            elif mode.decay_rate < _WASHES * 2 * np.pi * mode.frequency_hz:
                modes.append(mode)
    if found is None or not modes:
        given = "nothing in it dies away as a ring" if steady else "nothing rings after the tap"
        raise InputError(where, given, "hang the bell free, strike it, and let it ring out")
    shown = _loud_enough(modes)
    top = max(mode.power for mode in shown)
    noise_db = _noise_db(found.spectra, top)
    return Tap(
        modes=tuple(
            replace(mode, level_db=float(10 * np.log10(mode.power / top))) for mode in shown
        ),
        ring=ring_time(
            [mode.frequency_hz for mode in shown],
            [mode.decay_rate for mode in shown],
            np.transpose([mode.powers for mode in shown]),
            [mode.decay_u for mode in shown],
        ),
        followed_db=followed_db(
            np.array([mode.decay_rate for mode in shown]),
            np.array([mode.power for mode in shown]),
            seconds=max(each.start - each.struck + len(each.samples) for each in records) / rate_hz,
            noise=top * 10 ** (noise_db / 10),
        ),
        strikes_s=tuple(at / rate_hz for at in strikes),
        used=len(records),
        steady_hz=tuple(
            sorted(each.frequency_hz for each in steady if each.power > _FAINTEST_STEADY * top)
        ),
        fainter=len(modes) - len(shown),
        noise_db=noise_db,
    )


def _records(
    x: Floats, rate_hz: float, strikes: Sequence[int], cut: NDArray[np.bool_]
) -> list[_Record]:
    """The rings that are long enough, the loudest of them where there are very many."""
    found = []
    for struck, after in zip(strikes, [*strikes[1:], None], strict=True):
        start = struck + round(SETTLE_S * rate_hz)
        end = len(x) if after is None else after - round(_BEFORE_NEXT_S * rate_hz)
        last = np.flatnonzero(cut[struck:end])
        if len(last):
            start = max(start, struck + int(last[-1]) + 2)
        length = fast_length(end - start) if end > start else 0
        if length >= LEAST_RING_S * rate_hz:
            found.append(_Record(struck, start, x[start : start + length]))
    loudest = sorted(found, key=lambda each: -float(np.square(each.samples).sum()))[:MOST_TAPS]
    return sorted(loudest, key=lambda each: each.start)


def _modes(tones: Tones, records: Sequence[_Record], rate_hz: float) -> list[Mode]:
    count = len(tones)
    u = tones.u * np.sqrt(np.maximum(tones.noise, 0.5) * np.maximum(_scatter(tones), 1.0))
    late = np.array([(each.start - each.struck) / rate_hz for each in records])
    back = np.exp(np.minimum(np.outer(late, tones.decay_rate), 20.0))
    powers = np.square(np.abs(tones.amplitude) * back)
    return [
        Mode(
            frequency_hz=float(tones.frequency_hz[index]),
            frequency_u_hz=float(u[0, index]),
            decay_rate=float(tones.decay_rate[index]),
            decay_u=float(u[1, index]),
            powers=tuple(powers[:, index].tolist()),
            level_db=0.0,
        )
        for index in range(count)
    ]


def _scatter(tones: Tones) -> Floats:
    """Birge's ratio squared of each frequency and rate, shape (2, k): how much more the taps
    differ among themselves than their own noise explains; 1 where chance would do it too."""
    taps = len(tones.single)
    if taps < 2:
        return np.ones((2, len(tones)))
    own = np.square(tones.single_u) * np.maximum(tones.noise, 0.5)[:, None]
    square = np.minimum(np.square(tones.single), 1e100) / np.maximum(own, 1e-100)
    ratio = square.sum(axis=0).T / (taps - 1)
    by_chance = 1 + 2 * np.sqrt(2 / (taps - 1))  # two standard deviations of chi square over df
    return np.asarray(np.where(ratio > by_chance, ratio, 1.0))


def _were_there(x: Floats, rate_hz: float, tones: Tones, first: _Record) -> list[bool]:
    """Which tones go on from before the first strike as if it had not been: what was there keeps
    its phase. Where that is so of most tones, a recording began in the ring of an earlier tap."""
    quiet = x[: max(0, first.struck - round(_BEFORE_NEXT_S * rate_hz))]
    quiet = quiet[-round(_MOST_QUIET_S * rate_hz) :]
    if len(quiet) < _QUIET_S * rate_hz:
        return [False] * len(tones)
    rows = len(quiet) // _ROW
    quiet = quiet[-rows * _ROW :].reshape(rows, _ROW)
    late = round(_BEFORE_NEXT_S * rate_hz) + first.start - first.struck  # to the record's start
    pole = -np.minimum(tones.decay_rate, 500.0) + 2j * np.pi * tones.frequency_hz
    # each tone over the quiet: one factor for the row, one for the place in it
    row = np.exp(np.outer((np.arange(-rows, 0) * _ROW - late) / rate_hz, pole))
    place = np.exp(np.outer(np.arange(_ROW) / rate_hz, pole))
    size = np.square(np.abs(row)).sum(axis=0) * np.square(np.abs(place)).sum(axis=0)
    before = 2 * (row.conj() * (quiet[:, None] @ place.conj())[:, 0]).sum(axis=0) / size
    heard = tones.amplitude[0]
    found = np.abs(before - heard) < _AS_BEFORE * np.abs(heard)
    return [bool(each) for each in found & (found.mean() <= 0.5)]


def _loud_enough(modes: Sequence[Mode]) -> list[Mode]:
    """By frequency, without the faint ones."""
    top = max(mode.power for mode in modes)
    kept = [mode for mode in modes if mode.power > top * 10 ** (_FAINTEST_DB / 10)]
    kept = sorted(kept, key=lambda mode: -mode.power)[:MOST_MODES]
    return sorted(kept, key=lambda mode: mode.frequency_hz)


def _noise_db(spectra: Sequence[Spectrum], top: float) -> float:
    variance = np.mean([np.median(each.floor) / each.count for each in spectra])
    return float(10 * np.log10(2 * max(float(variance), 1e-30) / top))
