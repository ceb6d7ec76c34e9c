"""The clock face round a picture: seen from behind the engine, 12 up, hours ticked at the rim."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from kitwright.pictures.drawing import Element, Point, circle, path, text
from kitwright.pictures.labels import Sheet, box_of_text
from kitwright.pictures.lettering import ASCENT, DESCENT
from kitwright.pictures.palette import Palette

HOURS: Final = {0: "12", 90: "3", 180: "6", 270: "9"}
_NUMERAL: Final = 16.0
_LONG: Final = 9.0
_SHORT: Final = 3.5


def at_clock(centre: Point, radius: float, clock_deg: float) -> Point:
    """The point on the page at this clock angle (clockwise from 12) and distance."""
    angle = math.radians(clock_deg)
    return (centre[0] + radius * math.sin(angle), centre[1] - radius * math.cos(angle))


def clock_of(x: float, y: float) -> float:
    """The clock angle, 0 to 360°, of a point with +x right and +y up."""
    return math.degrees(math.atan2(x, y)) % 360


def rim(sheet: Sheet, centre: Point, radius: float, palette: Palette) -> list[Element]:
    """The rim with its ticks and the hours 12, 3, 6 and 9; labels keep clear of all of it."""
    long: list[tuple[Point, Point]] = []
    short: list[tuple[Point, Point]] = []
    for minute in range(60):
        angle = 6.0 * minute
        ticks, reach = (long, _LONG) if minute % 5 == 0 else (short, _SHORT)
        tick = at_clock(centre, radius, angle), at_clock(centre, radius + reach, angle)
        ticks.append(tick)
        sheet.stroke(*tick, 1.2)
    sheet.ring(centre, radius, 0.9)
    drawn = [
        circle(centre, radius, stroke_width=0.9),
        path(long, stroke_width=1.2),
        path(short, stroke_width=0.6),
    ]
    for angle, hour in HOURS.items():
        x, y = at_clock(centre, radius + _LONG + 12, angle)
        sheet.boxes.append(box_of_text((x, y), hour, _NUMERAL))
        baseline = y + (ASCENT - DESCENT) * _NUMERAL / 2
        drawn.append(text(hour, (x, baseline), _NUMERAL, palette.ink, anchor="middle"))
    return drawn


def crank_axis(sheet: Sheet, centre: Point, reach: float = 8.0) -> Element:
    """The fine cross that marks the crank axis."""
    x, y = centre
    arms = [((x - reach, y), (x + reach, y)), ((x, y - reach), (x, y + reach))]
    for arm in arms:
        sheet.stroke(*arm, 1)
    return path(arms, stroke_width=1)


def held_inside(point: Point, centre: Point, reach: float) -> tuple[Point, bool]:
    """The point, or the place at `reach` from the centre that stands for it, and whether it was
    held back."""
    away = math.dist(point, centre)
    if away <= reach + 1:
        return point, False
    part = reach / away
    return (
        centre[0] + (point[0] - centre[0]) * part,
        centre[1] + (point[1] - centre[1]) * part,
    ), True


def runs_inside(points: Sequence[Point], centre: Point, radius: float) -> list[list[Point]]:
    """The runs of a line through points that lie inside a circle."""
    runs: list[list[Point]] = [[]]
    for point in points:
        if math.dist(point, centre) < radius:
            runs[-1].append(point)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]
