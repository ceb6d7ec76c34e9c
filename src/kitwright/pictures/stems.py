"""Modes as stems over pitch: how long or how loud each is, of one bell or of two side by side."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, line, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_LEFT: Final = 54.0
_RIGHT: Final = 386.0
_TOP: Final = 16.0
_TALL: Final = 150.0
_ROUND: Final = tuple(each * 10**power for power in (1, 2, 3, 4) for each in (1, 2, 5))


@dataclass(frozen=True, kw_only=True)
class Stems:
    """One bell's modes: (Hz, height), and what the bell is called."""

    name: str
    points: Sequence[Point]


def stems(
    bells: Sequence[Stems],
    *,
    least: float,
    most: float,
    unit: str,
    title: str,
    note: str = "",
    palette: Palette = PAGE,
) -> str:
    """One or two bells as SVG text, over pitch in equal ratios; heights from `least` to `most`.

    The first bell's stems bear filled discs, the second's open ones.

    Raises
    ------
    InputError
        No bell, more than two, none with a mode, or a scale that is none.
    """
    pitches = [pitch for bell in bells for pitch, _ in bell.points]
    if not 1 <= len(bells) <= 2 or not pitches:
        raise InputError("bells", f"{len(bells)} to draw", "give one or two, with modes")
    if not (least < most and all(pitch > 0 for pitch in pitches)):
        raise InputError("bells", "a scale that is none", "give a lower and a higher end")
    low, high = min(pitches) / 1.12, max(pitches) * 1.12
    bottom = _TOP + _TALL

    def place(pitch: float, height: float) -> Point:
        across = math.log(pitch / low) / math.log(high / low)
        up = (min(max(height, least), most) - least) / (most - least)
        return _LEFT + across * (_RIGHT - _LEFT), bottom - up * _TALL

    drawn = list(_frame(place, low, high, least, most, unit, palette))
    for number, bell in enumerate(bells):
        shift = 0.0 if len(bells) == 1 else 1.6 * (2 * number - 1)
        for pitch, height in bell.points:
            x, y = place(pitch, height)
            drawn.append(line((x + shift, bottom), (x + shift, y), stroke_width=1.4))
            drawn += _disc((x + shift, y), filled=number == 0, palette=palette)
    keys = []
    if len(bells) == 2:
        for number, bell in enumerate(bells):
            symbol = partial(_disc, filled=number == 0, palette=palette)
            keys.append(Key(symbol, bell.name))
    below, end = foot(bottom + 26, WIDTH, palette, note=note, keys=keys, seen="", bar=None)
    told = "; ".join(
        f"{bell.name}: "
        + ", ".join(f"{pitch:.0f} Hz {height:.3g} {unit}" for pitch, height in bell.points[:12])
        for bell in bells
    )
    return document(
        WIDTH, end, [*drawn, *below], title=title, description=f"{told}.", palette=palette
    )


def _disc(at: Point, *, filled: bool, palette: Palette) -> list[Element]:
    fill = palette.ink if filled else palette.ground
    return [circle(at, 3.6, fill=fill, stroke=palette.ink, stroke_width=1.4)]


def _frame(
    place: Callable[[float, float], Point],
    low: float,
    high: float,
    least: float,
    most: float,
    unit: str,
    palette: Palette,
) -> Iterator[Element]:
    bottom = _TOP + _TALL
    yield line((_LEFT, _TOP), (_LEFT, bottom), stroke_width=1)
    yield line((_LEFT, bottom), (_RIGHT, bottom), stroke_width=1)
    for height in (least, most):
        _, y = place(low, height)
        yield line((_LEFT - 4, y), (_LEFT, y), stroke_width=1)
        words = f"{height:.3g} {unit}".replace("-", "−")
        yield text(words, (_LEFT - 7, y + 4.5), SMALL, palette.soft, anchor="end")
    right = -math.inf
    for pitch in (each for each in _ROUND if low <= each <= high):
        x, _ = place(pitch, least)
        words = f"{pitch / 1000:g} kHz" if pitch >= 1000 else f"{pitch} Hz"
        half = text_width(words, SMALL) / 2
        yield line((x, bottom), (x, bottom + 4), stroke_width=1)
        if x - half > right + 8 and x - half >= SIDE and x + half <= WIDTH - SIDE:
            right = x + half
            yield text(words, (x, bottom + 18), SMALL, palette.soft, anchor="middle")
