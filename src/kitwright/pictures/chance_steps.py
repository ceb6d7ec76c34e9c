"""How a chance rises step by step, with the level that is wanted and the step that reaches it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, line, path, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.marks import level_key, level_line
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_TOP: Final = 16.0
_TALL: Final = 170.0
_LEFT: Final = 56.0
_RIGHT: Final = 384.0
_MOST: Final = 400


def chance_steps(
    chances: Sequence[float],
    *,
    first: str,
    last: str,
    across: str,
    wanted: float,
    reached: int | None,
    words: str,
    title: str,
    palette: Palette = PAGE,
) -> str:
    """Chances at equal steps as SVG text.

    Parameters
    ----------
    chances : each from 0 to 1
    first, last, across : what is written beneath the first step, the last one and between
    wanted : the level that is drawn across
    reached : the step that reaches it; None where none does
    words : what the mark on that step means, or why there is none

    Raises
    ------
    InputError
        No step, too many, or a number that is no chance.
    """
    if not 0 < len(chances) <= _MOST:
        raise InputError("chances", f"{len(chances)} steps", f"give 1 to {_MOST}")
    for chance in [*chances, wanted]:
        if not (math.isfinite(chance) and 0 <= chance <= 1):
            raise InputError("chances", f"{chance} cannot be drawn", "give chances from 0 to 1")
    bottom = _TOP + _TALL
    step = (_RIGHT - _LEFT) / len(chances)

    def up(chance: float) -> float:
        return bottom - chance * _TALL

    stairs = [
        at
        for place, chance in enumerate(chances)
        for at in (
            (_LEFT + place * step, up(chance)),
            (_LEFT + (place + 1) * step, up(chance)),
        )
    ]
    drawn = [
        *_frame(first, last, across, bottom, palette),
        level_line(up(wanted), _LEFT, _RIGHT, palette),
    ]
    drawn.append(path([stairs], stroke_width=1.8))
    keys = [Key(partial(level_key, palette=palette), f"wanted {100 * wanted:.4g} %")]
    if reached is not None:
        at = (_LEFT + (reached + 0.5) * step, up(chances[reached]))
        drawn += _mark(at, palette=palette)
        keys.insert(0, Key(partial(_mark, palette=palette), words))
    note = "" if reached is not None else words
    below, end = foot(bottom + 26, WIDTH, palette, note=note, keys=keys, seen="", bar=None)
    return document(
        WIDTH, end, [*drawn, *below], title=title, description=f"{words}.", palette=palette
    )


def _frame(
    first: str, last: str, across: str, bottom: float, palette: Palette
) -> Iterator[Element]:
    for chance in (0.0, 0.5, 1.0):
        y = bottom - chance * _TALL
        ink = palette.rule if chance else palette.ink
        yield line((_LEFT, y), (_RIGHT, y), stroke=ink, stroke_width=1)
        at = (_LEFT - 8, y + 4.5)
        yield text(f"{100 * chance:.0f} %", at, SMALL, palette.soft, anchor="end")
    yield line((_LEFT, _TOP), (_LEFT, bottom), stroke_width=1)
    y = bottom + 20
    half = (_RIGHT - _LEFT) / 2 - 8
    left, right = shorten(first, SMALL, half), shorten(last, SMALL, half)
    yield text(left, (_LEFT, y), SMALL, palette.soft, anchor="start")
    yield text(right, (min(_RIGHT, WIDTH - SIDE), y), SMALL, palette.soft, anchor="end")
    used = text_width(left, SMALL)
    room = _RIGHT - _LEFT - used - text_width(right, SMALL)
    if room > text_width(across, SMALL) + 16:
        yield text(across, (_LEFT + used + room / 2, y), SMALL, palette.ink, anchor="middle")


def _mark(at: Point, *, palette: Palette) -> list[Element]:
    return [circle(at, 4.8, fill=palette.ink, stroke=palette.ink, stroke_width=1.5)]
