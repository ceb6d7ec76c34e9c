"""A recording over time and pitch: the darker, the louder; the modes are named at the right."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, document, element, line, number, path, text
from kitwright.pictures.foot import SIDE, SMALL
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_LEFT: Final = 52.0
_RIGHT: Final = 334.0
_TOP: Final = 20.0
_TALL: Final = 236.0
_FAINTEST: Final = 2
"""Digits below it are bare paper: noise would speckle it."""
_DARKEST: Final = 9
_APART: Final = 15.0
_ROUND: Final = (50, 100, 200, 500, 1000, 2000, 5000, 10_000)


@dataclass(frozen=True, kw_only=True)
class Heard:
    """Rows of digits from the lowest pitch up, 9 loudest, with the range that they span."""

    rows: Sequence[str]
    lowest_hz: float
    highest_hz: float
    seconds: float
    step_db: float


def spectrogram(
    heard: Heard,
    *,
    modes_hz: Sequence[float],
    strikes_s: Sequence[float],
    title: str,
    palette: Palette = PAGE,
) -> str:
    """The recording as SVG text, each strike marked above it, each mode by a tick at its pitch.

    `modes_hz` are named in their order as long as there is room, so the most telling come first.

    Raises
    ------
    InputError
        No rows, rows that differ in length, or a range that is none.
    """
    lengths = {len(row) for row in heard.rows}
    if len(lengths) != 1 or 0 in lengths:
        raise InputError("rows", "none, or of differing length", "give equal rows of digits")
    if not (0 < heard.lowest_hz < heard.highest_hz and heard.seconds > 0):
        raise InputError("rows", "a range that is none", "give a lower and a higher pitch")
    drawn = [*_cells(heard, palette), *_frame(heard, palette)]
    drawn += _strikes(heard, strikes_s, palette)
    drawn += _modes(heard, modes_hz, palette)
    told = ", ".join(f"{pitch:.0f} Hz" for pitch in modes_hz[:12])
    struck = ", ".join(f"{moment:.2f} s" for moment in strikes_s[:12])
    return document(
        WIDTH,
        _TOP + _TALL + 28,
        drawn,
        title=title,
        description=f"Struck at {struck}; modes at {told}.",
        palette=palette,
    )


def _height(heard: Heard, pitch: float) -> float:
    share = math.log(pitch / heard.lowest_hz) / math.log(heard.highest_hz / heard.lowest_hz)
    return _TOP + _TALL * (1 - share)


def _cells(heard: Heard, palette: Palette) -> Iterator[Element]:
    """One element for each loudness: its cells, joined along each row, are strokes of a row's
    height."""
    wide = (_RIGHT - _LEFT) / len(heard.rows[0])
    tall = _TALL / len(heard.rows)
    runs: dict[int, list[list[Point]]] = {}
    for index, row in enumerate(heard.rows):
        y, at = _TOP + _TALL - (index + 0.5) * tall, 0
        for digit, cells in groupby(row):
            end = at + len(list(cells))
            if int(digit) >= _FAINTEST:
                run = [(_LEFT + at * wide, y), (_LEFT + end * wide, y)]
                runs.setdefault(int(digit), []).append(run)
            at = end
    for loudness, strokes in sorted(runs.items()):
        share = (loudness - _FAINTEST + 1) / (_DARKEST - _FAINTEST + 1)
        yield path(strokes, stroke=palette.ink, stroke_width=tall, stroke_opacity=share**1.3)


def _frame(heard: Heard, palette: Palette) -> Iterator[Element]:
    bottom = _TOP + _TALL
    yield path([[(_LEFT, _TOP), (_LEFT, bottom), (_RIGHT, bottom)]], stroke_width=1)
    shown = [each for each in _ROUND if heard.lowest_hz <= each <= heard.highest_hz]
    for pitch in shown:
        y = _height(heard, pitch)
        yield line((_LEFT - 4, y), (_LEFT, y), stroke_width=1)
        words = f"{pitch // 1000} kHz" if pitch >= 1000 else f"{pitch} Hz"
        yield text(words, (_LEFT - 7, y + 4.5), SMALL - 1, palette.soft, anchor="end")
    yield text("0 s", (_LEFT, bottom + 18), SMALL, palette.soft)
    end = f"{heard.seconds:.1f} s"
    yield text(end, (_RIGHT, bottom + 18), SMALL, palette.soft, anchor="end")
    words = f"each shade {heard.step_db:g} dB"
    middle = (_LEFT + _RIGHT) / 2
    yield text(words, (middle, bottom + 18), SMALL, palette.soft, anchor="middle")


def _strikes(heard: Heard, strikes_s: Sequence[float], palette: Palette) -> Iterator[Element]:
    """A small wedge over each strike."""
    for moment in strikes_s:
        x = _LEFT + moment / heard.seconds * (_RIGHT - _LEFT)
        wedge: list[Point] = [(x - 4, _TOP - 11), (x + 4, _TOP - 11), (x, _TOP - 3)]
        yield element(
            "polygon",
            points=" ".join(f"{number(a)},{number(b)}" for a, b in wedge),
            fill=palette.ink,
            stroke="none",
        )


def _modes(heard: Heard, modes_hz: Sequence[float], palette: Palette) -> Iterator[Element]:
    named: list[float] = []
    for pitch in modes_hz:
        if not heard.lowest_hz <= pitch <= heard.highest_hz:
            continue
        y = _height(heard, pitch)
        yield line((_RIGHT + 1, y), (_RIGHT + 6, y), stroke_width=1.2)
        words = f"{pitch:.0f} Hz"
        fits = _RIGHT + 9 + text_width(words, SMALL) <= WIDTH - SIDE / 2
        if fits and all(abs(y - other) >= _APART for other in named):
            named.append(y)
            yield text(words, (_RIGHT + 9, y + 4.5), SMALL, palette.ink)
