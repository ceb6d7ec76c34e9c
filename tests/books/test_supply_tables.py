"""The tables of the fourth version: guarded lines, and counts of inspections that were there."""

from __future__ import annotations

import importlib

import pytest
import sqlalchemy as sa

from kitwright.books import opening, part_handling, parts, sendings
from kitwright.books.migrations.supply.parts import APPEND_ONLY
from kitwright.books.opening import Books, open_books
from kitwright.books.tables import (
    inspection,
    inspection_count,
    inspection_value,
    metadata,
    part_movement,
)
from kitwright.books.tables.parts import PART_PLACES
from kitwright.books.verifying import verify

VERSION = importlib.import_module("kitwright.books.migrations.versions.0004_supply")


@pytest.mark.parametrize("name", APPEND_ONLY)
def test_a_line_is_neither_changed_nor_removed(workshop, name):
    with workshop.books.writing() as c:
        part = parts.add_part(c, "P-1", "dowel", supplier_id=workshop.supplier)
        part_handling.receive_parts(c, part, 9, workshop.entry())
        sendings.first_time(c, "k-1", "receive", workshop.entry())
        workshop.release_in(c, workshop.serials[0])
    table = metadata.tables[name]
    with workshop.books.reading() as c:
        before = c.execute(sa.select(table)).all()
    assert len(before) == 1
    for act in (table.update().values({list(table.c)[-1]: list(table.c)[-1]}), table.delete()):
        with pytest.raises(sa.exc.DatabaseError, match="stands; correct it by a new line"):
            _do(workshop.books, act)
    with workshop.books.reading() as c:
        assert c.execute(sa.select(table)).all() == before


def _do(books: Books, act: sa.Executable) -> None:
    with books.writing() as c:
        c.execute(act)


@pytest.mark.parametrize(
    "more",
    [
        {"count": 0},
        {"count": -1},
        {"number": 0},
        {"from_place": "floor"},
        {"from_place": "shelf", "to_place": "shelf"},
        {"to_place": "reserved"},
        {"to_place": "customer"},
        {"to_place": "shelf", "to_party_id": 1},
    ],
)
def test_the_database_refuses_what_cannot_be(workshop, more):
    with workshop.books.writing() as c:
        part = parts.add_part(c, "P-1", "dowel")
    line = {
        "part_id": part,
        "number": 1,
        "count": 1,
        "from_place": "count",
        "to_place": "shelf",
        **workshop.entry().line,
    }
    _do(workshop.books, part_movement.insert().values(**line))
    with pytest.raises(sa.exc.IntegrityError):
        _do(workshop.books, part_movement.insert().values(**{**line, "number": 2, **more}))
    assert set(PART_PLACES) >= {line["from_place"], line["to_place"]}


def test_older_inspections_are_counted_when_the_books_are_brought_up(nowhere, monkeypatch):
    """Books of the third version, with an inspection of two values and one of none."""
    older = _books_of_the_third_version(nowhere)
    entry = {"happened": "2026-03-02T08:00:00.000000Z", "recorded": "2026-03-02T08:00:00.000000Z"}
    with older._migrates.connect() as c, c.begin():  # which looks up no foreign key on SQLite
        if c.dialect.name == "postgresql":
            c.execute(sa.text("SET LOCAL session_replication_role = replica"))
        for number, values in ((1, 2), (2, 0), (3, 1)):
            c.execute(
                sa.text(
                    "INSERT INTO inspection (id, bell_id, instrument, happened, recorded, who)"
                    " VALUES (:id, 1, 'bridge', :happened, :recorded, 'Ada')"
                ),
                {"id": number, **entry},
            )
            for which in range(values):
                c.execute(
                    inspection_value.insert().values(
                        inspection_id=number, characteristic_id=which, value_mm=1, u95_mm=0
                    )
                )
    if "://" not in nowhere:
        # The rows name no bell: SQLite's own look after a migration would rightly say so.
        monkeypatch.setattr(opening, "_check_names", lambda connection: None)
    older.close()
    with open_books(nowhere) as books, books.reading() as c:
        query = sa.select(inspection_count.c.inspection_id, inspection_count.c.value_count)
        assert c.execute(query.order_by(inspection_count.c.inspection_id)).all() == [
            *((1, 2), (2, 0), (3, 1))
        ]
        assert c.execute(sa.select(sa.func.count()).select_from(inspection)).scalar_one() == 3
        assert not [line for line in verify(books) if "recorded with" in line]


def _books_of_the_third_version(where: str) -> Books:
    from alembic import command
    from alembic.config import Config

    url = opening._url(where)
    engine = (
        opening._sqlite(url.database, 20) if "://" not in where else opening._postgresql(url, 20)
    )
    older = Books(engine)
    config = Config()
    config.set_main_option("script_location", "kitwright.books:migrations")
    config.set_main_option("path_separator", "os")
    with older._migrates.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, VERSION.down_revision)
    return older
