"""What a conversion's fit-ups teach of its blocks, gathered from the books.

A sample is a fit-up's first sweep less what the bell's bore was measured to be before it was
shipped. One engine counts once: a second fit-up of the same order is of the same engine.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection

from kitwright.books.first_sweeps import FirstSweep, first_sweeps
from kitwright.books.opening import Books
from kitwright.books.tables.designs import BLOCKS
from kitwright.calc.centring.block_population import Population, population
from kitwright.calc.centring.clock import clock_of
from kitwright.errors import InputError
from kitwright.shop.bells import BORE
from kitwright.units import Lead, say_clock, say_length
from kitwright.worksheets.centring.block_population import FEW, contributors_of

LEAST: Final = FEW
"""So many fit-ups of a kind of block take the place of what the catalogue says of it.

With ten the spread's upper 95 % limit is 1.48 of its estimate, and the 95 % region of the mean
reaches one standard deviation: a shop's guess is seldom surer than that. With fewer the guess
stands.
"""


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One block and crank: where they put a true bell's bore, in mm from the crank axis.

    `u95_mm` is the expanded uncertainty (k = 2) of sweep and inspection together, along an axis.
    The play of the dowels is in the sample and not in its uncertainty.
    """

    fit_up_id: int
    serial: str
    swept: datetime
    x_mm: float
    y_mm: float
    u95_mm: float


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What the fit-ups of one kind of block come to."""

    block: str
    samples: tuple[Sample, ...]
    population: Population

    @property
    def contributors(self) -> list[dict[str, Any]]:
        """Rows of a radial budget's contributors, for the next block."""
        return contributors_of(self.population, self.block)

    @property
    def suspects(self) -> list[int]:
        """Fit-ups whose sample lies too far off for the others."""
        return [self.samples[index].fit_up_id for index in self.population.suspects]

    def in_words(self, *, lead: Lead) -> str:
        """What a budget that uses this rests on."""
        found = self.population
        zone = say_length(found.next_block.zone_mm, lead=lead)
        said = f"{found.count} fit-ups on {self.block} blocks: zone {zone}"
        if found.shifted:
            x, y = found.mean_mm.tolist()
            shift = say_length(math.hypot(x, y), lead=lead)
            said += f", shifted {shift} toward {say_clock(clock_of([x, y]))}"
        if self.suspects:
            numbers = ", ".join(map(str, self.suspects))
            said += f"; look at fit-up {numbers} again, it lies far off the others"
        return said


def samples(connection: Connection, conversion_id: int) -> dict[str, list[Sample]]:
    """Kind of block → the samples of a conversion's fit-ups, in the order opened.

    Left out are fit-ups that have not swept their bore yet, bells whose bore was not measured
    before they were shipped, and all fit-ups of an order but its first.
    """
    found: dict[str, list[Sample]] = {block: [] for block in BLOCKS}
    orders = set[int]()
    for each in first_sweeps(connection, conversion_id, BORE):
        sample = None if each.order_id in orders else _sample(each)
        if sample is None:
            continue
        if each.order_id is not None:
            orders.add(each.order_id)
        found[each.block].append(sample)
    return found


def learned(books: Books, conversion_id: int) -> dict[str, Learned]:
    """Kind of block → what its fit-ups come to, where at least `LEAST` of them were swept."""
    with books.reading() as connection:
        found = samples(connection, conversion_id)
    return learn(found)


def learn(found: Mapping[str, Sequence[Sample]]) -> dict[str, Learned]:
    """The same, of samples that were gathered already."""
    known = {}
    for block, listed in found.items():
        if len(listed) < LEAST:
            continue
        try:
            blocks = population([[sample.x_mm, sample.y_mm] for sample in listed])
        except InputError:  # all on one line: sweeps too coarse to learn from
            continue
        known[block] = Learned(block=block, samples=tuple(listed), population=blocks)
    return known


def _sample(swept: FirstSweep) -> Sample | None:
    x, y = swept.answer.get("offset_x_mm"), swept.answer.get("offset_y_mm")
    if swept.measured is None or x is None or y is None:
        return None
    return Sample(
        fit_up_id=swept.fit_up_id,
        serial=swept.serial,
        swept=swept.swept,
        x_mm=x - swept.measured.x_mm,
        y_mm=y - swept.measured.y_mm,
        u95_mm=math.hypot(swept.answer.get("offset_u95_mm") or 0.0, swept.measured.u95_mm),
    )
