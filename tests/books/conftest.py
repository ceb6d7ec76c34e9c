"""Books on both databases for every test, and a small invented workshop in them."""

from __future__ import annotations

import importlib.util
import itertools
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Connection

from kitwright.books import (
    bells,
    conversions,
    decisions,
    designs,
    fitups,
    inspections,
    kits,
    orders,
    shop,
    standing,
    stock,
)
from kitwright.books.characteristics import length_of, position_of, set_characteristics
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books, open_books

_SPEC = importlib.util.spec_from_file_location(
    "postgresql_server", Path(__file__).parents[1] / "postgresql_server.py"
)
postgresql_server = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(postgresql_server)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[object]:
    """A private server, one a test process."""
    folder = postgresql_server.programs()
    if folder is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{postgresql_server.NOT_FOUND}, and CI must run every test", pytrace=False)
        pytest.skip(postgresql_server.NOT_FOUND)
    server = postgresql_server.Server(folder)
    yield server
    server.stop()


@pytest.fixture(scope="session")
def postgresql_books(postgresql: object) -> str:
    """One database of migrated books, cleaned before each test that has it."""
    url = postgresql.fresh()
    open_books(url).close()
    return url


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Empty books, migrated once."""
    path = tmp_path_factory.mktemp("template") / "empty.db"
    open_books(path).close()
    return path


BOTH = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)]


@pytest.fixture(params=BOTH)
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where empty, migrated books are: a SQLite file, a PostgreSQL database."""
    if request.param == "sqlite":
        path = tmp_path / "books.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield str(path)
        return
    url = request.getfixturevalue("postgresql_books")
    request.getfixturevalue("postgresql").clean(url)
    yield url


@pytest.fixture(params=BOTH)
def nowhere(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where books can be but are not yet: no file, an empty database."""
    if request.param == "sqlite":
        yield str(tmp_path / "new.db")
        return
    server = request.getfixturevalue("postgresql")
    url = server.fresh()
    yield url
    server.drop(url)


@pytest.fixture
def books(where: str) -> Iterator[Books]:
    """Empty books, open."""
    with open_books(where) as opened:
        yield opened


START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@dataclass
class Workshop:
    """An invented shop with a batch of bells back from the machinist."""

    books: Books
    supplier: int = 0
    machinist: int = 0
    customer: int = 0
    conversion: int = 0
    design: int = 0
    revision: int = 0
    characteristics: list[int] = field(default_factory=list)
    variant: int = 0
    crate: int = 0
    batch: int = 0
    serials: list[str] = field(default_factory=list)
    _minutes: Iterator[int] = field(default_factory=itertools.count)
    _crates: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    _batches: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    _labels: Iterator[int] = field(default_factory=lambda: itertools.count(1))

    def entry(self, who: str = "Ada") -> Entry:
        """Each entry a minute after the one before."""
        return Entry(who, START + timedelta(minutes=next(self._minutes)))

    def set_up(self, castings: int = 8, bells_made: int = 4) -> None:
        with self.books.writing() as c:
            shop.set_shop(c, shop.Shop(name="Adapter Works", lead="in", currency="USD"))
            self.supplier = shop.add_party(c, "Grey Sand Foundry", "supplier")
            self.machinist = shop.add_party(c, "Slow Spindle", "machinist")
            self.customer = shop.add_party(c, "B. Buyer", "customer")
            self.conversion = conversions.add_conversion(
                c,
                "Six to five-speed",
                engine_id=conversions.add_engine(c, "Invented six"),
                gearbox_id=conversions.add_gearbox(c, "Invented five-speed"),
                car_ids=[conversions.add_car(c, "Invented coupé")],
                depth_mm=182.5,
                gap_mm=(1.5, 4.0),
                pilot_mm=0.2,
                tir_mm=0.25,
            )
            self.design = designs.add_design(
                c,
                "Cast bell",
                conversion_id=self.conversion,
                material="cast aluminium",
                price=Money(48000, "USD"),
                mass_kg=7.4,
                opening="fork window, open below",
            )
            self.revision = designs.add_revision(c, self.design, "A", self.entry())
            self.characteristics = set_characteristics(
                c,
                self.revision,
                [
                    position_of("bore", 0.2),
                    length_of("depth", 182.45, 182.55),
                    length_of("flatness", None, 0.08),
                ],
            )
            designs.put_in_force(c, self.revision, self.entry())
            kit = kits.add_kit(c, "Six to five-speed kit", self.conversion)
            self.variant = kits.add_variant(
                c, kit, "street", design_id=self.design, price=Money(129900, "USD")
            )
        self.receive(castings)
        self.make(bells_made)

    def receive(self, count: int) -> int:
        """Receive a crate, out of which `make` takes castings from now on."""
        with self.books.writing() as c:
            self.crate = stock.receive_crate(
                c,
                f"CR-{next(self._crates)}",
                design_id=self.design,
                supplier_id=self.supplier,
                count=count,
                cost=Money(1100 * count, "USD"),
                entry=self.entry(),
            )
        return self.crate

    def make(self, count: int, *, back: bool = True) -> list[str]:
        """Send a batch out of the crate and take it back; give the serials."""
        number = next(self._labels)
        serials = [f"K-{number:02d}{index:04d}" for index in range(1, count + 1)]
        with self.books.writing() as c:
            self.batch = self.plan(c, count)
            self.send(c, self.batch, serials)
            if back:
                stock.take_batch_back(c, self.batch, self.entry())
        self.serials += serials
        return serials

    def plan(self, connection: Connection, count: int) -> int:
        """A new batch, planned."""
        return stock.plan_batch(
            connection,
            f"B-{next(self._batches)}",
            revision_id=self.revision,
            machinist_id=self.machinist,
            count=count,
            due=date(2026, 4, 1),
            entry=self.entry(),
        )

    def send(self, connection: Connection, batch: int, serials: list[str]) -> None:
        """Send a batch out of the newest crate."""
        stock.send_batch(connection, batch, [(self.crate, serials)], self.entry())

    def order(self, *, promised: bool = True) -> int:
        """A new order, promised."""
        with self.books.writing() as c:
            order_id = self.order_in(c)
            if promised:
                orders.promise(c, order_id, date(2026, 5, 4), self.entry())
        return order_id

    def order_in(self, connection: Connection) -> int:
        """A new order, open."""
        return orders.open_order(
            connection,
            f"O-{next(self._labels)}",
            customer_id=self.customer,
            variant_id=self.variant,
            price=Money(129900, "USD"),
            entry=self.entry(),
        )

    def decide(self, serial: str, kind: str, *, why: str | None = None) -> None:
        with self.books.writing() as c:
            if kind == "release":
                self.release_in(c, serial)
            else:
                decisions.decide(c, serial, kind, self.entry(), why=why)

    def inspect_in(self, connection: Connection, serial: str) -> int:
        """A bell's newest inspection, or a new one of its depth."""
        batch = standing.one(connection, serial).batch_id
        numbers = [each.id for each in inspections.inspections_of(connection, serial)]
        if not numbers:
            depth = inspections.Measured(self.characteristics[1], [182.5], 0.01)
            numbers = inspections.record_inspections(
                connection, batch, [serial], [depth], "bridge", self.entry()
            )
        return numbers[-1]

    def release_in(self, connection: Connection, serial: str) -> None:
        """Release a bell by the rule, on its newest inspection or on one of its depth."""
        decisions.decide(
            connection,
            serial,
            "release",
            self.entry(),
            rule="guard by U",
            inspection_id=self.inspect_in(connection, serial),
        )

    def fit_up(self, serial: str) -> int:
        with self.books.writing() as c:
            return fitups.open_fit_up(
                c, serial, fitter="F. Fitter", block="new", entry=self.entry()
            )

    def bring(self, serial: str, state: str) -> None:
        """Lead a bell that was just made to a state, by the shop's own acts."""
        match state:
            case "made":
                pass
            case "released":
                self.decide(serial, "release")
            case "held":
                self.decide(serial, "hold")
            case "rejected":
                self.decide(serial, "reject")
            case "scrapped":
                self.bring(serial, "rejected")
                self.decide(serial, "scrap", why="cracked")
            case "allocated":
                self.bring(serial, "released")
                order_id = self.order()
                with self.books.writing() as c:
                    orders.allocate(c, order_id, serial, self.entry())
            case "shipped":
                self.bring(serial, "allocated")
                with self.books.writing() as c:
                    bell = standing.one(c, serial)
                    orders.ship(c, bell.order_id, self.entry())
            case "fitted":
                self.bring(serial, "shipped")
                number = self.fit_up(serial)
                with self.books.writing() as c:
                    for to in ("measuring", "advice", "succeeded"):
                        fitups.take_step(c, number, to, self.entry())
            case "returned":
                self.bring(serial, "shipped")
                with self.books.writing() as c:
                    bells.take_back(c, serial, self.entry())
            case "withdrawn":
                self.bring(serial, "released")
                with self.books.writing() as c:
                    bells.withdraw(c, [serial], self.entry(), why="porous")
            case _:
                raise ValueError(state)

    def state(self, serial: str) -> str:
        with self.books.reading() as c:
            return standing.one(c, serial).state


@pytest.fixture
def workshop(books: Books) -> Workshop:
    """The invented workshop, with four bells back from the machinist."""
    made = Workshop(books)
    made.set_up()
    return made
