"""The release gap on one line: fingers on the left, bearing on the right, a row for each state."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.errors import InputError
from kitwright.pictures.drawing import (
    Element,
    arrow,
    document,
    element,
    line,
    path,
    text,
)
from kitwright.pictures.foot import SIDE, SMALL
from kitwright.pictures.lettering import shorten
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_LEFT: Final = 190.0
_RIGHT: Final = 388.0
_TOP: Final = 30.0
_ROW: Final = 44.0
_LARGE: Final = 16.0
_SHORTEST_MM: Final = 1e-3
_LARGEST_MM: Final = 1e9


@dataclass(frozen=True, kw_only=True)
class Span:
    """A row: a length along the crank axis, measured rearward from the new clutch's fingers."""

    name: str
    words: str
    from_mm: float
    to_mm: float
    kind: Literal["gap", "move", "limits"] = "gap"
    """A move is what is to be done; limits may end at infinity."""


def spans(rows: Sequence[Span], *, title: str, palette: Palette = PAGE) -> str:
    """Rows to one scale, the engine to the left, as SVG text.

    A gap runs between two end strokes, a move is an arrow, limits are a pair of rails, open
    where there is no limit.

    Raises
    ------
    InputError
        No row that is finite, or one that cannot be drawn.
    """
    given = [end for row in rows for end in (row.from_mm, row.to_mm)]
    ends = [end for end in given if math.isfinite(end)]
    if not ends or any(math.isnan(end) for end in given) or max(map(abs, ends)) >= _LARGEST_MM:
        raise InputError("gap", f"{rows!r:.60} cannot be drawn", "give lengths")
    lowest, highest = min(ends), max(ends)
    room = max(highest - lowest, _SHORTEST_MM)
    # Rails that are open run a little beyond everything else.
    lowest, highest = lowest - 0.04 * room, highest + 0.04 * room
    scale = (_RIGHT - _LEFT) / (highest - lowest)

    def x(mm: float) -> float:
        return _LEFT + (min(max(mm, lowest), highest) - lowest) * scale

    drawn = [
        text("engine", (_LEFT, 15), SMALL, palette.soft),
        text("gearbox", (_RIGHT, 15), SMALL, palette.soft, anchor="end"),
        line((SIDE, 22), (WIDTH - SIDE, 22), stroke=palette.rule, stroke_width=1),
    ]
    for number, row in enumerate(rows):
        y = _TOP + number * _ROW
        left = _LEFT - SIDE - 18
        drawn.append(text(shorten(row.name, SMALL, left), (SIDE, y + 13), SMALL, palette.soft))
        words = shorten(row.words, _LARGE, left, semibold=True)
        colour = palette.brass_text if row.kind == "move" else palette.ink
        drawn.append(text(words, (SIDE, y + 32), _LARGE, colour, semibold=True))
        drawn += _drawn(row, x(row.from_mm), x(row.to_mm), y + 21, palette)
    bottom = _TOP + len(rows) * _ROW + 4
    told = "; ".join(f"{row.name}: {row.words}" for row in rows)
    return document(WIDTH, bottom, drawn, title=title, description=f"{told}.", palette=palette)


def _drawn(row: Span, start: float, end: float, y: float, palette: Palette) -> list[Element]:
    if row.kind == "move":
        return [
            *arrow((start, y), (end, y), palette.brass, width=4),
            line((start, y - 10), (start, y + 10), stroke=palette.brass, stroke_width=1.4),
        ]
    if row.kind == "limits":
        edges = [
            line((at, y - 12), (at, y + 12), stroke_width=2)
            for mm, at in ((row.from_mm, start), (row.to_mm, end))
            if math.isfinite(mm)
        ]
        rails = [((start, y + side), (end, y + side)) for side in (-5, 5)]
        return [path(rails, stroke=palette.soft, stroke_width=1), *edges]
    drawn = [
        line((start, y), (end, y), stroke_width=1.2),
        line((start, y - 12), (start, y + 12), stroke_width=2.4),
        line((end, y - 12), (end, y + 12), stroke_width=2.4),
    ]
    if end < start:  # they run into one another
        box = element("rect", x=end, y=y - 7, width=start - end, height=14, stroke_width=1)
        drawn.insert(0, box)
    return drawn
