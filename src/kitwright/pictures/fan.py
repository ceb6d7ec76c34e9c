"""What may come day by day: the middle of many runs as a line, 5 to 95 of 100 as a tinted band."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, document, line, path, polygon, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.marks import level_key, level_line
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_TOP: Final = 26.0
_TALL: Final = 160.0
_LEFT: Final = 8.0
_RIGHT: Final = 392.0
_MOST: Final = 800
_LARGEST: Final = 1e12


def fan(
    low: Sequence[float],
    middle: Sequence[float],
    high: Sequence[float],
    *,
    first: str,
    last: str,
    what: str,
    level: float | None,
    level_words: str,
    title: str,
    palette: Palette = PAGE,
) -> str:
    """Three curves of equal length over equal steps, from zero up, as SVG text.

    Parameters
    ----------
    low, middle, high : zero or more at each step, in this order
    first, last : what is written beneath the first and the last step
    what : what is counted; written with the highest number
    level, level_words : a level drawn across, and what it means; None for none

    Raises
    ------
    InputError
        Curves of unequal length, none, too long, or out of their order.
    """
    if not 0 < len(middle) <= _MOST or not len(low) == len(middle) == len(high):
        raise InputError("bands", f"{len(middle)} steps", f"give 1 to {_MOST}, all alike")
    for a, b, c in zip(low, middle, high, strict=True):
        if not 0 <= a <= b <= c < _LARGEST:
            raise InputError("bands", f"{a}, {b}, {c} cannot be drawn", "give them in order")
    if level is not None and not (math.isfinite(level) and 0 <= level < _LARGEST):
        raise InputError("bands", f"level {level}", "give zero or more")
    most = max([*high, level or 0.0]) or 1.0
    bottom = _TOP + _TALL
    step = (_RIGHT - _LEFT) / max(len(middle) - 1, 1)

    def curve(values: Sequence[float]) -> list[Point]:
        return [
            (_LEFT + place * step, bottom - value / most * _TALL)
            for place, value in enumerate(values)
        ]

    drawn: list[Element] = [
        polygon([*curve(high), *reversed(curve(low))], fill=palette.wash, stroke="none"),
        path([curve(low), curve(high)], stroke=palette.line, stroke_width=0.8),
        path([curve(middle)], stroke_width=1.8),
    ]
    keys = [
        Key(partial(_line, palette=palette), "middle of the years"),
        Key(partial(_box, palette=palette), "5 to 95 of 100 years"),
    ]
    if level is not None:
        drawn.append(level_line(bottom - level / most * _TALL, _LEFT, _RIGHT, palette))
        keys.append(Key(partial(level_key, palette=palette), level_words))
    drawn += _frame(first, last, f"{what}, up to {most:.10g}", bottom, palette)
    below, end = foot(bottom + 26, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    told = f"{what}: middle from {middle[0]:.10g} to {middle[-1]:.10g}, highest {max(high):.10g}"
    return document(
        WIDTH, end, [*drawn, *below], title=title, description=f"{told}.", palette=palette
    )


def _frame(first: str, last: str, what: str, bottom: float, palette: Palette) -> Iterator[Element]:
    yield line((_LEFT, bottom), (_RIGHT, bottom), stroke_width=1)
    heading = shorten(what, SMALL, WIDTH - 2 * SIDE)
    yield text(heading, (_LEFT - 2, 16), SMALL, palette.soft)
    left = shorten(first, SMALL, (_RIGHT - _LEFT) / 2 - 8)
    right = shorten(last, SMALL, _RIGHT - _LEFT - text_width(left, SMALL) - 16)
    yield text(left, (_LEFT, bottom + 20), SMALL, palette.soft, anchor="start")
    yield text(right, (_RIGHT, bottom + 20), SMALL, palette.soft, anchor="end")


def _line(at: Point, *, palette: Palette) -> list[Element]:
    x, y = at
    return [line((x - 7, y), (x + 7, y), stroke=palette.ink, stroke_width=1.8)]


def _box(at: Point, *, palette: Palette) -> list[Element]:
    x, y = at
    corners = [(x - 7, y - 5), (x + 7, y - 5), (x + 7, y + 5), (x - 7, y + 5)]
    return [polygon(corners, fill=palette.wash, stroke=palette.line, stroke_width=0.8)]
