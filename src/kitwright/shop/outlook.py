"""What the books tell of the supply of a design's bells: batches to come, yields, demand, parts.

Everything here is read into the cases of the worksheets `promise` and `hold-back`, so that what the
shop promises can be opened, changed and asked again.
"""

from __future__ import annotations

import datetime
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Final

from sqlalchemy import Connection, func, select

from kitwright.books import designs, orders, promises, standing, stock
from kitwright.books.order_parts import reserved_for
from kitwright.books.parts import asked_by
from kitwright.books.stock_at import PartStock, stock_at
from kitwright.books.tables import (
    batch_step,
    bell,
    bell_now,
    bill_part,
    decision,
    kit_part,
    order,
    order_step,
    variant,
)
from kitwright.worksheets.supply.batches_coming import (
    MOST_BATCHES,
    MOST_DAYS,
    MOST_HISTORY,
    MOST_LATE,
)
from kitwright.worksheets.supply.promise_case import MOST_LEAD_DAYS

WAITS: Final = ("open", "promised")
"""States of an order that waits for its bell."""
WEEKS: Final = 26
"""Weeks of orders that demand is learned from."""
INSPECTING_DAYS: Final = 2
"""From a batch's coming back to its bells being released (common practice, no source)."""
USUAL_LEAD: Final = (14, 21, 42)
"""Days for a part whose lead time nobody wrote down (common practice, no source)."""
USUAL_WEEKS: Final = (4.0, 6.0, 12.0)
LEAST_BATCHES: Final = 3
"""Weeks until new bells come, before so many batches of the design have (common practice, no
source)."""
_GOOD: Final = ("release", "concede")


@dataclass(frozen=True, kw_only=True)
class Supply:
    """What is known of the bells of one design and of the parts of its kits, today."""

    design_id: int
    today: datetime.date
    free: int
    """Released bells on the shelf."""
    batches: tuple[dict[str, Any], ...]
    yields: tuple[dict[str, int], ...]
    waiting: tuple[orders.Order, ...]
    """Orders for it that wait for their bell, in the order opened."""
    kits_by_week: tuple[int, ...]
    """Orders of the last `WEEKS` weeks, the newest last; bells alone are left out."""
    replenishment: tuple[float, float, float]
    """Weeks from sending a batch to its bells: least, likely, most."""
    loose: frozenset[int]


def supply_of(connection: Connection, design_id: int, today: datetime.date) -> Supply:
    """Everything that promises and the gate of a design rest on."""
    own = {each.id for each in designs.revisions(connection, design_id)}
    every = stock.batches(connection)
    steps = steps_of_batches(connection)
    free = standing.where(
        connection,
        bell_now.c.design_id == design_id,
        bell_now.c.state == "released",
        bell_now.c.place == "shelf",
    )
    loose = promises.loose_variants(connection)
    return Supply(
        design_id=design_id,
        today=today,
        free=len(free),
        batches=tuple(_coming(connection, every, own, steps, today)),
        yields=tuple(_yields(connection, every, own)),
        waiting=tuple(orders.in_states(connection, WAITS, design_id=design_id)),
        kits_by_week=tuple(_by_week(connection, design_id, loose, today)),
        replenishment=_replenishment(every, own, steps),
        loose=loose,
    )


# ── batches ──────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class BatchDays:
    """The days of a batch: planned, due as written down last, sent, back.

    The day due that counts is the newest: it is the one that the next batch's is compared with.
    """

    planned: datetime.date | None = None
    due: datetime.date | None = None
    sent: datetime.date | None = None
    back: datetime.date | None = None


def steps_of_batches(connection: Connection) -> dict[int, BatchDays]:
    """Batch → its days."""
    query = select(
        batch_step.c.batch_id, batch_step.c.state, batch_step.c.due, batch_step.c.happened
    ).order_by(batch_step.c.batch_id, batch_step.c.number)
    told: dict[int, dict[str, datetime.date]] = defaultdict(dict)
    for batch_id, state, due, happened in connection.execute(query):
        mine = told[batch_id]
        if due is not None:
            mine["due"] = due
        if state in ("planned", "sent", "back"):
            mine.setdefault(state, happened.date())
    return {batch_id: BatchDays(**days) for batch_id, days in told.items()}


def days_late_of(
    every: Sequence[stock.Batch], steps: Mapping[int, BatchDays], machinist_id: int
) -> list[int]:
    """How late each batch of a machinist came back, by the day it was due at last."""
    late = []
    for each in every:
        days = steps.get(each.id, BatchDays())
        if each.machinist_id == machinist_id and days.due is not None and days.back is not None:
            late.append(max(-MOST_DAYS, min((days.back - days.due).days, MOST_DAYS)))
    return late


def others_overdue(
    every: Sequence[stock.Batch], batch: stock.Batch, today: datetime.date
) -> list[int]:
    """Days past due of the others that are with the batch's machinist, the longest first."""
    overdue = [
        min((today - each.due).days, MOST_DAYS)
        for each in every
        if each.machinist_id == batch.machinist_id
        and each.id != batch.id
        and each.state == "sent"
        and each.due < today
    ]
    return sorted(overdue, reverse=True)[:MOST_BATCHES]


def _coming(
    connection: Connection,
    every: Sequence[stock.Batch],
    own: set[int],
    steps: Mapping[int, BatchDays],
    today: datetime.date,
) -> list[dict[str, Any]]:
    made = _undecided(connection)
    found = []
    for each in every:
        if each.revision_id not in own or each.state not in ("planned", "sent", "back"):
            continue
        here = each.state == "back"
        count = made.get(each.id, 0) if here else each.count
        if not count:
            continue
        found.append(
            {
                "name": each.label,
                "due": each.due.isoformat(),
                "count": count,
                "days_late": days_late_of(every, steps, each.machinist_id)[-MOST_LATE:],
                "others_overdue": others_overdue(every, each, today),
                "back": here,
                "days_to_inspect": INSPECTING_DAYS,
            }
        )
    return sorted(found, key=lambda batch: (not batch["back"], str(batch["due"])))[:MOST_BATCHES]


def _undecided(connection: Connection) -> Counter[int]:
    """Batch → its bells that are made and wait for a decision."""
    query = (
        select(bell_now.c.batch_id, func.count())
        .where(bell_now.c.state == "made")
        .group_by(bell_now.c.batch_id)
    )
    return Counter({batch_id: int(count) for batch_id, count in connection.execute(query)})


def _yields(
    connection: Connection, every: Sequence[stock.Batch], own: set[int]
) -> list[dict[str, int]]:
    """Of each judged batch, bells made and bells that were ever good."""
    query = (
        select(bell.c.batch_id, func.count(func.distinct(decision.c.bell_id)))
        .join(bell, bell.c.id == decision.c.bell_id)
        .where(decision.c.kind.in_(_GOOD))
        .group_by(bell.c.batch_id)
    )
    good = {batch_id: int(count) for batch_id, count in connection.execute(query)}
    return [
        {"made": each.count, "good": min(good.get(each.id, 0), each.count)}
        for each in every
        if each.revision_id in own and each.state == "judged"
    ][-MOST_HISTORY:]


def _replenishment(
    every: Sequence[stock.Batch], own: set[int], steps: Mapping[int, BatchDays]
) -> tuple[float, float, float]:
    """Weeks from sending a batch of the design to its bells: as it was, or as is usual."""
    days = []
    for each in every:
        known = steps.get(each.id, BatchDays())
        if each.revision_id in own and known.sent is not None and known.back is not None:
            days.append((known.back - known.sent).days + INSPECTING_DAYS)
    if len(days) < LEAST_BATCHES:
        return USUAL_WEEKS
    return tuple(round(day / 7, 2) for day in (min(days), median(days), max(days)))  # type: ignore[return-value]


# ── demand ───────────────────────────────────────────────────────────────────────────────


def _by_week(
    connection: Connection, design_id: int, loose: frozenset[int], today: datetime.date
) -> list[int]:
    """Kits asked for in each of the last weeks, as far back as the shop has taken orders."""
    first = order_step.c.number == 1
    oldest = connection.execute(select(func.min(order_step.c.happened)).where(first)).scalar_one()
    if oldest is None:
        return []
    weeks = min(WEEKS, max(1, (today - oldest.date()).days // 7))
    since = datetime.datetime.combine(
        today - datetime.timedelta(weeks=weeks + 1), datetime.time(), datetime.UTC
    )
    query = (
        select(order_step.c.happened, variant.c.id)
        .join(order, order.c.id == order_step.c.order_id)
        .join(variant, variant.c.id == order.c.variant_id)
        .where(first, variant.c.design_id == design_id, order_step.c.happened >= since)
    )
    counts = [0] * weeks
    for happened, variant_id in connection.execute(query):
        ago = (today - happened.date()).days // 7
        if variant_id not in loose and 0 <= ago < weeks:
            counts[weeks - 1 - ago] += 1
    return counts


# ── parts ────────────────────────────────────────────────────────────────────────────────


def short_parts(
    connection: Connection,
    variant_id: int,
    before: Sequence[orders.Order],
    *,
    own: int | None = None,
) -> list[dict[str, Any]]:
    """The parts that one more kit of this variant lacks, once the orders before it have theirs.

    Parameters
    ----------
    before : orders that are served first
    own : the order itself, where it is booked: what is set aside for it counts as its own
    """
    wanted = _bill_of(connection, variant_id)
    if not wanted:
        return []
    ahead = asked_by(connection, [each.id for each in before])
    aside = reserved_for(connection, [*(each.id for each in before), *([own] if own else [])])
    taken: Counter[int] = Counter()
    for each in before:
        for part_id, count in ahead.get(each.id, {}).items():
            taken[part_id] += max(0, count - aside.get(each.id, {}).get(part_id, 0))
    mine = aside.get(own, {}) if own else {}
    return _lacking(stock_at(connection, datetime.date.max).parts, wanted, mine, taken)


def short_in_turn(
    connection: Connection, queue: Sequence[orders.Order]
) -> dict[int, list[dict[str, Any]]]:
    """Order → the parts that it lacks once those before it in the queue have theirs.

    As `short_parts` of each, asked of the books once for all.
    """
    numbers = [each.id for each in queue]
    asked = asked_by(connection, numbers)
    aside = reserved_for(connection, numbers)
    held = stock_at(connection, datetime.date.max).parts
    taken: Counter[int] = Counter()
    found = {}
    for each in queue:
        wanted, mine = asked.get(each.id, {}), aside.get(each.id, {})
        found[each.id] = _lacking(held, wanted, mine, taken)
        for part_id, count in wanted.items():
            taken[part_id] += max(0, count - mine.get(part_id, 0))
    return found


def _lacking(
    parts: Iterable[PartStock],
    wanted: Mapping[int, int],
    mine: Mapping[int, int],
    taken: Mapping[int, int],
) -> list[dict[str, Any]]:
    lacking = []
    for held in parts:
        need = wanted.get(held.part.id, 0) - mine.get(held.part.id, 0)
        if need <= 0 or held.free - taken.get(held.part.id, 0) >= need:
            continue
        lead = held.part.lead_time
        least, likely, most = (
            USUAL_LEAD if lead is None else (lead.least_days, lead.likely_days, lead.most_days)
        )
        days = {"least": least, "likely": likely, "most": most}
        within = {name: min(each, MOST_LEAD_DAYS) for name, each in days.items()}
        lacking.append({"name": held.part.name, **within})
    return lacking


def _bill_of(connection: Connection, variant_id: int) -> dict[int, int]:
    """Part → how many one kit of a variant asks for, of those kept by count."""
    kit_of = select(variant.c.kit_id).where(variant.c.id == variant_id).scalar_subquery()
    query = (
        select(bill_part.c.part_id, func.sum(kit_part.c.count))
        .join(kit_part, kit_part.c.id == bill_part.c.kit_part_id)
        .where(
            kit_part.c.kit_id == kit_of,
            (kit_part.c.variant_id.is_(None)) | (kit_part.c.variant_id == variant_id),
        )
        .group_by(bill_part.c.part_id)
    )
    return {part_id: int(count) for part_id, count in connection.execute(query)}


# ── cases ────────────────────────────────────────────────────────────────────────────────


def promise_case(
    supply: Supply, *, ahead: int, parts_short: Sequence[Mapping[str, Any]], chance: float
) -> dict[str, Any]:
    """The case of the worksheet `promise` for an order with so many before it."""
    return {
        "today": supply.today.isoformat(),
        "ahead": ahead,
        "on_shelf": supply.free,
        "batches": [dict(each) for each in supply.batches],
        "yield_history": [dict(each) for each in supply.yields],
        "parts_short": [dict(each) for each in parts_short],
        "chance": chance,
    }


def hold_back_case(supply: Supply, *, service: float) -> dict[str, Any]:
    """The case of the worksheet `hold-back` for a design's bells."""
    return {
        "on_hand": supply.free,
        "promised": min(len(supply.waiting), supply.free),
        **(
            {"history": list(supply.kits_by_week)}
            if supply.kits_by_week
            else {"kits_per_week": 0.0}
        ),
        "replenishment": dict(zip(("least", "likely", "most"), supply.replenishment, strict=True)),
        "service": service,
        "today": supply.today.isoformat(),
        "batches": [dict(each) for each in supply.batches],
        "yield_history": [dict(each) for each in supply.yields],
    }
