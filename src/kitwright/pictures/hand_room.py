"""Room for a tool: the opening as you look at the wall, and a cut through it where the tool swings.

Lengths in mm. Looking at the wall, x runs to the right and y up; in the cut the outside is above.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.calc.depth.hand_room import Seat, stance
from kitwright.calc.depth.openings import Interval
from kitwright.errors import InputError
from kitwright.pictures.drawing import (
    Element,
    Point,
    circle,
    document,
    element,
    hatching_of_box,
    line,
    path,
    polygon,
)
from kitwright.pictures.foot import Key, foot, scale_bar
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import Lead

WIDTH: Final = 400.0
_TALLEST: Final = 300.0
_MARGIN: Final = 12.0
_LARGEST_MM: Final = 1e6
_SMALLEST_MM: Final = 1e-3


@dataclass(frozen=True, kw_only=True)
class Field:
    """An upright rectangle on the wall."""

    x_from: float
    x_to: float
    y_from: float
    y_to: float


@dataclass(frozen=True)
class _Frame:
    """From mm to the drawing's own units."""

    left: float
    top: float
    scale: float

    @classmethod
    def around(cls, xs: Sequence[float], ys: Sequence[float]) -> _Frame:
        if not all(abs(v) < _LARGEST_MM for v in (*xs, *ys)):
            raise InputError("outline", "too large to be drawn", "check it and its unit")
        wide = max(max(xs) - min(xs), _SMALLEST_MM)
        tall = max(max(ys) - min(ys), _SMALLEST_MM)
        scale = min((WIDTH - 2 * _MARGIN) / wide, _TALLEST / tall)
        side = (WIDTH - wide * scale) / 2
        return cls(left=min(xs) - side / scale, top=max(ys) + _MARGIN / scale, scale=scale)

    def at(self, x: float, y: float) -> Point:
        return (x - self.left) * self.scale, (self.top - y) * self.scale

    def box(self, field: Field, **attributes: str | float | None) -> Element:
        x, y = self.at(field.x_from, field.y_to)
        return element(
            "rect",
            x=x,
            y=y,
            width=(field.x_to - field.x_from) * self.scale,
            height=(field.y_to - field.y_from) * self.scale,
            **attributes,
        )


def wall_view(
    outline: Sequence[tuple[float, float]],
    *,
    adjuster: tuple[float, float],
    swing: Field | None,
    head: Field | None,
    smallest: Field | None,
    title: str,
    lead: Lead = "mm",
    palette: Palette = PAGE,
) -> str:
    """The opening as you look at the wall, with what the tool needs of it, as SVG text.

    `smallest` is drawn in brass: it is what to do where the opening does not serve.

    Raises
    ------
    InputError
        Larger than can be drawn.
    """
    fields = [field for field in (swing, head, smallest) if field is not None]
    xs = [x for x, _ in outline] + [adjuster[0]]
    ys = [y for _, y in outline] + [adjuster[1]]
    for field in fields:
        xs += [field.x_from, field.x_to]
        ys += [field.y_from, field.y_to]
    frame = _Frame.around(xs, ys)
    drawn: list[Element] = []
    keys = [Key(lambda at: _box(at, palette.ink, 2.2), "opening")]
    if swing is not None:
        drawn.append(frame.box(swing, fill=palette.wash, stroke=palette.soft, stroke_width=1))
        keys.append(Key(lambda at: _box(at, palette.soft, 1, fill=palette.wash), "for the swing"))
    if head is not None:
        drawn.append(frame.box(head, stroke=palette.soft, stroke_width=1.2, stroke_dasharray="4 3"))
        keys.append(Key(lambda at: _box(at, palette.soft, 1.2, dash="4 3"), "for the head"))
    if smallest is not None:
        drawn.append(frame.box(smallest, stroke=palette.brass, stroke_width=2.2))
        colour = palette.brass_text
        words = "smallest that serves"
        keys.append(Key(lambda at: _box(at, palette.brass, 2.2), words, colour))
    corners = [frame.at(x, y) for x, y in outline]
    drawn.append(polygon(corners, stroke_width=2.2))
    drawn += _cross(frame.at(*adjuster), palette)
    keys.append(Key(lambda at: _cross(at, palette), "adjuster, behind"))
    return _finished(drawn, frame, min(ys), keys, title, lead, palette)


def cut_view(
    free: Sequence[Interval],
    seat: Seat,
    *,
    handle_width: float,
    head_width: float,
    length: float,
    angles_deg: Sequence[float],
    title: str,
    lead: Lead = "mm",
    palette: Palette = PAGE,
) -> str:
    """The cut in which the tool swings: wall, adjuster, and the tool at each of its angles.

    `free` are the stretches of the opening in that cut, along s.

    Raises
    ------
    InputError
        Larger than can be drawn.
    """
    bars = [_bar(math.radians(angle), handle_width, length, seat) for angle in angles_deg]
    ends = [end for stretch in free for end in stretch]
    needs = [e for a in angles_deg for e in stance(math.radians(a), handle_width, seat)]
    xs = [seat.s_mm - head_width, seat.s_mm + head_width, *ends, *needs]
    xs += [s for bar in bars for s, _ in bar]
    room = 0.08 * (max(xs) - min(xs))
    xs = [min(xs) - room, max(xs) + room]
    ys = [0.0, -seat.depth_mm - head_width / 2, *(up for bar in bars for _, up in bar)]
    frame = _Frame.around(xs, ys)
    drawn: list[Element] = []
    edges = sorted({xs[0], *ends, xs[1]})
    inside = [(start + end) / 2 for start, end in free]
    for start, end in itertools.pairwise(edges):
        if not any(start < at < end for at in inside):
            wall = Field(x_from=start, x_to=end, y_from=-seat.wall_mm, y_to=0.0)
            drawn += _wall(frame, wall, palette)
    for bar in bars:
        drawn.append(polygon([frame.at(*corner) for corner in bar], stroke_width=1.4))
    centre = frame.at(seat.s_mm, -seat.depth_mm)
    drawn.append(circle(centre, max(2.0, head_width / 2 * frame.scale), stroke_width=1.4))
    drawn += _cross(centre, palette)
    keys = [
        Key(lambda at: _hatched(at, palette), "wall, the outside above"),
        Key(lambda at: _cross(at, palette), "adjuster"),
    ]
    return _finished(drawn, frame, min(ys), keys, title, lead, palette)


def _bar(angle: float, width: float, length: float, seat: Seat) -> list[tuple[float, float]]:
    """Corners of the handle, (s, height above the outer face)."""
    out, across = (math.sin(angle), math.cos(angle)), (math.cos(angle), -math.sin(angle))
    foot_at = (seat.s_mm, -seat.depth_mm)
    return [
        (
            foot_at[0] + along * out[0] + side * across[0],
            foot_at[1] + along * out[1] + side * across[1],
        )
        for along, side in (
            (0.0, -width / 2),
            (length, -width / 2),
            (length, width / 2),
            (0.0, width / 2),
        )
    ]


def _wall(frame: _Frame, wall: Field, palette: Palette) -> list[Element]:
    left, top = frame.at(wall.x_from, wall.y_to)
    right, bottom = frame.at(wall.x_to, wall.y_from)
    strokes = hatching_of_box(left, top, right, bottom, gap=5)
    return [
        path(strokes, stroke=palette.ink, stroke_width=0.8),
        element("rect", x=left, y=top, width=right - left, height=bottom - top, stroke_width=1.4),
    ]


def _finished(
    drawn: list[Element],
    frame: _Frame,
    lowest: float,
    keys: Sequence[Key],
    title: str,
    lead: Lead,
    palette: Palette,
) -> str:
    _, bottom = frame.at(0, lowest)
    bar = scale_bar(frame.scale, lead)
    below, end = foot(bottom + 28, WIDTH, palette, note="", keys=keys, seen="", bar=bar)
    told = ", ".join(key.words for key in keys)
    return document(
        WIDTH,
        end,
        [*drawn, *below],
        title=title,
        description=f"{told}; the bar is {bar.words}.",
        palette=palette,
    )


def _cross(at: Point, palette: Palette) -> list[Element]:
    x, y = at
    return [
        line((x - 6, y), (x + 6, y), stroke=palette.ink, stroke_width=1.4),
        line((x, y - 6), (x, y + 6), stroke=palette.ink, stroke_width=1.4),
    ]


def _box(
    at: Point, colour: str, width: float, *, fill: str | None = None, dash: str | None = None
) -> list[Element]:
    return [
        element(
            "rect",
            x=at[0] - 7,
            y=at[1] - 5,
            width=14,
            height=10,
            fill=fill,
            stroke=colour,
            stroke_width=width,
            stroke_dasharray=dash,
        )
    ]


def _hatched(at: Point, palette: Palette) -> list[Element]:
    strokes = hatching_of_box(at[0] - 7, at[1] - 4, at[0] + 7, at[1] + 4, gap=4)
    box = element("rect", x=at[0] - 7, y=at[1] - 4, width=14, height=8, stroke_width=1)
    return [path(strokes, stroke=palette.ink, stroke_width=0.8), box]
