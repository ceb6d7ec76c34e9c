"""Batches on a time line: a bar from sending to the due day, and how surely it comes when."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, element, line, path, text
from kitwright.pictures.drawing import hatching_of_box as hatching
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_LEFT: Final = 12.0
_RIGHT: Final = 388.0
_TOP: Final = 8.0
_ROW: Final = 48.0
_BAR: Final = 12.0
_MOST: Final = 60
_LONGEST: Final = 3660
_ROOM: Final = 8.0


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One batch: from the day it was sent (or planned) to the day it is due.

    `spread` is the days by which it is here in 10, 50 and 90 of 100 cases; None where it is here,
    or nothing is known. `back` is the day it came, where it did.
    """

    name: str
    words: str
    start: datetime.date
    due: datetime.date
    back: datetime.date | None
    sent: bool
    spread: tuple[datetime.date, datetime.date, datetime.date] | None

    @property
    def days(self) -> Sequence[datetime.date]:
        """Every day that is drawn of it."""
        return [self.start, self.due, *([self.back] if self.back else []), *(self.spread or ())]


def time_line(
    bars: Sequence[Bar], *, today: datetime.date, title: str, palette: Palette = PAGE
) -> str:
    """The bars under each other as SVG text, on one scale with today.

    Raises
    ------
    InputError
        No bar, too many, or days that are out of order or ten years apart.
    """
    if not 0 < len(bars) <= _MOST:
        raise InputError("bars", f"{len(bars)} batches", f"give 1 to {_MOST}")
    for each in bars:
        spread = each.spread or ()
        if each.start > each.due or list(spread) != sorted(spread):
            raise InputError("bars", f"{each.name}: its days are out of order", "give them in it")
    days = [today, *(day for each in bars for day in each.days)]
    first, last = min(days), max(days)
    if (last - first).days > _LONGEST:
        raise InputError("bars", f"from {first} to {last}", "give days within ten years")
    across = max((last - first).days, 1)

    def x(day: datetime.date) -> float:
        return _LEFT + (day - first).days / across * (_RIGHT - _LEFT)

    drawn: list[Element] = []
    for place, each in enumerate(bars):
        top = _TOP + place * _ROW
        words = f"{each.name}: {each.words}"
        drawn.append(
            text(shorten(words, SMALL, WIDTH - 2 * SIDE), (SIDE, top + 13), SMALL, palette.ink)
        )
        drawn += _bar(each, x, top + 23, palette)
        drawn.append(
            line((x(today), top + 19), (x(today), top + 23 + _BAR + 4),
                 stroke=palette.brass, stroke_width=1.6)
        )  # fmt: skip
    bottom = _TOP + len(bars) * _ROW + 4
    drawn += _axis(first, last, today, x(today), bottom, palette)
    keys = [
        Key(partial(_box, palette=palette, sent=True), "sent, to its due day"),
        Key(partial(_box, palette=palette, sent=False), "planned"),
        Key(partial(_tail, palette=palette), "comes in 10 to 90 of 100 cases, dot: 50"),
        Key(partial(_back, palette=palette), "came back"),
        Key(partial(_stroke, palette=palette), "today"),
    ]
    below, end = foot(bottom + 32, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    told = "; ".join(f"{each.name}: {each.words}" for each in bars)
    return document(
        WIDTH, end, [*drawn, *below], title=title, description=f"{told}.", palette=palette
    )


def _bar(
    each: Bar, at: Callable[[datetime.date], float], top: float, palette: Palette
) -> Iterator[Element]:
    left, right = at(each.start), max(at(each.due), at(each.start) + 1.0)
    yield element(
        "rect", x=left, y=top, width=right - left, height=_BAR,
        fill=palette.wash, stroke_width=1,
    )  # fmt: skip
    if not each.sent:
        strokes = hatching(left, top, right, top + _BAR, gap=6.0)
        yield path([list(stroke) for stroke in strokes], stroke=palette.soft, stroke_width=0.7)
    middle = top + _BAR / 2
    if each.back is not None:
        yield from _back((at(each.back), middle), palette=palette)
    if each.spread is not None:
        early, likely, last = map(at, each.spread)
        ends = [(early, middle - 3), (early, middle + 3)], [(last, middle - 3), (last, middle + 3)]
        yield path([[(early, middle), (last, middle)], *ends], stroke_width=1.4)
        yield circle((likely, middle), 3.0, fill=palette.ink, stroke="none")


def _axis(
    first: datetime.date,
    last: datetime.date,
    today: datetime.date,
    now: float,
    bottom: float,
    palette: Palette,
) -> Iterator[Element]:
    """The line under the bars, its ends written, and today where there is room for it."""
    yield line((_LEFT, bottom), (_RIGHT, bottom), stroke_width=1)
    y = bottom + 19
    left, right = first.isoformat(), last.isoformat()
    half = text_width(f"today {today.isoformat()}", SMALL) / 2
    used = [(SIDE, SIDE + text_width(left, SMALL))]
    yield text(left, (SIDE, y), SMALL, palette.soft)
    used.append((WIDTH - SIDE - text_width(right, SMALL), WIDTH - SIDE))
    yield text(right, (WIDTH - SIDE, y), SMALL, palette.soft, anchor="end")
    middle = min(max(now, SIDE + half), WIDTH - SIDE - half)
    if all(middle + half + _ROOM < a or middle - half - _ROOM > b for a, b in used):
        words = f"today {today.isoformat()}"
        yield text(words, (middle, y), SMALL, palette.brass_text, anchor="middle")
        yield line((now, bottom - 3), (now, bottom + 3), stroke=palette.brass, stroke_width=1.6)


# ── keys ─────────────────────────────────────────────────────────────────────────────────


def _box(at: Point, *, palette: Palette, sent: bool) -> list[Element]:
    x, y = at
    drawn = [
        element("rect", x=x - 7, y=y - 5, width=14.0, height=10.0, fill=palette.wash,
                stroke_width=1)
    ]  # fmt: skip
    if not sent:
        strokes = hatching(x - 7, y - 5, x + 7, y + 5, gap=6.0)
        drawn.append(path([list(each) for each in strokes], stroke=palette.soft, stroke_width=0.7))
    return drawn


def _tail(at: Point, *, palette: Palette) -> list[Element]:
    x, y = at
    ends = [(x - 7, y - 3), (x - 7, y + 3)], [(x + 7, y - 3), (x + 7, y + 3)]
    return [
        path([[(x - 7, y), (x + 7, y)], *ends], stroke_width=1.4),
        circle((x, y), 3.0, fill=palette.ink, stroke="none"),
    ]


def _back(at: Point, *, palette: Palette) -> list[Element]:
    return [circle(at, 4.0, fill=palette.ground, stroke=palette.ink, stroke_width=1.6)]


def _stroke(at: Point, *, palette: Palette) -> list[Element]:
    x, y = at
    return [line((x, y - 6), (x, y + 6), stroke=palette.brass, stroke_width=1.6)]
