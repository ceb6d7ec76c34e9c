"""The invented workshop as it stands before its history: whom it knows, what it makes and sells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from kitwright.books import characteristics, conversions, designs, kits, rules, shop
from kitwright.books.characteristics import Characteristic, length_of, position_of
from kitwright.books.conversions import BlockPopulation, Hole
from kitwright.books.entries import Money
from kitwright.books.rules import Terms
from kitwright.demo.calendar import Calendar

SHOP: Final = "Tanager Row Bellworks"
OWNER: Final = "Ines Varga-Holt"
INSPECTOR: Final = "Pell Adeyemi-Ross"

FOUNDRY: Final = "Underwell Foundry"
PRESSINGS: Final = "Sorrel Dyke Pressings"
FERRIER: Final = "Ferrier Bolt & Dowel"
MACHINIST: Final = "Carrack Lane Machining"

ENGINES: Final = ("Pendrake V8 5.6", "Ostler six 3.4")
GEARBOX: Final = "Quillon QS6 six-speed"
CARS: Final = ("Wexcombe Heron coupé", "Marlet Drover pick-up")

CURRENCY: Final = "USD"
BODY: Final = "Fenmark Strip Association"

CAST_DRAWING: Final[tuple[Characteristic, ...]] = (
    position_of("bore", 0.0762),
    length_of("bore diameter", 124.0, 124.04),
    length_of("block face flatness", None, 0.05),
    length_of("gearbox face flatness", None, 0.05),
    length_of("faces parallel", None, 0.08),
    length_of("bore square", None, 0.05),
    length_of("depth", 164.9, 165.1),
    length_of("dowel a diameter", 16.0, 16.018),
    length_of("dowel b diameter", 16.0, 16.018),
    length_of("dowel span", 371.97, 372.03),
    position_of("gearbox pattern", 0.3),
    position_of("starter bore", 0.25, x_mm=168.0, y_mm=-74.0),
)
"""Twelve characteristics; the zone of the bore is 3 thou, the dowel holes are 16 H7 (ISO 286)."""

BLOCK_PATTERN: Final = (
    Hole(name="dowel a", x_mm=-186.0, y_mm=30.0, diameter_mm=16.0),
    Hole(name="dowel b", x_mm=186.0, y_mm=30.0, diameter_mm=16.0),
    Hole(name="bolt 1", x_mm=-122.0, y_mm=156.0, diameter_mm=11.0),
    Hole(name="bolt 2", x_mm=122.0, y_mm=156.0, diameter_mm=11.0),
    Hole(name="bolt 3", x_mm=-198.0, y_mm=-46.0, diameter_mm=11.0),
    Hole(name="bolt 4", x_mm=198.0, y_mm=-46.0, diameter_mm=11.0),
    Hole(name="bolt 5", x_mm=-141.0, y_mm=-138.0, diameter_mm=11.0),
    Hole(name="bolt 6", x_mm=141.0, y_mm=-138.0, diameter_mm=11.0),
)
GEARBOX_PATTERN: Final = (
    Hole(name="bolt 1", x_mm=-84.0, y_mm=96.0, diameter_mm=12.5),
    Hole(name="bolt 2", x_mm=84.0, y_mm=96.0, diameter_mm=12.5),
    Hole(name="bolt 3", x_mm=-108.0, y_mm=-71.0, diameter_mm=12.5),
    Hole(name="bolt 4", x_mm=108.0, y_mm=-71.0, diameter_mm=12.5),
)


@dataclass(frozen=True, kw_only=True)
class Workshop:
    """Numbers in the books of what the demo's history refers to."""

    foundry: int
    pressings: int
    machinist: int
    customers: tuple[int, ...]
    cars: tuple[int, ...]
    conversion: int
    cast: int
    steel: int
    cast_before: int
    """The cast bell's superseded revision, to which its first batch was made."""
    cast_revision: int
    steel_revision: int
    cast_variant: int
    steel_variant: int


CUSTOMERS: Final = (
    "Ladder Street Garage",
    "Moor Top Motors",
    "Bramling Speed Shop",
    "Old Weir Workshop",
    "Harrow & Kite Racing",
    "Juniper Yard",
)


def set_up(connection: Connection, calendar: Calendar) -> Workshop:
    """Write the workshop down."""
    shop.set_shop(connection, shop.Shop(name=SHOP, lead="in", currency=CURRENCY))
    foundry = shop.add_party(connection, FOUNDRY, "supplier")
    pressings = shop.add_party(connection, PRESSINGS, "supplier")
    shop.add_party(connection, FERRIER, "supplier")
    machinist = shop.add_party(connection, MACHINIST, "machinist")
    customers = tuple(shop.add_party(connection, name, "customer") for name in CUSTOMERS)
    engines = [conversions.add_engine(connection, name) for name in ENGINES]
    gearbox = conversions.add_gearbox(connection, GEARBOX)
    cars = tuple(conversions.add_car(connection, name) for name in CARS)
    conversion = _conversion(connection, engines[0], gearbox, cars[0])
    _second_conversion(connection, engines[1], gearbox, cars[1])
    cast, before, revision = _cast_bell(connection, conversion, calendar)
    steel, steel_revision = _steel_bell(connection, conversion, calendar)
    cast_variant, steel_variant = _kit(connection, conversion, cast, steel)
    _rules(connection, calendar)
    return Workshop(
        foundry=foundry,
        pressings=pressings,
        machinist=machinist,
        customers=customers,
        cars=cars,
        conversion=conversion,
        cast=cast,
        steel=steel,
        cast_before=before,
        cast_revision=revision,
        steel_revision=steel_revision,
        cast_variant=cast_variant,
        steel_variant=steel_variant,
    )


def _conversion(connection: Connection, engine: int, gearbox: int, car: int) -> int:
    number = conversions.add_conversion(
        connection,
        f"{ENGINES[0]} to {GEARBOX}",
        engine_id=engine,
        gearbox_id=gearbox,
        car_ids=[car],
        depth_mm=165.0,
        gap_mm=(3.0, 5.0),
        pilot_mm=0.125,
        tir_mm=0.127,
    )
    conversions.set_pattern(connection, number, "block", BLOCK_PATTERN)
    conversions.set_pattern(connection, number, "gearbox", GEARBOX_PATTERN)
    conversions.set_population(
        connection,
        number,
        "new",
        BlockPopulation(
            zone_mm=0.1,
            shift_x_mm=0.0,
            shift_y_mm=0.0,
            source="the shop's guess until enough fit-ups are swept",
        ),
    )
    conversions.set_population(
        connection,
        number,
        "line-honed",
        BlockPopulation(
            zone_mm=0.12,
            shift_x_mm=0.0,
            shift_y_mm=-0.06,
            source="the shop's guess: honing raised the crank by 0.06 mm",
        ),
    )
    return number


def _second_conversion(connection: Connection, engine: int, gearbox: int, car: int) -> None:
    """Measured, but no bell is designed for it yet."""
    number = conversions.add_conversion(
        connection,
        f"{ENGINES[1]} to {GEARBOX}",
        engine_id=engine,
        gearbox_id=gearbox,
        car_ids=[car],
        depth_mm=142.0,
        gap_mm=(3.0, 5.0),
        pilot_mm=0.125,
        tir_mm=0.127,
    )
    conversions.set_pattern(connection, number, "gearbox", GEARBOX_PATTERN)


def _cast_bell(connection: Connection, conversion: int, calendar: Calendar) -> tuple[int, int, int]:
    design = designs.add_design(
        connection,
        "Heron cast bell",
        conversion_id=conversion,
        material="cast aluminium",
        price=Money(68500, CURRENCY),
        mass_kg=7.4,
        opening="left side, 96 by 62 mm",
    )
    before = designs.add_revision(connection, design, "A", calendar.by(OWNER, 190))
    wider = [position_of("bore", 0.1), *CAST_DRAWING[1:]]
    characteristics.set_characteristics(connection, before, wider)
    designs.put_in_force(connection, before, calendar.by(OWNER, 189))
    now = designs.add_revision(connection, design, "B", calendar.by(OWNER, 70))
    characteristics.set_characteristics(connection, now, CAST_DRAWING)
    return design, before, now


def _steel_bell(connection: Connection, conversion: int, calendar: Calendar) -> tuple[int, int]:
    design = designs.add_design(
        connection,
        "Heron steel bell",
        conversion_id=conversion,
        material="certified steel",
        price=Money(114000, CURRENCY),
        mass_kg=13.1,
        opening="left side, 70 by 48 mm",
        certificate="SD-20417",
        certificate_expires=calendar.day(-43),
    )
    revision = designs.add_revision(connection, design, "A", calendar.by(OWNER, 160))
    characteristics.set_characteristics(connection, revision, CAST_DRAWING)
    designs.put_in_force(connection, revision, calendar.by(OWNER, 158))
    return design, revision


def _kit(connection: Connection, conversion: int, cast: int, steel: int) -> tuple[int, int]:
    kit = kits.add_kit(connection, "Heron six-speed kit", conversion)
    with_cast = kits.add_variant(
        connection, kit, "cast bell", design_id=cast, price=Money(329500, CURRENCY)
    )
    with_steel = kits.add_variant(
        connection, kit, "certified steel bell", design_id=steel, price=Money(384000, CURRENCY)
    )
    for name, count, cents in (
        ("release bearing, hydraulic", 1, 14800),
        ("pilot bearing and sleeve", 1, 3900),
        ("crossmember", 1, 11200),
        ("dowel, plain, 16 mm", 2, 650),
        ("bolts and washers, set", 1, 4100),
    ):
        kits.add_part(connection, kit, name, count=count, cost=Money(cents, CURRENCY))
    kits.add_part(
        connection,
        kit,
        "block plate, steel",
        count=1,
        cost=Money(5200, CURRENCY),
        variant_id=with_steel,
    )
    for variant in (with_cast, with_steel):
        kits.add_option(connection, variant, "eccentric dowels, three pairs", Money(8900, CURRENCY))
        kits.add_option(connection, variant, "speedometer drive", Money(6400, CURRENCY))
    return with_cast, with_steel


def _rules(connection: Connection, calendar: Calendar) -> None:
    """An invented body's rules: one for its strip, changed since, and one for its track days."""
    strip = rules.add_rule(
        connection,
        BODY,
        "drag, quarter mile",
        Terms(
            demands="certified shell",
            spec="shell class B",
            from_what="from 450 kW, or quicker than 11.0 s",
            from_power_kw=450.0,
            source="rule book of last year, 4.12",
            copied_on=calendar.day(185),
        ),
        calendar.by(OWNER, 185),
    )
    rules.change_rule(
        connection,
        strip,
        Terms(
            demands="certified shell",
            spec="shell class B",
            from_what="from 400 kW, or quicker than 11.5 s",
            from_power_kw=400.0,
            source="rule book of this year, 4.12",
            copied_on=calendar.day(60),
        ),
        calendar.by(OWNER, 60),
        why="the new book asks for a shell sooner",
        seen=1,
    )
    rules.add_rule(
        connection,
        BODY,
        "track days",
        Terms(
            demands="no certified shell",
            from_what="any car that came on its own wheels",
            source="rule book of this year, 7.3",
            copied_on=calendar.day(60),
        ),
        calendar.by(OWNER, 60),
    )
