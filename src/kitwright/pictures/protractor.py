"""Full-size drawings for paper: a protractor for one dowel's slot, and a line to check the scale.

Four units are one millimetre: whoever sets a drawing says its width in mm (`MM`), and no printer
may fit it to the page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kitwright.errors import FaultError, InputError
from kitwright.pictures.drawing import Element, Point, arrow, circle, document, line, path, text
from kitwright.pictures.labels import Box, Sheet
from kitwright.pictures.lettering import ASCENT, DESCENT, text_width
from kitwright.pictures.palette import PRINT, Palette
from kitwright.pictures.rim import at_clock
from kitwright.units import plain, say_clock

MM: Final = 4.0
"""Units of a drawing for one millimetre."""
ACROSS_MM: Final = 80.0
"""Diameter of the disc that is cut out."""
WIDE_MM: Final = ACROSS_MM + 2
RULE_WIDE_MM: Final = 122.0
SMALLEST_MM, LARGEST_MM = 6.0, 25.0
"""Diameters of a dowel that the disc has room for."""

_CENTRE: Final = (WIDE_MM * MM / 2, WIDE_MM * MM / 2)
_CUT: Final = ACROSS_MM * MM / 2
_RING: Final = 132.0
_HOURS: Final = 146.0
_WITHIN: Final = 110.0
"""Words on the disc end here, clear of the longest tick."""
_SIZES: Final = (14.0, 13.0, 12.0, 11.0, 10.0, 9.0)
_BESIDE: Final = ("this side", "toward you,", "12 up")

Row = tuple[str, bool]


def slot_protractor(
    *,
    name: str,
    size: str,
    slot_deg: float,
    other_deg: float,
    dowel_mm: float,
    palette: Palette = PRINT,
) -> str:
    """A disc to cut out and slide over a dowel, with the line along which its slot must lie.

    Seen from behind the engine, 12 up; ticks every 5°, longer at the half hours and the hours.

    Parameters
    ----------
    name, size : written on the disc
    slot_deg : clock angle that the slot points to
    other_deg : clock angle of the other dowel as seen from this one, a dashed line
    dowel_mm : diameter of the hole to cut out

    Raises
    ------
    InputError
        A dowel for which the disc has no room.
    """
    if not SMALLEST_MM <= dowel_mm <= LARGEST_MM:
        raise InputError(
            "dowel_mm", f"{dowel_mm:g} mm", f"give {SMALLEST_MM:g} mm to {LARGEST_MM:g} mm"
        )
    hole = dowel_mm * MM / 2
    tip = at_clock(_CENTRE, _RING - 1, slot_deg)
    tail = at_clock(_CENTRE, hole + 2, slot_deg)
    toward = at_clock(_CENTRE, hole + 2, other_deg), at_clock(_CENTRE, _RING - 1, other_deg)
    degrees = f"{plain(slot_deg % 360, 0)}°"
    drawn = [
        circle(_CENTRE, _CUT, stroke_width=1),
        circle(_CENTRE, _RING, stroke_width=1),
        *_ticks(),
        *_numerals(palette),
        circle(_CENTRE, hole, stroke_width=1, stroke_dasharray="5 3"),
        path(
            [((_CENTRE[0] - 8, _CENTRE[1]), (_CENTRE[0] + 8, _CENTRE[1])),
             ((_CENTRE[0], _CENTRE[1] - 8), (_CENTRE[0], _CENTRE[1] + 8))],
            stroke_width=0.8,
        ),
        line(*toward, stroke_width=1.2, stroke_dasharray="7 4"),
        *arrow(tail, tip, palette.brass, width=5),
    ]  # fmt: skip
    sheet = Sheet(Box(0, 0, 2 * _CENTRE[0], 2 * _CENTRE[1]))
    sheet.disc(_CENTRE, hole + 1)
    sheet.stroke(tail, tip, 5)
    sheet.stroke(*toward, 1.2)
    rows = [(name, True), (size, False), (degrees, True), (say_clock(slot_deg), False)]
    first = _away_from(slot_deg, other_deg)
    for block in (rows, [(words, False) for words in _BESIDE]):
        drawn += _words(sheet, block, hole, first, palette)
    return document(
        2 * _CENTRE[0],
        2 * _CENTRE[1],
        drawn,
        title=f"Protractor for the slot of {name}",
        description=f"{name}, {size}: slot at {degrees}, {say_clock(slot_deg)}; the other dowel at "
        f"{plain(other_deg % 360, 0)}°. Hole of {dowel_mm:g} mm.",
        palette=palette,
    )


def _ticks() -> Iterator[Element]:
    for reach, width, angles in (
        (18.0, 1.4, range(0, 360, 30)),
        (12.0, 1.0, range(15, 360, 30)),
        (8.0, 0.7, (angle for angle in range(0, 360, 5) if angle % 15)),
    ):
        yield path(
            [(at_clock(_CENTRE, _RING - reach, a), at_clock(_CENTRE, _RING, a)) for a in angles],
            stroke_width=width,
        )


def _numerals(palette: Palette) -> Iterator[Element]:
    for hour in range(1, 13):
        x, y = at_clock(_CENTRE, _HOURS, 30 * hour)
        size = 16.0 if hour % 3 == 0 else 14.0
        baseline = (x, y + (ASCENT - DESCENT) * size / 2 + 1.5)
        bold = hour % 3 == 0
        yield text(str(hour), baseline, size, palette.ink, anchor="middle", semibold=bold)


def _away_from(slot_deg: float, other_deg: float) -> float:
    """The clock angle furthest from both lines."""
    apart = (other_deg - slot_deg) % 360
    return slot_deg + (apart / 2 if apart > 180 else apart / 2 + 180)


def _words(
    sheet: Sheet, rows: Sequence[Row], hole: float, first: float, palette: Palette
) -> Iterator[Element]:
    """Rows of words where they stand clear, in the largest letters that fit, near `first`."""
    for size in _SIZES:
        box = _clear_box(sheet, rows, size, hole, first)
        if box is None:
            continue
        sheet.boxes.append(box)
        middle, step = (box.left + box.right) / 2, (box.bottom - box.top) / len(rows)
        for index, (words, bold) in enumerate(rows):
            at = (middle, box.top + index * step + ASCENT * size)
            yield text(words, at, size, palette.ink, anchor="middle", semibold=bold)
        return
    raise FaultError(f"no room on the protractor for {rows}")


def _clear_box(
    sheet: Sheet, rows: Sequence[Row], size: float, hole: float, first: float
) -> Box | None:
    half_wide = max(text_width(words, size, semibold=bold) for words, bold in rows) / 2
    half_tall = len(rows) * size * 1.12 / 2
    for turn in sorted(range(-180, 180, 5), key=abs):
        away = hole
        while away < _WITHIN:
            x, y = at_clock(_CENTRE, away, first + turn)
            box = Box(x - half_wide, y - half_tall, x + half_wide, y + half_tall)
            if box.furthest(_CENTRE) < _WITHIN and sheet.is_clear(box):
                return box
            away += 2
    return None


def scale_rule(palette: Palette = PRINT) -> str:
    """A line of 100 mm and one of 4 in, to be measured on the printed page."""
    left, drawn = 6.0, []
    for y, length, step, words in (
        (18.0, 100 * MM, 10 * MM, "100 mm"),
        (46.0, 4 * 25.4 * MM, 25.4 * MM, "4 in"),
    ):
        ends: tuple[Point, Point] = ((left, y), (left + length, y))
        count = round(length / step)
        marks = [
            ((left + n * step, y - (9 if n in (0, count) else 5)), (left + n * step, y))
            for n in range(count + 1)
        ]
        drawn += [
            line(*ends, stroke_width=1),
            path(marks, stroke_width=1),
            text(words, (left + length + 8, y + 1), 15, palette.ink, semibold=True),
        ]
    return document(
        RULE_WIDE_MM * MM,
        52,
        drawn,
        title="A line to measure",
        description="The upper line is 100 mm long and the lower one 4 in.",
        palette=palette,
    )
