"""The foot of a picture: what it says once, its keys, the way it is seen and its scale bar."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.pictures.drawing import Element, Point, path, text
from kitwright.pictures.lettering import shorten, text_width, wrap
from kitwright.pictures.palette import Palette
from kitwright.units import Lead

SMALL: Final = 13.0
NOTE: Final = 15.0
SIDE: Final = 6.0
"""Margin at both sides."""
_ROW: Final = 21.0
_SYMBOL: Final = 20.0
_BETWEEN: Final = 16.0


Symbol = Callable[[Point], Sequence[Element]]
"""What draws a key's symbol, about 14 wide, at a point."""


@dataclass(frozen=True)
class Key:
    """A line of the legend: a symbol drawn at a point, and its words."""

    symbol: Symbol
    words: str
    colour: str | None = None


@dataclass(frozen=True)
class ScaleBar:
    """A length on the page and what it stands for."""

    length: float
    words: str


def scale_bar(per_mm: float, lead: Lead, *, longest: float = 76.0) -> ScaleBar:
    """The longest bar of 1, 2 or 5 times a power of ten, in thou (inches when long) or mm.

    >>> scale_bar(1000, "mm"), scale_bar(2000, "in")
    (ScaleBar(length=50.0, words='0.05 mm'), ScaleBar(length=50.8, words='1 thou'))
    """
    unit_mm = 0.0254 if lead == "in" else 1.0
    most = longest / (per_mm * unit_mm)
    power = 10.0 ** math.floor(math.log10(most))
    size = next(step * power for step in (5.0, 2.0, 1.0) if step * power <= most * (1 + 1e-12))
    length = size * unit_mm * per_mm
    if lead == "in" and size >= 100:
        return ScaleBar(length, f"{size / 1000:.10g} in")
    return ScaleBar(length, f"{size:.10g} {'thou' if lead == 'in' else 'mm'}")


def foot(
    top: float,
    width: float,
    palette: Palette,
    *,
    note: str,
    keys: Sequence[Key],
    seen: str,
    bar: ScaleBar | None,
) -> tuple[list[Element], float]:
    """The foot from `top` on, and where the picture ends."""
    drawn: list[Element] = []
    y = top
    room = width - 2 * SIDE
    for row in wrap(note, NOTE, room, lines=3, semibold=True):
        y += _ROW
        drawn.append(text(row, (SIDE, y), NOTE, palette.ink, semibold=True))
    x = width
    for key in keys:
        words = shorten(key.words, SMALL, room - _SYMBOL)
        wide = _SYMBOL + text_width(words, SMALL)
        if x + wide > width - SIDE:
            x = SIDE
            y += _ROW
        drawn.extend(key.symbol((x + 7, y - 4.5)))
        drawn.append(text(words, (x + _SYMBOL, y), SMALL, key.colour or palette.ink))
        x += wide + _BETWEEN
    if not seen and bar is None:
        return drawn, y + 11
    y += _ROW + 3
    drawn.append(text(seen, (SIDE, y), SMALL, palette.soft))
    if bar is not None:
        right = width - SIDE
        end = right - text_width(bar.words, SMALL) - 7
        ends = (end - bar.length, y - 4.5), (end, y - 4.5)
        caps = [((x, y - 8.5), (x, y - 0.5)) for x in (ends[0][0], end)]
        drawn.append(path([ends, *caps], stroke_width=1.2))
        drawn.append(text(bar.words, (right, y), SMALL, palette.ink, anchor="end"))
    return drawn, y + 11
