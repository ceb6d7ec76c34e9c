"""Import and decide 5 000 bells by 12 characteristics, against reading the CSV and a bare insert.

The bare side reads every number with Python's own csv module and float, and puts the same rows
(60 000 values, 5 000 inspections, 5 000 decisions) into plain SQLite tables without keys or checks,
by the driver's executemany in one transaction, with the journal and syncing that the books use.
"""

from __future__ import annotations

import csv
import datetime
import io
import itertools
import sqlite3
from contextlib import closing
from pathlib import Path

from benchmarks.ratios import ratio, report
from kitwright.books import stock
from kitwright.books.characteristics import Characteristic, characteristics
from kitwright.books.designs import put_in_force
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.demo.calendar import Calendar
from kitwright.demo.history import serials
from kitwright.demo.measuring import inspection
from kitwright.demo.workshop import OWNER, set_up
from kitwright.files.inspection import write_inspection
from kitwright.files.tables import read_csv
from kitwright.shop.batches import import_inspection
from kitwright.shop.opening import open_shop

BELLS = 5000
TARGET = 4.0
ROUNDS = 5


def ready(folder: Path, rounds: int) -> tuple[Books, list[tuple[int, bytes]], list[Characteristic]]:
    """A shop with a batch back for each round, and each batch's inspection file."""
    books = open_shop(folder, make=True)
    calendar = Calendar(datetime.date(2026, 5, 4))
    waiting = []
    with books.writing() as connection:
        shop = set_up(connection, calendar)
        put_in_force(connection, shop.cast_revision, calendar.by(OWNER, 60))
        drawn = characteristics(connection, shop.cast_revision)
        for number in range(rounds):
            crate = stock.receive_crate(
                connection,
                f"CR-{number}",
                design_id=shop.cast,
                supplier_id=shop.foundry,
                count=BELLS,
                cost=Money(1, "USD"),
                entry=calendar.by(OWNER, 50),
            )
            batch = stock.plan_batch(
                connection,
                f"B-{number}",
                revision_id=shop.cast_revision,
                machinist_id=shop.machinist,
                count=BELLS,
                due=calendar.day(1),
                entry=calendar.by(OWNER, 49),
            )
            made = serials(f"T{number}", 1, BELLS)
            stock.send_batch(connection, batch, [(crate, made)], calendar.by(OWNER, 48))
            stock.take_batch_back(connection, batch, calendar.by(OWNER, 2))
            text = write_inspection(inspection(drawn, made, seed=number))
            waiting.append((batch, text.encode()))
    return books, waiting, drawn


def test_import_and_decide_within_four_bare_inserts(tmp_path: Path) -> None:
    books, waiting, drawn = ready(tmp_path, ROUNDS + 1)
    ours_next, theirs_next = iter(waiting), itertools.cycle(waiting)
    number = itertools.count()

    def ours() -> None:
        batch, data = next(ours_next)
        entry = Entry(who="bench", recorded=datetime.datetime(2026, 5, 4, 9, tzinfo=datetime.UTC))
        done = import_inspection(books, batch, read_csv(data), instrument="bench", entry=entry)
        assert sum(done.counts.values()) == BELLS

    def theirs() -> None:
        _, data = next(theirs_next)
        rows = csv.reader(io.StringIO(data.decode()))
        next(rows)
        values, inspections, decisions = [], [], []
        when = "2026-05-04T09:00:00.000000"
        for bell, row in enumerate(rows):
            numbers = iter([float(cell) for cell in row[1:]])
            for k, about in enumerate(drawn):
                if about.kind == "position":
                    values.append((bell, k, None, next(numbers), next(numbers), next(numbers)))
                else:
                    values.append((bell, k, next(numbers), None, None, next(numbers)))
            inspections.append((bell, bell, "bench", when, when, "bench"))
            decisions.append((bell, bell, 1, "release", "guard by U", bell, when, when, "bench"))
        with closing(sqlite3.connect(tmp_path / f"bare-{next(number)}.sqlite")) as database:
            database.execute("PRAGMA journal_mode = WAL")
            database.execute("PRAGMA synchronous = NORMAL")
            database.execute("CREATE TABLE value (inspection, characteristic, v, x, y, u95)")
            database.execute("CREATE TABLE inspection (id, bell, instrument, a, b, who)")
            database.execute("CREATE TABLE decision (id, bell, n, kind, rule, i, a, b, who)")
            with database:
                for table, listed in (
                    ("value", values),
                    ("inspection", inspections),
                    ("decision", decisions),
                ):
                    marks = ", ".join("?" * len(listed[0]))
                    database.executemany(f"INSERT INTO {table} VALUES ({marks})", listed)

    with books:
        found = ratio(ours, theirs, rounds=ROUNDS)
    report("import and decide 5 000 bells over read and bare insert", found, f"at most {TARGET:g}")
    assert found <= TARGET
