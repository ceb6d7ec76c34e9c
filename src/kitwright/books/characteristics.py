"""What a revision measures: its characteristics, frozen once it is in force."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, select

from kitwright.books import rows, steps
from kitwright.books.entries import each_once, one_of, words
from kitwright.books.lengths import between, length, more_than_nothing
from kitwright.books.tables import characteristic
from kitwright.books.tables.designs import KINDS
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MoveError
from kitwright.units import unit_name


@dataclass(frozen=True, kw_only=True)
class Characteristic:
    """One dimension that is measured and has limits; all in mm.

    A length has `low_mm` or `high_mm` or both; a position has a `zone_mm` (diameter) about
    `x_mm`, `y_mm`. `unit` is the one that the drawing writes, `frame` what it measures from.
    """

    name: str
    kind: str
    unit: str = "mm"
    frame: str = "block face, dowel a, dowel b"
    low_mm: float | None = None
    high_mm: float | None = None
    zone_mm: float | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    id: int = 0
    """Its number in the books; 0 before it is kept."""


def length_of(
    name: str, low_mm: float | None, high_mm: float | None, *, unit: str = "mm"
) -> Characteristic:
    """A length with its limits."""
    return Characteristic(name=name, kind="length", unit=unit, low_mm=low_mm, high_mm=high_mm)


def position_of(
    name: str, zone_mm: float, *, x_mm: float = 0, y_mm: float = 0, unit: str = "mm"
) -> Characteristic:
    """A position with its zone about a nominal point; the crank axis where none is given."""
    return Characteristic(
        name=name, kind="position", unit=unit, zone_mm=zone_mm, x_mm=x_mm, y_mm=y_mm
    )


@all_or_nothing
def set_characteristics(
    connection: Connection, revision_id: int, given: Sequence[Characteristic]
) -> list[int]:
    """Write down what a draft measures, in place of what it did; give their numbers, in order.

    Raises
    ------
    MissingError, MoveError, InputError
        There is no such revision; it is no draft; limits that do not fit, or a name twice.
    """
    state = steps.newest(connection, steps.REVISION, revision_id)
    if state.state != "draft":
        raise MoveError(
            f"revision {revision_id}", f"it is {state.state} and frozen", "draw a new one"
        )
    lines = [_checked(each) for each in given]
    each_once((line["name"] for line in lines), where="characteristic")
    connection.execute(delete(characteristic).where(characteristic.c.revision_id == revision_id))
    return [
        rows.add(connection, characteristic, revision_id=revision_id, position=position, **line)
        for position, line in enumerate(lines, start=1)
    ]


def characteristics(connection: Connection, revision_id: int) -> list[Characteristic]:
    """What a revision measures, in the order of its drawing."""
    columns = (characteristic.c[name] for name in Characteristic.__dataclass_fields__)
    query = (
        select(*columns)
        .where(characteristic.c.revision_id == revision_id)
        .order_by(characteristic.c.position)
    )
    return rows.read(connection, query, Characteristic)


def _checked(given: Characteristic) -> dict[str, Any]:
    name = words(given.name, where="characteristic")
    line: dict[str, Any] = {
        "name": name,
        "kind": one_of(given.kind, KINDS, where=f"{name} kind"),
        "unit": unit_name(given.unit),
        "frame": words(given.frame, where=f"{name} frame"),
    }
    sizes = {
        "low_mm": given.low_mm,
        "high_mm": given.high_mm,
        "zone_mm": given.zone_mm,
        "x_mm": given.x_mm,
        "y_mm": given.y_mm,
    }
    for size, value in sizes.items():
        if value is not None:
            line[size] = length(value, where=f"{name} {size}")
    if given.kind == "length":
        _refuse(name, sizes, "zone_mm", "x_mm", "y_mm")
        if given.low_mm is None and given.high_mm is None:
            raise InputError(name, "has no limits", "give low, high or both")
        if given.low_mm is not None and given.high_mm is not None:
            between(given.low_mm, given.high_mm, where=name)
    else:
        _refuse(name, sizes, "low_mm", "high_mm")
        if given.zone_mm is None or given.x_mm is None or given.y_mm is None:
            raise InputError(name, "zone or point is missing", "give zone, x and y")
        more_than_nothing(given.zone_mm, where=f"{name} zone_mm")
    return line


def _refuse(name: str, sizes: dict[str, float | None], *others: str) -> None:
    for other in others:
        if sizes[other] is not None:
            raise InputError(name, f"has a {other}", "give what its kind has: see the drawing")
