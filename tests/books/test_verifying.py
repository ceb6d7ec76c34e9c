"""Sound books have no faults, and every fault that is planted is found."""

from __future__ import annotations

import shutil
import sqlite3

import pytest
import sqlalchemy as sa

from kitwright.books import inspections, kits, part_handling, parts, standing
from kitwright.books.entries import Money
from kitwright.books.inspections import Measured
from kitwright.books.opening import Books, open_books
from kitwright.books.verifying import verify


@pytest.fixture
def busy(workshop):
    """A workshop whose bells are in every stage of life, with one inspection."""
    workshop.receive(7)
    serials = [*workshop.serials, *workshop.make(6)]
    states = (
        *("released", "held", "rejected", "scrapped", "allocated"),
        *("shipped", "fitted", "returned", "withdrawn", "made"),
    )
    for serial, state in zip(serials, states, strict=True):
        workshop.bring(serial, state)
    with workshop.books.writing() as c:
        inspections.record_inspections(
            c,
            workshop.batch,
            serials[4:],
            [Measured(workshop.characteristics[1], [182.5] * 6, 0.01)],
            "bridge",
            workshop.entry(),
        )
    assert verify(workshop.books) == []
    return workshop


def tamper(books: Books, *statements: str) -> None:
    """Do what the guards refuse, as somebody could who has the database in hand."""
    with books.writing() as c:
        if c.dialect.name == "postgresql":
            c.execute(sa.text("SET LOCAL session_replication_role = replica"))
        else:
            c.execute(sa.text("PRAGMA defer_foreign_keys = ON"))
            query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            for name in c.execute(sa.text(query)).scalars().all():
                c.execute(sa.text(f"DROP TRIGGER {name}"))
        for statement in statements:
            c.execute(sa.text(statement))


FIRST = "(SELECT min(id) FROM bell)"
LAST = "(SELECT max(id) FROM bell)"
WHEN = "'2026-03-03T08:00:00.000000Z', '2026-03-03T08:00:00.000000Z', 'Eve'"
DECIDE = "INSERT INTO decision (bell_id, number, kind, happened, recorded, who) VALUES"
STEP = "number, state, happened, recorded, who) VALUES"
MOVED = "UPDATE movement SET"
SECOND = f"WHERE bell_id = {FIRST} AND number = 2"
DRAW = (
    "INSERT INTO revision (id, design_id, label) VALUES (9, 1, 'Z');"
    f"INSERT INTO revision_step (revision_id, {STEP} (9, 1, 'draft', {WHEN})"
)


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        # decisions
        (
            f"{DECIDE} ({LAST}, 1, 'ship', {WHEN})".replace("kind,", "kind, order_id,").replace(
                "'ship',", "'ship', 1,"
            ),
            'decision 1, "ship", is not allowed when it is made',
        ),
        (f"{DECIDE} ({LAST}, 3, 'hold', {WHEN})", "decision 1 is numbered 3"),
        (
            "UPDATE decision SET kind = 'free' WHERE id = 1",
            'bell K-010001: decision 1, "free", is not allowed when it is made',
        ),
        (
            "DELETE FROM decision WHERE kind = 'fit'",
            "fit-up 1: 1 times succeeded, by 0 decisions to fit",
        ),
        (
            f"UPDATE fit_up SET bell_id = {LAST} WHERE id = 1",
            "fitted by fit-up 1, which is of another bell",
        ),
        (
            "UPDATE decision SET order_id = 2 WHERE order_id = 1",
            "order 1: 1 times allocated, by 0 decisions to allocate",
        ),
        (
            "UPDATE decision SET inspection_id = NULL WHERE id = 1",
            'bell K-010001: decision 1, "release", has no evidence',
        ),
        (
            "UPDATE decision SET rule = NULL WHERE id = 1",
            'bell K-010001: decision 1, "release", has no rule',
        ),
        (
            (
                "UPDATE decision SET recorded = '2026-03-01T08:00:00.000000Z',"
                " happened = '2026-03-01T08:00:00.000000Z' WHERE kind = 'scrap'"
            ),
            "bell K-010004: decision 2 is dated before decision 1",
        ),
        (
            "UPDATE decision SET happened = '2026-03-01T08:00:00.000000Z' WHERE kind = 'ship'",
            "decision 3 is dated before decision 2",
        ),
        # movements
        (
            f"{MOVED} from_place = 'scrap', from_party_id = NULL {SECOND}",
            "bell K-010001: movement 2 leaves scrap, it was at machinist",
        ),
        (
            f"{MOVED} to_place = 'floor', to_party_id = NULL {SECOND}",
            "it is released and at floor",
        ),
        (
            f"DELETE FROM movement WHERE bell_id = {FIRST} AND number = 1",
            "bell K-010001: movement 1 is numbered 2",
        ),
        (
            f"DELETE FROM movement WHERE bell_id = {LAST}",
            "it is made and at birth",
        ),
        # castings
        ("UPDATE movement SET count = 9 WHERE id = 1", "crate CR-1: 8 castings were delivered, 9"),
        (
            "UPDATE movement SET count = 9 WHERE id = 2",
            "crate CR-1: movement 2 leaves -1 castings at floor",
        ),
        ("UPDATE movement SET count = 3 WHERE id = 2", "crate CR-1: 3 castings became 4 bells"),
        (
            "DELETE FROM movement WHERE crate_id = 1",
            "crate CR-1: 8 castings were delivered, none came in",
        ),
        (
            "UPDATE movement SET to_place = 'shelf' WHERE id = 2",
            "crate CR-1: movement 2 goes from floor to shelf",
        ),
        # steps
        (
            f"INSERT INTO batch_step (batch_id, {STEP} (1, 4, 'sent', {WHEN})",
            'batch 1: step 4, "sent", is not allowed when it is back',
        ),
        (
            "DELETE FROM order_step WHERE order_id = 1 AND number = 1",
            "order 1: step 1 is numbered 2",
        ),
        ("DELETE FROM order_step WHERE order_id = 1", "order 1: has no steps"),
        ("UPDATE fit_up_step SET state = 'failed' WHERE number = 2", "fit-up 1: step 3"),
        # allocations
        (
            f"INSERT INTO order_step (order_id, {STEP} (1, 4, 'promised', {WHEN})",
            "allocated to order 1, which is promised",
        ),
        (
            f"{DECIDE} ((SELECT bell_id FROM decision WHERE order_id = 1), 3, 'free', {WHEN})",
            "allocated, with 0 bells",
        ),
        # revisions
        ("UPDATE revision_step SET state = 'draft' WHERE number = 2", "batch B-1: its revision"),
        (
            f"{DRAW};INSERT INTO revision_step (revision_id, {STEP} (9, 2, 'in force', {WHEN})",
            "design 1: 2 revisions are in force",
        ),
        # inspections
        (
            f"{DRAW};UPDATE characteristic SET revision_id = 9 WHERE name = 'depth'",
            "is of another revision",
        ),
        (
            "UPDATE decision SET inspection_id = 2 WHERE id = 1",
            "decision 1: inspection 2 is of another bell",
        ),
    ],
)
def test_what_is_planted_is_found(busy, statement, fault):
    tamper(busy.books, *statement.split(";"))
    found = verify(busy.books)
    assert any(fault in line for line in found), found


@pytest.fixture
def stocked(workshop):
    """A workshop with a part of which some are reserved, some gone, some scrapped."""
    with workshop.books.writing() as c:
        (kit,) = kits.kits(c)
        kits.add_part(c, kit.id, "dowel", count=2, cost=Money(1, "USD"))
        part = parts.add_part(c, "P-1", "dowel", supplier_id=workshop.supplier)
        part_handling.receive_parts(c, part, 9, workshop.entry())
        part_handling.scrap_parts(c, part, 1, workshop.entry(), why="bent")
    for serial, state in zip(workshop.serials, ("allocated", "shipped"), strict=False):
        workshop.bring(serial, state)
    assert verify(workshop.books) == []
    return workshop


PART = "UPDATE part_movement SET"
NEW_PART = (
    "INSERT INTO part_movement (part_id, number, count, from_place, to_place, order_id,"
    " happened, recorded, who) VALUES"
)


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        (f"{PART} count = 90 WHERE number = 2", "part P-1: movement 2 leaves -81 at shelf"),
        (
            (
                f"{PART} happened = '2026-01-01T08:00:00.000000Z',"
                " recorded = '2026-01-01T08:00:00.000000Z' WHERE number = 2"
            ),
            "part P-1: movement 2 leaves -1 at shelf at the time it is dated",
        ),
        ("DELETE FROM part_movement WHERE number = 2", "part P-1: movement 2 is numbered 3"),
        ("DELETE FROM part_movement WHERE number = 1", "part P-1: movement 2 leaves -1 at shelf"),
        (
            f"{NEW_PART} (1, 6, 1, 'scrap', 'count', NULL, {WHEN})",
            "part P-1: movement 6 goes from scrap to count",
        ),
        (
            f"{PART} recorded = '2026-01-01T08:00:00.000000Z' WHERE number = 3",
            "part P-1: movement 3 is written down before it happened",
        ),
        (
            f"{PART} to_party_id = 1 WHERE to_place = 'customer'",
            "and for another's customer",
        ),
        (
            f"INSERT INTO order_step (order_id, {STEP} (1, 4, 'promised', {WHEN})",
            "part P-1: 2 reserved for order O-2, which is promised",
        ),
        (
            (
                "INSERT INTO inspection_value (inspection_id, characteristic_id, value_mm, u95_mm)"
                " SELECT 1, id, 0.01, 0.01 FROM characteristic WHERE name = 'flatness'"
            ),
            "inspection 1: recorded with 1 values, 2 are there",
        ),
        (
            "DELETE FROM inspection_value WHERE inspection_id = 2",
            "inspection 2: recorded with 1 values, 0 are there",
        ),
        (
            "DELETE FROM inspection_count WHERE inspection_id = 1",
            "inspection 1: nothing says how many values it was recorded with",
        ),
    ],
)
def test_what_is_planted_among_parts_is_found(stocked, statement, fault):
    tamper(stocked.books, *statement.split(";"))
    found = verify(stocked.books)
    assert any(fault in line for line in found), found


def test_lines_that_hang_in_the_air_are_found(stocked, where):
    """No foreign key is looked up by whoever opens the file, or the database, so."""
    acts = [
        f"{NEW_PART} (9, 1, 1, 'count', 'shelf', NULL, {WHEN})",
        f"{PART} order_id = 77 WHERE number = 3",
    ]
    if "://" in where:
        tamper(stocked.books, *acts)
    else:
        connection = sqlite3.connect(where)
        connection.execute("DROP TRIGGER part_movement_stands_update")
        for act in acts:
            connection.execute(act)
        connection.commit()
        connection.close()
    found = verify(stocked.books)
    assert "part number 9: has movements, but is not there" in found
    assert "part P-1: movement 3 is for order 77, which is not there" in found


def test_a_view_that_lies_is_found(busy):
    """The view is derived again in plain Python and compared."""
    with busy.books.writing() as c:
        if c.dialect.name == "sqlite":
            query = "SELECT sql FROM sqlite_master WHERE name = 'bell_now'"
            honest = c.execute(sa.text(query)).scalar_one()
        else:
            query = "SELECT pg_get_viewdef('bell_now'::regclass)"
            honest = f"CREATE VIEW bell_now AS {c.execute(sa.text(query)).scalar_one()}"
        c.execute(sa.text("DROP VIEW bell_now"))
        c.exec_driver_sql(honest.replace("'held'", "'released'"))
        assert standing.one(c, busy.serials[1]).state == "released"
    found = verify(busy.books)
    with busy.books.writing() as c:  # the next test has the same database
        c.execute(sa.text("DROP VIEW bell_now"))
        c.exec_driver_sql(honest)
    assert "bell K-010002: its decisions make it held, it is shown as released" in found
    assert verify(busy.books) == []


def test_a_row_that_names_nothing_is_found(tmp_path, sqlite_template):
    """SQLite checks foreign keys only where a connection asks for it; verify looks them all up."""
    path = tmp_path / "books.db"
    shutil.copy(sqlite_template, path)
    connection = sqlite3.connect(path)
    connection.execute("INSERT INTO conversion_car (conversion_id, car_id) VALUES (7, 8)")
    connection.commit()
    connection.close()
    with open_books(path) as books:
        assert sorted(verify(books)) == [
            "conversion_car 1: names a car that is not there",
            "conversion_car 1: names a conversion that is not there",
        ]
