"""Kits as they are sold: a conversion's parts, its variants, and their options."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, or_, select

from kitwright.books import conversions, designs, parts, rows
from kitwright.books.entries import Money, whole, words
from kitwright.books.tables import kit, kit_part, variant, variant_option
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What is sold for one conversion."""

    id: int
    name: str
    conversion_id: int


@dataclass(frozen=True, kw_only=True)
class Variant:
    """A version of a kit: its bell's design and its price."""

    id: int
    kit_id: int
    name: str
    design_id: int
    price_minor: int
    price_currency: str

    @property
    def price(self) -> Money:
        return Money(self.price_minor, self.price_currency)


@dataclass(frozen=True, kw_only=True)
class Part:
    """A line of the bill: so many of a part, each at a cost; of one variant, or of all."""

    id: int
    kit_id: int
    variant_id: int | None
    name: str
    count: int
    cost_minor: int
    cost_currency: str

    @property
    def cost(self) -> Money:
        """Of one."""
        return Money(self.cost_minor, self.cost_currency)


@dataclass(frozen=True, kw_only=True)
class Option:
    """What a buyer may add to a variant."""

    id: int
    variant_id: int
    name: str
    price_minor: int
    price_currency: str

    @property
    def price(self) -> Money:
        return Money(self.price_minor, self.price_currency)


def add_kit(connection: Connection, name: str, conversion_id: int) -> int:
    """Add a kit; give its number."""
    return rows.add(
        connection,
        kit,
        named="name",
        name=words(name, where="name"),
        conversion_id=conversions.get_conversion(connection, conversion_id).id,
    )


def add_variant(
    connection: Connection, kit_id: int, name: str, *, design_id: int, price: Money
) -> int:
    """Add a variant with a bell of the kit's own conversion; give its number."""
    whose = rows.find(connection, kit, kit_id, Kit)
    if designs.get_design(connection, design_id).conversion_id != whose.conversion_id:
        raise InputError("design", "is of another conversion", "name one of the kit's own")
    return rows.add(
        connection,
        variant,
        named="name",
        kit_id=kit_id,
        name=words(name, where="name"),
        design_id=design_id,
        **price.columns("price"),
    )


def add_part(
    connection: Connection,
    kit_id: int,
    name: str,
    *,
    count: int,
    cost: Money,
    variant_id: int | None = None,
) -> int:
    """Add a line to a kit's bill, for all its variants or for one; give its number.

    Where a part of that name is kept by count (`parts`), the line is tied to it.
    """
    if variant_id is not None and get_variant(connection, variant_id).kit_id != kit_id:
        raise InputError("variant", "is of another kit", "name one of the kit's own")
    name = words(name, where="name")
    line = rows.add(
        connection,
        kit_part,
        kit_id=kit_id,
        variant_id=variant_id,
        name=name,
        count=whole(count, where="count", least=1),
        **cost.columns("cost"),
    )
    parts.tie_by_name(connection, line, name)
    return line


def add_option(connection: Connection, variant_id: int, name: str, price: Money) -> int:
    """Add an option to a variant; give its number."""
    return rows.add(
        connection,
        variant_option,
        named="name",
        variant_id=variant_id,
        name=words(name, where="name"),
        **price.columns("price"),
    )


def kits(connection: Connection) -> list[Kit]:
    """Every kit, by name."""
    return rows.read(connection, select(kit).order_by(kit.c.name), Kit)


def get_variant(connection: Connection, variant_id: int) -> Variant:
    """The variant of this number."""
    return rows.find(connection, variant, variant_id, Variant)


def variants(connection: Connection, kit_id: int | None = None) -> list[Variant]:
    """Every variant, or those of one kit, by name."""
    query = select(variant).order_by(variant.c.name)
    if kit_id is not None:
        query = query.where(variant.c.kit_id == kit_id)
    return rows.read(connection, query, Variant)


def bill(connection: Connection, variant_id: int) -> list[Part]:
    """What goes into a variant beside its bell, in the order written down."""
    whose = get_variant(connection, variant_id)
    query = (
        select(kit_part)
        .where(
            kit_part.c.kit_id == whose.kit_id,
            or_(kit_part.c.variant_id.is_(None), kit_part.c.variant_id == variant_id),
        )
        .order_by(kit_part.c.id)
    )
    return rows.read(connection, query, Part)


def options(connection: Connection, variant_id: int) -> list[Option]:
    """What a buyer may add to a variant, by name."""
    query = (
        select(variant_option)
        .where(variant_option.c.variant_id == variant_id)
        .order_by(variant_option.c.name)
    )
    return rows.read(connection, query, Option)
