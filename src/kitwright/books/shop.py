"""The shop itself and its rule, and those it deals with."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, update

from kitwright.books import rows
from kitwright.books.entries import one_of, words
from kitwright.books.tables import party, shop
from kitwright.books.tables.shop import GUARDS, LEADS, ROLES, UNDECIDED
from kitwright.errors import MissingError
from kitwright.money import check_currency


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The shop: which unit leads, its currency, and its rule for bells near a limit.

    `guard` is "guard by U" or "guard by 1.645 u"; `undecided` is what happens to a bell that is
    too close to call: "hold" or "reject".
    """

    name: str
    lead: str = "mm"
    currency: str = "EUR"
    guard: str = "guard by U"
    undecided: str = "hold"


def set_shop(connection: Connection, given: Shop) -> None:
    """Write down what the shop is; decisions that were made keep the rule they were made by."""
    values = {
        "name": words(given.name, where="name"),
        "lead": one_of(given.lead, LEADS, where="lead"),
        "currency": check_currency(given.currency),
        "guard": one_of(given.guard, GUARDS, where="guard"),
        "undecided": one_of(given.undecided, UNDECIDED, where="undecided"),
    }
    changed = connection.execute(update(shop).where(shop.c.id == 1).values(**values))
    if not changed.rowcount:
        connection.execute(insert(shop).values(id=1, **values))


def get_shop(connection: Connection) -> Shop:
    """The shop.

    Raises
    ------
    MissingError
        Nobody has written it down yet.
    """
    columns = (column for column in shop.c if column.name != "id")
    found = rows.read(connection, select(*columns), Shop)
    if not found:
        raise MissingError("shop", "these books have no shop yet", "write its name and rule down")
    return found[0]


@dataclass(frozen=True, kw_only=True)
class Party:
    """Somebody the shop deals with, as a supplier, a machinist or a customer."""

    id: int
    name: str
    role: str


def add_party(connection: Connection, name: str, role: str) -> int:
    """Add somebody in one role; give the number."""
    return rows.add(
        connection,
        party,
        named="name",
        name=words(name, where="name"),
        role=one_of(role, ROLES, where="role"),
    )


def get_party(connection: Connection, party_id: int, role: str | None = None) -> Party:
    """The party of this number, who must have this role where one is given."""
    found = rows.find(connection, party, party_id, Party)
    if role is not None and found.role != role:
        raise MissingError(role, f"{found.name} is a {found.role}", f"name a {role}")
    return found


def parties(connection: Connection, role: str) -> list[Party]:
    """Everybody in this role, by name."""
    one_of(role, ROLES, where="role")
    query = select(party).where(party.c.role == role).order_by(party.c.name)
    return rows.read(connection, query, Party)
