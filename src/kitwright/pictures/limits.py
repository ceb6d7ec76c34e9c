"""A value between its limits: the limits, the guard bands that its uncertainty asks for, and the
value with its plus and minus."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import (
    Element,
    Point,
    document,
    element,
    hatching_of_box,
    line,
    path,
    text,
)
from kitwright.pictures.foot import SIDE, Key, foot
from kitwright.pictures.lettering import text_width
from kitwright.pictures.marks import Verdict, disc
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import Lead, show_length

WIDTH: Final = 400.0
_LEFT: Final = 40.0
_RIGHT: Final = 360.0
_Y: Final = 78.0
_HALF: Final = 13.0
_WORDS: Final = 14.0
_LARGE: Final = 17.0
_FINEST_MM: Final = 1e-6
_LARGEST_MM: Final = 1e9


def limit_line(
    *,
    value_mm: float,
    u95_mm: float,
    low_mm: float | None,
    high_mm: float | None,
    guard_mm: float = 0.0,
    verdict: Verdict | None = None,
    lead: Lead = "mm",
    title: str,
    palette: Palette = PAGE,
) -> str:
    """One line from low to high as SVG text.

    Hatched bands run from each limit as far inside and outside as the guard goes, and lie on one
    another where it is wide: a value in a band is too close to call.

    Raises
    ------
    InputError
        No limit, a number that is not finite, or low above high.
    """
    _check(value_mm, u95_mm, low_mm, high_mm, guard_mm)
    limits = [("low", low_mm)] if low_mm is not None else []
    limits += [("high", high_mm)] if high_mm is not None else []
    ends = [end for _, limit in limits for end in (limit - guard_mm, limit + guard_mm)]
    ends += [value_mm - u95_mm, value_mm + u95_mm]
    lowest, highest = min(ends), max(ends)
    scale = (_RIGHT - _LEFT) / max(highest - lowest, _FINEST_MM)

    def x(mm: float) -> float:
        return _LEFT + (mm - lowest) * scale

    bands = [(x(limit - guard_mm), x(limit + guard_mm)) for _, limit in limits]
    if len(bands) == 2 and bands[0][1] > bands[1][0]:
        bands = [(bands[0][0], bands[1][1])]
    drawn = [
        line((SIDE, _Y), (WIDTH - SIDE, _Y), stroke_width=1),
        *(part for band in bands for part in _band(*band, palette)),
        *_limits([(x(limit), _named(name, limit, lead)) for name, limit in limits], palette),
        *_value(x(value_mm), u95_mm * scale, verdict, palette),
    ]
    words = " ± ".join(
        show_length(mm, lead=lead, uncertainty_mm=u95_mm).leading for mm in (value_mm, u95_mm)
    )
    half = text_width(words, _LARGE, semibold=True) / 2
    middle = min(max(x(value_mm), half + 4), WIDTH - half - 4)
    drawn.append(text(words, (middle, 24), _LARGE, palette.ink, anchor="middle", semibold=True))
    keys = []
    if verdict is not None:
        keys.append(Key(lambda at: [disc(at, 5.5, verdict, palette)], verdict))
    if guard_mm > 0:
        keys.append(Key(lambda at: _sample(at, palette), "too close to call here"))
    below, bottom = foot(_Y + 62, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    told = [words, *(_named(name, limit, lead) for name, limit in limits), verdict or ""]
    return document(
        WIDTH,
        bottom,
        [*drawn, *below],
        title=title,
        description=f"{'; '.join(filter(None, told))}.",
        palette=palette,
    )


def _check(
    value_mm: float, u95_mm: float, low_mm: float | None, high_mm: float | None, guard_mm: float
) -> None:
    given = {
        "value": value_mm,
        "u95": u95_mm,
        "limits.low": low_mm,
        "limits.high": high_mm,
        "guard": guard_mm,
    }
    for where, number in given.items():
        if number is not None and not abs(number) < _LARGEST_MM:
            raise InputError(where, f"{number} cannot be drawn", "give a length")
    if low_mm is None and high_mm is None:
        raise InputError("limits", "neither is given", "give low, high or both")
    if low_mm is not None and high_mm is not None and low_mm > high_mm:
        raise InputError("limits", "low is above high", "swap them")


def _named(name: str, limit_mm: float, lead: Lead) -> str:
    return f"{name} {show_length(limit_mm, lead=lead).leading}"


def _band(left: float, right: float, palette: Palette) -> list[Element]:
    """A guard band: what lies in it cannot be called."""
    if right - left < 1:
        return []
    top, bottom = _Y - _HALF, _Y + _HALF
    strokes = hatching_of_box(left, top, right, bottom, gap=6)
    return [
        element(
            "rect",
            x=left,
            y=top,
            width=right - left,
            height=bottom - top,
            fill=palette.ground,
            stroke=palette.soft,
            stroke_width=0.6,
        ),
        path(strokes, stroke=palette.soft, stroke_width=0.7),
    ]


def _limits(named: Sequence[tuple[float, str]], palette: Palette) -> Iterator[Element]:
    """Each limit as a heavy stroke with its words beneath, the second a line lower if need be."""
    taken = -math.inf
    for x, words in named:
        yield line((x, _Y - 22), (x, _Y + 22), stroke_width=2)
        half = text_width(words, _WORDS) / 2
        middle = min(max(x, half + 4), WIDTH - half - 4)
        level = _Y + 40 + (18 if middle - half < taken else 0)
        taken = middle + half + 8
        yield text(words, (middle, level), _WORDS, palette.ink, anchor="middle")


def _value(x: float, reach: float, verdict: Verdict | None, palette: Palette) -> list[Element]:
    """The value on the line, its plus and minus above it."""
    level = _Y - 34
    ends = (x - reach, level), (x + reach, level)
    caps = [((end, level - 5), (end, level + 5)) for end in (ends[0][0], ends[1][0])]
    drawn = [path([ends, *caps], stroke_width=1.4)] if reach > 0.5 else []
    drawn.append(line((x, level), (x, _Y - 6), stroke_width=0.8))
    drawn.append(disc((x, _Y), 6.5, verdict, palette))
    return drawn


def _sample(at: Point, palette: Palette) -> list[Element]:
    strokes = hatching_of_box(at[0] - 7, at[1] - 5, at[0] + 7, at[1] + 5, gap=4)
    return [path(strokes, stroke=palette.soft, stroke_width=0.8)]
