"""What the database itself refuses: changing or removing a line of a ledger.

SQLite makes a changed table anew and drops its triggers with the old one: a later migration that
changes a guarded table sets its guards again.
"""

from __future__ import annotations

from typing import Final

from alembic import op

_REFUSE: Final = """
CREATE FUNCTION kitwright_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'restrict_violation';
END $$
"""

_FROZEN: Final = """
CREATE FUNCTION kitwright_frozen() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    touched bigint[];
BEGIN
    IF TG_OP <> 'INSERT' THEN
        touched := touched || CASE TG_TABLE_NAME
            WHEN 'revision' THEN (to_jsonb(OLD)->>'id')::bigint
            ELSE (to_jsonb(OLD)->>'revision_id')::bigint END;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        touched := touched || CASE TG_TABLE_NAME
            WHEN 'revision' THEN (to_jsonb(NEW)->>'id')::bigint
            ELSE (to_jsonb(NEW)->>'revision_id')::bigint END;
    END IF;
    IF EXISTS (SELECT 1 FROM revision_step
               WHERE revision_id = ANY (touched) AND state = 'in force') THEN
        RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'restrict_violation';
    END IF;
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
    RETURN NEW;
END $$
"""

_FROZEN_WORDS: Final = "a revision in force is frozen; draw a new one"


def prepare() -> None:
    """Make what the guards call; once a database."""
    if _is_postgresql():
        op.execute(_REFUSE)
        op.execute(_FROZEN)


def append_only(table: str) -> None:
    """Lines of `table` are added, never changed or removed."""
    words = f"a line of {table} stands; correct it by a new line"
    if _is_postgresql():
        for event, each in (("UPDATE OR DELETE", "ROW"), ("TRUNCATE", "STATEMENT")):
            op.execute(
                f'CREATE TRIGGER {table}_stands_{each.lower()} BEFORE {event} ON "{table}"'
                f" FOR EACH {each} EXECUTE FUNCTION kitwright_refuse('{words}')"
            )
        return
    for event in ("UPDATE", "DELETE"):
        op.execute(
            f'CREATE TRIGGER {table}_stands_{event.lower()} BEFORE {event} ON "{table}"'
            f" BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )


def frozen_in_force(table: str, column: str) -> None:
    """Rows of `table`, whose `column` names a revision, stand once that is in force."""
    if _is_postgresql():
        op.execute(
            f"CREATE TRIGGER {table}_frozen BEFORE INSERT OR UPDATE OR DELETE ON {table}"
            f" FOR EACH ROW EXECUTE FUNCTION kitwright_frozen('{_FROZEN_WORDS}')"
        )
        return
    for event, sides in (("INSERT", "NEW"), ("UPDATE", "OLD NEW"), ("DELETE", "OLD")):
        touched = ", ".join(f"{side}.{column}" for side in sides.split())
        op.execute(
            f"CREATE TRIGGER {table}_frozen_{event.lower()} BEFORE {event} ON {table}"
            " WHEN EXISTS (SELECT 1 FROM revision_step"
            f" WHERE revision_id IN ({touched}) AND state = 'in force')"
            f" BEGIN SELECT RAISE(ABORT, '{_FROZEN_WORDS}'); END"
        )


def _is_postgresql() -> bool:
    return op.get_bind().dialect.name == "postgresql"
