"""The tables as the code has them, and the tables as the migrations make them: the same."""

from __future__ import annotations

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from kitwright.books import moves, standing
from kitwright.books.migrations import AUTOGENERATE_PLUGINS, VERSIONS
from kitwright.books.tables import bell_now, metadata


def test_the_versions_are_all_there_in_order():
    config = Config()
    config.set_main_option("script_location", "kitwright.books:migrations")
    config.set_main_option("path_separator", "os")
    script = ScriptDirectory.from_config(config)
    walked = [each.revision for each in script.walk_revisions()]
    assert tuple(reversed(walked)) == VERSIONS


def test_autogenerate_finds_nothing_to_do(books):
    with books.writing() as c:
        context = MigrationContext.configure(
            c, opts={"autogenerate_plugins": AUTOGENERATE_PLUGINS, "compare_type": True}
        )
        assert compare_metadata(context, metadata) == []


def test_autogenerate_would_find_a_new_check(books):
    """The guard of the test above: the plug-in is on and does its work on this database."""
    changed = sa.MetaData(naming_convention=metadata.naming_convention)
    for table in metadata.tables.values():
        table.to_metadata(changed)
    changed.tables["crate"].append_constraint(sa.CheckConstraint("count < 9", name="small"))
    with books.writing() as c:
        context = MigrationContext.configure(c, opts={"autogenerate_plugins": AUTOGENERATE_PLUGINS})
        found = compare_metadata(context, changed)
    assert [str(each[1].name) for each in found] == ["ck_crate_small"]


def _catalogue(engine):
    """Everything that a database says of its tables, down to the text of each check."""
    inspector = sa.inspect(engine)
    found = {}
    for name in inspector.get_table_names():
        if name == "alembic_version":
            continue
        found[name] = {
            "columns": {
                each["name"]: (str(each["type"]), each["nullable"], each["default"] is None)
                for each in inspector.get_columns(name)
            },
            "key": inspector.get_pk_constraint(name),
            "foreign": sorted(map(str, inspector.get_foreign_keys(name))),
            "unique": sorted(map(str, inspector.get_unique_constraints(name))),
            "checks": sorted(map(str, inspector.get_check_constraints(name))),
            "indexes": sorted(map(str, inspector.get_indexes(name))),
        }
    return found


def test_migrated_and_created_catalogues_are_the_same(request, where, tmp_path):
    """Word for word, which autogenerate does not compare: a check's text among them."""
    if "://" in where:
        server = request.getfixturevalue("postgresql")
        straight = server.fresh()
        straight_url = straight.replace("postgresql://", "postgresql+psycopg://")
        migrated_url = where.replace("postgresql://", "postgresql+psycopg://")
    else:
        straight = str(tmp_path / "straight.db")
        straight_url, migrated_url = f"sqlite:///{straight}", f"sqlite:///{where}"
    catalogues = []
    for url in (straight_url, migrated_url):
        engine = sa.create_engine(url)
        if url == straight_url:
            metadata.create_all(engine)
        catalogues.append(_catalogue(engine))
        engine.dispose()
    created, migrated = catalogues
    assert set(created) == set(migrated)
    for name, table in created.items():
        assert table == migrated[name], name
    if "://" in where:
        server.drop(straight)


def test_the_view_has_the_columns_that_the_code_reads(books):
    with books.reading() as c:
        found = [each["name"] for each in sa.inspect(c).get_columns("bell_now")]
        assert sorted(found) == sorted(bell_now.c.keys())
        assert standing.where(c) == []


@pytest.mark.parametrize("kind", moves.BELL.kinds)
def test_the_view_says_the_state_that_the_moves_say(workshop, kind):
    """A planted decision of each kind, whatever it may do to the bell's life."""
    with workshop.books.writing() as c:
        bell = standing.one(c, workshop.serials[0])
        c.execute(
            metadata.tables["decision"]
            .insert()
            .values(
                bell_id=bell.bell_id,
                number=1,
                kind=kind,
                order_id=workshop.order_in(c),
                reason="planted",
                **workshop.entry().line,
            )
        )
        assert standing.one(c, bell.serial).state == moves.BELL.ends[kind]


@pytest.mark.parametrize("course", [moves.BATCH, moves.REVISION, moves.ORDER, moves.FIT_UP])
def test_the_database_knows_every_state(course):
    table = metadata.tables[f"{course.what.replace('-', '_')}_step"]
    (check,) = [each for each in table.constraints if "state_known" in str(each.name)]
    assert {word.strip(" '()") for word in check.sqltext.text.split("IN")[1].split(",")} == set(
        course.states
    )
