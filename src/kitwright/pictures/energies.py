"""Energies on one scale of tenfold steps: what comes, and what models give each wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, document, element, line, text
from kitwright.pictures.foot import SIDE, SMALL
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.palette import PAGE, Palette
from kitwright.worksheets.showing import say_energy

WIDTH: Final = 400.0
_NAME: Final = 14.0
_ROW: Final = 48.0
_TOP: Final = 44.0
_THICK: Final = 14.0
_LEAST, _MOST = 1e-12, 1e18


@dataclass(frozen=True, kw_only=True)
class WallSpan:
    """One wall: the least and the most energy that any model gives it, in J."""

    name: str
    low_j: float
    high_j: float


def energies(
    comes_j: float, walls: Sequence[WallSpan], *, words: str, title: str, palette: Palette = PAGE
) -> str:
    """A stroke for what comes and a span for each wall, as SVG text; equal steps are equal times.

    Raises
    ------
    InputError
        No wall, or an energy that cannot be drawn.
    """
    values = [comes_j, *(end for wall in walls for end in (wall.low_j, wall.high_j))]
    if not walls:
        raise InputError("walls", "none given", "give one or more")
    for value in values:
        if not _LEAST < value < _MOST:
            raise InputError("walls", f"{value} J cannot be drawn", "give energies above zero")
    low, high = math.log10(min(values)), math.log10(max(values))
    start, span = low, max(high - low, 0.1)
    left, room = SIDE + 4, WIDTH - 2 * (SIDE + 4)

    def x(joules: float) -> float:
        return left + (math.log10(joules) - start) / span * room

    at = x(comes_j)
    told = f"{words} {say_energy(comes_j)}"
    half = text_width(told, _NAME, semibold=True) / 2
    middle = min(max(at, SIDE + half), WIDTH - SIDE - half)
    drawn: list[Element] = [
        text(told, (middle, 22), _NAME, palette.ink, anchor="middle", semibold=True)
    ]
    description = [told]
    y = _TOP
    for wall in walls:
        said = say_energy(wall.low_j)
        if wall.high_j > wall.low_j * (1 + 1e-9):
            said += f" to {say_energy(wall.high_j)}"
        taken = text_width(said, _NAME)
        name = shorten(wall.name, _NAME, WIDTH - 2 * SIDE - taken - 12)
        drawn.append(text(name, (SIDE, y), _NAME, palette.ink))
        drawn.append(text(said, (WIDTH - SIDE, y), _NAME, palette.ink, anchor="end"))
        begin, end = x(wall.low_j), x(wall.high_j)
        drawn.append(line((SIDE, y + 10 + _THICK), (WIDTH - SIDE, y + 10 + _THICK),
                          stroke=palette.rule, stroke_width=1))  # fmt: skip
        drawn.append(
            element(
                "rect",
                x=min(begin, WIDTH - SIDE - 3),
                y=y + 10,
                width=max(end - begin, 3),
                height=_THICK,
                fill=palette.wash,
                stroke=palette.ink,
                stroke_width=1.2,
            )
        )
        drawn.append(line((at, y + 8), (at, y + 12 + _THICK), stroke_width=2.4))
        description.append(f"{wall.name}: {said}")
        y += _ROW
    note = "each step to the right is the same number of times more"
    drawn.append(text(note, (SIDE, y - 4), SMALL, palette.soft))
    return document(
        WIDTH, y + 8, drawn, title=title, description=f"{'; '.join(description)}.", palette=palette
    )
