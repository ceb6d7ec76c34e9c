"""Horizontal bars of contributions: a name, a bar, its value written; no grid, no colour needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, document, element, line, text
from kitwright.pictures.foot import NOTE, SIDE, SMALL
from kitwright.pictures.lettering import text_width, wrap
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_NAME: Final = 14.0
_LINE: Final = 18.0
_THICK: Final = 11.0
_BETWEEN: Final = 13.0
_NOTHING: Final = 1e-12
_LARGEST: Final = 1e12


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One contributor: its share now and, where the picture compares, after a change.

    `words` and `after_words` are the values as they are written beside the bars.
    """

    name: str
    value: float
    words: str
    after: float | None = None
    after_words: str = ""


def bars(
    rows: Sequence[Bar],
    *,
    title: str,
    note: str = "",
    before: str = "now",
    after: str = "after",
    palette: Palette = PAGE,
) -> str:
    """Bars from one zero line, all to one scale, as SVG text.

    A long name runs over two lines and is shortened after that. A value below zero runs to the
    left. Where any row has an `after`, it is drawn as an open bar under the solid one, and the
    words `before` and `after` say which is which.

    Raises
    ------
    InputError
        No row, or a value that is not finite.
    """
    if not rows:
        raise InputError("rows", "none given", "give one or more")
    values = [value for row in rows for value in (row.value, row.after) if value is not None]
    for value in values:
        if not abs(value) < _LARGEST:
            raise InputError("rows", f"{value} cannot be drawn", "give a finite number")
    compares = any(row.after is not None for row in rows)
    widest = max(text_width(t, _NAME) for row in rows for t in (row.words, row.after_words))
    low, high = min(0.0, *values, 0.0), max(0.0, *values, 0.0)
    room = WIDTH - 2 * SIDE - min(widest, 160) - 8
    scale = room / (high - low) if high - low > _NOTHING else 0.0
    zero = SIDE - low * scale

    drawn: list[Element] = []
    y = 14.0
    for text_row in wrap(note, NOTE, WIDTH - 2 * SIDE, lines=2, semibold=True):
        y += 6
        drawn.append(text(text_row, (SIDE, y), NOTE, palette.ink, semibold=True))
        y += 15
    if compares:
        drawn += _key(y + 6, before, after, palette)
        y += 24
    for row in rows:
        for part in wrap(row.name, _NAME, WIDTH - 2 * SIDE, lines=2):
            y += _LINE
            drawn.append(text(part, (SIDE, y - 6), _NAME, palette.ink))
        top = y
        drawn += _bar(zero, y, row.value, scale, row.words, palette, is_open=False)
        y += _THICK
        if row.after is not None:
            y += 6
            drawn += _bar(zero, y, row.after, scale, row.after_words, palette, is_open=True)
            y += _THICK
        drawn.append(line((zero, top), (zero, y), stroke_width=1))
        y += _BETWEEN
    told = "; ".join(
        f"{row.name}: {row.words}"
        + (f", {after} {row.after_words}" if row.after is not None else "")
        for row in rows
    )
    return document(
        WIDTH, y + 2, drawn, title=title, description=f"{note} {told}.".strip(), palette=palette
    )


def _bar(
    zero: float,
    top: float,
    value: float,
    scale: float,
    words: str,
    palette: Palette,
    *,
    is_open: bool,
) -> list[Element]:
    start, end = sorted((zero, zero + value * scale))
    drawn = []
    if end - start > 0.05:
        inset = 0.6 if is_open else 0.0
        drawn.append(
            element(
                "rect",
                x=start + inset,
                y=top + inset,
                width=max(end - start - 2 * inset, 0.4),
                height=_THICK - 2 * inset,
                fill=palette.ground if is_open else palette.ink,
                stroke_width=1.2 if is_open else None,
                stroke=None if is_open else "none",
            )
        )
    drawn.append(text(words, (end + 6, top + _THICK - 1), _NAME, palette.ink))
    return drawn


def _key(y: float, before: str, after: str, palette: Palette) -> list[Element]:
    drawn = []
    x = SIDE
    for words, is_open in ((before, False), (after, True)):
        drawn.append(
            element(
                "rect",
                x=x + 0.6,
                y=y - 9,
                width=16,
                height=9,
                fill=palette.ground if is_open else palette.ink,
                stroke_width=1.2,
            )
        )
        drawn.append(text(words, (x + 23, y), SMALL, palette.ink))
        x += 23 + text_width(words, SMALL) + 18
    return drawn
