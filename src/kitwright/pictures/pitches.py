"""Pitches on one line: a stem for each mode, above the axis as it is, below it after a change."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, circle, document, line, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import plain

WIDTH: Final = 400.0
_STEM: Final = 54.0
_LARGEST_HZ: Final = 1e9


@dataclass(frozen=True, kw_only=True)
class Stem:
    """One mode: its pitch, what is written at its head, and whether it is a wave of the wall."""

    frequency_hz: float
    words: str
    solid: bool = True


def pitches(
    before: Sequence[Stem], after: Sequence[Stem] = (), *, title: str, palette: Palette = PAGE
) -> str:
    """Stems over an axis in Hz, as SVG text; `after` hangs below it.

    Raises
    ------
    InputError
        No pitch, or one that cannot be drawn.
    """
    stems = [*before, *after]
    if not before:
        raise InputError("modes", "no pitch to draw", "ask for one or more")
    for stem in stems:
        if not 0 < stem.frequency_hz < _LARGEST_HZ:
            raise InputError("modes", f"{stem.frequency_hz} Hz cannot be drawn", "check the case")
    highest = max(stem.frequency_hz for stem in stems)
    step = _step(highest)
    last = math.ceil(highest / step - 1e-9) * step
    left, right = SIDE + 8, WIDTH - SIDE - 44

    def x(hz: float) -> float:
        return left + hz / last * (right - left)

    axis = 26 + _STEM
    drawn: list[Element] = [line((left, axis), (right, axis), stroke_width=1.4)]
    drawn += _stems(before, x, axis, -1.0, palette)
    drawn += _stems(after, x, axis, 1.0, palette)
    foot_at = axis + (_STEM + 22 if after else 0)
    for index in range(round(last / step) + 1):
        at = x(index * step)
        drawn.append(line((at, axis), (at, axis + 4), stroke_width=1))
        words = plain(index * step, 0)
        drawn.append(text(words, (at, foot_at + 22), SMALL, palette.ink, anchor="middle"))
    drawn.append(text("Hz", (WIDTH - SIDE, foot_at + 22), SMALL, palette.soft, anchor="end"))
    keys = [Key(lambda at: [_head(at, True, palette)], "wave of the wall, by nodal diameters")]
    if not all(stem.solid for stem in stems):
        keys.append(Key(lambda at: [_head(at, False, palette)], "another mode"))
    if after:
        keys.append(Key(lambda at: [_down(at, palette)], "below the line: after the change"))
    below, bottom = foot(foot_at + 26, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    listed = ", ".join(plain(stem.frequency_hz, 0) for stem in before)
    told = f"Pitches in Hz: {listed}"
    if after:
        told += f"; after the change: {', '.join(plain(one.frequency_hz, 0) for one in after)}"
    return document(
        WIDTH, bottom, [*drawn, *below], title=title, description=f"{told}.", palette=palette
    )


def _step(highest: float) -> float:
    """The least of 1, 2 or 5 times a power of ten of which five steps reach the highest."""
    power = 10.0 ** math.floor(math.log10(highest / 5))
    return next(
        size * power for size in (1.0, 2.0, 5.0, 10.0) if 5 * size * power >= highest * (1 - 1e-9)
    )


def _stems(
    stems: Sequence[Stem], x: Callable[[float], float], axis: float, way: float, palette: Palette
) -> list[Element]:
    drawn: list[Element] = []
    taken = -math.inf
    for stem in sorted(stems, key=lambda one: one.frequency_hz):
        at, end = x(stem.frequency_hz), axis + way * _STEM
        drawn.append(line((at, axis), (at, end - way * 4), stroke_width=1.4))
        drawn.append(_head((at, end), stem.solid, palette))
        half = text_width(stem.words, SMALL) / 2
        if at - half > taken + 3:
            y = end - 9 if way < 0 else end + 18
            drawn.append(text(stem.words, (at, y), SMALL, palette.ink, anchor="middle"))
            taken = at + half
    return drawn


def _head(at: tuple[float, float], solid: bool, palette: Palette) -> Element:
    fill = palette.ink if solid else palette.ground
    return circle(at, 3.4, fill=fill, stroke=palette.ink, stroke_width=1.4)


def _down(at: tuple[float, float], palette: Palette) -> Element:
    return line((at[0], at[1] - 6), (at[0], at[1] + 6), stroke=palette.ink, stroke_width=1.4)
