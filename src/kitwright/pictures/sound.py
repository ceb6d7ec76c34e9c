"""The pictures of what a bell sounds like: a tap's, and two designs side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.picture import Picture
from kitwright.pictures.spectrogram import Heard, spectrogram
from kitwright.pictures.stems import Stems, stems
from kitwright.pictures.tap_guide import tap_guide
from kitwright.units import Lead


def tap(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The recording, and how long each mode rings."""
    seen = answer.spectrogram
    by_loudness = sorted(answer.modes, key=lambda mode: -mode.level_db)
    recording = spectrogram(
        Heard(
            rows=seen.rows,
            lowest_hz=seen.lowest_hz,
            highest_hz=seen.highest_hz,
            seconds=seen.seconds,
            step_db=seen.step_db,
        ),
        modes_hz=[mode.frequency_hz for mode in by_loudness],
        strikes_s=answer.strikes_s,
        title="The recording",
        palette=palette,
    )
    bells = [Stems(name="this one", points=[(m.frequency_hz, m.decay_s) for m in answer.modes])]
    other = [(row.against_hz, row.against_decay_s) for row in answer.compared if row.against_hz]
    if other:
        bells.append(Stems(name="second recording", points=other))
    longest = max(time for bell in bells for _, time in bell.points)
    lasting = stems(
        bells,
        least=0.0,
        most=_round_up(longest),
        unit="s",
        title="How long each mode rings",
        palette=palette,
    )
    caption = "Time to the right, pitch upward; a wedge is a strike, a tick a mode of the bell."
    yield Picture(svg=recording, caption=caption)
    yield Picture(svg=lasting, caption="The time in which each mode falls 60 dB, over its pitch.")


def heard(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """How loud each mode of each design begins, as the ear weighs it."""
    bells = [
        Stems(name=each.name, points=[(m.frequency_hz, m.heard_db) for m in each.modes])
        for each in answer.designs
    ]
    top = max(level for bell in bells for _, level in bell.points)
    most = 10 * math.ceil(top / 10)
    svg = stems(
        bells, least=most - 50, most=most, unit="dB", title="What is heard first", palette=palette
    )
    caption = "How loud each mode begins, as the ear weighs it; 0 dB is the loudest."
    yield Picture(svg=svg, caption=caption)


def guide_of(name: str, *, palette: Palette = PAGE) -> Picture | None:
    """The drawing beside a worksheet's steps; None where it has none."""
    if name != "tap":
        return None
    caption = "How it hangs, where to strike, where to listen."
    return Picture(svg=tap_guide(palette), caption=caption)


def _round_up(value: float) -> float:
    """The next of 1, 2, 3, 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 3, 5, 10) if step * power >= value * (1 - 1e-9))
