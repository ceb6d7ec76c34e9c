"""Designs of bells, and the revisions of their drawings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, Connection, select

from kitwright.books import rows, steps
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry, Money, day, one_of, words
from kitwright.books.lengths import more_than_nothing
from kitwright.books.tables import design, revision
from kitwright.books.tables.designs import MATERIALS
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError


@dataclass(frozen=True, kw_only=True)
class Design:
    """A conversion's bell of one material; certified steel has a certificate and its last day."""

    id: int
    name: str
    conversion_id: int
    material: str
    price_minor: int
    price_currency: str
    mass_kg: float
    opening: str
    certificate: str | None
    certificate_expires: date | None

    @property
    def price(self) -> Money:
        return Money(self.price_minor, self.price_currency)


def add_design(
    connection: Connection,
    name: str,
    *,
    conversion_id: int,
    material: str,
    price: Money,
    mass_kg: float,
    opening: str,
    certificate: str | None = None,
    certificate_expires: date | None = None,
) -> int:
    """Add a design; give its number. `opening` says in words what stands open in its wall."""
    one_of(material, MATERIALS, where="material")
    if (certificate is None) != (certificate_expires is None):
        raise InputError("certificate", "number or last day is missing", "give both or neither")
    if material == "certified steel" and certificate is None:
        raise InputError("certificate", "missing", "certified steel has a number and a last day")
    return rows.add(
        connection,
        design,
        named="name",
        name=words(name, where="name"),
        conversion_id=conversion_id,
        material=material,
        mass_kg=more_than_nothing(mass_kg, where="mass"),
        opening=words(opening, where="opening"),
        certificate=None if certificate is None else words(certificate, where="certificate"),
        certificate_expires=None
        if certificate_expires is None
        else day(certificate_expires, where="certificate_expires"),
        **price.columns("price"),
    )


def get_design(connection: Connection, design_id: int) -> Design:
    """The design of this number."""
    return rows.find(connection, design, design_id, Design)


def designs(connection: Connection, conversion_id: int | None = None) -> list[Design]:
    """Every design, or those of one conversion, by name."""
    query = select(design).order_by(design.c.name)
    if conversion_id is not None:
        query = query.where(design.c.conversion_id == conversion_id)
    return rows.read(connection, query, Design)


# ── revisions ────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Revision:
    """One state of a design's drawing: draft, in force, or superseded."""

    id: int
    design_id: int
    label: str
    state: str


@all_or_nothing
def add_revision(connection: Connection, design_id: int, label: str, entry: Entry) -> int:
    """Draw a new revision, a draft; give its number."""
    number = rows.add(
        connection,
        revision,
        named="label",
        design_id=design_id,
        label=words(label, where="label"),
    )
    steps.begin(connection, steps.REVISION, number, entry)
    return number


@all_or_nothing
def put_in_force(connection: Connection, revision_id: int, entry: Entry) -> None:
    """Put a draft in force, which freezes it; the one in force before is superseded.

    Raises
    ------
    MoveError
        It is no draft, it has no characteristics, or somebody put another one in force first.
    """
    drawn = get_revision(connection, revision_id)
    # Whoever puts a revision of this design in force waits here for whoever does so now.
    connection.execute(
        select(design.c.id).where(design.c.id == drawn.design_id).with_for_update(key_share=True)
    )
    if not characteristics(connection, revision_id):
        raise MoveError(f"revision {drawn.label}", "has no characteristics", "add them first")
    before = in_force(connection, drawn.design_id)
    named = f"revision {drawn.label}"
    steps.take(connection, steps.REVISION, revision_id, "in force", entry, named=named)
    if before is not None:
        steps.take(connection, steps.REVISION, before.id, "superseded", entry)


def get_revision(connection: Connection, revision_id: int) -> Revision:
    """The revision of this number."""
    found = _revisions(connection, revision.c.id == rows.key_of(revision_id))
    if not found:
        raise MissingError("revision", f"there is no revision number {revision_id}")
    return found[0]


def revisions(connection: Connection, design_id: int | None = None) -> list[Revision]:
    """Every revision, or those of one design, in the order drawn."""
    return _revisions(
        connection, *(() if design_id is None else (revision.c.design_id == design_id,))
    )


def _revisions(connection: Connection, *conditions: ColumnElement[bool]) -> list[Revision]:
    now = steps.now(steps.REVISION)
    query = (
        select(revision, now.c.state)
        .join(now, now.c.revision_id == revision.c.id)
        .where(*conditions)
        .order_by(revision.c.id)
    )
    return rows.read(connection, query, Revision)


def in_force(connection: Connection, design_id: int) -> Revision | None:
    """The revision of a design that is in force; None while there are drafts only."""
    drawn = revisions(connection, design_id)
    return next((each for each in drawn if each.state == "in force"), None)
