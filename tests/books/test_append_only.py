"""Lines of the ledgers stand, and a revision in force is frozen: the database itself says no."""

from __future__ import annotations

import importlib

import pytest
import sqlalchemy as sa

from kitwright.books import designs, inspections
from kitwright.books.characteristics import characteristics, length_of, set_characteristics
from kitwright.books.inspections import Measured
from kitwright.books.tables import metadata
from kitwright.errors import MoveError

FIRST = importlib.import_module("kitwright.books.migrations.versions.0001_first")


@pytest.fixture
def full(workshop):
    """A workshop with a row in every guarded table."""
    serial = workshop.serials[0]
    workshop.bring(serial, "fitted")
    with workshop.books.writing() as c:
        measured = [Measured(workshop.characteristics[1], [182.5], 0.01)]
        inspections.record_inspections(
            c, workshop.batch, [workshop.serials[1]], measured, "bridge", workshop.entry()
        )
    return workshop


def test_every_ledger_is_guarded():
    """What the brief of the books calls append-only, and all that is named by it."""
    ledgers = {name for name in metadata.tables if name.endswith("_step")}
    assert ledgers | {"movement", "decision", "inspection", "inspection_value", "bell"} <= set(
        FIRST.APPEND_ONLY
    )


@pytest.mark.parametrize("name", FIRST.APPEND_ONLY)
def test_a_line_is_neither_changed_nor_removed(full, name):
    table = metadata.tables[name]
    if name == "order_option":
        option = metadata.tables["variant_option"]
        with full.books.writing() as c:
            c.execute(
                option.insert().values(
                    id=1, variant_id=full.variant, name="x", price_minor=1, price_currency="USD"
                )
            )
            c.execute(table.insert().values(order_id=1, variant_option_id=1))
    with full.books.reading() as c:
        before = c.execute(sa.select(table)).all()
    assert before
    column = list(table.c)[-1]
    acts = [
        table.update().values({column: column}),
        table.delete(),
    ]
    with full.books.reading() as c:
        if c.dialect.name == "postgresql":
            acts.append(sa.text(f'TRUNCATE "{name}" CASCADE'))
        else:
            acts.append(table.insert().prefix_with("OR REPLACE").values(before[0]._mapping))
    for act in acts:
        with (
            pytest.raises(sa.exc.IntegrityError, match=f"a line of {name} stands"),
            full.books.writing() as c,
        ):
            c.execute(act)
    with full.books.reading() as c:
        assert c.execute(sa.select(table)).all() == before


def test_a_revision_in_force_is_frozen(workshop):
    revision, characteristic = metadata.tables["revision"], metadata.tables["characteristic"]
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        set_characteristics(c, draft, [length_of("depth", 182.4, 182.6)])
        set_characteristics(c, draft, [length_of("depth", 182.4, 182.5)])  # a draft may change
        before = characteristics(c, workshop.revision)
    mine = characteristic.c.revision_id == workshop.revision
    for act in (
        revision.update().where(revision.c.id == workshop.revision).values(label="C"),
        revision.delete().where(revision.c.id == workshop.revision),
        characteristic.update().where(mine).values(high_mm=183),
        characteristic.delete().where(mine),
        characteristic.insert().values(
            revision_id=workshop.revision,
            position=9,
            name="span",
            kind="length",
            unit="mm",
            frame="x",
            low_mm=1,
        ),
        # neither out of one in force nor into it
        characteristic.update().where(mine).values(revision_id=draft),
        characteristic.update()
        .where(characteristic.c.revision_id == draft)
        .values(revision_id=workshop.revision, name="other", position=8),
    ):
        with (
            pytest.raises(sa.exc.IntegrityError, match="a revision in force is frozen"),
            workshop.books.writing() as c,
        ):
            c.execute(act)
    with pytest.raises(MoveError, match="frozen"), workshop.books.writing() as c:
        set_characteristics(c, workshop.revision, [length_of("depth", 1, 2)])
    with workshop.books.reading() as c:
        assert characteristics(c, workshop.revision) == before


def test_a_superseded_revision_stays_frozen(workshop):
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        set_characteristics(c, draft, [length_of("depth", 182.4, 182.6)])
        designs.put_in_force(c, draft, workshop.entry())
    characteristic = metadata.tables["characteristic"]
    with pytest.raises(sa.exc.IntegrityError, match="frozen"), workshop.books.writing() as c:
        c.execute(characteristic.delete().where(characteristic.c.revision_id == workshop.revision))


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("kind", "sell"),
        ("number", 0),
        ("bell_id", 10**6),
        ("order_id", 10**6),
        ("who", None),
    ],
)
def test_the_database_refuses_a_decision_that_cannot_be(workshop, column, value):
    table = metadata.tables["decision"]
    line = {"bell_id": 1, "number": 1, "kind": "release", **workshop.entry().line}
    with pytest.raises(sa.exc.IntegrityError), workshop.books.writing() as c:
        c.execute(table.insert().values(**{**line, column: value}))


@pytest.mark.parametrize("kind", ["concede", "rework", "scrap", "withdraw"])
@pytest.mark.parametrize("why", [None, ""])
def test_the_database_asks_for_a_reason(workshop, kind, why):
    table = metadata.tables["decision"]
    line = {"bell_id": 1, "number": 1, "kind": kind, "reason": why, **workshop.entry().line}
    with (
        pytest.raises(sa.exc.IntegrityError, match="reason_given"),
        workshop.books.writing() as c,
    ):
        c.execute(table.insert().values(**line))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf"), 1e6])
@pytest.mark.parametrize("column", ["value_mm", "u95_mm"])
def test_the_database_refuses_what_is_no_length(full, column, value):
    table = metadata.tables["inspection_value"]
    line = {
        "inspection_id": 1,
        "characteristic_id": full.characteristics[2],
        "value_mm": 1.0,
        "u95_mm": 0.1,
    }
    with pytest.raises(sa.exc.IntegrityError), full.books.writing() as c:
        c.execute(table.insert().values(**{**line, column: value}))


def test_corrections_are_new_lines(workshop):
    """A bell released by mistake: the mistake stays to be read, the newest line counts."""
    serial = workshop.serials[0]
    workshop.bring(serial, "released")
    workshop.decide(serial, "withdraw", why="the wrong bell was on the bench")
    workshop.decide(serial, "hold")
    workshop.decide(serial, "remeasure")
    with workshop.books.reading() as c:
        table = metadata.tables["decision"]
        kinds = c.execute(sa.select(table.c.kind).order_by(table.c.number)).scalars().all()
    assert kinds == ["release", "withdraw", "hold", "remeasure"]
    assert workshop.state(serial) == "made"
