"""Which way the machine's axes point on the drawing, as the machinist declared it last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, insert, select

from kitwright.books import designs
from kitwright.books.entries import Entry, words
from kitwright.books.shop import get_party
from kitwright.books.tables import machine_axes
from kitwright.errors import InputError, Problem

DIRECTIONS: Final = ("X+", "X-", "Y+", "Y-", "Z+", "Z-")
DIAMETER: Final = "diameter"
"""A length that the tool's radius makes, not an axis."""


@dataclass(frozen=True, kw_only=True)
class MachineAxes:
    """One setup: where the drawing's right (+x) and up (+y) lie on the machine, and in which
    direction a shift of the tool makes each length longer.

    `lengths` maps a characteristic's name to one of `DIRECTIONS` or to `DIAMETER`; what is left
    out was not declared.
    """

    right: str
    up: str
    lengths: Mapping[str, str]


def declare(
    connection: Connection, machinist_id: int, design_id: int, given: MachineAxes, entry: Entry
) -> None:
    """Keep what a machinist declares for a design; the newest counts.

    Raises
    ------
    MissingError
        No such machinist or design.
    InputError
        A direction that is none, or right and up along the same axis.
    """
    get_party(connection, machinist_id, "machinist")
    designs.get_design(connection, design_id)
    problems = [
        Problem(name, f'"{said}" is no direction', f"write {', '.join(DIRECTIONS)}")
        for name, said in (("right", given.right), ("up", given.up))
        if said not in DIRECTIONS
    ]
    problems += [
        Problem(name, f'"{said}" is no direction', f"write {', '.join(DIRECTIONS)} or {DIAMETER}")
        for name, said in given.lengths.items()
        if said not in (*DIRECTIONS, DIAMETER)
    ]
    if not problems and given.right[0] == given.up[0]:
        problems.append(
            Problem("up", f"{given.up} lies along the same axis as right", "name the other axis")
        )
    if problems:
        raise InputError.of(problems)
    connection.execute(
        insert(machine_axes).values(
            machinist_id=machinist_id,
            design_id=design_id,
            right=given.right,
            up=given.up,
            lengths_json={
                words(name, where="length"): said for name, said in given.lengths.items()
            },
            **entry.line,
        )
    )


def declared(connection: Connection, machinist_id: int, design_id: int) -> MachineAxes | None:
    """What a machinist declared last for a design; None before the first."""
    query: Any = (
        select(machine_axes.c.right, machine_axes.c.up, machine_axes.c.lengths_json)
        .where(machine_axes.c.machinist_id == machinist_id, machine_axes.c.design_id == design_id)
        .order_by(machine_axes.c.id.desc())
        .limit(1)
    )
    found = connection.execute(query).one_or_none()
    return None if found is None else MachineAxes(right=found[0], up=found[1], lengths=found[2])
