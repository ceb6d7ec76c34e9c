"""Orders from a table: every row taken, or none and every bad row told."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from sqlalchemy import Connection

from kitwright.books import conversions, kits
from kitwright.books.entries import Entry
from kitwright.books.kits import Variant
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.days import read_day
from kitwright.errors import FileError, InputError, Problem
from kitwright.files.tables import Table, every_fault
from kitwright.shop.moving import dated
from kitwright.shop.orders import Taken, take

NEEDED: Final = ("order", "customer", "variant")
COLUMNS: Final = (*NEEDED, "kit", "options", "car", "date", "why", "promised_for")
MOST_ROWS: Final = 2000


def import_orders(
    books: Books, table: Table, *, who: str, now: datetime.datetime, today: datetime.date
) -> list[Taken]:
    """Take every order of a table in its sequence; where one row is bad, none.

    Without a column `promised_for` the orders stay open and nothing is promised. With it, a row's
    day is promised as given, and a row without one gets the earliest day that holds.

    Parameters
    ----------
    table
        A row an order: `order`, `customer` (one that is known) and `variant`; where variants of
        two kits are called alike, `kit` too; `options` parted by semicolons, `car`, `date` (when
        it was ordered), `why` (a bell alone sold past the gate), `promised_for`.

    Raises
    ------
    FileError
        Columns that are missing or not known, too many rows, or bad rows: a line each.
    """
    where = _columns(table)
    if len(table.rows) > MOST_ROWS:
        raise FileError("file", f"{len(table.rows)} orders", f"give {MOST_ROWS} at most")
    entry = Entry(who=who, recorded=now)
    faults: list[Problem] = []
    taken = []
    with books.writing() as connection:
        known = _Known.of(connection)
        twice = Counter(row[where["order"]].strip() for row in table.rows)
        for number, row in zip(table.row_numbers, table.rows, strict=True):
            cells = {name: row[place].strip() for name, place in where.items()}
            found = list(known.faults(cells, today))
            if twice[cells["order"]] > 1:
                found.append(Problem("order", "listed twice", "list it once"))
            if not found:
                try:
                    with connection.begin_nested():
                        taken.append(_take(connection, known, cells, entry, today))
                except InputError as error:
                    found = [_named(problem) for problem in error.problems]
            faults += [
                replace(problem, where=f"row {number}, {problem.where}") for problem in found
            ]
        if faults:
            raise every_fault(faults)
    return taken


_NAMES: Final = {"gate": "why", "label": "order"}


def _named(problem: Problem) -> Problem:
    return replace(problem, where=_NAMES.get(problem.where, problem.where))


def _columns(table: Table) -> dict[str, int]:
    """Where each column stands."""
    names = [name.strip().lower().replace(" ", "_") for name in table.header]
    faults = [Problem(f'column "{name}"', "missing", "add it") for name in NEEDED
              if name not in names]  # fmt: skip
    for name, count in Counter(names).items():
        if name not in COLUMNS:
            expected = f"use {', '.join(COLUMNS)}"
            faults.append(Problem(f'column "{name[:40]}"', "is not known", expected))
        elif count > 1:
            faults.append(Problem(f'column "{name}"', "stands there twice", "keep one"))
    if faults:
        raise every_fault(faults)
    if not table.rows:
        raise FileError("file", "it holds no order", "give a row for each")
    return {name: place for place, name in enumerate(names)}


def _take(
    connection: Connection,
    known: _Known,
    cells: Mapping[str, str],
    entry: Entry,
    today: datetime.date,
) -> Taken:
    variant = known.variant(cells)
    wanted = cells.get("promised_for", "")
    return take(
        connection,
        cells["order"],
        customer_id=known.customers[cells["customer"]],
        variant_id=variant.id,
        entry=entry,
        today=today,
        car_id=known.cars[cells["car"]] if cells.get("car") else None,
        option_ids=[known.options[variant.id][name] for name in _options(cells)],
        past_gate=cells.get("why", ""),
        opened=dated(
            cells.get("date", ""), who=entry.who, now=entry.recorded, today=today, where="date"
        ),
        promised_for=read_day(wanted, where="promised_for") if wanted else None,
        promises="promised_for" in cells,
    )


def _options(cells: Mapping[str, str]) -> list[str]:
    return [name.strip() for name in cells.get("options", "").split(";") if name.strip()]


@dataclass(frozen=True, kw_only=True)
class _Known:
    """What the books know by name."""

    customers: Mapping[str, int]
    cars: Mapping[str, int]
    kits: Mapping[int, str]
    variants: tuple[Variant, ...]
    options: Mapping[int, Mapping[str, int]]

    @classmethod
    def of(cls, connection: Connection) -> _Known:
        variants = kits.variants(connection)
        return cls(
            customers={each.name: each.id for each in parties(connection, "customer")},
            cars={each.name: each.id for each in conversions.cars(connection)},
            kits={each.id: each.name for each in kits.kits(connection)},
            variants=tuple(variants),
            options={
                each.id: {option.name: option.id for option in kits.options(connection, each.id)}
                for each in variants
            },
        )

    def variant(self, cells: Mapping[str, str]) -> Variant:
        """The one variant that a row names.

        Raises
        ------
        InputError
            None, or several.
        """
        name, kit = cells["variant"], cells.get("kit", "")
        if not name:
            raise InputError("variant", "missing", "name it as on the page of kits")
        found = [
            each
            for each in self.variants
            if each.name == name and kit in ("", self.kits[each.kit_id])
        ]
        if len(found) == 1:
            return found[0]
        if found:
            raise InputError("kit", f'several kits have a "{name}"', "say which in a column kit")
        raise InputError("variant", f'"{name[:60]}" is not known', "name it as on the page of kits")

    def faults(self, cells: Mapping[str, str], today: datetime.date) -> Iterator[Problem]:
        """What is wrong with a row, before it is tried."""
        if not cells["order"]:
            yield Problem("order", "missing", "give it a name")
        if cells["customer"] not in self.customers:
            given = f'"{cells["customer"][:60]}" is not known' if cells["customer"] else "missing"
            yield Problem("customer", given, "name one that the books have")
        if cells.get("car") and cells["car"] not in self.cars:
            yield Problem("car", f'"{cells["car"][:60]}" is not known', "name it as on its page")
        try:
            offered = self.options[self.variant(cells).id]
        except InputError as error:
            yield from error.problems
        else:
            for name in _options(cells):
                if name not in offered:
                    may = "; ".join(offered) or "it has none"
                    yield Problem("options", f'"{name[:60]}" is not of this variant', may)
        try:
            dated(cells.get("date", ""), who="x", now=_noon(today), today=today, where="date")
        except InputError as error:
            yield from error.problems
        if cells.get("promised_for"):
            yield from _promise_faults(cells["promised_for"], today)


def _noon(today: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(today, datetime.time(23), datetime.UTC)


def _promise_faults(text: str, today: datetime.date) -> Iterator[Problem]:
    try:
        day = read_day(text, where="promised_for", expected=f"write it as {today.isoformat()}")
    except InputError as error:
        yield from error.problems
        return
    if day < today:
        yield Problem("promised_for", f"{day.isoformat()} is past", "give today or a day after")
