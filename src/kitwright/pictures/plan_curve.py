"""How often a sampling plan accepts, over the share bad: its operating characteristic."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, line, path, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_TOP: Final = 16.0
_TALL: Final = 170.0
_LEFT: Final = 56.0
_RIGHT: Final = 384.0
_DISCS: Final = 80


@dataclass(frozen=True, kw_only=True)
class CurveMark:
    """A quality that the plan was made for: `good` ones are to be accepted."""

    quality: float
    accepted: float
    good: bool
    words: str


def plan_curve(
    points: Sequence[Point],
    *,
    marks: Sequence[CurveMark],
    whole: bool,
    title: str,
    palette: Palette = PAGE,
) -> str:
    """Points (share bad, chance of accepting) as SVG text, the marked ones said beneath.

    `whole` says that only the points themselves can be (a lot's bad parts are whole).

    Raises
    ------
    InputError
        No point, or one that is not a share and a chance.
    """
    if not points:
        raise InputError("points", "none given", "give one or more")
    for x, y in [*points, *((mark.quality, mark.accepted) for mark in marks)]:
        if not (0 <= x <= 1 and 0 <= y <= 1):
            raise InputError("points", f"({x}, {y}) cannot be drawn", "give shares from 0 to 1")
    most = max([x for x, _ in points] + [mark.quality for mark in marks]) or 1.0
    bottom = _TOP + _TALL

    def place(quality: float, accepted: float) -> Point:
        return _LEFT + quality / most * (_RIGHT - _LEFT), bottom - accepted * _TALL

    drawn = list(_frame(most, bottom, palette))
    places = [place(*point) for point in points]
    if len(places) > 1:
        drawn.append(path([places], stroke_width=0.9 if whole else 1.8))
    if whole and len(places) <= _DISCS:
        drawn += [circle(at, 2.0, fill=palette.ink, stroke="none") for at in places]
    keys = []
    for mark in marks:
        shape = partial(_mark, good=mark.good, palette=palette)
        drawn += shape(place(mark.quality, mark.accepted))
        keys.append(Key(shape, mark.words))
    below, end = foot(bottom + 26, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    told = "; ".join(mark.words for mark in marks) or f"none left at {say_share(most)} bad"
    return document(
        WIDTH, end, [*drawn, *below], title=title, description=f"{told}.", palette=palette
    )


def say_share(share: float) -> str:
    """A share in per cent with three figures.

    >>> say_share(0.02), say_share(0.10345), say_share(1.0)
    ('2 %', '10.3 %', '100 %')
    """
    return f"{100 * share:.3g} %"


def _frame(most: float, bottom: float, palette: Palette) -> Iterator[Element]:
    """Both axes with their ends written, and a thin rule at one half."""
    for chance in (0.0, 0.5, 1.0):
        y = bottom - chance * _TALL
        heavy = chance == 0
        ink = palette.ink if heavy else palette.rule
        yield line((_LEFT, y), (_RIGHT, y), stroke=ink, stroke_width=1)
        at = (_LEFT - 8, y + 4.5)
        yield text(say_share(chance), at, SMALL, palette.soft, anchor="end")
    yield line((_LEFT, _TOP), (_LEFT, bottom), stroke_width=1)
    y = bottom + 20
    yield text("0 % bad", (_LEFT, y), SMALL, palette.soft, anchor="start")
    words = f"{say_share(most)} bad"
    middle = "chance of accepting"
    room = _RIGHT - _LEFT - text_width("0 % bad", SMALL) - text_width(words, SMALL)
    if room > text_width(middle, SMALL) + 16:
        at = (_LEFT + text_width("0 % bad", SMALL) + room / 2, y)
        yield text(middle, at, SMALL, palette.ink, anchor="middle")
    yield text(words, (min(_RIGHT, WIDTH - SIDE), y), SMALL, palette.soft, anchor="end")


def _mark(at: Point, *, good: bool, palette: Palette) -> list[Element]:
    """Filled for the quality to accept, open for the one to reject."""
    fill = palette.ink if good else palette.ground
    return [circle(at, 4.8, fill=fill, stroke=palette.ink, stroke_width=1.5)]
