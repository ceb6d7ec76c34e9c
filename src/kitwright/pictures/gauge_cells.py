"""What persons read on the same parts: each reading less its part's mean, a panel a person."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, circle, document, line, text
from kitwright.pictures.foot import SIDE, SMALL
from kitwright.pictures.lettering import shorten, text_width
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import plain

WIDTH: Final = 400.0
MOST_PERSONS: Final = 6
MOST_PARTS: Final = 60
_NAME: Final = 14.0
_TALL: Final = 62.0
_LEFT: Final = 14.0
_LARGEST: Final = 1e12

Cells = Mapping[tuple[str, str], Sequence[float]]
"""(part, person) → readings."""


def gauge_cells(
    cells: Cells,
    *,
    parts: Sequence[str],
    persons: Sequence[str],
    unit: str,
    title: str,
    palette: Palette = PAGE,
) -> str:
    """Panels over one another, one scale for all, as SVG text; a stroke spans a cell's readings.

    Raises
    ------
    InputError
        No part or person, more than can be drawn, or a number that cannot be drawn.
    """
    if not 1 <= len(parts) <= MOST_PARTS or not 1 <= len(persons) <= MOST_PERSONS:
        expected = f"give up to {MOST_PARTS} parts and {MOST_PERSONS} persons"
        raise InputError("cells", f"{len(parts)} parts, {len(persons)} persons", expected)
    for reading in (reading for row in cells.values() for reading in row):
        if not abs(reading) < _LARGEST:
            raise InputError("cells", f"{reading} cannot be drawn", "give finite numbers")
    apart = _apart(cells, parts, persons)
    most = max((abs(each) for row in apart.values() for each in row), default=0.0) or 1.0
    decimals = min(9, max(0, math.ceil(-math.log10(most / 20))))
    ends = [plain(most, decimals), "0", plain(-most, decimals)]
    right = WIDTH - SIDE - max(text_width(words, SMALL) for words in ends) - 10
    step = (right - _LEFT) / len(parts)
    drawn: list[Element] = []
    y = 2.0
    for index, person in enumerate(persons):
        words = f"{person}, {unit} from each part's mean" if index == 0 else person
        heading = shorten(words, _NAME, WIDTH - 2 * SIDE, semibold=True)
        drawn.append(text(heading, (SIDE, y + 16), _NAME, palette.ink, semibold=True))
        top = y + 30
        middle = top + _TALL / 2
        for level, written in zip((top, middle, top + _TALL), ends, strict=True):
            ink = palette.line if level == middle else palette.rule
            drawn.append(line((SIDE, level), (right, level), stroke=ink, stroke_width=1))
            at = (right + 6, level + 4.5)
            drawn.append(text(written, at, SMALL, palette.soft))
        for column, part in enumerate(parts):
            x = _LEFT + (column + 0.5) * step
            marks = [middle - each / most * _TALL / 2 for each in apart.get((part, person), ())]
            if len(marks) > 1:
                drawn.append(line((x, min(marks)), (x, max(marks)), stroke_width=0.9))
            drawn += [circle((x, mark), 2.2, fill=palette.ink, stroke="none") for mark in marks]
        y = top + _TALL + 10
    drawn += _names(parts, step, y + 14, palette)
    told = "; ".join(
        f"{person}: from {plain(min(row), decimals)} to {plain(max(row), decimals)} {unit}"
        for person, row in (
            (person, [each for part in parts for each in apart.get((part, person), ())])
            for person in persons
        )
        if row
    )
    return document(WIDTH, y + 24, drawn, title=title, description=f"{told}.", palette=palette)


def _apart(
    cells: Cells, parts: Sequence[str], persons: Sequence[str]
) -> dict[tuple[str, str], list[float]]:
    """Readings less the mean of their part over all who measured it."""
    found = {}
    for part in parts:
        rows = {person: cells.get((part, person), ()) for person in persons}
        every = [reading for (name, _), row in cells.items() if name == part for reading in row]
        mean = math.fsum(every) / max(len(every), 1)
        for person, row in rows.items():
            if row:
                found[part, person] = [reading - mean for reading in row]
    return found


def _names(parts: Sequence[str], step: float, y: float, palette: Palette) -> Iterator[Element]:
    """The parts' names beneath, as many as stand clear of one another."""
    taken = -math.inf
    for column, part in enumerate(parts):
        words = shorten(part, SMALL, max(step * 2, 60.0))
        half = text_width(words, SMALL) / 2
        x = min(max(_LEFT + (column + 0.5) * step, half + 2), WIDTH - half - 2)
        if x - half > taken + 6:
            yield text(words, (x, y), SMALL, palette.soft, anchor="middle")
            taken = x + half
