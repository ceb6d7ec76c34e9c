"""What the fitter sees: the dial's readings at their clock positions, and the dowels as they turn.

Both are seen from behind the engine, 12 o'clock up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, arrow, circle, document, line, path, text
from kitwright.pictures.foot import SMALL, Key, foot
from kitwright.pictures.labels import Anchor, Box, Sheet, around, box_of_text
from kitwright.pictures.lettering import shorten
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.rim import at_clock, crank_axis, rim
from kitwright.units import Lead, plain, say_clock, say_length

WIDTH: Final = 400.0
_CENTRE: Final = (200.0, 172.0)
_RIM: Final = 140.0
_BORE: Final = 80.0
_LONGEST: Final = 44.0
_SIZE: Final = 15.0
_LARGEST: Final = 1e9
_FINEST_MM: Final = 1e-6
_SEEN: Final = "seen from behind the engine"


# ── readings ─────────────────────────────────────────────────────────────────────────────


def signed(value: float, decimals: int) -> str:
    """A reading as a fitter says it: with its sign, zero without.

    >>> signed(3, 0), signed(-2.5, 1), signed(0, 1)
    ('+3', '−2.5', '0.0')
    """
    text_ = plain(value, decimals)
    return f"+{text_}" if float(text_.replace("−", "-")) > 0 else text_


def readings(
    points: Sequence[tuple[float, float]],
    *,
    unit: str,
    title: str,
    note: str = "",
    palette: Palette = PAGE,
) -> str:
    """Dial readings [(clock_deg, reading), ...] round the swept circle, as SVG text.

    Each stroke runs inward from the circle, longer where the plunger was pushed in further: there
    the wall stands nearer to the crank axis. The highest and the lowest reading are in heavier
    type; of many readings those are written that have room.

    Raises
    ------
    InputError
        No reading, or one that is not finite.
    """
    if not points:
        raise InputError("readings", "none given", "give three or more")
    for index, point in enumerate(points):
        if not all(abs(number) < _LARGEST for number in point):
            raise InputError(f"readings[{index}]", "cannot be drawn", "read it again")
    values = [value for _, value in points]
    low, high = min(values), max(values)
    decimals = max(map(_decimals, values))
    sheet = Sheet(Box(4, 2, WIDTH - 4, 350))
    drawn = rim(sheet, _CENTRE, _RIM, palette)
    drawn.append(circle(_CENTRE, _BORE, stroke_width=1.8))
    sheet.ring(_CENTRE, _BORE, 1.8)
    drawn.append(crank_axis(sheet, _CENTRE))
    for clock, value in points:
        length = 4 + (_LONGEST * (value - low) / (high - low) if high > low else 0.0)
        ends = at_clock(_CENTRE, _BORE, clock), at_clock(_CENTRE, _BORE - length, clock)
        sheet.stroke(*ends, 3)
        drawn.append(line(*ends, stroke_width=2.2))
    written: dict[float, list[float]] = {}
    for clock, value in points:
        written.setdefault(clock % 360, []).append(value)
    keys = [Key(lambda at: [_stroke_sample(at)], f"plunger pushed in, readings in {unit}")]
    order = sorted(
        written, key=lambda clock: -max(abs(v - (low + high) / 2) for v in written[clock])
    )
    for clock in order:
        heavy = high > low and any(value in (low, high) for value in written[clock])
        words = " / ".join(signed(value, decimals) for value in written[clock][:3])
        at = at_clock(_CENTRE, _BORE, clock)
        away = ((at[0] - _CENTRE[0]) / _BORE, (at[1] - _CENTRE[1]) / _BORE)
        placed = sheet.place(words, _SIZE, [Anchor(at, away, _BORE)], semibold=heavy, near=True)
        if placed is not None:
            drawn.append(
                text(words, placed.baseline, _SIZE, palette.ink, anchor="middle", semibold=heavy)
            )
        elif heavy:
            keys.append(Key(lambda at: [_stroke_sample(at)], f"{words} at {say_clock(clock)}"))
    below, bottom = foot(342, WIDTH, palette, note=note, keys=keys, seen=_SEEN, bar=None)
    told = ", ".join(f"{say_clock(clock)} {signed(value, decimals)}" for clock, value in points)
    return document(
        WIDTH,
        bottom,
        [*drawn, *below],
        title=title,
        description=f"Readings in {unit}, seen from behind the engine: {told}.",
        palette=palette,
    )


def _decimals(value: float) -> int:
    """As many decimals as the reading was written with, four at most."""
    return next((places for places in range(4) if abs(value - round(value, places)) < 1e-9), 4)


def _stroke_sample(at: Point) -> Element:
    return line((at[0] - 6, at[1]), (at[0] + 6, at[1]), stroke_width=2.2)


# ── dowels ───────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class DowelSetting:
    """One dowel: where it sits (+x right, +y up from the crank axis), its size and its turn.

    `clock_deg` is where its bell end stands from its block end, and where its slot points; None
    for a plain dowel.
    """

    name: str
    x_mm: float
    y_mm: float
    size_mm: float = 0.0
    clock_deg: float | None = None


_BETWEEN: Final = 200.0
_PIN: Final = 46.0
_END: Final = 22.0
_STEP_PX: Final = 14.0
_NAME: Final = 14.0
_LINE: Final = 18.0


def dowel_pair(
    a: DowelSetting, b: DowelSetting, *, lead: Lead = "mm", title: str, palette: Palette = PAGE
) -> str:
    """Two dowels with their ends and slots, each turned as it must be set, as SVG text.

    The line between them lies as in the car; their size, and the step between their ends, are
    drawn much too large.

    Raises
    ------
    InputError
        A number that is not finite, or both dowels in one place.
    """
    for name, dowel in (("dowel_a", a), ("dowel_b", b)):
        if not all(abs(number) < _LARGEST for number in (dowel.x_mm, dowel.y_mm, dowel.size_mm)):
            raise InputError(name, "cannot be drawn", "give its place and size in mm")
    apart = math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
    if apart < _FINEST_MM:
        raise InputError("dowel_b", "stands where dowel a stands", "give its own place")
    per_mm = _BETWEEN / apart
    half = ((a.x_mm - b.x_mm) * per_mm / 2, -(a.y_mm - b.y_mm) * per_mm / 2)
    tall = abs(half[1]) + _PIN + 6 + 2 * _LINE
    centre = (WIDTH / 2, tall + 4)
    places = (
        (centre[0] + half[0], centre[1] + half[1]),
        (centre[0] - half[0], centre[1] - half[1]),
    )
    bottom = centre[1] + tall
    sheet = Sheet(Box(4, 4, WIDTH - 4, bottom + 4))
    drawn: list[Element] = []
    for dowel, place in zip((a, b), places, strict=True):
        drawn += _dowel(dowel, place, palette)
        sheet.disc(place, _PIN)
        below = place[1] >= centre[1] - 0.5  # the setting away from the other dowel, name between
        name = shorten(dowel.name, _NAME, 120, semibold=True)
        for words, at, semibold in (
            *_rows(place, _setting(dowel, lead), below=below, semibold=False),
            *_rows(place, [name], below=not below, semibold=True),
        ):
            drawn.append(text(words, at, _NAME, palette.ink, anchor="middle", semibold=semibold))
            sheet.boxes.append(box_of_text((at[0], at[1] - 4), words, _NAME, semibold=semibold))
    axis = (
        centre[0] - (a.x_mm + b.x_mm) / 2 * per_mm,
        centre[1] + (a.y_mm + b.y_mm) / 2 * per_mm,
    )
    if sheet.is_clear(box_of_text(axis, "+", 18)):
        drawn.append(crank_axis(sheet, axis))
        placed = sheet.place("crank axis", SMALL, around(axis, 10, first=180), near=True)
        if placed is not None:
            drawn.append(text("crank axis", placed.baseline, SMALL, palette.soft, anchor="middle"))
    keys = [
        Key(lambda at: [circle(at, 5.5, stroke_width=1, stroke_dasharray="2 1.6")], "block end"),
        Key(lambda at: [circle(at, 5.5, stroke_width=1.8)], "bell end"),
        Key(
            lambda at: arrow((at[0] - 7, at[1]), (at[0] + 7, at[1]), palette.brass, width=2.2),
            "slot",
            palette.brass_text,
        ),
    ]
    keyed, end = foot(
        bottom, WIDTH, palette, note="", keys=keys, seen=f"{_SEEN}; steps not to scale", bar=None
    )
    told = " ".join(f"{dowel.name}: {', '.join(_setting(dowel, lead))}." for dowel in (a, b))
    return document(WIDTH, end, [*drawn, *keyed], title=title, description=told, palette=palette)


def _rows(
    place: Point, rows: Sequence[str], *, below: bool, semibold: bool
) -> Iterator[tuple[str, Point, bool]]:
    """Rows of words under or over a dowel: each with its baseline's middle."""
    first = _PIN + 16 if below else -_PIN - 9 - (len(rows) - 1) * _LINE
    for row, words in enumerate(rows):
        yield words, (place[0], place[1] + first + row * _LINE), semibold


def _setting(dowel: DowelSetting, lead: Lead) -> list[str]:
    """Size and slot in two lines, as they are written beside a dowel."""
    if dowel.clock_deg is None or dowel.size_mm == 0:
        return ["plain dowel"]
    return [say_length(dowel.size_mm, lead=lead), f"slot at {say_clock(dowel.clock_deg)}"]


def _dowel(dowel: DowelSetting, place: Point, palette: Palette) -> list[Element]:
    """A dowel seen end on inside a small clock: the block end behind, the bell end before it, its
    slot as the clock's hand."""
    hours = [
        (
            at_clock(place, _PIN - (8 if hour % 3 == 0 else 4), 30 * hour),
            at_clock(place, _PIN, 30 * hour),
        )
        for hour in range(12)
    ]
    drawn = [circle(place, _PIN, stroke_width=0.8), path(hours, stroke_width=0.8)]
    if dowel.clock_deg is None or dowel.size_mm == 0:
        return [*drawn, circle(place, _END, stroke_width=1.8)]
    bell = at_clock(place, _STEP_PX / 2, dowel.clock_deg)
    block = at_clock(place, -_STEP_PX / 2, dowel.clock_deg)
    tip = at_clock(place, _PIN - 1, dowel.clock_deg)
    return [
        *drawn,
        circle(block, _END, stroke_width=1, stroke_dasharray="3 2"),
        circle(bell, _END, stroke_width=1.8),
        *arrow(at_clock(bell, -14, dowel.clock_deg), tip, palette.brass, width=2.6),
    ]
