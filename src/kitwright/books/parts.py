"""Kit parts that are kept by count, and which line of a kit's bill asks for which of them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, delete, func, insert, or_, select, update
from sqlalchemy.exc import IntegrityError

from kitwright.books import bulk, rows
from kitwright.books.entries import sentence, whole, words
from kitwright.books.shop import get_party
from kitwright.books.tables import bill_part, kit, kit_part, order, part, variant
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError

LONGEST_DAYS: Final = 99_999


@dataclass(frozen=True, kw_only=True)
class LeadTime:
    """Days from ordering a part to having it: at least, most likely, at most."""

    least_days: int
    likely_days: int
    most_days: int

    def __post_init__(self) -> None:
        days = (self.least_days, self.likely_days, self.most_days)
        for each in days:
            whole(each, where="lead time")
        if list(days) != sorted(days) or self.most_days > LONGEST_DAYS:
            told = ", ".join(map(str, days))
            raise InputError("lead time", told, "give least, likely and most days in that order")


@dataclass(frozen=True, kw_only=True)
class StockPart:
    """A kit part that is kept by the piece. `label` is the short one that stands on its bin."""

    id: int
    label: str
    name: str
    supplier_id: int | None
    least_days: int | None
    likely_days: int | None
    most_days: int | None
    reorder: str | None

    @property
    def named(self) -> str:
        """How a line to a person names it."""
        return f"part {self.label}"

    @property
    def lead_time(self) -> LeadTime | None:
        """From ordering it to having it, where that is known."""
        if self.least_days is None or self.likely_days is None or self.most_days is None:
            return None
        return LeadTime(
            least_days=self.least_days, likely_days=self.likely_days, most_days=self.most_days
        )


@all_or_nothing
def add_part(
    connection: Connection,
    label: str,
    name: str,
    *,
    supplier_id: int | None = None,
    lead_time: LeadTime | None = None,
    reorder: str | None = None,
) -> int:
    """Begin to keep a part by count; give its number.

    Lines of bills by that same name are tied to it: from now on an order's kit takes it along.

    Raises
    ------
    InputError
        Its label or its name is taken or missing.
    MissingError
        The supplier is none.
    """
    values = _values(connection, label, name, supplier_id, lead_time, reorder)
    number = _kept(connection, values)
    tied = select(bill_part.c.kit_part_id)
    same = select(kit_part.c.id).where(
        kit_part.c.name == values["name"], kit_part.c.id.not_in(tied)
    )
    for line in connection.execute(same).scalars().all():
        rows.add(connection, bill_part, kit_part_id=line, part_id=number)
    return number


def change_part(
    connection: Connection,
    part_id: int,
    *,
    label: str,
    name: str,
    supplier_id: int | None,
    lead_time: LeadTime | None,
    reorder: str | None,
) -> None:
    """Write anew what a part is called, where it comes from, how long that takes, when to order."""
    get_part(connection, part_id)
    _kept(connection, _values(connection, label, name, supplier_id, lead_time, reorder), part_id)


def _values(
    connection: Connection,
    label: str,
    name: str,
    supplier_id: int | None,
    lead_time: LeadTime | None,
    reorder: str | None,
) -> dict[str, Any]:
    if supplier_id is not None:
        get_party(connection, supplier_id, "supplier")
    return {
        "label": words(label, where="label"),
        "name": words(name, where="name"),
        "supplier_id": supplier_id,
        "least_days": None if lead_time is None else lead_time.least_days,
        "likely_days": None if lead_time is None else lead_time.likely_days,
        "most_days": None if lead_time is None else lead_time.most_days,
        "reorder": sentence(reorder, where="reorder"),
    }


def _kept(connection: Connection, values: dict[str, Any], part_id: int | None = None) -> int:
    """Insert the part, or write it anew."""
    made = insert(part) if part_id is None else update(part).where(part.c.id == part_id)
    try:
        with connection.begin_nested():
            return int(connection.execute(made.values(**values).returning(part.c.id)).scalar_one())
    except IntegrityError as error:
        taken = [
            (column, values[column])
            for column in ("label", "name")
            if connection.execute(
                select(part.c.id).where(
                    part.c[column] == values[column], part.c.id != (part_id or 0)
                )
            ).first()
        ]
        if not taken:
            raise
        column, value = taken[0]
        raise InputError(column, f'"{value}" is taken', "name the part otherwise") from error


def get_part(connection: Connection, part_id: int) -> StockPart:
    """The part of this number."""
    return rows.find(connection, part, part_id, StockPart)


def find_part(connection: Connection, words_given: str) -> StockPart:
    """The part of this label, or else of this name, as typed or in other letters.

    Raises
    ------
    MissingError
        There is none.
    """
    wanted = rows.text_of(words_given.strip())
    for column in (part.c.label, part.c.name):
        for condition in (column == wanted, func.lower(column) == wanted.lower()):
            found = rows.read(connection, select(part).where(condition), StockPart)
            if len(found) == 1:
                return found[0]
    raise MissingError(
        "part", f'there is no part "{wanted}"', "see `kitwright stock` for their labels"
    )


def parts(connection: Connection) -> list[StockPart]:
    """Every part, by label."""
    return rows.read(connection, select(part).order_by(part.c.label), StockPart)


# ── bills ────────────────────────────────────────────────────────────────────────────────


@all_or_nothing
def tie_bill_line(connection: Connection, kit_part_id: int, part_id: int | None) -> None:
    """Say which part a line of a kit's bill asks for; with None, that it is not kept by count."""
    line = rows.key_of(kit_part_id)
    if connection.execute(select(kit_part.c.id).where(kit_part.c.id == line)).first() is None:
        raise MissingError("bill", f"there is no line number {kit_part_id}")
    connection.execute(delete(bill_part).where(bill_part.c.kit_part_id == line))
    if part_id is not None:
        whose = get_part(connection, part_id).id
        rows.add(connection, bill_part, kit_part_id=line, part_id=whose)


def tie_by_name(connection: Connection, kit_part_id: int, name: str) -> None:
    """Tie a new line of a bill to the part of the same name, where one is kept."""
    found = connection.execute(select(part.c.id).where(part.c.name == name)).scalar_one_or_none()
    if found is not None:
        rows.add(connection, bill_part, kit_part_id=kit_part_id, part_id=found)


def asked_by(connection: Connection, order_ids: Collection[int]) -> dict[int, dict[int, int]]:
    """What each of these orders asks for: order → part → how many, by its variant's bill."""
    query = (
        select(order.c.id, bill_part.c.part_id, func.sum(kit_part.c.count))
        .join(variant, variant.c.id == order.c.variant_id)
        .join(kit_part, kit_part.c.kit_id == variant.c.kit_id)
        .join(bill_part, bill_part.c.kit_part_id == kit_part.c.id)
        .where(
            bulk.among(connection, order.c.id, list(order_ids)),
            or_(kit_part.c.variant_id.is_(None), kit_part.c.variant_id == variant.c.id),
        )
        .group_by(order.c.id, bill_part.c.part_id)
        .order_by(order.c.id, bill_part.c.part_id)
    )
    asked: dict[int, dict[int, int]] = {}
    for order_id, part_id, count in connection.execute(query):
        asked.setdefault(order_id, {})[part_id] = int(count)
    return asked


@dataclass(frozen=True, kw_only=True)
class BillLine:
    """A line of a kit's bill that asks for a part; of one variant, or of all."""

    kit: str
    variant: str | None
    name: str
    count: int


def bills_with(connection: Connection, part_id: int) -> list[BillLine]:
    """Every line of a bill that asks for this part."""
    query = (
        select(
            kit.c.name.label("kit"),
            variant.c.name.label("variant"),
            kit_part.c.name.label("name"),
            kit_part.c.count.label("count"),
        )
        .select_from(bill_part)
        .join(kit_part, kit_part.c.id == bill_part.c.kit_part_id)
        .join(kit, kit.c.id == kit_part.c.kit_id)
        .join(variant, variant.c.id == kit_part.c.variant_id, isouter=True)
        .where(bill_part.c.part_id == rows.key_of(part_id))
        .order_by(kit_part.c.id)
    )
    return rows.read(connection, query, BillLine)
