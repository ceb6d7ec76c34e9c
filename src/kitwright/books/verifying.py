"""Are the books sound? Everything derived is derived again, line by line, and compared.

The ledgers are gone through in order by the tables of moves in plain Python, apart from the
queries and the view that the rest of Kitwright reads.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Generator, Iterator
from itertools import groupby
from typing import Any, Final

from sqlalchemy import Connection, Select, select, text

from kitwright.books import moves, samples, standing, steps
from kitwright.books.opening import Books
from kitwright.books.tables import (
    batch,
    bell,
    characteristic,
    crate,
    decision,
    fit_up,
    fit_up_step,
    inspection,
    inspection_value,
    movement,
    order,
    order_step,
    revision,
    revision_step,
    sample,
    sample_bell,
    sample_verdict,
)
from kitwright.books.verifying_parts import inspection_count_faults, part_faults

_NEVER_NEGATIVE: Final = frozenset({"floor", "scrap", "birth"})


def verify(books: Books) -> list[str]:
    """What is wrong with the books, a line each; empty when they are sound."""
    with books.reading() as connection:
        return [
            *_file(connection),
            *_bells(connection),
            *_castings(connection),
            *_steps(connection),
            *_allocations(connection),
            *_pairs(connection),
            *_fit_ups(connection),
            *_revisions(connection),
            *_inspections(connection),
            *inspection_count_faults(connection),
            *part_faults(connection),
            *_samples(connection),
        ]


def _file(connection: Connection) -> Iterator[str]:
    """What the database says of its own file."""
    if connection.dialect.name != "sqlite":
        return
    for (told,) in connection.execute(text("PRAGMA integrity_check")):
        if told != "ok":
            yield f"database: {told}"
    for table, row, parent, _ in connection.execute(text("PRAGMA foreign_key_check")):
        yield f"{table} {row}: names a {parent} that is not there"


def _by(connection: Connection, query: Select[Any]) -> dict[Any, list[Any]]:
    """Rows of a query, sorted by their first column, by that."""
    return {
        key: list(group) for key, group in groupby(connection.execute(query), lambda row: row[0])
    }


# ── bells ────────────────────────────────────────────────────────────────────────────────


def _bells(connection: Connection) -> Iterator[str]:
    decided = _by(
        connection,
        select(
            decision.c.bell_id,
            decision.c.number,
            decision.c.kind,
            decision.c.reason,
            decision.c.rule,
            decision.c.inspection_id,
            decision.c.happened,
            decision.c.recorded,
        ).order_by(decision.c.bell_id, decision.c.number),
    )
    moved = _by(
        connection,
        select(
            movement.c.bell_id,
            movement.c.number,
            movement.c.from_place,
            movement.c.from_party_id,
            movement.c.to_place,
            movement.c.to_party_id,
            movement.c.count,
        )
        .where(movement.c.bell_id.is_not(None))
        .order_by(movement.c.bell_id, movement.c.number),
    )
    found = {each.bell_id: each for each in standing.where(connection)}
    sampled = _accepted(connection)
    for bell_id, serial in connection.execute(select(bell.c.id, bell.c.serial).order_by(bell.c.id)):
        named = f"bell {serial}"
        state = yield from _walked(named, decided.get(bell_id, []), sampled.get(bell_id, {}))
        place = yield from _carried(named, moved.get(bell_id, []))
        shown = found.get(bell_id)
        if shown is None:
            yield f"{named}: has no batch or revision"
            continue
        if shown.state != state:
            yield f"{named}: its decisions make it {state}, it is shown as {shown.state}"
        if (shown.place_name, shown.party_id) != place:
            shown_at = shown.place_name
            yield f"{named}: its movements bring it to {place[0]}, it is shown at {shown_at}"
        if place[0] not in moves.PLACES[state]:
            yield f"{named}: it is {state} and at {place[0]}"


def _accepted(connection: Connection) -> dict[int, dict[str, Any]]:
    """Bell → the rule of each accepted sample that left it out, and when that was judged."""
    query = (
        select(sample_bell.c.bell_id, sample.c.n, sample.c.c, sample_verdict.c.recorded)
        .join(sample, sample.c.id == sample_bell.c.sample_id)
        .join(sample_verdict, sample_verdict.c.sample_id == sample.c.id)
        .where(sample_bell.c.drawn == 0, sample_verdict.c.verdict == "accept")
        .order_by(sample.c.id.desc())
    )
    found: dict[int, dict[str, Any]] = defaultdict(dict)
    for bell_id, n, c, judged in connection.execute(query).all():
        found[bell_id][samples.rule_of(n, c)] = judged
    return found


def _walked(named: str, lines: list[Any], sampled: dict[str, Any]) -> Generator[str, None, str]:
    state = moves.BELL.born
    before = None
    for count, line in enumerate(lines, start=1):
        number, kind, why = line.number, line.kind, line.reason
        if number != count:
            yield f"{named}: decision {count} is numbered {number}"
        if (state, kind) not in moves.BELL.pairs:
            yield f'{named}: decision {number}, "{kind}", is not allowed when it is {state}'
        if kind in moves.NEED_REASON and not (why or "").strip():
            yield f'{named}: decision {number}, "{kind}", has no reason'
        if kind == "release":
            judged = sampled.get(line.rule)
            evidence = line.inspection_id or (judged is not None and judged <= line.recorded)
            for missing, given in (("evidence", evidence), ("rule", line.rule)):
                if not given:
                    yield f'{named}: decision {number}, "release", has no {missing}'
        if before is not None and (
            line.recorded < before.recorded or line.happened < before.happened
        ):
            yield f"{named}: decision {number} is dated before decision {before.number}"
        before = line
        state = moves.BELL.ends.get(kind, state)
    return state


def _carried(named: str, lines: list[Any]) -> Generator[str, None, tuple[str, int | None]]:
    place: tuple[str, int | None] = ("birth", None)
    for count, (_, number, from_place, from_party, to_place, to_party, size) in enumerate(
        lines, start=1
    ):
        if number != count:
            yield f"{named}: movement {count} is numbered {number}"
        if size != 1:
            yield f"{named}: movement {number} moves {size} of one bell"
        if (from_place, from_party) != place:
            yield f"{named}: movement {number} leaves {from_place}, it was at {place[0]}"
        if (from_place, to_place) not in moves.ROUTES["bell"]:
            yield f"{named}: movement {number} goes from {from_place} to {to_place}"
        place = (to_place, to_party)
    return place


# ── castings ─────────────────────────────────────────────────────────────────────────────


def _castings(connection: Connection) -> Iterator[str]:
    """What came in is somewhere, nothing is below zero, and each bell was one casting."""
    born = Counter(connection.execute(select(bell.c.crate_id)).scalars())
    moved = _by(
        connection,
        select(
            movement.c.crate_id,
            movement.c.number,
            movement.c.count,
            movement.c.from_place,
            movement.c.to_place,
        )
        .where(movement.c.crate_id.is_not(None))
        .order_by(movement.c.crate_id, movement.c.number),
    )
    query = select(crate.c.id, crate.c.label, crate.c.count).order_by(crate.c.id)
    for crate_id, label, count in connection.execute(query).all():
        named = f"crate {label}"
        held: Counter[str] = Counter()
        for index, (_, number, size, source, to) in enumerate(moved.get(crate_id, []), start=1):
            if number != index:
                yield f"{named}: movement {index} is numbered {number}"
            if (source, to) not in moves.ROUTES["casting"]:
                yield f"{named}: movement {number} goes from {source} to {to}"
            held[source] -= size
            held[to] += size
            if source in _NEVER_NEGATIVE and held[source] < 0:
                yield f"{named}: movement {number} leaves {held[source]} castings at {source}"
            if number == 1 and size != count:
                yield f"{named}: {count} castings were delivered, {size} came in"
        if crate_id not in moved:
            yield f"{named}: {count} castings were delivered, none came in"
        if held["birth"] != born[crate_id]:
            yield f"{named}: {held['birth']} castings became {born[crate_id]} bells"


# ── steps ────────────────────────────────────────────────────────────────────────────────


def _steps(connection: Connection) -> Iterator[str]:
    for course in steps.COURSES:
        table = course.table
        owner = table.c[course.owner]
        query = select(owner, table.c.number, table.c.state).order_by(owner, table.c.number)
        taken = _by(connection, query)
        owners = next(iter(owner.foreign_keys)).column
        for owner_id in connection.execute(select(owners).order_by(owners)).scalars():
            named = f"{course.what} {owner_id}"
            lines = taken.get(owner_id, [])
            state = None
            for count, (_, number, to) in enumerate(lines, start=1):
                if number != count:
                    yield f"{named}: step {count} is numbered {number}"
                allowed = (
                    to == course.moves.born if state is None else (state, to) in course.moves.pairs
                )
                if not allowed:
                    yield f'{named}: step {number}, "{to}", is not allowed when it is {state}'
                state = to
            if not lines:
                yield f"{named}: has no steps"


def _allocations(connection: Connection) -> Iterator[str]:
    """An allocated order has one bell, of its own, and an allocated bell such an order."""
    state_of = {
        row.order_id: row.state
        for row in connection.execute(
            select(order_step.c.order_id, order_step.c.state).order_by(order_step.c.number)
        )
    }
    bells = defaultdict(list)
    for each in standing.where(connection):
        if each.state == "allocated":
            bells[each.order_id].append(each)
            if state_of.get(each.order_id or 0) != "allocated":
                told = state_of.get(each.order_id or 0, "not there")
                yield f"{each.named}: allocated to order {each.order_id}, which is {told}"
    for order_id, label in connection.execute(select(order.c.id, order.c.label)):
        count = len(bells[order_id])
        if state_of.get(order_id) == "allocated" and count != 1:
            yield f"order {label}: allocated, with {count} bells"


_PAIRS: Final = (
    ("order", decision.c.order_id, "allocate", order_step.c.order_id, "allocated"),
    ("order", decision.c.order_id, "ship", order_step.c.order_id, "shipped"),
    ("fit-up", decision.c.fit_up_id, "fit", fit_up_step.c.fit_up_id, "succeeded"),
)
"""Decisions on a bell that go with a step: whose, which decision, which step."""


def _pairs(connection: Connection) -> Iterator[str]:
    """As often as an order was allocated a bell, a bell was allocated to it, and so on."""
    for what, decided_for, kind, stepped, state in _PAIRS:
        decided = select(decided_for).where(decision.c.kind == kind)
        decisions = Counter(connection.execute(decided).scalars().all())
        taken = select(stepped).where(stepped.table.c.state == state)
        steps_taken = Counter(connection.execute(taken).scalars().all())
        for owner in sorted({*decisions, *steps_taken}, key=lambda number: number or 0):
            if decisions[owner] != steps_taken[owner]:
                yield (
                    f"{what} {owner}: {steps_taken[owner]} times {state}, by {decisions[owner]}"
                    f" decisions to {kind}"
                )


def _fit_ups(connection: Connection) -> Iterator[str]:
    """A bell is fitted by its own fit-up."""
    strange = (
        select(bell.c.serial, decision.c.fit_up_id)
        .join(bell, bell.c.id == decision.c.bell_id)
        .join(fit_up, fit_up.c.id == decision.c.fit_up_id)
        .where(fit_up.c.bell_id != decision.c.bell_id)
        .order_by(decision.c.id)
    )
    for serial, fit_up_id in connection.execute(strange):
        yield f"bell {serial}: fitted by fit-up {fit_up_id}, which is of another bell"


def _revisions(connection: Connection) -> Iterator[str]:
    query = (
        select(revision.c.design_id, revision_step.c.revision_id, revision_step.c.state)
        .join(revision, revision.c.id == revision_step.c.revision_id)
        .order_by(revision_step.c.number)
    )
    state = {(row.design_id, row.revision_id): row.state for row in connection.execute(query).all()}
    in_force = Counter(design_id for (design_id, _), now in state.items() if now == "in force")
    for design_id, count in in_force.items():
        if count > 1:
            yield f"design {design_id}: {count} revisions are in force"
    planned = select(batch.c.label, revision.c.design_id, batch.c.revision_id).join(
        revision, revision.c.id == batch.c.revision_id
    )
    for label, design_id, revision_id in connection.execute(planned):
        if state.get((design_id, revision_id)) not in ("in force", "superseded"):
            yield f"batch {label}: its revision was never in force"


def _inspections(connection: Connection) -> Iterator[str]:
    """Each value is of a characteristic of the bell's revision; evidence is of its own bell."""
    foreign = (
        select(inspection_value.c.inspection_id, inspection_value.c.characteristic_id)
        .join(inspection, inspection.c.id == inspection_value.c.inspection_id)
        .join(bell, bell.c.id == inspection.c.bell_id)
        .join(batch, batch.c.id == bell.c.batch_id)
        .join(characteristic, characteristic.c.id == inspection_value.c.characteristic_id)
        .where(characteristic.c.revision_id != batch.c.revision_id)
    )
    for inspection_id, which in connection.execute(foreign):
        yield f"inspection {inspection_id}: characteristic {which} is of another revision"
    strange = (
        select(decision.c.id, decision.c.inspection_id)
        .join(inspection, inspection.c.id == decision.c.inspection_id)
        .where(inspection.c.bell_id != decision.c.bell_id)
    )
    for decision_id, inspection_id in connection.execute(strange):
        yield f"decision {decision_id}: inspection {inspection_id} is of another bell"


def _samples(connection: Connection) -> Iterator[str]:
    """A sample is drawn again from its lot and seed, and comes out the same."""
    labels = {row.id: row.label for row in connection.execute(select(batch.c.id, batch.c.label))}
    query = select(sample.c.id, sample.c.batch_id).order_by(sample.c.id)
    for sample_id, batch_id in connection.execute(query).all():
        one = samples.get_sample(connection, sample_id)
        named = f"batch {labels[batch_id]}, {one.named}"
        lot = samples.lot_of(connection, sample_id)
        kept = [each.serial for each in lot if each.drawn]
        if len(lot) < one.n or samples.drawn_again(connection, sample_id) != kept:
            yield f"{named}: its seed draws other bells than are kept"
        if [each.place for each in lot] != list(range(1, len(lot) + 1)):
            yield f"{named}: its lot is not numbered from 1"
        if one.verdict is not None and (one.verdict == "accept") != ((one.found or 0) <= one.c):
            yield f"{named}: {one.verdict} with {one.found} bad, {one.c} allowed"
    strange = (
        select(sample_bell.c.sample_id, bell.c.serial)
        .join(sample, sample.c.id == sample_bell.c.sample_id)
        .join(bell, bell.c.id == sample_bell.c.bell_id)
        .where(bell.c.batch_id != sample.c.batch_id)
    )
    for sample_id, serial in connection.execute(strange).all():
        yield f"sample {sample_id}: bell {serial} is of another batch"
