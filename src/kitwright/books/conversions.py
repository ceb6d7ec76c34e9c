"""What the kits join: engines, gearboxes, cars, and the conversions between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, Table, select

from kitwright.books import rows
from kitwright.books.entries import one_of, words
from kitwright.books.lengths import between, length, more_than_nothing
from kitwright.books.tables import (
    batch,
    bell,
    block_population,
    car,
    conversion,
    conversion_car,
    design,
    engine,
    fit_up,
    gearbox,
    hole,
    revision,
)
from kitwright.books.tables.designs import BLOCKS, FACES
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import MissingError


@dataclass(frozen=True, kw_only=True)
class Named:
    """An engine, a gearbox or a car."""

    id: int
    name: str


def add_engine(connection: Connection, name: str) -> int:
    """Add an engine; give its number."""
    return _add_named(connection, engine, name)


def add_gearbox(connection: Connection, name: str) -> int:
    """Add a gearbox; give its number."""
    return _add_named(connection, gearbox, name)


def add_car(connection: Connection, name: str) -> int:
    """Add a car; give its number."""
    return _add_named(connection, car, name)


def engines(connection: Connection) -> list[Named]:
    """Every engine, by name."""
    return _all_named(connection, engine)


def gearboxes(connection: Connection) -> list[Named]:
    """Every gearbox, by name."""
    return _all_named(connection, gearbox)


def cars(connection: Connection, conversion_id: int | None = None) -> list[Named]:
    """Every car, or those of one conversion, by name."""
    query = select(car).order_by(car.c.name)
    if conversion_id is not None:
        query = query.join(conversion_car).where(conversion_car.c.conversion_id == conversion_id)
    return rows.read(connection, query, Named)


def _add_named(connection: Connection, table: Table, name: str) -> int:
    return rows.add(connection, table, named="name", name=words(name, where="name"))


def _all_named(connection: Connection, table: Table) -> list[Named]:
    return rows.read(connection, select(table).order_by(table.c.name), Named)


# ── conversions ──────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Conversion:
    """An engine to a gearbox: the bell's depth, and the limits that a fit-up must meet.

    `pilot_mm` is how far the input shaft may stand off the pilot bearing's centre, `tir_mm` the
    greatest TIR of the bore.
    """

    id: int
    name: str
    engine_id: int
    gearbox_id: int
    depth_mm: float
    gap_low_mm: float
    gap_high_mm: float
    pilot_mm: float
    tir_mm: float


@all_or_nothing
def add_conversion(
    connection: Connection,
    name: str,
    *,
    engine_id: int,
    gearbox_id: int,
    car_ids: Sequence[int] = (),
    depth_mm: float,
    gap_mm: tuple[float, float],
    pilot_mm: float,
    tir_mm: float,
) -> int:
    """Add a conversion; give its number."""
    low, high = between(*gap_mm, where="gap")
    number = rows.add(
        connection,
        conversion,
        named="name",
        name=words(name, where="name"),
        engine_id=engine_id,
        gearbox_id=gearbox_id,
        depth_mm=more_than_nothing(depth_mm, where="depth"),
        gap_low_mm=low,
        gap_high_mm=high,
        pilot_mm=more_than_nothing(pilot_mm, where="pilot"),
        tir_mm=more_than_nothing(tir_mm, where="tir"),
    )
    for car_id in dict.fromkeys(car_ids):
        rows.add(connection, conversion_car, conversion_id=number, car_id=car_id)
    return number


def get_conversion(connection: Connection, conversion_id: int) -> Conversion:
    """The conversion of this number."""
    return rows.find(connection, conversion, conversion_id, Conversion)


def of_fit_up(connection: Connection, fit_up_id: int) -> Conversion:
    """The conversion of the bell that a fit-up fits.

    Raises
    ------
    MissingError
        There is no such fit-up.
    """
    query = (
        select(conversion)
        .join(design, design.c.conversion_id == conversion.c.id)
        .join(revision, revision.c.design_id == design.c.id)
        .join(batch, batch.c.revision_id == revision.c.id)
        .join(bell, bell.c.batch_id == batch.c.id)
        .join(fit_up, fit_up.c.bell_id == bell.c.id)
        .where(fit_up.c.id == rows.key_of(fit_up_id))
    )
    found = rows.read(connection, query, Conversion)
    if not found:
        raise MissingError("fit-up", f"there is no fit-up number {fit_up_id}")
    return found[0]


def conversions(connection: Connection) -> list[Conversion]:
    """Every conversion, by name."""
    return rows.read(connection, select(conversion).order_by(conversion.c.name), Conversion)


@dataclass(frozen=True, kw_only=True)
class Hole:
    """One hole of a face's pattern, seen from behind; x right, y up, in mm."""

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float | None = None


@all_or_nothing
def set_pattern(
    connection: Connection, conversion_id: int, face: str, holes: Sequence[Hole]
) -> None:
    """Write down the pattern of a face ("block" or "gearbox"), in place of the one before."""
    get_conversion(connection, conversion_id)
    one_of(face, FACES, where="face")
    connection.execute(
        hole.delete().where(hole.c.conversion_id == conversion_id, hole.c.face == face)
    )
    for each in holes:
        name = words(each.name, where="hole")
        rows.add(
            connection,
            hole,
            named="name",
            conversion_id=conversion_id,
            face=face,
            name=name,
            x_mm=length(each.x_mm, where=f"hole {name}"),
            y_mm=length(each.y_mm, where=f"hole {name}"),
            diameter_mm=None
            if each.diameter_mm is None
            else more_than_nothing(each.diameter_mm, where=f"hole {name}"),
        )


def pattern(connection: Connection, conversion_id: int, face: str) -> list[Hole]:
    """The holes of a face, as they were written down."""
    columns = hole.c.name, hole.c.x_mm, hole.c.y_mm, hole.c.diameter_mm
    query = (
        select(*columns)
        .where(hole.c.conversion_id == conversion_id, hole.c.face == face)
        .order_by(hole.c.id)
    )
    return rows.read(connection, query, Hole)


@dataclass(frozen=True, kw_only=True)
class BlockPopulation:
    """Where the crank stands in blocks of one kind, against the block's dowels.

    `zone_mm` is the zone's diameter; the shift is what all of them share (a line-honed block's
    crank rises: its bore's offset is down, `shift_y_mm` below zero).
    """

    zone_mm: float
    shift_x_mm: float
    shift_y_mm: float
    source: str


@all_or_nothing
def set_population(
    connection: Connection, conversion_id: int, block: str, given: BlockPopulation
) -> None:
    """Write down the population of "new" or "line-honed" blocks, in place of the one before."""
    get_conversion(connection, conversion_id)
    one_of(block, BLOCKS, where="block")
    connection.execute(
        block_population.delete().where(
            block_population.c.conversion_id == conversion_id, block_population.c.block == block
        )
    )
    rows.add(
        connection,
        block_population,
        conversion_id=conversion_id,
        block=block,
        zone_mm=more_than_nothing(given.zone_mm, where="zone"),
        shift_x_mm=length(given.shift_x_mm, where="shift"),
        shift_y_mm=length(given.shift_y_mm, where="shift"),
        source=words(given.source, where="source"),
    )


def populations(connection: Connection, conversion_id: int) -> Mapping[str, BlockPopulation]:
    """Kind of block → its population, those that were written down."""
    query = select(block_population).where(block_population.c.conversion_id == conversion_id)
    return {
        row.block: BlockPopulation(
            zone_mm=row.zone_mm,
            shift_x_mm=row.shift_x_mm,
            shift_y_mm=row.shift_y_mm,
            source=row.source,
        )
        for row in connection.execute(query)
    }
