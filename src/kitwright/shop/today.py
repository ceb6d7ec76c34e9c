"""What needs somebody's decision today, and how much of what stands where."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from sqlalchemy import Connection

from kitwright.books import (
    designs,
    inspections,
    order_parts,
    orders,
    standing,
    steps,
    stock,
)
from kitwright.books.opening import Books
from kitwright.books.parts import parts
from kitwright.books.shop import Shop, get_party, get_shop
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.calc.quality.conformity import UNDECIDED
from kitwright.shop.fitup_watch import watched
from kitwright.shop.judging import judge

EXPIRES_SOON: Final = datetime.timedelta(days=60)


@dataclass(frozen=True, kw_only=True)
class Task:
    """One thing that waits: what it is about, where its page is, what is asked, since when."""

    subject: str
    page: str
    asked: str
    since: datetime.date | None = None


@dataclass(frozen=True, kw_only=True)
class Stock:
    """One design's castings and bells, by where they stand in the job."""

    design: designs.Design
    castings: int
    machining: int
    undecided: int
    released_away: int
    """Released, still at the machinist's: not to be sold before they are here."""
    free: int
    allocated: int


@dataclass(frozen=True, kw_only=True)
class Today:
    """The first page of the day."""

    shop: Shop
    tasks: tuple[Task, ...]
    stock: tuple[Stock, ...]


def look(books: Books, *, today: datetime.date) -> Today:
    """What waits, most pressing first, and the stock of every design."""
    with books.reading() as connection:
        shop = get_shop(connection)
        tasks = [
            *_held(connection, shop),
            *_fit_ups(connection),
            *_batches(connection, today),
            *_orders(connection, today),
            *_returned(connection),
            *_withdrawn(connection),
            *_certificates(connection, today),
            *_rejected(connection),
        ]
        stocks = tuple(_stock(connection))
    return Today(shop=shop, tasks=tuple(tasks), stock=stocks)


def _page_of(bell: Standing) -> str:
    return f"/bells/{quote(bell.serial, safe='')}"


def _held(connection: Connection, shop: Shop) -> Iterator[Task]:
    held = standing.where(connection, bell_now.c.state == "held")
    close: dict[str, list[str]] = {}
    for batch_id in sorted({bell.batch_id for bell in held}):
        judged = judge(inspections.newest_values(connection, batch_id), shop)
        for serial, codes in zip(judged.serials, judged.codes.tolist(), strict=True):
            named = zip(judged.characteristics, codes, strict=True)
            close[serial] = [about.name for about, code in named if code == UNDECIDED]
    for bell in held:
        names = ", ".join(close[bell.serial])
        yield Task(
            subject=f"Bell {bell.serial}",
            page=_page_of(bell),
            asked=f"{f'{names} too close to call' if names else 'held'}: "
            "measure again, concede or reject",
            since=None if bell.recorded is None else bell.recorded.date(),
        )


def _fit_ups(connection: Connection) -> Iterator[Task]:
    """Those that wait for the shop before those that wait for their fitter."""
    for each in watched(connection):
        if each.turn != "ended":
            yield Task(
                subject=f"Fit-up {each.fit_up.id}, bell {each.fit_up.serial}",
                page=f"/fit-ups/{each.fit_up.id}",
                asked=each.asked,
                since=each.heard.date(),
            )


def _batches(connection: Connection, today: datetime.date) -> Iterator[Task]:
    for batch in stock.batches(connection):
        page = f"/batches/{batch.id}"
        if batch.state == "back":
            since = steps.newest(connection, steps.BATCH, batch.id).happened.date()
            yield Task(
                subject=f"Batch {batch.label}",
                page=page,
                asked="back and not judged: import its inspection",
                since=since,
            )
        elif batch.state == "sent" and batch.due < today:
            name = get_party(connection, batch.machinist_id).name
            yield Task(
                subject=f"Batch {batch.label}",
                page=page,
                asked=f"overdue at {name}: ask for a day",
                since=batch.due,
            )


def _orders(connection: Connection, today: datetime.date) -> Iterator[Task]:
    found = orders.orders(connection)
    lacking = order_parts.lacking_of(
        connection, [each.id for each in found if each.state == "allocated"]
    )
    labels = {each.id: each.label for each in parts(connection)}
    for each in found:
        subject, page = f"Order {each.label}", f"/orders/{each.id}"
        if each.state == "open":
            yield Task(
                subject=subject,
                page=page,
                asked="nothing is promised: plan a batch, or ask for a day",
            )
        elif each.state == "allocated":
            yield Task(
                subject=subject,
                page=page,
                asked=f"its bell is there: ship it{_without(lacking.get(each.id, {}), labels)}",
                since=each.promised_for,
            )
        elif each.state == "promised" and each.promised_for and each.promised_for < today:
            yield Task(
                subject=subject,
                page=page,
                asked="its day is past: promise anew",
                since=each.promised_for,
            )


def _without(lacking: Mapping[int, int], labels: Mapping[int, str]) -> str:
    told = ", ".join(f"{count} of part {labels[part_id]}" for part_id, count in lacking.items())
    return f", or wait for {told}" if told else ""


def _returned(connection: Connection) -> Iterator[Task]:
    for bell in standing.where(connection, bell_now.c.state == "returned"):
        yield Task(
            subject=f"Bell {bell.serial}",
            page=_page_of(bell),
            asked="came back: hold it for a second look",
            since=None if bell.recorded is None else bell.recorded.date(),
        )


def _withdrawn(connection: Connection) -> Iterator[Task]:
    for bell in standing.where(connection, bell_now.c.state == "withdrawn"):
        yield Task(
            subject=f"Bell {bell.serial}",
            page=_page_of(bell),
            asked=f"withdrawn, it is at the {bell.place_name}: tell who holds it, hold or scrap it",
        )


def _rejected(connection: Connection) -> Iterator[Task]:
    of_batch: dict[int, list[Standing]] = {}
    for bell in standing.where(connection, bell_now.c.state == "rejected"):
        of_batch.setdefault(bell.batch_id, []).append(bell)
    for batch in stock.batches(connection):
        found = of_batch.get(batch.id)
        if found:
            few = ", ".join(bell.serial for bell in found[:4])
            more = f" and {len(found) - 4} more" if len(found) > 4 else ""
            yield Task(
                subject=f"Batch {batch.label}",
                page=f"/batches/{batch.id}",
                asked=f"rejected {few}{more}: rework, concede or scrap",
            )


def _certificates(connection: Connection, today: datetime.date) -> Iterator[Task]:
    for design in designs.designs(connection):
        expires = design.certificate_expires
        if expires is not None and expires <= today + EXPIRES_SOON:
            word = "expired" if expires < today else "expires"
            yield Task(
                subject=design.name,
                page=f"/conversions#design-{design.id}",
                asked=f"its shell's certificate {word} on {expires.isoformat()}",
                since=None,
            )


def _stock(connection: Connection) -> Iterator[Stock]:
    counts: Mapping[tuple[int, str, str], int] = standing.counts(connection)
    for design in designs.designs(connection):

        def sum_of(*states: str, place: str = "", own: int = design.id) -> int:
            return sum(
                count
                for (design_id, state, where), count in counts.items()
                if design_id == own and state in states and place in ("", where)
            )

        yield Stock(
            design=design,
            castings=sum(crate.on_floor for crate in stock.crates(connection, design.id)),
            machining=sum_of("made", place="machinist"),
            undecided=sum_of("made", place="shelf") + sum_of("held"),
            released_away=sum_of("released", place="machinist"),
            free=sum_of("released", place="shelf"),
            allocated=sum_of("allocated"),
        )
