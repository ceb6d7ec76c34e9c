"""Control charts: points in the order made, their centre and limits, signals marked.

Panels stand over one another with one axis of point numbers: location above, spread beneath. A
signal is an open ring round its point, with the point's number under the panel. Many points are
drawn as a band from the least to the greatest in each step of the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, line, path, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import plain

WIDTH: Final = 400.0
_NAME: Final = 14.0
_TALL: Final = 120.0
_LEFT: Final = 12.0
_APART: Final = 15.0  # from one label at the right to the next
_DISCS: Final = 80
_LINES: Final = 400
_RINGS: Final = 60
_LARGEST: Final = 1e9


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One chart. `first` is the number of its first point, `signals` are numbers of points."""

    name: str
    points: Sequence[float]
    first: int
    centre: float
    low: float
    high: float
    signals: Sequence[int] = ()


def control_chart(
    panels: Sequence[Panel], *, unit: str, phase_1: int, title: str, palette: Palette = PAGE
) -> str:
    """Panels over one another as SVG text; numbers are written in `unit`.

    `phase_1` is the number of the last point that set the limits; where points follow it, a
    dashed line stands between.

    Raises
    ------
    InputError
        No panel, a panel without points, or a number that cannot be drawn.
    """
    _check(panels)
    last = max(panel.first + len(panel.points) - 1 for panel in panels)
    wide = max(text_width(words, SMALL) for panel in panels for _, words in _lines(panel))
    drawn: list[Element] = []
    told = []
    y = 4.0
    for panel in panels:
        frame = _Frame(panel, y + 34, WIDTH - SIDE - wide - 16, last)
        heading = shorten(f"{panel.name}, {unit}", _NAME, WIDTH - 2 * SIDE, semibold=True)
        drawn.append(text(heading, (SIDE, y + 16), _NAME, palette.ink, semibold=True))
        drawn += _border(frame, phase_1, last, palette)
        drawn += _levels(frame, palette)
        drawn += _points(frame, palette.ink)
        drawn += _signals(frame, palette)
        drawn += _numbers(frame, last, palette)
        y = frame.bottom + 26
        told.append(_told(panel))
    keys = []
    if any(panel.signals for panel in panels):
        most = max(len(set(panel.signals)) for panel in panels)
        words = "signal" if most <= _RINGS else f"signal (the first {_RINGS} of {most} ringed)"
        keys.append(Key(lambda at: _ring(at, palette), words))
    if phase_1 < last:
        keys.append(Key(_dashes, f"limits set by points 1 to {phase_1}"))
    below, bottom = foot(y + 2, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    return document(
        WIDTH,
        bottom,
        [*drawn, *below],
        title=title,
        description=f"{'; '.join(told)}.",
        palette=palette,
    )


class _Frame:
    """Where a panel's numbers lie on the page."""

    def __init__(self, panel: Panel, top: float, right: float, last: int) -> None:
        self.panel, self.top, self.right = panel, top, right
        self.bottom = top + _TALL
        lows, highs = (panel.low, *panel.points), (panel.high, *panel.points)
        self.low, self.high = min(lows), max(highs)
        self.scale = _TALL / max(self.high - self.low, 1e-300)
        self.step = (right - _LEFT - 8) / max(last - 1, 1)

    def x(self, number: float) -> float:
        """Across the page, by the number of a point."""
        return _LEFT + (number - 1) * self.step

    def y(self, value: float) -> float:
        """Down the page, by a value."""
        return self.bottom - (value - self.low) * self.scale


def _lines(panel: Panel) -> list[tuple[float, str]]:
    """Heights of the limits and the centre, and their words."""
    finest = (panel.high - panel.low) / 200
    decimals = min(9, max(0, math.ceil(-math.log10(finest)))) if finest > 0 else 6
    return [
        (value, f"{name} {plain(value, decimals)}")
        for name, value in (("high", panel.high), ("centre", panel.centre), ("low", panel.low))
    ]


def _levels(frame: _Frame, palette: Palette) -> Iterator[Element]:
    """Centre and limits across the panel, each named at its right end, labels kept apart."""
    level = -math.inf
    ends = []
    for value, words in _lines(frame.panel):
        y = frame.y(value)
        level = max(y, level + _APART)
        ends.append((y, level, words))
    over = ends[-1][1] - (frame.bottom + 4)
    for index in range(len(ends) - 1, -1, -1):  # pushed back up from the foot of the panel
        if over <= 0:
            break
        y, level, words = ends[index]
        ends[index] = (y, level - over, words)
        over = ends[index - 1][1] + _APART - (level - over) if index else 0
    for y, level, words in ends:
        heavy = not words.startswith("centre")
        yield line((_LEFT - 6, y), (frame.right, y), stroke_width=1.6 if heavy else 0.9)
        if abs(level - y) > 1:
            yield line((frame.right, y), (frame.right + 8, level), stroke_width=0.7)
        at = (frame.right + 12, level + 4.5)
        yield text(words, at, SMALL, palette.ink if heavy else palette.soft)


def _points(frame: _Frame, ink: str) -> list[Element]:
    """The points: joined discs when few, a line when more, a band when many."""
    panel = frame.panel
    if len(panel.points) > _LINES:
        return [path(_band(frame), stroke_width=0.9)]
    places = [
        (frame.x(panel.first + index), frame.y(value)) for index, value in enumerate(panel.points)
    ]
    drawn = [path([places], stroke_width=0.9)] if len(places) > 1 else []
    if len(places) <= _DISCS:
        drawn += [circle(at, 1.9, fill=ink, stroke="none") for at in places]
    return drawn


def _band(frame: _Frame) -> list[list[Point]]:
    """From the least to the greatest point in each unit of the page."""
    ends: dict[int, tuple[float, float]] = {}
    for index, value in enumerate(frame.panel.points):
        column = round(frame.x(frame.panel.first + index))
        low, high = ends.get(column, (value, value))
        ends[column] = (min(low, value), max(high, value))
    return [
        [(float(x), frame.y(low)), (float(x), frame.y(high) - 0.5)]
        for x, (low, high) in ends.items()
    ]


def _signals(frame: _Frame, palette: Palette) -> Iterator[Element]:
    """A ring round each signal, up to so many; under the panel, numbers as far as they fit."""
    numbers = sorted(set(frame.panel.signals))
    for number in numbers[:_RINGS]:
        value = frame.panel.points[number - frame.panel.first]
        yield from _ring((frame.x(number), frame.y(value)), palette)


def _numbers(frame: _Frame, last: int, palette: Palette) -> Iterator[Element]:
    """The axis of point numbers: signals first, then the first and the last point."""
    y = frame.bottom + 22
    taken: list[tuple[float, float]] = []
    wanted = [(number, True) for number in sorted(set(frame.panel.signals))[:_RINGS]]
    wanted += [(frame.panel.first, False), (last, False)]
    for number, strong in wanted:
        words = str(number)
        half = text_width(words, SMALL, semibold=strong) / 2
        x = max(frame.x(number), half + 2)
        if any(x - half < end + 5 and x + half > start - 5 for start, end in taken):
            continue
        taken.append((x - half, x + half))
        colour = palette.ink if strong else palette.soft
        yield text(words, (x, y), SMALL, colour, anchor="middle", semibold=strong)
    words = "point"
    x = WIDTH - SIDE
    if all(end < x - text_width(words, SMALL) - 5 for _, end in taken):
        yield text(words, (x, y), SMALL, palette.soft, anchor="end")


def _border(frame: _Frame, phase_1: int, last: int, palette: Palette) -> Iterator[Element]:
    """Between the points that set the limits and those judged by them."""
    if phase_1 < last:
        x = frame.x(phase_1 + 0.5)
        ends = (x, frame.top - 4), (x, frame.bottom + 4)
        yield line(*ends, stroke=palette.soft, stroke_width=0.9, stroke_dasharray="4 3")


def _ring(at: Point, palette: Palette) -> list[Element]:
    return [circle(at, 4.6, stroke=palette.ink, stroke_width=1.5)]


def _dashes(at: Point) -> list[Element]:
    return [line((at[0], at[1] - 7), (at[0], at[1] + 6), stroke_width=0.9, stroke_dasharray="4 3")]


def _told(panel: Panel) -> str:
    words = ", ".join(words for _, words in _lines(panel))
    numbers = sorted(set(panel.signals))
    listed = ", ".join(map(str, numbers[:_RINGS]))
    return f"{panel.name}: {words}; signals at {listed}" if numbers else f"{panel.name}: {words}"


def _check(panels: Sequence[Panel]) -> None:
    if not panels or any(not panel.points for panel in panels):
        raise InputError("points", "none given", "give one or more")
    for panel in panels:
        for number in (panel.low, panel.centre, panel.high, *panel.points):
            if not abs(number) < _LARGEST:
                raise InputError("points", f"{number} cannot be drawn", "give finite numbers")
        if not panel.low <= panel.centre <= panel.high:
            raise InputError("limits", "centre is not between them", "give low, centre, high")
