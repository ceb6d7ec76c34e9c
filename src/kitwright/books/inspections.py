"""Inspections: what was measured on a bell, by whom and with what, each value with its u95."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import chain

import numpy as np
from numpy.typing import ArrayLike
from sqlalchemy import ColumnElement, Connection, select

from kitwright.books import bulk, rows, standing, stock
from kitwright.books.characteristics import Characteristic, characteristics
from kitwright.books.entries import Entry, each_once, words
from kitwright.books.lengths import lengths
from kitwright.books.movements import signed
from kitwright.books.tables import (
    bell,
    bell_now,
    decision,
    inspection,
    inspection_count,
    inspection_value,
)
from kitwright.books.tables.columns import LONGEST_MM
from kitwright.books.transactions import all_or_nothing
from kitwright.calc.checks import Floats
from kitwright.errors import InputError, MissingError, Problem


@dataclass(frozen=True)
class Measured:
    """One characteristic as it was measured on many bells.

    `mm` has shape (n,) for a length and (n, 2) for a position (x, y in the drawing's frame);
    `u95_mm` is one expanded uncertainty for all, or (n,).
    """

    characteristic_id: int
    mm: ArrayLike
    u95_mm: ArrayLike


@all_or_nothing
def record_inspections(
    connection: Connection,
    batch_id: int,
    serials: Sequence[str],
    measured: Sequence[Measured],
    instrument: str,
    entry: Entry,
) -> list[int]:
    """Keep one inspection a bell; give their numbers in the order of `serials`.

    Raises
    ------
    MissingError
        No such batch, a serial that is not of it, or a characteristic not of its revision.
    InputError
        A bell or a characteristic twice, or values that are not finite lengths; a line each.
        Nothing is kept.
    """
    revision_id = stock.get_batch(connection, batch_id).revision_id
    each_once(serials, where="bell")
    bell_ids = bells_of(connection, batch_id, serials)
    known = {each.id: each for each in characteristics(connection, revision_id)}
    columns = _columns(measured, known, [f"bell {serial}" for serial in serials])
    count = len(serials)
    numbers = bulk.reserve(connection, inspection, count)
    bulk.insert(
        connection,
        inspection,
        {
            "id": numbers,
            "bell_id": bell_ids,
            "instrument": [words(instrument, where="instrument")] * count,
            **signed(entry, count),
        },
    )
    each = range(len(measured))
    bulk.insert(
        connection,
        inspection_value,
        {
            "inspection_id": [number for number in numbers for _ in each],
            "characteristic_id": [one.characteristic_id for one in measured] * count,
            **{
                name: list(chain.from_iterable(zip(*parts, strict=True)))
                for name, parts in columns.items()
            },
        },
    )
    bulk.insert(
        connection,
        inspection_count,
        {"inspection_id": numbers, "value_count": [len(measured)] * count},
    )
    return numbers


def bells_of(connection: Connection, batch_id: int, serials: Sequence[str]) -> list[int]:
    """The bells of a batch with these serials.

    Raises
    ------
    MissingError
        Serials that are of no bell or of another batch's, a line each: a machinist must not learn
        of these which is which.
    """
    query = select(bell.c.serial, bell.c.id).where(bell.c.batch_id == batch_id)
    found = {row.serial: row.id for row in connection.execute(query).all()}
    if missing := [serial for serial in serials if serial not in found]:
        raise MissingError.of(
            Problem(f"bell {serial}", "is not of this batch", "measure the bells of the batch")
            for serial in missing
        )
    return [found[serial] for serial in serials]


def _columns(
    measured: Sequence[Measured], known: dict[int, Characteristic], names: Sequence[str]
) -> dict[str, list[list[float | None]]]:
    """Column of `inspection_value` → for each characteristic, its values down the bells."""
    count = len(names)
    nothing: list[float | None] = [None] * count
    columns: dict[str, list[list[float | None]]] = {
        "value_mm": [],
        "x_mm": [],
        "y_mm": [],
        "u95_mm": [],
    }
    if not measured:
        raise InputError("values", "nothing was measured", "give one characteristic or more")
    seen = set[int]()
    for one in measured:
        if one.characteristic_id not in known:
            raise MissingError(
                "characteristic", f"{one.characteristic_id} is not of the batch's revision"
            )
        about = known[one.characteristic_id]
        if one.characteristic_id in seen:
            raise InputError(about.name, "measured twice", "give it once")
        seen.add(one.characteristic_id)
        shape = (count,) if about.kind == "length" else (count, 2)
        values = _values(one.mm, shape, about, names)
        u95 = lengths(one.u95_mm, (count,), where=f"{about.name} u95", names=names, least=0)
        columns["u95_mm"].append(u95.tolist())
        columns["value_mm"].append(values.tolist() if about.kind == "length" else nothing)
        for axis, name in enumerate(("x_mm", "y_mm")):
            columns[name].append(nothing if about.kind == "length" else values[:, axis].tolist())
    return columns


def _values(
    given: ArrayLike, shape: tuple[int, ...], about: Characteristic, names: Sequence[str]
) -> Floats:
    if np.shape(given) != shape:
        expected = "a length a bell" if len(shape) == 1 else "x and y a bell"
        raise InputError(about.name, f"shape {np.shape(given)}", f"give {expected}: {shape}")
    return lengths(given, shape, where=about.name, names=names, least=-LONGEST_MM)


# ── reading them back ────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Value:
    """One measured value: a length, or a position's x and y."""

    characteristic_id: int
    value_mm: float | None
    x_mm: float | None
    y_mm: float | None
    u95_mm: float


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """One inspection of one bell."""

    id: int
    bell_id: int
    instrument: str
    happened: datetime
    recorded: datetime
    who: str


def inspections_of(connection: Connection, serial: str) -> list[Inspection]:
    """Every inspection of a bell, in the order recorded."""
    query = (
        select(inspection)
        .join(bell, bell.c.id == inspection.c.bell_id)
        .where(bell.c.serial == rows.text_of(serial))
        .order_by(inspection.c.id)
    )
    return rows.read(connection, query, Inspection)


def values_of(connection: Connection, inspection_id: int) -> list[Value]:
    """What one inspection measured."""
    columns = (inspection_value.c[name] for name in Value.__dataclass_fields__)
    query = (
        select(*columns)
        .where(inspection_value.c.inspection_id == rows.key_of(inspection_id))
        .order_by(inspection_value.c.characteristic_id)
    )
    return rows.read(connection, query, Value)


@dataclass(frozen=True, kw_only=True)
class Newest:
    """The newest value of each characteristic of each of some bells.

    `mm` has shape (bells, characteristics, 2): a length stands in [..., 0] with NaN beside it;
    all NaN where it has not been measured, or not since the bell was last sent for rework.
    `u95_mm` is (bells, characteristics). `inspection_ids` holds each bell's newest inspection, 0
    where there is none; `outdated` the serials that were measured only before their rework.
    """

    serials: tuple[str, ...]
    characteristics: tuple[Characteristic, ...]
    mm: Floats
    u95_mm: Floats
    inspection_ids: tuple[int, ...]
    outdated: frozenset[str] = frozenset()


def newest_of(connection: Connection, serial: str, *, outdated_too: bool = False) -> Newest:
    """The newest value of each characteristic of one bell.

    With `outdated_too` also those that were measured before its rework.
    """
    revision_id = standing.one(connection, serial).revision_id
    return _newest(connection, revision_id, bell_now.c.serial == serial, outdated_too=outdated_too)


def newest_values(connection: Connection, batch_id: int) -> Newest:
    """The newest value of each characteristic of each bell of a batch, bells by serial."""
    revision_id = stock.get_batch(connection, batch_id).revision_id
    return _newest(connection, revision_id, bell_now.c.batch_id == batch_id)


def as_machined(connection: Connection, batch_id: int) -> Newest:
    """The same, from before any rework: what the machining gave, the bells that failed included."""
    revision_id = stock.get_batch(connection, batch_id).revision_id
    batch = rows.key_of(batch_id)
    return _newest(connection, revision_id, bell_now.c.batch_id == batch, until_rework=True)


def released_values(connection: Connection, revision_id: int) -> Newest:
    """The same of every bell of a revision that is released now, or was and has gone out since.

    What a budget of the corrections to come is reckoned from.
    """
    return _newest(
        connection,
        revision_id,
        bell_now.c.revision_id == rows.key_of(revision_id),
        bell_now.c.state.in_(("released", "allocated", "shipped", "fitted")),
    )


def _newest(
    connection: Connection,
    revision_id: int,
    *conditions: ColumnElement[bool],
    outdated_too: bool = False,
    until_rework: bool = False,
) -> Newest:
    known = characteristics(connection, revision_id)
    bells = standing.where(connection, *conditions)
    row_of = {each.bell_id: index for index, each in enumerate(bells)}
    column_of = {each.id: index for index, each in enumerate(known)}
    mm = np.full((len(bells), len(known), 2), np.nan)
    u95 = np.full((len(bells), len(known)), np.nan)
    newest = [0] * len(bells)
    values = inspection_value.c
    query = (
        select(
            inspection.c.id,
            inspection.c.bell_id,
            values.characteristic_id,
            values.value_mm,
            values.x_mm,
            values.y_mm,
            values.u95_mm,
        )
        .join(inspection_value, values.inspection_id == inspection.c.id)
        .where(bulk.among(connection, inspection.c.bell_id, list(row_of)))
        .order_by(inspection.c.id)  # a later one takes the place of those before
    )
    if until_rework:
        outdated = _reworked(connection, list(row_of), after=True)
    else:
        outdated = set[int]() if outdated_too else _reworked(connection, list(row_of))
    skipped = set[int]()
    for number, bell_id, which, value, x, y, u in connection.execute(query).all():
        if number in outdated:
            skipped.add(row_of[bell_id])
            continue
        row, column = row_of[bell_id], column_of[which]
        mm[row, column] = (x, y) if value is None else (value, np.nan)
        u95[row, column] = u
        newest[row] = number
    return Newest(
        serials=tuple(each.serial for each in bells),
        characteristics=tuple(known),
        mm=mm,
        u95_mm=u95,
        inspection_ids=tuple(newest),
        outdated=frozenset(bells[row].serial for row in skipped if not newest[row]),
    )


def _reworked(connection: Connection, bell_ids: list[int], *, after: bool = False) -> set[int]:
    """The inspections of these bells that a rework has made outdated, or those `after` one."""
    before = inspection.c.recorded <= decision.c.recorded
    query = (
        select(inspection.c.id)
        .join(decision, decision.c.bell_id == inspection.c.bell_id)
        .where(
            decision.c.kind == "rework",
            ~before if after else before,
            bulk.among(connection, decision.c.bell_id, bell_ids),
        )
    )
    return set(connection.execute(query).scalars())
