"""Measurements handed in for bells that the shop decides on later: kept, judged, not decided.

A machinist hands in; the shop releases. What he handed in waits, bell by bell, until the shop has
it decided by its rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sqlalchemy import Connection, and_, or_, select

from kitwright.books import decisions, inspections, samples, standing, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import get_shop
from kitwright.books.standing import Standing
from kitwright.books.tables import bell, bell_now, decision, inspection
from kitwright.errors import MoveError, Problem
from kitwright.files.incoming import inspection_in
from kitwright.files.tables import Table
from kitwright.shop.batches import expected_of, measured_of
from kitwright.shop.judging import Judged, judge

if TYPE_CHECKING:
    from kitwright.files.qif import QifDocument

OPEN: Final = ("made", "held")
"""States in which a bell's measurement may still be handed in."""


@dataclass(frozen=True, kw_only=True)
class HandedIn:
    """Bells whose newest measurement waits for the shop, and how each would be decided."""

    batch: stock.Batch
    bells: tuple[Standing, ...]
    judged: Judged
    inspection_ids: tuple[int, ...]
    kinds: tuple[str, ...]

    @property
    def counts(self) -> Mapping[str, int]:
        """Decision (release, hold, reject) → bells."""
        return Counter(self.kinds)


def hand_in(
    books: Books, batch_id: int, handed: Table | QifDocument, *, instrument: str, entry: Entry
) -> int:
    """Keep an inspection of bells that wait for a decision; decide none. Give how many bells.

    Raises
    ------
    FileError
        What came is not an inspection of this batch's characteristics; a line each fault.
    MissingError, MoveError
        A serial is not of this batch, or is decided already; the batch was not sent yet.
    """
    with books.writing() as connection:
        samples.locked(connection, batch_id)
        batch = stock.get_batch(connection, batch_id)
        if batch.state == "planned":
            raise MoveError(f"batch {batch.label}", "it is planned", "castings go out first")
        drawn = characteristics(connection, batch.revision_id)
        read = inspection_in(handed, expected_of(drawn))
        inspections.bells_of(connection, batch_id, read.serials)
        _refuse_decided(connection, read.serials)
        inspections.record_inspections(
            connection, batch_id, read.serials, measured_of(read, drawn), instrument, entry
        )
        return len(read.serials)


def _refuse_decided(connection: Connection, serials: Sequence[str]) -> None:
    past = [
        Problem(each.named, "the shop has decided on it", "ask the shop to open it again")
        for each in standing.of(connection, serials)
        if each.state not in OPEN
    ]
    if past:
        raise MoveError.of(past)


def handed_in(connection: Connection, batch_id: int) -> HandedIn:
    """The bells of a batch with a measurement that came in after their last decision."""
    shop = get_shop(connection)
    fresh = _fresh(connection, batch_id)
    newest = inspections.newest_values(connection, batch_id)
    bells = {
        each.serial: each
        for each in standing.where(
            connection, bell_now.c.batch_id == batch_id, bell_now.c.state.in_(OPEN)
        )
    }
    wanted = [
        row
        for row, (serial, number) in enumerate(
            zip(newest.serials, newest.inspection_ids, strict=True)
        )
        if serial in bells and number in fresh
    ]
    part = inspections.Newest(
        serials=tuple(newest.serials[row] for row in wanted),
        characteristics=newest.characteristics,
        mm=newest.mm[wanted],
        u95_mm=newest.u95_mm[wanted],
        inspection_ids=tuple(newest.inspection_ids[row] for row in wanted),
    )
    judged = judge(part, shop)
    return HandedIn(
        batch=stock.get_batch(connection, batch_id),
        bells=tuple(bells[serial] for serial in part.serials),
        judged=judged,
        inspection_ids=part.inspection_ids,
        kinds=tuple(judged.kinds(shop)),
    )


def _fresh(connection: Connection, batch_id: int) -> set[int]:
    """Inspections that nobody has decided by: none of their bell's decisions rests on them or on
    a later one, and none that rests on no inspection was written down after them.
    """
    later = (
        select(decision.c.id)
        .where(
            decision.c.bell_id == inspection.c.bell_id,
            or_(
                decision.c.inspection_id >= inspection.c.id,
                and_(
                    decision.c.inspection_id.is_(None),
                    decision.c.kind != "remeasure",
                    decision.c.recorded > inspection.c.recorded,
                ),
            ),
        )
        .exists()
    )
    query = (
        select(inspection.c.id)
        .join(bell, bell.c.id == inspection.c.bell_id)
        .where(bell.c.batch_id == batch_id, ~later)
    )
    return set(connection.execute(query).scalars())


def decide_handed_in(books: Books, batch_id: int, *, entry: Entry) -> HandedIn:
    """Decide, by the shop's rule, every bell of a batch whose measurement waits.

    Raises
    ------
    MoveError
        The batch is not back, or nothing waits.
    """
    with books.writing() as connection:
        samples.locked(connection, batch_id)
        batch = stock.get_batch(connection, batch_id)
        if batch.state not in ("back", "judged"):
            raise MoveError(f"batch {batch.label}", f"it is {batch.state}", "take it back first")
        found = handed_in(connection, batch_id)
        if not found.bells:
            raise MoveError(f"batch {batch.label}", "no measurement waits", "import one")
        held = [each.serial for each in found.bells if each.state == "held"]
        if held:
            decisions.decide_many(connection, held, "remeasure", entry, why="measured anew")
        decisions.decide_many(
            connection,
            found.judged.serials,
            found.kinds,
            entry,
            rule=get_shop(connection).guard,
            inspection_ids=found.inspection_ids,
            why=found.judged.reasons(),
        )
        waits = bell_now.c.batch_id == batch_id, bell_now.c.state == "made"
        if batch.state == "back" and not standing.where(connection, *waits):
            stock.close_judgement(connection, batch_id, entry)
        return found
