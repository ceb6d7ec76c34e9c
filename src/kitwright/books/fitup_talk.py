"""What the shop and a fitter write to each other, and what he recorded step by step.

All of it is append-only. A page sends each line under a key of its own, so that a line which
comes twice is kept once; undoing a record is a new line that names it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Table, func, select

import kitwright
from kitwright.books import bulk, rows
from kitwright.books.entries import LONGEST_TEXT, Entry, one_of, plain_json, words
from kitwright.books.tables import decision, fit_up_note, fit_up_record, fit_up_step
from kitwright.books.tables.links import SIDES
from kitwright.errors import InputError, MissingError, MoveError


@dataclass(frozen=True, kw_only=True)
class Note:
    """A note of the shop's or the fitter's; `side` says whose."""

    id: int
    fit_up_id: int
    side: str
    said: str
    send_key: str
    happened: datetime
    recorded: datetime
    who: str


@dataclass(frozen=True, kw_only=True)
class Record:
    """What was done at one stage: the values as typed, and a worksheet's answer where one was
    worked. `undoes_id` names the record that this line takes back.
    """

    id: int
    fit_up_id: int
    stage: str
    said_json: Any
    worksheet: str | None
    answer_json: Any
    version: str
    send_key: str
    undoes_id: int | None
    happened: datetime
    recorded: datetime
    who: str


Kept = TypeVar("Kept", Note, Record)


def add_note(
    connection: Connection, fit_up_id: int, side: str, said: str, *, send_key: str, entry: Entry
) -> Note:
    """Keep a note; one that came before under the same key is given back as it is."""
    wanted = words(send_key, where="send_key")
    query = select(fit_up_note).where(fit_up_note.c.send_key == wanted)
    if kept := rows.read(connection, query, Note):
        return _own(kept[0], fit_up_id)
    line = {
        "fit_up_id": fit_up_id,
        "side": one_of(side, SIDES, where="side"),
        "said": words(said, where="note", most=LONGEST_TEXT),
    }
    _add_once(connection, fit_up_note, send_key=wanted, **line, **entry.line)
    return _own(rows.read(connection, query, Note)[0], fit_up_id)


def notes_of(connection: Connection, fit_up_id: int) -> list[Note]:
    """Every note of a fit-up, in order."""
    query = (
        select(fit_up_note)
        .where(fit_up_note.c.fit_up_id == rows.key_of(fit_up_id))
        .order_by(fit_up_note.c.id)
    )
    return rows.read(connection, query, Note)


def notes_of_many(connection: Connection, fit_up_ids: Sequence[int]) -> dict[int, list[Note]]:
    """Fit-up → every note of it, in order; asks once, however many there are."""
    query = (
        select(fit_up_note)
        .where(bulk.among(connection, fit_up_note.c.fit_up_id, fit_up_ids))
        .order_by(fit_up_note.c.id)
    )
    found: dict[int, list[Note]] = {each: [] for each in fit_up_ids}
    for note in rows.read(connection, query, Note):
        found[note.fit_up_id].append(note)
    return found


def newest_notes(connection: Connection) -> dict[int, Note]:
    """Fit-up → its newest note, where it has one."""
    last = select(func.max(fit_up_note.c.id)).group_by(fit_up_note.c.fit_up_id)
    query = select(fit_up_note).where(fit_up_note.c.id.in_(last))
    return {note.fit_up_id: note for note in rows.read(connection, query, Note)}


def add_record(
    connection: Connection,
    fit_up_id: int,
    stage: str,
    said: Mapping[str, Any],
    *,
    send_key: str,
    entry: Entry,
    worksheet: str | None = None,
    answer: Mapping[str, Any] | None = None,
    undoes: int | None = None,
) -> Record:
    """Keep what was done at a stage; a record that came before under the same key is given back.

    Parameters
    ----------
    said
        The values as they were typed.
    worksheet, answer
        The worksheet that was worked on them, and what it answered; both or neither.
    undoes
        The number of a record of the same fit-up and stage that this line takes back.

    Raises
    ------
    InputError, MissingError, MoveError
        Data that JSON cannot hold; no such record to undo; it is undone already.
    """
    wanted = words(send_key, where="send_key")
    query = select(fit_up_record).where(fit_up_record.c.send_key == wanted)
    if kept := rows.read(connection, query, Record):
        return _own(kept[0], fit_up_id)
    if (worksheet is None) != (answer is None):
        raise InputError("worksheet", "its name or its answer is missing", "give both or neither")
    if undoes is not None:
        _check_undo(connection, fit_up_id, stage, undoes)
    _add_once(
        connection,
        fit_up_record,
        fit_up_id=fit_up_id,
        stage=words(stage, where="stage"),
        said_json=plain_json(said, where="said"),
        worksheet=worksheet,
        answer_json=None if answer is None else plain_json(answer, where="answer"),
        version=kitwright.__version__,
        send_key=wanted,
        undoes_id=undoes,
        **entry.line,
    )
    return _own(rows.read(connection, query, Record)[0], fit_up_id)


def _check_undo(connection: Connection, fit_up_id: int, stage: str, undoes: int) -> None:
    every = all_records_of(connection, fit_up_id)
    if not any(each.id == undoes and each.stage == stage for each in every):
        raise MissingError("record", f"this fit-up has no record {undoes} of that stage")
    if any(each.undoes_id == undoes for each in every):
        raise MoveError("record", "it is undone already")


def all_records_of(connection: Connection, fit_up_id: int) -> list[Record]:
    """Every record of a fit-up, also those undone and the lines that undid them, in order."""
    query = (
        select(fit_up_record)
        .where(fit_up_record.c.fit_up_id == rows.key_of(fit_up_id))
        .order_by(fit_up_record.c.id)
    )
    return rows.read(connection, query, Record)


def all_records_of_many(
    connection: Connection, fit_up_ids: Sequence[int]
) -> dict[int, list[Record]]:
    """Fit-up → every record of it, in order; asks once, however many there are."""
    query = (
        select(fit_up_record)
        .where(bulk.among(connection, fit_up_record.c.fit_up_id, fit_up_ids))
        .order_by(fit_up_record.c.id)
    )
    found: dict[int, list[Record]] = {each: [] for each in fit_up_ids}
    for record in rows.read(connection, query, Record):
        found[record.fit_up_id].append(record)
    return found


def records_of(connection: Connection, fit_up_id: int) -> list[Record]:
    """The records of a fit-up that stand, in order."""
    return standing(all_records_of(connection, fit_up_id))


def standing(every: Sequence[Record]) -> list[Record]:
    """Of all records of a fit-up those that no later one took back."""
    undone = {each.undoes_id for each in every}
    return [each for each in every if each.undoes_id is None and each.id not in undone]


def counts_of(connection: Connection, fit_up_id: int) -> tuple[int, ...]:
    """How many steps, records and notes a fit-up has; each only grows."""
    return tuple(
        connection.execute(
            select(func.count()).where(table.c.fit_up_id == rows.key_of(fit_up_id))
        ).scalar_one()
        for table in (fit_up_step, fit_up_record, fit_up_note)
    )


def newest_of_all(connection: Connection) -> tuple[int, ...]:
    """The newest step, record and note of any fit-up, and the newest decision on any bell."""
    tables = (fit_up_step, fit_up_record, fit_up_note, decision)
    newest = (select(func.coalesce(func.max(table.c.id), 0)).scalar_subquery() for table in tables)
    return tuple(connection.execute(select(*newest)).one())


def _add_once(connection: Connection, table: Table, *, send_key: str, **values: Any) -> None:
    """Add the line, unless somebody else has just added one under the same key."""
    try:
        rows.add(connection, table, named="send_key", send_key=send_key, **values)
    except InputError:
        sent = select(table.c.id).where(table.c.send_key == send_key)
        if connection.execute(sent).first() is None:
            raise


def _own(kept: Kept, fit_up_id: int) -> Kept:
    if kept.fit_up_id != fit_up_id:
        raise InputError("send_key", "another fit-up sent with it", "load the page again")
    return kept
