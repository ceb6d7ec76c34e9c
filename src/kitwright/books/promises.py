"""How surely the shop's promises must hold, what each rests on, and which variants are a bell
alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import Connection, insert, select

import kitwright
from kitwright.books import kits, rows
from kitwright.books.entries import Entry, day, plain_json
from kitwright.books.tables import loose_variant, order_step, promise_basis, supply_rule
from kitwright.errors import InputError, MoveError


@dataclass(frozen=True, kw_only=True)
class SupplyRule:
    """With what chance a promised day must hold, and with what chance no kit may go short."""

    chance: float = 0.9
    service: float = 0.95


USUAL: Final = SupplyRule()


def set_rule(connection: Connection, given: SupplyRule, entry: Entry) -> None:
    """Write the rule down; promises that were made keep theirs."""
    for name in ("chance", "service"):
        value = getattr(given, name)
        if not 0 < value < 1:
            raise InputError(name, f"{value}", "give a share between 0 and 1, as 0.9")
    connection.execute(
        insert(supply_rule).values(chance=given.chance, service=given.service, **entry.line)
    )


def get_rule(connection: Connection) -> SupplyRule:
    """The newest rule; the usual one before the first."""
    query = (
        select(supply_rule.c.chance, supply_rule.c.service)
        .order_by(supply_rule.c.id.desc())
        .limit(1)
    )
    found = rows.read(connection, query, SupplyRule)
    return found[0] if found else USUAL


@dataclass(frozen=True, kw_only=True)
class Basis:
    """What a promise rested on when it was made."""

    order_id: int
    number: int
    """Of the order's step that promised it."""
    day: date
    wanted: float
    chance: float
    case_json: Any
    rests_on_json: Any
    version: str
    happened: datetime
    recorded: datetime
    who: str


def keep_basis(
    connection: Connection,
    order_id: int,
    *,
    promised_for: date,
    wanted: float,
    chance: float,
    case: Mapping[str, Any],
    rests_on: Sequence[str],
    entry: Entry,
) -> None:
    """Keep what the order's newest promise rests on."""
    query = (
        select(order_step.c.number)
        .where(order_step.c.order_id == order_id, order_step.c.promised_for.is_not(None))
        .order_by(order_step.c.number.desc())
        .limit(1)
    )
    number = connection.execute(query).scalar_one_or_none()
    if number is None:
        raise MoveError(f"order {order_id}", "nothing is promised", "promise a day first")
    rows.add(
        connection,
        promise_basis,
        order_id=order_id,
        number=number,
        day=day(promised_for, where="promised_for"),
        wanted=wanted,
        chance=chance,
        case_json=plain_json(case, where="case"),
        rests_on_json=plain_json(list(rests_on), where="rests_on"),
        version=kitwright.__version__,
        **entry.line,
    )


def bases(connection: Connection) -> dict[int, Basis]:
    """Order → what its newest promise rested on, where that was kept."""
    columns = (promise_basis.c[name] for name in Basis.__dataclass_fields__)
    query = select(*columns).order_by(promise_basis.c.id)
    return {each.order_id: each for each in rows.read(connection, query, Basis)}


def bases_of(connection: Connection, order_id: int) -> dict[int, Basis]:
    """Step of an order → what the promise that it made rested on, where that was kept."""
    columns = (promise_basis.c[name] for name in Basis.__dataclass_fields__)
    query = (
        select(*columns)
        .where(promise_basis.c.order_id == rows.key_of(order_id))
        .order_by(promise_basis.c.id)
    )
    return {each.number: each for each in rows.read(connection, query, Basis)}


def mark_loose(connection: Connection, variant_id: int, entry: Entry) -> None:
    """From now on this variant is a bell alone, which the gate may hold back for kits."""
    kits.get_variant(connection, variant_id)
    if variant_id in loose_variants(connection):
        return
    rows.add(connection, loose_variant, variant_id=variant_id, **entry.line)


def loose_variants(connection: Connection) -> frozenset[int]:
    """The variants that are a bell alone."""
    return frozenset(connection.execute(select(loose_variant.c.variant_id)).scalars())
