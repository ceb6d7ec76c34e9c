"""Is the ledger of kit parts sound, and has every inspection the values it was recorded with?

As in `verifying`, lines are gone through one by one in plain Python, apart from the queries that
the rest of Kitwright reads.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, func, select

from kitwright.books import moves, part_movements
from kitwright.books.tables import (
    inspection,
    inspection_count,
    inspection_value,
    order,
    order_step,
    part,
    part_movement,
)


def part_faults(connection: Connection) -> Iterator[str]:
    """What is wrong with the ledger of parts, a line each."""
    lines: dict[int, list[Any]] = {}
    query = select(part_movement).order_by(part_movement.c.part_id, part_movement.c.number)
    for row in connection.execute(query).mappings():
        lines.setdefault(row["part_id"], []).append(row)
    labels = {
        row.id: row.label
        for row in connection.execute(select(part.c.id, part.c.label).order_by(part.c.id))
    }
    buyers = {
        row.id: (row.label, row.customer_id)
        for row in connection.execute(select(order.c.id, order.c.label, order.c.customer_id))
    }
    shown = part_movements.all_spots(connection)
    for part_id in sorted({*labels, *lines}):
        named = f"part {labels[part_id]}" if part_id in labels else f"part number {part_id}"
        if part_id not in labels:
            yield f"{named}: has movements, but is not there"
        yield from _walked(named, lines.get(part_id, []), buyers)
        held = _held(lines.get(part_id, []))
        if sum(held.values()):
            yield f"{named}: its places sum to {sum(held.values())}, not to nothing"
        told = Counter[Any]()
        for spot, count in shown.get(part_id, {}).items():
            told[spot.place.name, spot.place.party_id, spot.order_id] += count
        if {spot: n for spot, n in held.items() if n} != dict(told):
            yield f"{named}: its movements leave other counts than are shown"
    yield from _reserved(connection, labels, lines, buyers)


def _ends(line: Any) -> tuple[tuple[Any, Any, Any], tuple[Any, Any, Any]]:
    return tuple(
        (
            line[f"{end}_place"],
            line[f"{end}_party_id"],
            line["order_id"] if line[f"{end}_place"] == "reserved" else None,
        )
        for end in ("from", "to")
    )  # type: ignore[return-value]


def _held(lines: list[Any]) -> Counter[tuple[Any, Any, Any]]:
    held: Counter[tuple[Any, Any, Any]] = Counter()
    for line in lines:
        source, to = _ends(line)
        held[source] -= line["count"]
        held[to] += line["count"]
    return held


def _walked(named: str, lines: list[Any], buyers: dict[int, tuple[str, int]]) -> Iterator[str]:
    for index, line in enumerate(lines, start=1):
        number = line["number"]
        if number != index:
            yield f"{named}: movement {index} is numbered {number}"
        if (line["from_place"], line["to_place"]) not in moves.ROUTES["part"]:
            yield (
                f"{named}: movement {number} goes from {line['from_place']} to {line['to_place']}"
            )
        if line["happened"] > line["recorded"]:
            yield f"{named}: movement {number} is written down before it happened"
        if line["order_id"] is None:
            continue
        label, buyer = buyers.get(line["order_id"], ("", 0))
        if not label:
            yield f"{named}: movement {number} is for order {line['order_id']}, which is not there"
        for end in ("from", "to"):
            if line[f"{end}_place"] == "customer" and line[f"{end}_party_id"] != buyer:
                yield f"{named}: movement {number} is for order {label} and for another's customer"
    in_time = sorted(lines, key=lambda line: (line["happened"], line["number"]))
    for told, ordered in (("", lines), (" at the time it is dated", in_time)):
        fault = _below_zero(named, ordered, told)
        if fault:
            yield fault
            return


def _below_zero(named: str, lines: list[Any], told: str) -> str | None:
    """The first movement, in this order, that leaves less than nothing where it came from."""
    held: Counter[tuple[Any, Any, Any]] = Counter()
    for line in lines:
        source, to = _ends(line)
        held[source] -= line["count"]
        held[to] += line["count"]
        if source[0] not in moves.BOTTOMLESS and held[source] < 0:
            return f"{named}: movement {line['number']} leaves {held[source]} at {source[0]}{told}"
    return None


def _reserved(
    connection: Connection,
    labels: dict[int, str],
    lines: dict[int, list[Any]],
    buyers: dict[int, tuple[str, int]],
) -> Iterator[str]:
    """Parts are set aside for allocated orders only."""
    states = {
        row.order_id: row.state
        for row in connection.execute(
            select(order_step.c.order_id, order_step.c.state).order_by(order_step.c.number)
        )
    }
    for part_id, ledger in lines.items():
        for (place, _, order_id), count in _held(ledger).items():
            state = states.get(order_id, "not there")
            if place == "reserved" and count and state != "allocated":
                label = buyers.get(order_id, (str(order_id), 0))[0]
                yield (
                    f"part {labels.get(part_id, part_id)}: {count} reserved for order {label},"
                    f" which is {state}"
                )


def inspection_count_faults(connection: Connection) -> Iterator[str]:
    """Inspections that have other values than they were recorded with: more, or fewer."""
    values = select(inspection_value.c.inspection_id, func.count().label("found")).group_by(
        inspection_value.c.inspection_id
    )
    there = {row.inspection_id: row.found for row in connection.execute(values)}
    query = (
        select(inspection.c.id, inspection_count.c.value_count)
        .join(inspection_count, inspection_count.c.inspection_id == inspection.c.id, isouter=True)
        .order_by(inspection.c.id)
    )
    for inspection_id, recorded in connection.execute(query):
        found = there.get(inspection_id, 0)
        if recorded is None:
            yield f"inspection {inspection_id}: nothing says how many values it was recorded with"
        elif recorded != found:
            yield (
                f"inspection {inspection_id}: recorded with {recorded} values, {found} are there"
            )
