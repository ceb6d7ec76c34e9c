"""How would this bell sound beside that one?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.loss_ranges import LOSSES
from kitwright.calc.shell.loudness import a_weighting_db
from kitwright.calc.shell.ring_time import Ring, decay_s, ring_time
from kitwright.calc.shell.strike import strike
from kitwright.errors import InputError, Problem
from kitwright.files.wav import wav_bytes
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import NamedSound, Worksheet
from kitwright.worksheets.shell.heard_case import (
    DesignPart,
    HeardAnswer,
    HeardCase,
    HeardDesign,
    HeardMode,
)
from kitwright.worksheets.shell.heard_said import CAUTIONS, EXAMPLE, HOW, SOURCES, in_car, say

RATE_HZ: Final = 44_100
PEAK: Final = 0.5
LEAST_S: Final = 1.0
MOST_S: Final = 8.0
PAUSE_S: Final = 0.4


@dataclass(frozen=True)
class _Design:
    """A design in figures: what each mode begins with, and what it loses, at the least, most and
    in the middle."""

    name: str
    frequency_hz: Floats
    amplitude: Floats
    low: Floats
    middle: Floats
    high: Floats
    loss: str
    basis: str
    """What its amplitudes rest on: two of one basis took the same blow."""

    def rate(self, loss: Floats) -> Floats:
        return np.asarray(math.pi * self.frequency_hz * loss)

    @property
    def heard_db(self) -> Floats:
        """A-weighted level of each mode at the blow."""
        weight = a_weighting_db(self.frequency_hz)
        return np.asarray(20 * np.log10(np.maximum(self.amplitude, 1e-12)) + weight)

    def ring(self, loss: Floats) -> Ring:
        power = np.maximum(self.amplitude, 1e-12) ** 2
        return ring_time(self.frequency_hz, self.rate(loss), power)


def solve(case: HeardCase) -> HeardAnswer:
    """Work out how each bell begins and how long it rings."""
    designs, equal = _designs(case)
    top = max(float(each.heard_db.max()) for each in designs)
    told = [_told(each, top) for each in designs]
    bolted = LOSSES["bolted together"]
    first = designs[0]
    lossy = [
        first.ring(np.full(len(first.frequency_hz), at)).ring_s for at in (bolted.high, bolted.low)
    ]
    two = len(told) == 2
    return HeardAnswer(
        equal_blow=equal,
        second_over_first_db=told[1].heard_db - told[0].heard_db if two and equal else None,
        second_over_first_ring=told[1].ring_s / told[0].ring_s if two else None,
        designs=told,
        first_modes=told[0].modes,
        second_modes=told[1].modes if two else [],
        in_car=in_car(lossy[0], lossy[1]),
        assumed=list(_assumed(case, designs, equal=equal)),
        how=HOW,
    )


def _told(design: _Design, top: float) -> HeardDesign:
    level = design.heard_db - top
    usual, long, short = (design.ring(loss) for loss in (design.middle, design.low, design.high))
    spans = bool((design.high > design.low).any())
    decays = decay_s(design.rate(design.middle))
    return HeardDesign(
        name=design.name,
        loss=design.loss,
        lowest_hz=float(design.frequency_hz.min()),
        loudest_hz=float(design.frequency_hz[level.argmax()]),
        heard_db=float(10 * np.log10(np.sum(10 ** (level / 10)))),
        ring_s=usual.ring_s,
        ring_shortest_s=short.ring_s if spans else None,
        ring_longest_s=long.ring_s if spans else None,
        weighted_s=usual.weighted_s,
        modes=[
            HeardMode(
                frequency_hz=float(f), heard_db=float(db), loss_factor=float(loss), decay_s=float(t)
            )
            for f, db, loss, t in sorted(
                zip(design.frequency_hz, level, design.middle, decays, strict=True)
            )
        ],
    )


# ── from a case ──────────────────────────────────────────────────────────────────────────


def _designs(case: HeardCase) -> tuple[list[_Design], bool]:
    """The designs, and whether their levels are those of one blow."""
    problems: list[Problem] = []
    found = []
    for index, part in enumerate(case.designs):
        try:
            found.append(_design(part))
        except InputError as error:
            problems += [problem.within(f"designs[{index}]") for problem in error.problems]
    if problems:
        raise InputError.of(problems)
    equal = len({each.basis for each in found}) == 1 and found[0].basis != "list"
    if len(found) == 2 and not equal:  # both as loud at first, since nothing tells them apart
        found = [
            _Design(**{**vars(each), "amplitude": each.amplitude / _loudest(each)})
            for each in found
        ]
    return found, equal


def _loudest(design: _Design) -> float:
    return float(10 ** (design.heard_db.max() / 20))


def _design(part: DesignPart) -> _Design:
    problems = list(_contradictions(part))
    if problems:
        raise InputError.of(problems)
    if part.bell is not None:
        frequency, amplitude, basis = _computed(part)
        own: list[float | None] = [None] * len(frequency)
    else:
        rows = part.modes or []
        frequency = np.array([row.frequency_hz for row in rows])
        amplitude = 10 ** (np.array([row.level_db for row in rows]) / 20) / (part.mass_kg or 1.0)
        basis = "list" if part.mass_kg is None else "mass"
        own = [row.loss_factor for row in rows]
    low, high, loss = _losses(part, own)
    return _Design(part.name, frequency, amplitude, low, np.sqrt(low * high), high, loss, basis)


def _contradictions(part: DesignPart) -> Iterator[Problem]:
    if (part.modes is None) == (part.bell is None):
        given = "missing" if part.modes is None else "given beside bell"
        yield Problem("modes", given, "give modes or bell")
    if part.bell is None and part.struck_at is not None:
        yield Problem("struck_at", "given without bell", "levels in the list say what a blow does")
    if part.bell is not None and part.mass_kg is not None:
        yield Problem("mass_kg", "given beside bell", "leave it out: the design has its own")
    listed = any(row.loss_factor is not None for row in part.modes or ())
    if part.loss_of is not None and (part.loss_factor is not None or listed):
        yield Problem("loss_of", "given beside a loss factor", "give one of the two")
    if part.loss_of is not None and part.measured:
        yield Problem("measured", "a published range is not measured", "leave it out")
    whole = part.modes and all(row.loss_factor is not None for row in part.modes)
    if part.loss_of is None and part.loss_factor is None and not whole:
        yield Problem("loss_factor", "missing", "give it, one for each mode, or loss_of")


def _losses(part: DesignPart, own: Sequence[float | None]) -> tuple[Floats, Floats, str]:
    """Least and most of each mode, and where they come from."""
    if part.loss_of is not None:
        known = LOSSES[part.loss_of]
        words = f"published for {part.loss_of}, {known.low:g} to {known.high:g}"
        return np.full(len(own), known.low), np.full(len(own), known.high), words
    each = np.array([part.loss_factor if loss is None else loss for loss in own], float)
    return each, each, "measured by a tap" if part.measured else "your own figure, not measured"


def _computed(part: DesignPart) -> tuple[Floats, Floats, str]:
    from kitwright.calc.shell.blow import spoken  # noqa: PLC0415 - 0.5 s that lists do not need
    from kitwright.worksheets.shell.computed_modes import computed_modes  # noqa: PLC0415

    assert part.bell is not None
    modes = computed_modes(part.bell, "bell")
    z_mm = modes.shape.length_mm / 2 if part.struck_at is None else part.struck_at.z.mm
    clock = 45.0 if part.struck_at is None else part.struck_at.clock_deg
    try:
        speed = spoken(modes, z_mm=z_mm, clock_deg=clock)
    except InputError as error:
        raise InputError("struck_at", error.problems[0].given, error.problems[0].expected) from None
    return modes.frequencies_hz, speed, "design"


def _assumed(case: HeardCase, designs: Sequence[_Design], *, equal: bool) -> Iterator[str]:
    for part, design in zip(case.designs, designs, strict=True):
        if part.bell is not None and part.struck_at is None:
            yield f"{part.name}: struck half way along, at 45°."
        if part.loss_of is not None:
            yield (
                f"{part.name}: the sound is made with {design.middle[0]:.2g}, the middle of what "
                "is published."
            )
    if len(designs) == 2 and not equal:
        yield (
            "Both begin equally loud as the ear hears it: nothing says how one blow moves the one "
            "and the other. Give both masses, or both designs."
        )
    elif len(designs) == 2 and designs[0].basis == "mass":
        yield "A bell of twice the mass moves half as much from the same blow."
    yield "How well each mode turns into sound is not worked out; the room is left out."


# ── to listen to ─────────────────────────────────────────────────────────────────────────


def sounds(case: HeardCase, answer: HeardAnswer) -> list[NamedSound]:
    """Both in turn and each alone, scaled alike; one design is one sound."""
    designs, _ = _designs(case)
    lasting = max(each.ring_s for each in answer.designs)
    made = [
        strike(
            each.frequency_hz,
            each.rate(each.middle),
            each.amplitude,
            rate_hz=RATE_HZ,
            seconds=min(max(lasting, LEAST_S), MOST_S),
        )
        for each in designs
    ]
    loudest = max(float(np.abs(each).max(initial=0.0)) for each in made)
    made = [each * (PEAK / loudest if loudest > 0 else 0.0) for each in made]
    alone = [
        NamedSound(name=f"{each.name} ({each.loss})", wav=wav_bytes(sound, RATE_HZ))
        for each, sound in zip(designs, made, strict=True)
    ]
    if len(made) == 1:
        return alone
    pause = np.zeros(round(PAUSE_S * RATE_HZ))
    both = np.concatenate([made[0], pause, made[1]])
    return [NamedSound(name="One after the other", wav=wav_bytes(both, RATE_HZ)), *alone]


WORKSHEET = Worksheet(
    heading=heading("heard"),
    case=HeardCase,
    answer=HeardAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
    sounds=sounds,
)
