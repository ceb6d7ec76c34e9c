"""Fit-ups: one bell in one car, measured, advised on, corrected; every worksheet is kept."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, func, or_, select
from sqlalchemy.exc import IntegrityError

import kitwright
from kitwright.books import bulk, decisions, rows, standing, steps
from kitwright.books.entries import Entry, one_of, plain_json, words
from kitwright.books.tables import (
    batch,
    bell,
    design,
    fit_up,
    fit_up_record,
    fit_up_step,
    revision,
)
from kitwright.books.tables.designs import BLOCKS
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError

ENDED: Final = ("succeeded", "failed")


@dataclass(frozen=True, kw_only=True)
class FitUp:
    """One installation; `block` is "new" or "line-honed"."""

    id: int
    bell_id: int
    serial: str
    order_id: int | None
    car_id: int | None
    fitter: str
    block: str
    state: str


@dataclass(frozen=True, kw_only=True)
class FitUpStep:
    """One step of a fit-up, with the worksheet that was worked there, if any."""

    number: int
    state: str
    happened: datetime
    recorded: datetime
    who: str
    why: str | None
    worksheet: str | None
    case_json: Any
    answer_json: Any
    version: str
    send_key: str | None


@all_or_nothing
def open_fit_up(
    connection: Connection,
    serial: str,
    *,
    fitter: str,
    block: str,
    entry: Entry,
    car_id: int | None = None,
) -> int:
    """Open the fit-up of a shipped bell; give its number.

    Raises
    ------
    MissingError, MoveError
        No such bell; it is not shipped, or a fit-up of it is under way.
    """
    one_of(block, BLOCKS, where="block")
    found = standing.one(connection, serial)
    # Whoever opens a fit-up of this bell waits here for whoever does so now.
    connection.execute(
        select(bell.c.id).where(bell.c.id == found.bell_id).with_for_update(key_share=True)
    )
    if found.state != "shipped":
        raise MoveError(found.named, f"it is {found.state}", "a shipped bell can be fitted")
    under_way = [each for each in fit_ups_of(connection, serial) if each.state not in ENDED]
    if under_way:
        raise MoveError(
            found.named, f"fit-up {under_way[0].id} of it is under way", "go on with that one"
        )
    number = rows.add(
        connection,
        fit_up,
        bell_id=found.bell_id,
        order_id=found.order_id,
        car_id=car_id,
        fitter=words(fitter, where="fitter"),
        block=block,
    )
    steps.begin(connection, steps.FIT_UP, number, entry, version=kitwright.__version__)
    return number


def take_step(
    connection: Connection,
    fit_up_id: int,
    to: str,
    entry: Entry,
    *,
    worksheet: str | None = None,
    case: Mapping[str, Any] | None = None,
    answer: Mapping[str, Any] | None = None,
    why: str | None = None,
    send_key: str | None = None,
) -> FitUpStep:
    """Take a step and keep the worksheet that was worked; success fits the bell.

    Parameters
    ----------
    worksheet, case, answer
        The worksheet's name, its case as it was written, its answer: kept with the version.
    send_key
        What a page sends once only. A step that was kept under it already is given back as it
        is, so that a page may send again when it does not know whether the first one came.

    Raises
    ------
    MissingError, MoveError
        No such fit-up; the step is not allowed from where it stands, or came second; the bell
        is no longer shipped.
    InputError
        A case that JSON cannot hold, or a key that another step has.
    """
    if kept := _sent_before(connection, fit_up_id, to, send_key):
        return kept
    try:
        _take(connection, fit_up_id, to, entry, worksheet, case, answer, why, send_key)
    except (MoveError, IntegrityError):
        if kept := _sent_before(connection, fit_up_id, to, send_key):
            return kept
        raise
    return steps_of(connection, fit_up_id)[-1]


@all_or_nothing
def _take(
    connection: Connection,
    fit_up_id: int,
    to: str,
    entry: Entry,
    worksheet: str | None,
    case: Mapping[str, Any] | None,
    answer: Mapping[str, Any] | None,
    why: str | None,
    send_key: str | None,
) -> None:
    if (worksheet is None) != (case is None):
        raise InputError("worksheet", "its name or its case is missing", "give both or neither")
    steps.take(
        connection,
        steps.FIT_UP,
        fit_up_id,
        to,
        entry,
        why=why,
        worksheet=None if worksheet is None else words(worksheet, where="worksheet"),
        case_json=None if case is None else plain_json(case, where="case"),
        answer_json=None if answer is None else plain_json(answer, where="answer"),
        version=kitwright.__version__,
        send_key=None if send_key is None else words(send_key, where="send_key"),
    )
    if to == "succeeded":
        serial = get_fit_up(connection, fit_up_id).serial
        decisions.decide(connection, serial, "fit", entry, fit_up_id=fit_up_id)


def _sent_before(
    connection: Connection, fit_up_id: int, to: str, send_key: str | None
) -> FitUpStep | None:
    if send_key is None:
        return None
    query = select(fit_up_step.c.fit_up_id, fit_up_step.c.state, fit_up_step.c.number).where(
        fit_up_step.c.send_key == words(send_key, where="send_key")
    )
    found = connection.execute(query).one_or_none()
    if found is None:
        return None
    if (found.fit_up_id, found.state) != (fit_up_id, to):
        raise InputError("send_key", "another step was sent with it", "load the page again")
    return steps_of(connection, fit_up_id)[int(found.number) - 1]


def get_fit_up(connection: Connection, fit_up_id: int) -> FitUp:
    """The fit-up of this number."""
    found = _fit_ups(connection, fit_up.c.id == rows.key_of(fit_up_id))
    if not found:
        raise MissingError("fit-up", f"there is no fit-up number {fit_up_id}")
    return found[0]


def fit_ups_of(connection: Connection, serial: str) -> list[FitUp]:
    """Every fit-up of a bell, in the order opened."""
    return _fit_ups(connection, bell.c.serial == rows.text_of(serial))


def fit_ups(connection: Connection) -> list[FitUp]:
    """Every fit-up, in the order opened."""
    return _fit_ups(connection)


def _fit_ups(connection: Connection, *conditions: ColumnElement[bool]) -> list[FitUp]:
    now = steps.now(steps.FIT_UP)
    query = (
        select(fit_up, bell.c.serial, now.c.state)
        .join(bell, bell.c.id == fit_up.c.bell_id)
        .join(now, now.c.fit_up_id == fit_up.c.id)
        .where(*conditions)
        .order_by(fit_up.c.id)
    )
    return rows.read(connection, query, FitUp)


def steps_of(connection: Connection, fit_up_id: int) -> list[FitUpStep]:
    """Every step of a fit-up, in order."""
    columns = (fit_up_step.c[name] for name in FitUpStep.__dataclass_fields__)
    query = (
        select(*columns)
        .where(fit_up_step.c.fit_up_id == rows.key_of(fit_up_id))
        .order_by(fit_up_step.c.number)
    )
    return rows.read(connection, query, FitUpStep)


def steps_of_many(connection: Connection, fit_up_ids: Sequence[int]) -> dict[int, list[FitUpStep]]:
    """Fit-up → every step of it, in order; asks once, however many there are."""
    columns = (fit_up_step.c[name] for name in FitUpStep.__dataclass_fields__)
    query = (
        select(fit_up_step.c.fit_up_id, *columns)
        .where(bulk.among(connection, fit_up_step.c.fit_up_id, fit_up_ids))
        .order_by(fit_up_step.c.fit_up_id, fit_up_step.c.number)
    )
    found: dict[int, list[FitUpStep]] = {each: [] for each in fit_up_ids}
    for row in connection.execute(query).mappings():
        line = dict(row)
        number = line.pop("fit_up_id")
        found[number].append(FitUpStep(**line))
    return found


def newest_steps(connection: Connection, fit_up_ids: Sequence[int]) -> dict[int, FitUpStep]:
    """Fit-up → its newest step."""
    now = steps.now(steps.FIT_UP)
    columns = (now.c[name] for name in FitUpStep.__dataclass_fields__)
    query = select(now.c.fit_up_id, *columns).where(
        bulk.among(connection, now.c.fit_up_id, fit_up_ids)
    )
    found = {}
    for row in connection.execute(query).mappings():
        line = dict(row)
        number = line.pop("fit_up_id")
        found[number] = FitUpStep(**line)
    return found


def taken_back_keys() -> Select[tuple[str]]:
    """The send keys of records that a later line undid; a step sent with one counts no more."""
    undoing = fit_up_record.alias()
    return select(fit_up_record.c.send_key).join(undoing, undoing.c.undoes_id == fit_up_record.c.id)


def counts() -> ColumnElement[bool]:
    """A condition on steps: what was not taken back."""
    key = fit_up_step.c.send_key
    return or_(key.is_(None), key.not_in(taken_back_keys()))


def standing_steps_of(connection: Connection, fit_up_id: int) -> list[FitUpStep]:
    """The steps of a fit-up without those taken back, nor the advice that rested on one of them."""
    own = taken_back_keys().where(fit_up_record.c.fit_up_id == rows.key_of(fit_up_id))
    gone = set(connection.execute(own).scalars())
    return without(steps_of(connection, fit_up_id), gone)


def without(taken: Sequence[FitUpStep], gone: Collection[Any]) -> list[FitUpStep]:
    """Steps without those sent with a key that is `gone`, nor the advice that rested on one."""
    standing: list[FitUpStep] = []
    after_gone = False
    for step in taken:
        if step.send_key is None and step.state == "advice" and after_gone:
            continue
        after_gone = step.send_key is not None and step.send_key in gone
        if not after_gone:
            standing.append(step)
    return standing


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """How many fit-ups ended, and in how many of them the fitter had to correct something."""

    ended: int
    corrected: int
    failed: int

    @property
    def per_100(self) -> float | None:
        """Corrections per 100 fit-ups; None before the first."""
        return 100 * self.corrected / self.ended if self.ended else None


def corrections(connection: Connection, conversion_id: int) -> dict[str, Corrections]:
    """Kind of block → what its fit-ups of a conversion came to, new and line-honed apart.

    Only released bells are ever shipped, so only those are counted.
    """
    now = steps.now(steps.FIT_UP)
    corrected = (
        select(fit_up_step.c.fit_up_id)
        .where(fit_up_step.c.state == "corrected", counts())
        .distinct()
    ).subquery()
    query = (
        select(
            fit_up.c.block,
            func.count(),
            func.count(corrected.c.fit_up_id),
            func.count().filter(now.c.state == "failed"),
        )
        .join(now, now.c.fit_up_id == fit_up.c.id)
        .join(bell, bell.c.id == fit_up.c.bell_id)
        .join(batch, batch.c.id == bell.c.batch_id)
        .join(revision, revision.c.id == batch.c.revision_id)
        .join(design, design.c.id == revision.c.design_id)
        .outerjoin(corrected, corrected.c.fit_up_id == fit_up.c.id)
        .where(now.c.state.in_(ENDED), design.c.conversion_id == conversion_id)
        .group_by(fit_up.c.block)
    )
    found = {block: counts for block, *counts in connection.execute(query)}
    return {
        block: Corrections(
            ended=found.get(block, [0, 0, 0])[0],
            corrected=found.get(block, [0, 0, 0])[1],
            failed=found.get(block, [0, 0, 0])[2],
        )
        for block in BLOCKS
    }
