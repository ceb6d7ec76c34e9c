"""Half a year of the invented workshop, so that every page has something true to show."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from kitwright.books import designs, inspections, orders, stock
from kitwright.books import fitups as kept_fit_ups
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Money
from kitwright.books.opening import Books
from kitwright.demo.calendar import Calendar
from kitwright.demo.measuring import Block, inspection, only, sweep_case
from kitwright.demo.workshop import CURRENCY, INSPECTOR, MACHINIST, OWNER, Workshop
from kitwright.files.inspection import write_inspection
from kitwright.files.tables import read_csv
from kitwright.shop import batches, bells, fitups, samples
from kitwright.shop.orders import price_of

INSTRUMENT: Final = "coordinate measuring machine, calibrated this year"
SEED: Final = 5600

SAMPLE: Final = {"plan": {"n": 3, "c": 0}}
SAMPLE_SEED: Final = 2017
"""By how many of the first four steel bells, and by which, that batch was judged."""

FITTED: Final = (
    # days ago, kind of block, the block's own vector (mm), how it ended
    (102, "new", Block(0.012, -0.008), True),
    (96, "new", Block(-0.021, 0.014), True),
    (91, "line-honed", Block(0.010, -0.072), True),
    (84, "new", Block(0.017, 0.019), True),
    (77, "new", Block(-0.009, -0.026), True),
    (66, "line-honed", Block(-0.018, -0.055), True),
    (58, "new", Block(0.028, 0.006), True),
    (45, "new", Block(-0.014, 0.011), True),
    (33, "line-honed", Block(0.031, -0.068), True),
    (19, "new", Block(0.005, -0.017), True),
)


def serials(prefix: str, first: int, count: int) -> list[str]:
    """Serials in a row."""
    return [f"{prefix}-{number:04d}" for number in range(first, first + count)]


def live(books: Books, shop: Workshop, calendar: Calendar, tell: Callable[[str], None]) -> None:
    """Everything that happened before the demo's story begins."""
    _first_cast_batch(books, shop, calendar)
    tell("a first batch of cast bells, sold out long ago")
    _revision_b(books, shop, calendar)
    _steel_batches(books, shop, calendar)
    tell("steel bells: one batch judged by a sample and sold, one still at the machinist's")
    for number, line in enumerate(FITTED, start=1):
        _fit(books, shop, calendar, number, line)
    tell(f"{len(FITTED)} fit-ups, each with its sweep and what was advised")


def _first_cast_batch(books: Books, shop: Workshop, calendar: Calendar) -> None:
    _machine(
        books,
        shop,
        calendar,
        label="B-01",
        crate="CR-01",
        design=shop.cast,
        revision=shop.cast_before,
        prefix="HC",
        count=24,
        received=170,
        sent=165,
        due=128,
        back=126,
        wrong={11: {"bore": (0.071, 0.012)}},
    )
    scrapped = serials("HC", 1, 24)[11]
    bells.decide(
        books,
        scrapped,
        "scrap",
        why="bore cannot be brought back",
        seen=None,
        entry=calendar.by(OWNER, 124),
    )
    good = [serial for serial in serials("HC", 1, 24) if serial != scrapped]
    for number, serial in enumerate(good, start=1):
        _sell(books, shop, calendar, f"O-{number:03d}", shop.cast_variant, serial, 120 - 4 * number)


def _revision_b(books: Books, shop: Workshop, calendar: Calendar) -> None:
    with books.writing() as connection:
        designs.put_in_force(connection, shop.cast_revision, calendar.by(OWNER, 68))


def _steel_batches(books: Books, shop: Workshop, calendar: Calendar) -> None:
    _machine(
        books,
        shop,
        calendar,
        label="B-02",
        crate="CR-02",
        design=shop.steel,
        revision=shop.steel_revision,
        prefix="HS",
        count=4,
        received=150,
        sent=146,
        due=118,
        back=117,
        sampled=True,
    )
    for number, serial in enumerate(serials("HS", 1, 4), start=24):
        _sell(
            books, shop, calendar, f"O-{number:03d}", shop.steel_variant, serial, 232 - 7 * number
        )
    with books.writing() as connection:
        crate = stock.receive_crate(
            connection,
            "CR-03",
            design_id=shop.steel,
            supplier_id=shop.pressings,
            count=8,
            cost=Money(344000, CURRENCY),
            entry=calendar.by(OWNER, 24),
        )
        batch = stock.plan_batch(
            connection,
            "B-03",
            revision_id=shop.steel_revision,
            machinist_id=shop.machinist,
            count=6,
            due=calendar.day(-17),
            entry=calendar.by(OWNER, 23),
        )
        stock.send_batch(connection, batch, [(crate, serials("HS", 5, 6))], calendar.by(OWNER, 20))


def _machine(
    books: Books,
    shop: Workshop,
    calendar: Calendar,
    *,
    label: str,
    crate: str,
    design: int,
    revision: int,
    prefix: str,
    count: int,
    received: int,
    sent: int,
    due: int,
    back: int,
    wrong: dict[int, dict[str, tuple[float, float]]] | None = None,
    sampled: bool = False,
) -> int:
    """A crate received, a batch of it sent, taken back, and judged by all of it or a sample."""
    made = serials(prefix, 1, count)
    steel = design == shop.steel
    with books.writing() as connection:
        number = stock.receive_crate(
            connection,
            crate,
            design_id=design,
            supplier_id=shop.pressings if steel else shop.foundry,
            count=count + 2,
            cost=Money((43000 if steel else 17200) * (count + 2), CURRENCY),
            entry=calendar.by(OWNER, received),
        )
        batch = stock.plan_batch(
            connection,
            label,
            revision_id=revision,
            machinist_id=shop.machinist,
            count=count,
            due=calendar.day(due),
            entry=calendar.by(OWNER, received - 1),
        )
        stock.send_batch(connection, batch, [(number, made)], calendar.by(OWNER, sent))
        stock.take_batch_back(connection, batch, calendar.by(MACHINIST, back))
        drawn = characteristics(connection, revision)
    table = inspection(drawn, made, seed=SEED + batch, wrong=wrong)
    sample = None
    if sampled:
        entry = calendar.by(INSPECTOR, back, 10)
        sample = samples.draw(books, batch, SAMPLE, seed=SAMPLE_SEED, entry=entry)
        table = only(table, sample.drawn)
    batches.import_inspection(
        books,
        batch,
        read_csv(write_inspection(table).encode()),
        instrument=INSTRUMENT,
        entry=calendar.by(INSPECTOR, back, 11),
    )
    if sample is not None:
        samples.judge(books, sample.sample.id, calendar.by(OWNER, back, 12))
    return batch


def _sell(
    books: Books,
    shop: Workshop,
    calendar: Calendar,
    label: str,
    variant: int,
    serial: str,
    days_ago: int,
) -> None:
    """An order for this bell, shipped and, in the end, closed."""
    buyer = shop.customers[int(label[-3:]) % len(shop.customers)]
    with books.writing() as connection:
        number = orders.open_order(
            connection,
            label,
            customer_id=buyer,
            variant_id=variant,
            car_id=shop.cars[0],
            price=price_of(connection, variant),
            entry=calendar.by(OWNER, days_ago),
        )
        orders.promise(connection, number, calendar.day(days_ago - 2), calendar.by(OWNER, days_ago))
        orders.allocate(connection, number, serial, calendar.by(OWNER, days_ago, 10))
        orders.ship(connection, number, calendar.by(OWNER, days_ago - 1))
        orders.close(connection, number, calendar.by(OWNER, days_ago - 1, 12))


def _fit(
    books: Books,
    shop: Workshop,
    calendar: Calendar,
    number: int,
    line: tuple[int, str, Block, bool],
) -> None:
    """One fit-up: its sweep, the advice, and, where dowels were turned, a second sweep."""
    days_ago, block, vector, succeeded = line
    good = [serial for serial in serials("HC", 1, 24) if serial != serials("HC", 1, 24)[11]]
    serial = good[number - 1]
    with books.writing() as connection:
        fit_up = kept_fit_ups.open_fit_up(
            connection,
            serial,
            fitter=f"fitter at {_garage(number)}",
            block=block,
            entry=calendar.by(OWNER, days_ago),
            car_id=shop.cars[0],
        )
        found = inspections.newest_values(connection, 1)
    bore = found.mm[found.serials.index(serial), 0]
    who = f"fitter at {_garage(number)}"
    advice = fitups.receive_sweep(
        books,
        fit_up,
        sweep_case((bore[0], bore[1]), vector, seed=SEED + number),
        entry=calendar.by(who, days_ago - 1, 14),
    )
    answer = advice.dowels_answer
    if answer is not None and answer.recommended is not None:
        fitups.corrected(
            books,
            fit_up,
            why="both dowels changed and turned",
            entry=calendar.by(who, days_ago - 1, 16),
        )
        best = answer.candidates[answer.recommended]
        left = np.array([best.predicted_offset_x_mm, best.predicted_offset_y_mm])
        fitups.receive_sweep(
            books,
            fit_up,
            sweep_case((left[0], left[1]), Block(0.004, -0.003), seed=SEED - number),
            entry=calendar.by(who, days_ago - 1, 17),
        )
    fitups.finish(books, fit_up, succeeded=succeeded, why="", entry=calendar.by(who, days_ago - 2))


def _garage(number: int) -> str:
    return ("Ladder Street", "Moor Top", "Bramling", "Old Weir", "Juniper Yard")[number % 5]
