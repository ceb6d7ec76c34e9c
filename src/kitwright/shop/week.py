"""Today and the week ahead at the counter: promises in danger, what comes in, what ships."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from kitwright.books import designs, orders, stock
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.pictures.time_line import Bar
from kitwright.shop import promising
from kitwright.shop.orders import OrderView, views
from kitwright.shop.outlook import BatchDays, days_late_of, others_overdue, steps_of_batches
from kitwright.shop.promise_changes import changes
from kitwright.shop.promising import Board, Watched
from kitwright.worksheets.supply.batches_coming import arrives

WEEK: Final = datetime.timedelta(days=7)
_JUDGED_FOR: Final = datetime.timedelta(days=60)
"""A batch stays on the time line so long after it came back."""


@dataclass(frozen=True, kw_only=True)
class Promised:
    """A line of the board: an order that waits, and what has changed since it was promised."""

    watched: Watched
    view: OrderView
    changed: Sequence[str]

    @property
    def rested_on(self) -> Sequence[str]:
        """What the promise rested on when it was made."""
        basis = self.watched.basis
        return () if basis is None else basis.rests_on_json


@dataclass(frozen=True, kw_only=True)
class Due:
    """A batch that is due by the end of the week, or overdue."""

    batch: stock.Batch
    design: str
    machinist: str
    overdue: bool


@dataclass(frozen=True, kw_only=True)
class Week:
    """The board with all that goes with it."""

    board: Board
    lines: Sequence[Promised]
    due: Sequence[Due]
    to_ship: Sequence[OrderView]

    @property
    def until(self) -> datetime.date:
        """The last day of the week ahead."""
        return self.board.today + WEEK


def look(books: Books, today: datetime.date) -> Week:
    """Today's board."""
    with books.reading() as connection:
        board = promising.watch(connection, today)
        shown = views(connection, [each.order for each in board.watched])
        return Week(
            board=board,
            lines=[
                Promised(watched=each, view=view, changed=_changed(each))
                for each, view in zip(board.watched, shown, strict=True)
            ],
            due=list(_due(connection, today)),
            to_ship=views(connection, orders.orders(connection, state="allocated")),
        )


def _changed(watched: Watched) -> list[str]:
    return [] if watched.basis is None else changes(watched.basis.case_json, watched.case)


def _due(connection: Connection, today: datetime.date) -> list[Due]:
    drawn = {each.id: each.name for each in designs.designs(connection)}
    design_of = {each.id: drawn[each.design_id] for each in designs.revisions(connection)}
    machinists = {each.id: each.name for each in parties(connection, "machinist")}
    found = [
        Due(
            batch=each,
            design=design_of[each.revision_id],
            machinist=machinists[each.machinist_id],
            overdue=each.due < today,
        )
        for each in stock.batches(connection)
        if each.state in ("planned", "sent") and each.due <= today + WEEK
    ]
    return sorted(found, key=lambda each: each.batch.due)


# ── batches on a time line ───────────────────────────────────────────────────────────────


def bars(connection: Connection, today: datetime.date) -> list[Bar]:
    """Batches under way, and those that came back lately, as bars of a time line."""
    steps = steps_of_batches(connection)
    every = stock.batches(connection)
    machinists = {each.id: each.name for each in parties(connection, "machinist")}
    found = []
    for each in every:
        days = steps[each.id]
        under_way = each.state in ("planned", "sent")
        if not under_way and (days.back is None or days.back < today - _JUDGED_FOR):
            continue
        who = machinists[each.machinist_id]
        start = days.sent or days.planned or each.due
        told = _told(each, today) if under_way else f"back {days.back}"
        found.append(
            Bar(
                name=each.label,
                words=f"{each.count} bells, {who}, {told}",
                start=min(start, each.due),
                due=each.due,
                back=days.back,
                sent=days.sent is not None,
                spread=_spread(every, steps, each, today) if under_way else None,
            )
        )
    return found


def _told(batch: stock.Batch, today: datetime.date) -> str:
    word = "overdue since" if batch.due < today else "due"
    return f"{word} {batch.due.isoformat()}"


_SHARES: Final = (0.1, 0.5, 0.9)


def _spread(
    every: Sequence[stock.Batch],
    steps: Mapping[int, BatchDays],
    batch: stock.Batch,
    today: datetime.date,
) -> tuple[datetime.date, datetime.date, datetime.date] | None:
    """The days by which it is back in 10, 50 and 90 of 100 cases, as it has not come yet."""
    late = tuple(days_late_of(every, steps, batch.machinist_id))
    overdue = tuple(others_overdue(every, batch, today))
    law = arrives((batch.due - today).days, late, overdue)
    days = [law.day(share) for share in _SHARES]
    early, likely, last = (
        None if day is None else today + datetime.timedelta(days=day) for day in days
    )
    if early is None or likely is None or last is None:
        return None
    return early, likely, last


def counts(board: Board) -> Mapping[str, int]:
    """How many promises stand how."""
    return {outcome: len(board.of(outcome)) for outcome in promising.URGENCY}
