"""A new batch in the demo's shop, back from the machinist and not measured yet."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import pytest

from kitwright.books import designs, stock
from kitwright.books.characteristics import Characteristic, characteristics
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.demo.measuring import inspection
from kitwright.files.inspection import InspectionTable
from kitwright.files.qif import open_qif
from kitwright.files.qif_writing import write_qif
from kitwright.shop.batches import Imported, import_inspection

START = datetime.datetime(2026, 5, 6, 8, tzinfo=datetime.UTC)
ODD = ("Z-4", "Z-1", "Z-7", "Z-2", "Z-8", "Z-3", "Z-6", "Z-5")
"""The order in which they are born, which is not that of their serials."""


@dataclass
class Fresh:
    """A batch of eight cast bells that nobody has decided on."""

    books: Books
    number: int
    drawn: list[Characteristic]
    minutes: list[int] = field(default_factory=lambda: [0])

    def entry(self, who: str = "Ines") -> Entry:
        """Each entry a minute after the one before."""
        self.minutes[0] += 1
        return Entry(who, START + datetime.timedelta(minutes=self.minutes[0]))

    def table(
        self,
        serials: Sequence[str],
        wrong: Mapping[int, Mapping[str, tuple[float, float]]] | None = None,
        *,
        seed: int = 1,
    ) -> InspectionTable:
        return inspection(self.drawn, serials, seed=seed, wrong=wrong)

    def measure(
        self,
        serials: Sequence[str],
        wrong: Mapping[int, Mapping[str, tuple[float, float]]] | None = None,
    ) -> Imported:
        """Hand an inspection of these bells in, as QIF."""
        written = write_qif(self.table(serials, wrong), title="try", created=START)
        return import_inspection(
            self.books, self.number, open_qif(written), instrument="gauge", entry=self.entry()
        )


@pytest.fixture
def fresh(demo_books: Books) -> Fresh:
    found = Fresh(demo_books, 0, [])
    with demo_books.writing() as connection:
        (crate,) = [each for each in stock.crates(connection) if each.label == "CR-05"]
        revision = designs.in_force(connection, crate.design_id)
        assert revision is not None
        found.drawn = characteristics(connection, revision.id)
        found.number = stock.plan_batch(
            connection,
            "B-09",
            revision_id=revision.id,
            machinist_id=parties(connection, "machinist")[0].id,
            count=len(ODD),
            due=START.date(),
            entry=found.entry(),
        )
        stock.send_batch(connection, found.number, [(crate.id, ODD)], found.entry())
        stock.take_batch_back(connection, found.number, found.entry())
    return found


@pytest.fixture
def at():
    """An entry at an hour of the day after the demo's."""

    def entry(hour: int, who: str = "Ines") -> Entry:
        return Entry(who=who, recorded=datetime.datetime(2026, 5, 5, hour, tzinfo=datetime.UTC))

    return entry
