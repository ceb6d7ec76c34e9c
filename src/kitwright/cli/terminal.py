"""Answers as plain text for a terminal: a sentence, figures in columns, tables, sources."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterator, Sequence

from kitwright.units import Lead
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer
from kitwright.worksheets.showing import Figure, Grid, figures, grids


def answer_text(worksheet: Worksheet, answer: Answer, *, lead: Lead) -> str:
    """The whole answer as a person reads it, cautions first."""
    return "\n".join(_lines(worksheet, answer, lead, min(shutil.get_terminal_size().columns, 96)))


def _lines(worksheet: Worksheet, answer: Answer, lead: Lead, width: int) -> Iterator[str]:
    for caution in worksheet.cautions:
        yield from _wrapped(f"{caution.word}: {caution.text}", width)
    if worksheet.cautions:
        yield ""
    yield from _wrapped(worksheet.say(answer, lead), width)
    yield ""
    yield from _figures(figures(answer, lead=lead))
    for grid in grids(answer, lead=lead):
        yield ""
        yield f"{grid.label}:"
        if grid.columns == ("",):
            for (sentence,) in grid.rows:
                yield from _wrapped(sentence, width, bullet="- ")
        else:
            yield from _grid(grid)
    if answer.how:
        yield ""
        yield from _wrapped(f"How: {answer.how}", width)
    if answer.assumed:
        yield ""
        yield "Assumed:"
        for line in answer.assumed:
            yield from _wrapped(line, width, bullet="- ")
    yield ""
    yield "Sources:"
    for source in worksheet.sources:
        yield from _wrapped(source, width, bullet="- ")


def _wrapped(text: str, width: int, *, bullet: str = "") -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=bullet, subsequent_indent=" " * len(bullet)
    ) or [""]


def _figures(rows: Sequence[Figure]) -> Iterator[str]:
    label_width = max((len(row.label) for row in rows), default=0)
    value_width = max((len(f"{row.leading} {row.uncertainty}".strip()) for row in rows), default=0)
    value_width = min(value_width, 34)
    for row in rows:
        value = f"{row.leading} {row.uncertainty}".strip()
        other = f"  ({row.other})" if row.other else ""
        yield f"  {row.label:<{label_width}}  {value:<{value_width}}{other}".rstrip()


def _grid(grid: Grid) -> Iterator[str]:
    rows = [grid.columns, *grid.rows] if any(grid.columns) else list(grid.rows)
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = [
            f"{cell:<{width}}" if column == 0 else f"{cell:>{width}}"
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield f"  {'  '.join(cells)}".rstrip()
