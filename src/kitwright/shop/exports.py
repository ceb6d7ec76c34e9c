"""Tables to take away: a batch, each bell with its values and verdicts; the stock on a day."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.books.characteristics import Characteristic
from kitwright.errors import MissingError
from kitwright.files.inspection import InspectionTable
from kitwright.files.tables import Cell, write_csv
from kitwright.files.workbook import Sheet, write_workbook
from kitwright.shop.batches import BatchView, expected_of
from kitwright.shop.judging import limits_in_words, verdict_of
from kitwright.shop.stock import StockView


@dataclass(frozen=True)
class _Column:
    """One characteristic's columns: numbers in mm, then the verdict in words."""

    about: Characteristic
    index: int

    @property
    def header(self) -> tuple[str, ...]:
        name = self.about.name
        parts = (" x", " y", " u95") if self.about.kind == "position" else ("", " u95")
        return (*(f"{name}{part} [mm]" for part in parts), f"{name} verdict")


def header(shown: BatchView) -> tuple[str, ...]:
    """The columns of the export, with their units."""
    characteristics = [part for column in _columns(shown) for part in column.header]
    return ("serial", "state", "place", *characteristics)


def rows(shown: BatchView) -> Iterator[tuple[Cell, ...]]:
    """A row a bell, in the order of its serial; empty cells where nothing was measured."""
    for row, bell in enumerate(shown.bells):
        cells: list[Cell] = [bell.serial, bell.state, bell.place_name]
        for column in _columns(shown):
            mm = shown.newest.mm[row, column.index].tolist()
            measured = mm if column.about.kind == "position" else mm[:1]
            numbers = [*measured, float(shown.newest.u95_mm[row, column.index])]
            cells += [None if math.isnan(number) else number for number in numbers]
            cells.append(verdict_of(int(shown.judged.codes[row, column.index])) or "not measured")
        yield tuple(cells)


def batch_csv(shown: BatchView) -> str:
    """The batch as CSV text."""
    return write_csv(header(shown), rows(shown))


def batch_xlsx(shown: BatchView, *, created: datetime.datetime) -> bytes:
    """The batch as a workbook: its bells, and the drawing they were judged by."""
    drawing = [
        (about.name, about.kind, limits_in_words(about, lead="mm"), about.frame)
        for about in shown.newest.characteristics
    ]
    return write_workbook(
        [
            Sheet(name="bells", header=header(shown), rows=rows(shown)),
            Sheet(
                name="drawing", header=("characteristic", "kind", "limits", "frame"), rows=drawing
            ),
        ],
        created=created,
    )


def measured_whole(shown: BatchView) -> list[int]:
    """The rows of bells of which every characteristic is measured."""
    newest = shown.newest
    lengths = [about.kind == "length" for about in newest.characteristics]
    whole = np.isfinite(newest.mm[:, :, 0]) & (np.isfinite(newest.mm[:, :, 1]) | lengths)
    return [int(row) for row in np.flatnonzero(whole.all(axis=1))]


def batch_qif(shown: BatchView, *, created: datetime.datetime) -> bytes:
    """The batch's newest measurements as QIF Results, of every bell that is measured whole."""
    from kitwright.files.qif_writing import write_qif  # noqa: PLC0415 - only when needed

    newest, rows = shown.newest, measured_whole(shown)
    if not rows:
        raise MissingError(
            f"batch {shown.batch.label}",
            "has no bell measured whole",
            "import its inspection first",
        )
    inspection = InspectionTable(
        serials=tuple(newest.serials[row] for row in rows),
        characteristics=tuple(expected_of(newest.characteristics)),
        values_mm=newest.mm[rows, :, 0],
        y_mm=newest.mm[rows, :, 1],
        u95_mm=newest.u95_mm[rows],
        units={},
        row_numbers=range(1, len(rows) + 1),
    )
    return write_qif(inspection, title=f"Batch {shown.batch.label}", created=created)


def _columns(shown: BatchView) -> list[_Column]:
    return [_Column(about, k) for k, about in enumerate(shown.newest.characteristics)]


# ── the stock ────────────────────────────────────────────────────────────────────────────

_PARTS: Final = ("part", "name", "supplier", "on the shelf", "reserved", "free", "asked", "short")
_BELLS: Final = ("bell", "state", "place", "count")
_CRATES: Final = ("crate", "bell", "came", "on the floor", "became bells", "scrapped", "sent back")


def stock_xlsx(shown: StockView, *, created: datetime.datetime) -> bytes:
    """The stock at the end of a day: parts, bells, castings, and which day it was.

    What orders ask for is known of today only; for an earlier day those cells are empty.
    """
    parts: list[tuple[Cell, ...]] = [
        (
            line.held.part.label,
            line.held.part.name,
            line.supplier,
            line.held.on_shelf,
            line.held.reserved,
            line.held.free,
            line.asked if shown.now else None,
            line.short if shown.now else None,
        )
        for line in shown.parts
    ]
    bells: list[tuple[Cell, ...]] = [
        (line.design, line.held.state, line.held.place, line.held.count) for line in shown.bells
    ]
    crates: list[tuple[Cell, ...]] = [
        (
            line.held.label,
            line.design,
            line.held.came,
            line.held.on_floor,
            line.held.born,
            line.held.scrapped,
            line.held.sent_back,
        )
        for line in shown.crates
    ]
    return write_workbook(
        [
            Sheet(name="parts", header=_PARTS, rows=parts),
            Sheet(name="bells", header=_BELLS, rows=bells),
            Sheet(name="castings", header=_CRATES, rows=crates),
            Sheet(name="day", header=("stock at the end of",), rows=[(shown.day.isoformat(),)]),
        ],
        created=created,
    )
