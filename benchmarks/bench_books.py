"""Keeping a batch's inspections and decisions, against the bare driver inserting the same rows."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.books import conversions, decisions, designs, inspections, shop, stock
from kitwright.books.characteristics import length_of, position_of, set_characteristics
from kitwright.books.entries import Entry, Money
from kitwright.books.inspections import Measured
from kitwright.books.opening import Books, open_books

BELLS = 5000
LENGTHS = 11
TABLES = ("inspection", "inspection_value", "decision")


def test_inspections_and_decisions_keep_up_with_bare_inserts(tmp_path: Path) -> None:
    path = tmp_path / "books.db"
    with open_books(path) as books:
        keep = keeper(books)
        keep()
        bare = bare_inserter(path, tmp_path / "bare.db")
        found = ratio(keep, bare, rounds=7)
    report(
        "5 000 bells x 12 characteristics kept and decided, over bare inserts", found, "at most 3"
    )
    assert found <= 3


def keeper(books: Books) -> Callable[[], None]:
    """Each call keeps a new batch's inspections and decisions, in one transaction."""
    entry = Entry("Ada", datetime(2026, 3, 2, tzinfo=UTC))
    labels = itertools.count(1)
    rng = np.random.default_rng(1)
    positions = rng.normal(0, 0.03, (BELLS, 2))
    values = rng.normal(10, 0.01, (LENGTHS, BELLS))
    kinds = rng.choice(["release", "hold", "reject"], BELLS).tolist()
    with books.writing() as c:
        supplier = shop.add_party(c, "Grey Sand Foundry", "supplier")
        machinist = shop.add_party(c, "Slow Spindle", "machinist")
        conversion = conversions.add_conversion(
            c,
            "Six to five-speed",
            engine_id=conversions.add_engine(c, "Invented six"),
            gearbox_id=conversions.add_gearbox(c, "Invented five-speed"),
            depth_mm=182.5,
            gap_mm=(1.5, 4.0),
            pilot_mm=0.2,
            tir_mm=0.25,
        )
        design = designs.add_design(
            c,
            "Cast bell",
            conversion_id=conversion,
            material="cast aluminium",
            price=Money(48000, "USD"),
            mass_kg=7.4,
            opening="fork window",
        )
        revision = designs.add_revision(c, design, "A", entry)
        bore, *lengths = set_characteristics(
            c,
            revision,
            [position_of("bore", 0.2)]
            + [length_of(f"length {number}", 9.9, 10.1) for number in range(LENGTHS)],
        )
        designs.put_in_force(c, revision, entry)

    def new_batch() -> tuple[int, list[str]]:
        number = next(labels)
        serials = [f"K-{number:03d}-{index:05d}" for index in range(BELLS)]
        with books.writing() as c:
            crate = stock.receive_crate(
                c,
                f"CR-{number}",
                design_id=design,
                supplier_id=supplier,
                count=BELLS,
                cost=Money(1, "USD"),
                entry=entry,
            )
            batch = stock.plan_batch(
                c,
                f"B-{number}",
                revision_id=revision,
                machinist_id=machinist,
                count=BELLS,
                due=date(2026, 4, 1),
                entry=entry,
            )
            stock.send_batch(c, batch, [(crate, serials)], entry)
        return batch, serials

    waiting = [new_batch() for _ in range(10)]

    def keep() -> None:
        batch, serials = waiting.pop()
        measured = [Measured(bore, positions, 0.005)] + [
            Measured(number, row, 0.002) for number, row in zip(lengths, values, strict=True)
        ]
        with books.writing() as c:
            kept = inspections.record_inspections(c, batch, serials, measured, "bridge", entry)
            decisions.decide_many(c, serials, kinds, entry, rule="guard by U", inspection_ids=kept)

    return keep


def bare_inserter(kept: Path, bare: Path) -> Callable[[], None]:
    """Each call inserts one batch's rows as they were kept, into tables of the same shape."""
    source = sqlite3.connect(kept)
    target = sqlite3.connect(bare, isolation_level=None)
    target.execute("PRAGMA journal_mode = WAL")
    target.execute("PRAGMA synchronous = NORMAL")
    rows = {}
    for table in TABLES:
        shapes = "SELECT sql FROM sqlite_master WHERE tbl_name = ? AND type IN ('table', 'index')"
        for (shape,) in source.execute(shapes, (table,)).fetchall():
            if shape is not None:
                target.execute(shape)
        rows[table] = source.execute(f"SELECT * FROM {table}").fetchall()
    source.close()
    rounds = itertools.count()

    def insert() -> None:
        shift = next(rounds) * BELLS  # new numbers, so that the indexes grow as the books' do
        moved = {
            "inspection": ((row[0] + shift, *row[1:]) for row in rows["inspection"]),
            "inspection_value": ((row[0] + shift, *row[1:]) for row in rows["inspection_value"]),
            "decision": ((row[0] + shift, row[1] + shift, *row[2:]) for row in rows["decision"]),
        }
        target.execute("BEGIN IMMEDIATE")
        for table in TABLES:
            marks = ", ".join("?" * len(rows[table][0]))
            target.executemany(f"INSERT INTO {table} VALUES ({marks})", moved[table])
        target.execute("COMMIT")

    return insert
