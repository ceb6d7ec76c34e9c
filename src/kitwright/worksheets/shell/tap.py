"""What did this bell do when it was struck?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.clipping import clipped
from kitwright.calc.shell.mode_match import Matched, match
from kitwright.calc.shell.spectrogram import spectrogram
from kitwright.calc.shell.tap import MOST_TAPS, Mode, Tap, identify
from kitwright.errors import InputError, Problem
from kitwright.files.wav import read_wav, wav_bytes
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import NamedSound, Worksheet
from kitwright.worksheets.fields import Recording
from kitwright.worksheets.shell.tap_case import (
    AgainstAnswer,
    ComparedMode,
    SpectrogramAnswer,
    TapAnswer,
    TapCase,
    TapMode,
    WallAnswer,
    Wanted,
)
from kitwright.worksheets.shell.tap_example import example_sound
from kitwright.worksheets.shell.tap_said import CAUTIONS, EXAMPLE, HOW, SOURCES, STEPS, say

USUAL_HIGHEST_HZ: Final = 16_000.0
_OF_RATE: Final = 0.45
_STEP_DB: Final = 6.0
_FOLLOWED_DB: Final = 30.0
"""Half of the 60: of a ring of which less was seen, most is carried on."""


@dataclass(frozen=True)
class _Heard:
    """One recording: the channel used, what was found, and what is to be said about it."""

    samples: Floats
    rate_hz: int
    lowest_hz: float
    highest_hz: float
    tap: Tap
    notes: tuple[str, ...]


def solve(case: TapCase) -> TapAnswer:
    """Find the modes of the bell, and lay beside them what the case gives."""
    problems = list(_contradictions(case))
    if problems:
        raise InputError.of(problems)
    heard, other = (_heard(case, each, problems) for each in ("file", "against"))
    if problems or heard is None:
        raise InputError.of(problems)
    tap = heard.tap
    wall = None if case.computed is None and case.bell is None else _wall(tap, case)
    loudest = max(tap.modes, key=lambda mode: mode.power)
    return TapAnswer(
        ring_s=tap.ring.ring_s,
        ring_u95_s=2 * tap.ring.ring_u_s,
        ring_weighted_s=tap.ring.weighted_s,
        ring_weighted_u95_s=2 * tap.ring.weighted_u_s,
        ring_followed_db=tap.followed_db,
        taps=tap.used,
        lowest_mode_hz=tap.modes[0].frequency_hz,
        loudest_mode_hz=loudest.frequency_hz,
        recorded_s=len(heard.samples) / heard.rate_hz,
        sample_rate=heard.rate_hz,
        noise_db=tap.noise_db,
        modes=_modes(tap, {} if wall is None else wall.beside),
        wall=None if wall is None else wall.answer,
        against=None if other is None else _against(tap, other.tap),
        compared=[] if other is None else list(_compared(tap, other.tap)),
        notes=[
            *heard.notes,
            *(() if other is None else (f"Second recording: {note}" for note in other.notes)),
        ],
        strikes_s=list(tap.strikes_s),
        spectrogram=_drawn(heard),
        assumed=list(_assumed(case, heard)),
        how=HOW,
    )


# ── reading ──────────────────────────────────────────────────────────────────────────────


def _heard(case: TapCase, where: str, problems: list[Problem]) -> _Heard | None:
    recording: Recording | None = getattr(case, where)
    if recording is None:
        return None
    try:
        return _listened(case, recording, where)
    except InputError as error:
        problems.extend(error.problems)
        return None


def _listened(case: TapCase, recording: Recording, where: str) -> _Heard:
    sound = example_sound() if recording.is_example else read_wav(recording.data, where=where)
    samples, notes = _channel(sound.samples)
    most = _OF_RATE * sound.rate_hz
    highest = min(USUAL_HIGHEST_HZ, most) if case.highest_hz is None else case.highest_hz
    if highest > most:
        if case.highest_hz is not None and case.highest_hz > 0.5 * sound.rate_hz:
            notes.append(
                f"At {sound.rate_hz} samples a second nothing above {most:.0f} Hz is heard."
            )
        highest = most
    if case.lowest_hz >= highest:
        given = f"{case.lowest_hz:g} Hz is not below {highest:g} Hz"
        raise InputError("lowest_hz", given, "give a lower one")
    cut = clipped(samples)
    notes += _recorder(sound.comment)
    tap = identify(
        samples,
        sound.rate_hz,
        lowest_hz=case.lowest_hz,
        highest_hz=highest,
        clipped=cut,
        where=where,
    )
    notes += _notes(tap, cut)
    return _Heard(samples, sound.rate_hz, case.lowest_hz, highest, tap, tuple(notes))


def _channel(samples: Floats) -> tuple[Floats, list[str]]:
    """The loudest channel, and a word on it where there was a choice."""
    strength = np.square(samples).sum(axis=0)
    chosen = int(np.argmax(strength))
    notes = []
    if samples.shape[1] > 1 and not np.allclose(strength, strength[0], rtol=1e-6):
        named = ("left", "right")[chosen] if samples.shape[1] == 2 else f"number {chosen + 1}"
        notes.append(f"Of {samples.shape[1]} channels the loudest was used: {named}.")
    return np.ascontiguousarray(samples[:, chosen]), notes


_WORKED_ON: Final = {
    "echoCancellation": "echo cancellation",
    "noiseSuppression": "noise suppression",
    "autoGainControl": "automatic gain",
}


def _recorder(comment: str) -> list[str]:
    """What a recording made on our page says that the phone did to the sound."""
    told = dict(part.partition("=")[::2] for part in comment.split("; "))
    on = [words for name, words in _WORKED_ON.items() if told.get(name) == "true"]
    if not on:
        return []
    return [f"The recorder worked on the sound ({', '.join(on)}): decays may be wrong."]


def _notes(tap: Tap, cut: np.ndarray) -> Iterator[str]:
    if cut.any():
        yield (
            f"The recording clips: {np.count_nonzero(cut)} samples are cut off. Each ring was read "
            "from its last such sample on; record it less loud."
        )
    unused = len(tap.strikes_s) - tap.used
    if unused and tap.used == MOST_TAPS:
        yield f"Of {len(tap.strikes_s)} taps the {MOST_TAPS} loudest were used."
    elif unused:
        yield f"{_count(unused, 'tap')} left no ring that could be used: too soon after another."
    if tap.followed_db < _FOLLOWED_DB:
        yield (
            f"The whole ring could be followed for {tap.followed_db:.0f} dB; from there to 60 dB "
            "the decays that were found carry on, and whether they change, ± does not know. Wait "
            "longer between taps, in more quiet."
        )
    if tap.steady_hz:
        listed = ", ".join(f"{pitch:.1f} Hz" for pitch in tap.steady_hz[:6])
        yield f"Left out, since they do not die away or were there before the tap: {listed}."
    if tap.fainter:
        yield f"{_count(tap.fainter, 'fainter mode')} left out."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _assumed(case: TapCase, heard: _Heard) -> Iterator[str]:
    if "lowest_hz" not in case.model_fields_set:
        yield f"Modes are looked for from {case.lowest_hz:g} Hz."
    if case.highest_hz is None:
        yield f"Modes are looked for up to {heard.highest_hz:g} Hz."
    yield "The bell hung free; whatever touched it shows as its own loss."
    yield (
        "The recorder's clock is right. A phone's may be off by 50 parts in a million, for all "
        "frequencies alike (common practice, no source)."
    )
    yield "Levels are the recording's own: place of the blow, microphone and room are in them."


# ── beside what was computed ─────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class _Wall:
    """The wall that fits, and the computed frequency that belongs to each heard mode."""

    answer: WallAnswer
    beside: dict[int, float]


def _contradictions(case: TapCase) -> Iterator[Problem]:
    if case.computed is not None and case.bell is not None:
        yield Problem("bell", "given beside computed", "give one of the two")
    if case.computed_modulus_gpa is not None and case.computed is None:
        yield Problem("computed_modulus_gpa", "given without computed", "leave it out")
    if case.find == "thickness" and case.bell is None:
        yield Problem("find", "a thickness needs the design", 'give bell, or "Young\'s modulus"')


def _wall(tap: Tap, case: TapCase) -> _Wall:
    heard = [mode.frequency_hz for mode in tap.modes]
    modulus, slopes, size = case.computed_modulus_gpa, None, None
    computed: list[float] = case.computed or []
    if case.bell is not None:
        from kitwright.worksheets.shell import computed_modes as design  # noqa: PLC0415 - 0.5 s

        computed = design.computed_modes(case.bell, "bell").frequencies_hz.tolist()
        modulus = design.modulus_gpa(case.bell)
        if case.find == "thickness":
            modulus, size = None, case.bell.wall.mm
            slopes = design.wall_slopes(case.bell, "bell")
    try:
        matched = match(heard, computed, slopes)
    except InputError as error:
        where = "bell" if case.computed is None else "computed"
        raise InputError(where, error.problems[0].given, error.problems[0].expected) from None
    answer = _changed(matched, case.find, modulus, size)
    return _Wall(answer, {i: computed[j] for i, j in matched.pairs})


def _changed(
    matched: Matched, what: Wanted, modulus_gpa: float | None, wall_mm: float | None
) -> WallAnswer:
    ratio = math.exp(matched.change)
    u95 = None if matched.change_u95 is None else ratio * matched.change_u95

    def times(value: float | None, factor: float | None) -> float | None:
        return None if value is None or factor is None else value * factor

    return WallAnswer(
        changed=what,
        ratio=ratio,
        ratio_u95=u95,
        modulus_gpa=times(modulus_gpa, ratio),
        modulus_u95_gpa=times(modulus_gpa, u95),
        wall_mm=times(wall_mm, ratio),
        wall_u95_mm=times(wall_mm, u95),
        pairs=len(matched.pairs),
        rms_before_percent=100 * matched.rms_before,
        rms_after_percent=100 * matched.rms_after,
    )


def _modes(tap: Tap, beside: Mapping[int, float]) -> list[TapMode]:
    rows = []
    for index, mode in enumerate(tap.modes):
        computed = beside.get(index)
        off = None if computed is None else 100 * (mode.frequency_hz / computed - 1)
        rows.append(
            TapMode(
                frequency_hz=mode.frequency_hz,
                frequency_u95_hz=2 * mode.frequency_u_hz,
                decay_s=mode.decay_s,
                decay_u95_s=2 * mode.decay_s_u,
                loss_factor=mode.loss_factor,
                level_db=mode.level_db,
                computed_hz=computed,
                off_percent=off,
            )
        )
    return rows


# ── beside a second recording ────────────────────────────────────────────────────────────


def _paired(here: Tap, there: Tap) -> tuple[list[tuple[Mode, Mode]], float | None]:
    """The modes in both, one bell taken to ring higher than the other by the same share
    throughout, and the logarithm of that share."""
    try:
        found = match(
            [mode.frequency_hz for mode in here.modes],
            [mode.frequency_hz for mode in there.modes],
            np.ones(len(there.modes)),
        )
    except InputError:  # two bells that have no mode in common can be compared all the same
        return [], None
    return [(here.modes[i], there.modes[j]) for i, j in found.pairs], found.change


def _against(here: Tap, there: Tap) -> AgainstAnswer:
    ring, change = there.ring, _paired(here, there)[1]
    return AgainstAnswer(
        ring_s=ring.ring_s,
        ring_u95_s=2 * ring.ring_u_s,
        ring_weighted_s=ring.weighted_s,
        ring_weighted_u95_s=2 * ring.weighted_u_s,
        taps=there.used,
        pitch_percent=None if change is None else 100 * math.expm1(change),
    )


def _compared(here: Tap, there: Tap) -> Iterator[ComparedMode]:
    pairs, _ = _paired(here, there)
    only_here = [mode for mode in here.modes if mode not in [a for a, _ in pairs]]
    only_there = [mode for mode in there.modes if mode not in [b for _, b in pairs]]
    rows = [(a.frequency_hz, _both(a, b)) for a, b in pairs]
    for mode in only_here:
        row = ComparedMode(
            frequency_hz=mode.frequency_hz, pitch="only here", decay_s=mode.decay_s, decay=""
        )
        rows.append((mode.frequency_hz, row))
    for mode in only_there:
        row = ComparedMode(
            against_hz=mode.frequency_hz, pitch="only there", against_decay_s=mode.decay_s, decay=""
        )
        rows.append((mode.frequency_hz, row))
    for _, row in sorted(rows, key=lambda pair: pair[0]):
        yield row


def _both(a: Mode, b: Mode) -> ComparedMode:
    pitch_u = math.hypot(a.frequency_u_hz / a.frequency_hz, b.frequency_u_hz / b.frequency_hz)
    decay_u = math.hypot(a.decay_u / a.decay_rate, b.decay_u / b.decay_rate)
    return ComparedMode(
        frequency_hz=a.frequency_hz,
        against_hz=b.frequency_hz,
        pitch=_told(a.frequency_hz / b.frequency_hz, pitch_u, ("higher", "lower")),
        decay_s=a.decay_s,
        against_decay_s=b.decay_s,
        decay=_told(a.decay_s / b.decay_s, decay_u, ("longer", "shorter")),
    )


def _told(ratio: float, u: float, words: tuple[str, str]) -> str:
    """A ratio in per cent, where it is more than the uncertainty (k = 2) of both."""
    percent = 100 * (ratio - 1)
    if abs(percent) <= 200 * u:
        return f"the same within {200 * u:.2g} %"
    return f"{abs(percent):.2g} % {words[0] if percent > 0 else words[1]}"


# ── to draw ──────────────────────────────────────────────────────────────────────────────


def _drawn(heard: _Heard) -> SpectrogramAnswer:
    table = spectrogram(
        heard.samples, heard.rate_hz, lowest_hz=heard.lowest_hz, highest_hz=heard.highest_hz
    )
    digits = np.clip(9 + np.ceil(table.level_db / _STEP_DB - 0.5), 0, 9).astype(int)
    return SpectrogramAnswer(
        rows=["".join(map(str, row)) for row in digits.tolist()],
        step_db=_STEP_DB,
        lowest_hz=table.lowest_hz,
        highest_hz=table.highest_hz,
        seconds=table.seconds,
    )


def sounds(case: TapCase, answer: TapAnswer) -> list[NamedSound]:
    """The recording, and the second one."""
    named = (("The recording", case.file), ("The second recording", case.against))
    return [
        NamedSound(name=name, wav=_as_wav(recording))
        for name, recording in named
        if recording is not None
    ]


def _as_wav(recording: Recording) -> bytes:
    if not recording.is_example:
        return recording.data
    sound = example_sound()
    return wav_bytes(sound.samples, sound.rate_hz)


WORKSHEET = Worksheet(
    heading=heading("tap"),
    case=TapCase,
    answer=TapAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
    steps=STEPS,
    sounds=sounds,
)
