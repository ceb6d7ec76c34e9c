"""Take a batch's inspection in, and decide each of its bells, in one transaction."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from sqlalchemy import Connection

from kitwright.books import decisions, inspections, standing, stock
from kitwright.books.characteristics import Characteristic, characteristics
from kitwright.books.entries import Entry
from kitwright.books.movements import move_bells
from kitwright.books.opening import Books
from kitwright.books.places import SHELF
from kitwright.books.shop import Shop, get_shop
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.calc.checks import Floats
from kitwright.errors import MoveError, Problem
from kitwright.files.incoming import inspection_in
from kitwright.files.inspection import Expected, InspectionTable
from kitwright.files.tables import Table
from kitwright.shop.judging import NOT_MEASURED, Judged, judge

if TYPE_CHECKING:
    from kitwright.files.qif import QifDocument


@dataclass(frozen=True, kw_only=True)
class Imported:
    """What an import decided: how many bells each way, and why for those not released."""

    batch: stock.Batch
    counts: Mapping[str, int]
    """Decision (release, hold, reject) → bells."""
    reasons: Mapping[str, str]
    """Serial → what is not plainly within."""
    finished: bool
    """Every bell of the batch is decided now."""


def expected_of(drawn: Sequence[Characteristic]) -> list[Expected]:
    """What an inspection file must hold for these characteristics."""
    return [
        Expected(each.name, "position", each.x_mm or 0.0, each.y_mm or 0.0)
        if each.kind == "position"
        else Expected(each.name)
        for each in drawn
    ]


def import_inspection(
    books: Books, batch_id: int, handed: Table | QifDocument, *, instrument: str, entry: Entry
) -> Imported:
    """Keep an inspection of bells that wait for a decision, and decide them by the shop's rule.

    Bells that are held are taken as measured anew; those that were at the machinist's for a rework
    have come back with it, and are carried to the shelf. All of it is kept, or, on any fault,
    nothing.

    Raises
    ------
    FileError
        What was handed in is not an inspection of this batch's characteristics; a line each fault.
    MissingError, MoveError
        A serial is not of this batch, or is decided already; the batch is not back.
    """
    with books.writing() as connection:
        shop = get_shop(connection)
        batch = stock.get_batch(connection, batch_id)
        if batch.state not in ("back", "judged"):
            raise MoveError(f"batch {batch.label}", f"it is {batch.state}", "take it back first")
        drawn = characteristics(connection, batch.revision_id)
        read = inspection_in(handed, expected_of(drawn))
        held, away = _bells_to_decide(connection, read.serials)
        if away:
            move_bells(connection, away, SHELF, entry, why="back with its inspection")
        numbers = inspections.record_inspections(
            connection, batch_id, read.serials, measured_of(read, drawn), instrument, entry
        )
        if held:
            decisions.decide_many(connection, held, "remeasure", entry, why="measured anew")
        judged = judge(_as_newest(read, drawn, numbers), shop)
        kinds, why = judged.kinds(shop), judged.reasons()
        decisions.decide_many(
            connection,
            read.serials,
            kinds,
            entry,
            rule=shop.guard,
            inspection_ids=numbers,
            why=why,
        )
        finished = batch.state == "back" and not waiting(connection, batch_id)
        if finished:
            stock.close_judgement(connection, batch_id, entry)
    return Imported(
        batch=batch,
        counts=Counter(kinds),
        reasons={serial: text for serial, text in zip(read.serials, why, strict=True) if text},
        finished=finished or batch.state == "judged",
    )


def measured_of(
    read: InspectionTable, drawn: Sequence[Characteristic]
) -> list[inspections.Measured]:
    """A file's values as the books take them."""
    return [
        inspections.Measured(
            about.id,
            read.values_mm[:, k] if about.kind == "length" else _pairs(read, k),
            read.u95_mm[:, k],
        )
        for k, about in enumerate(drawn)
    ]


def _pairs(read: InspectionTable, k: int) -> Floats:
    return np.column_stack([read.values_mm[:, k], read.y_mm[:, k]])


def _as_newest(
    read: InspectionTable, drawn: Sequence[Characteristic], numbers: Sequence[int]
) -> inspections.Newest:
    return inspections.Newest(
        serials=read.serials,
        characteristics=tuple(drawn),
        mm=np.stack([read.values_mm, read.y_mm], axis=-1),
        u95_mm=read.u95_mm,
        inspection_ids=tuple(numbers),
    )


_FIRST: Final = {
    "released": "withdraw it and hold it first",
    "allocated": "withdraw it and hold it first",
    "shipped": "it is the buyer's: take it back and hold it, then measure it",
    "fitted": "it is the buyer's: take it back and hold it, then measure it",
    "returned": "hold it first",
    "withdrawn": "take it back where it is away, and hold it first",
    "rejected": "rework it first, or concede it",
}
"""State of a bell that is past deciding → what must happen before it is measured anew."""


def _bells_to_decide(connection: Connection, serials: Sequence[str]) -> tuple[list[str], list[str]]:
    """Refuse bells that are past deciding; give those that are held, and those still away."""
    bells = standing.of(connection, serials)
    if past := [
        Problem(
            bell.named,
            f"it is {bell.state} ({bell.last})",
            _FIRST.get(bell.state, "only made or held bells are judged"),
        )
        for bell in bells
        if bell.state not in ("made", "held")
    ]:
        raise MoveError.of(past)
    return (
        [bell.serial for bell in bells if bell.state == "held"],
        [bell.serial for bell in bells if bell.place_name == "machinist"],
    )


def waiting(connection: Connection, batch_id: int) -> list[Standing]:
    """The bells of a batch on which a decision is still to come."""
    return standing.where(connection, bell_now.c.batch_id == batch_id, bell_now.c.state == "made")


@dataclass(frozen=True, kw_only=True)
class BatchView:
    """A batch as its page shows it: every bell with its newest values, verdicts and state."""

    batch: stock.Batch
    shop: Shop
    bells: tuple[Standing, ...]
    newest: inspections.Newest
    judged: Judged

    @property
    def counts(self) -> Mapping[str, int]:
        """State → bells."""
        return Counter(bell.state for bell in self.bells)

    def reasons(self) -> list[str | None]:
        """For each bell, what is not plainly within by its newest inspection; None where all is."""
        bare = (self.judged.codes == NOT_MEASURED).all(axis=1).tolist()
        told: list[str | None] = []
        for bell, empty, why in zip(self.bells, bare, self.judged.reasons(), strict=True):
            if bell.serial in self.newest.outdated:
                told.append("measured before its rework")
            elif not empty:
                told.append(why)
            elif bell.state in ("released", "allocated", "shipped", "fitted"):
                told.append("released by sample, not itself measured")
            else:
                told.append("not measured")
        return told


def view(books: Books, batch_id: int) -> BatchView:
    """Everything about a batch."""
    with books.reading() as connection:
        shop = get_shop(connection)
        batch = stock.get_batch(connection, batch_id)
        newest = inspections.newest_values(connection, batch_id)
        bells = standing.where(connection, bell_now.c.batch_id == batch_id)
    return BatchView(
        batch=batch, shop=shop, bells=tuple(bells), newest=newest, judged=judge(newest, shop)
    )
