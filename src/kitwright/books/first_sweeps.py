"""What fit-ups found before anything was turned, beside what the bell was measured to be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, func, select

from kitwright.books import bulk, fitups, rows
from kitwright.books.tables import (
    batch,
    bell,
    characteristic,
    decision,
    design,
    fit_up,
    fit_up_step,
    inspection,
    inspection_value,
    revision,
)


@dataclass(frozen=True, kw_only=True)
class MeasuredPosition:
    """A position as it was measured, from its true place."""

    x_mm: float
    y_mm: float
    u95_mm: float


@dataclass(frozen=True, kw_only=True)
class FirstSweep:
    """The first sweep of a fit-up, and its bell as it was when it left the shop."""

    fit_up_id: int
    order_id: int | None
    serial: str
    block: str
    swept: datetime
    answer: Mapping[str, Any]
    """The answer of the worksheet `sweep`."""
    measured: MeasuredPosition | None
    """None where the characteristic was not measured before the bell was shipped."""


def first_sweeps(
    connection: Connection, conversion_id: int, characteristic_name: str
) -> list[FirstSweep]:
    """The first sweep of each fit-up of a conversion that has one, in the order opened.

    A sweep that the fitter took back is none.

    Beside it stands the newest measurement of a position that was taken before the bell was
    shipped for this fit-up, and after it was last reworked.
    """
    first = (
        select(fit_up_step.c.fit_up_id, func.min(fit_up_step.c.number).label("number"))
        .where(
            fit_up_step.c.worksheet == "sweep",
            fit_up_step.c.answer_json.is_not(None),
            fitups.counts(),
        )
        .group_by(fit_up_step.c.fit_up_id)
    ).subquery()
    step = fit_up_step.c
    query = (
        select(
            fit_up.c.id,
            fit_up.c.bell_id,
            fit_up.c.order_id,
            fit_up.c.block,
            bell.c.serial,
            step.happened,
            step.answer_json,
        )
        .join(first, first.c.fit_up_id == fit_up.c.id)
        .join(fit_up_step, and_(step.fit_up_id == fit_up.c.id, step.number == first.c.number))
        .join(bell, bell.c.id == fit_up.c.bell_id)
        .join(batch, batch.c.id == bell.c.batch_id)
        .join(revision, revision.c.id == batch.c.revision_id)
        .join(design, design.c.id == revision.c.design_id)
        .where(design.c.conversion_id == rows.key_of(conversion_id))
        .order_by(fit_up.c.id)
    )
    swept = connection.execute(query).all()
    bell_ids = sorted({row.bell_id for row in swept})
    left = _decisions(connection, bell_ids, ("ship", "rework"))
    taken = _measurements(connection, bell_ids, characteristic_name)
    return [
        FirstSweep(
            fit_up_id=row.id,
            order_id=row.order_id,
            serial=row.serial,
            block=row.block,
            swept=row.happened,
            answer=row.answer_json,
            measured=_before(row, left[row.bell_id], taken[row.bell_id]),
        )
        for row in swept
    ]


def _before(swept: Any, left: Sequence[Any], taken: Sequence[Any]) -> MeasuredPosition | None:
    """The newest measurement between the last rework before the shipment and the shipment."""
    shipped = [line for line in left if line.kind == "ship" and line.happened <= swept.happened]
    if not shipped:
        return None
    until = shipped[-1]
    reworked = [
        line.recorded for line in left if line.kind == "rework" and line.number < until.number
    ]
    since = reworked[-1] if reworked else None
    for one in reversed(taken):
        if one.happened <= until.happened and (since is None or one.recorded > since):
            return MeasuredPosition(
                x_mm=one.x_mm - (one.true_x_mm or 0.0),
                y_mm=one.y_mm - (one.true_y_mm or 0.0),
                u95_mm=one.u95_mm,
            )
    return None


def _decisions(
    connection: Connection, bell_ids: Sequence[int], kinds: Sequence[str]
) -> Mapping[int, list[Any]]:
    """Bell → its decisions of these kinds, in order."""
    query = (
        select(
            decision.c.bell_id,
            decision.c.number,
            decision.c.kind,
            decision.c.happened,
            decision.c.recorded,
        )
        .where(bulk.among(connection, decision.c.bell_id, bell_ids), decision.c.kind.in_(kinds))
        .order_by(decision.c.bell_id, decision.c.number)
    )
    return _by_bell(connection.execute(query).all())


def _measurements(
    connection: Connection, bell_ids: Sequence[int], name: str
) -> Mapping[int, list[Any]]:
    """Bell → its measurements of a position, in the order recorded."""
    value = inspection_value.c
    query = (
        select(
            inspection.c.bell_id,
            inspection.c.happened,
            inspection.c.recorded,
            value.x_mm,
            value.y_mm,
            value.u95_mm,
            characteristic.c.x_mm.label("true_x_mm"),
            characteristic.c.y_mm.label("true_y_mm"),
        )
        .join(inspection_value, value.inspection_id == inspection.c.id)
        .join(characteristic, characteristic.c.id == value.characteristic_id)
        .where(
            bulk.among(connection, inspection.c.bell_id, bell_ids),
            characteristic.c.name == name,
            value.x_mm.is_not(None),
        )
        .order_by(inspection.c.id)
    )
    return _by_bell(connection.execute(query).all())


def _by_bell(lines: Sequence[Any]) -> Mapping[int, list[Any]]:
    found = defaultdict[int, list[Any]](list)
    for line in lines:
        found[line.bell_id].append(line)
    return found
