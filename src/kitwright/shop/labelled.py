"""What stands on the labels of bells, crates and parts, and which of them someone means."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection

from kitwright.books import designs, parts, standing, stock
from kitwright.books.opening import Books
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.errors import InputError, MissingError


@dataclass(frozen=True, kw_only=True)
class LabelledBell:
    """What a bell's label says."""

    serial: str
    design: str
    revision: str
    batch: str


@dataclass(frozen=True, kw_only=True)
class LabelledCrate:
    """What a crate's label says; `count` castings came in it."""

    label: str
    design: str
    count: int
    received: datetime.date


@dataclass(frozen=True, kw_only=True)
class LabelledPart:
    """What the label on a part's bin says."""

    label: str
    name: str


def bells_of_batch(books: Books, batch_id: int) -> list[LabelledBell]:
    """Every bell of a batch, by serial.

    Raises
    ------
    MissingError
        There is no such batch.
    InputError
        It is not sent yet: a serial is born when a casting enters a batch.
    """
    with books.reading() as connection:
        return _of_batch(connection, stock.get_batch(connection, batch_id))


def _of_batch(connection: Connection, batch: stock.Batch) -> list[LabelledBell]:
    bells = standing.where(connection, bell_now.c.batch_id == batch.id)
    if not bells:
        raise InputError(
            f"batch {batch.label}",
            f"it is {batch.state}, its bells have no serials yet",
            "send it first",
        )
    return _labelled(connection, bells)


def bells_of(books: Books, serials: Iterable[str]) -> list[LabelledBell]:
    """The bells of these serials, in the order asked.

    Raises
    ------
    MissingError
        Serials that are of no bell, a line each.
    """
    with books.reading() as connection:
        return _labelled(connection, standing.of(connection, list(serials)))


def crate_of(books: Books, crate_id: int) -> LabelledCrate:
    """The crate of this number in the books."""
    with books.reading() as connection:
        return _crate(connection, stock.get_crate(connection, crate_id))


def part_of(books: Books, part_id: int) -> LabelledPart:
    """The part of this number in the books."""
    with books.reading() as connection:
        found = parts.get_part(connection, part_id)
    return LabelledPart(label=found.label, name=found.name)


def _labelled(connection: Connection, bells: list[Standing]) -> list[LabelledBell]:
    revisions = {each.id: each for each in designs.revisions(connection)}
    drawn = {each.id: each.name for each in designs.designs(connection)}
    batches = {each.id: each.label for each in stock.batches(connection)}
    return [
        LabelledBell(
            serial=bell.serial,
            design=drawn[bell.design_id],
            revision=revisions[bell.revision_id].label,
            batch=batches[bell.batch_id],
        )
        for bell in bells
    ]


def _crate(connection: Connection, crate: stock.Crate) -> LabelledCrate:
    return LabelledCrate(
        label=crate.label,
        design=designs.get_design(connection, crate.design_id).name,
        count=crate.count,
        received=stock.received_at(connection, crate.id).date(),
    )


def find_labelled(books: Books, words: str) -> list[LabelledBell] | LabelledCrate | LabelledPart:
    """The bells of a batch, one bell, a crate or a part: whatever bears these words.

    Raises
    ------
    MissingError
        Nothing does.
    InputError
        More than one thing does.
    """
    with books.reading() as connection:
        batches = [each for each in stock.batches(connection) if each.label == words]
        crates = [each for each in stock.crates(connection) if each.label == words]
        bells = standing.where(connection, bell_now.c.serial == words)
        kept = [each for each in parts.parts(connection) if each.label == words]
        named = [
            *(["a batch"] if batches else []),
            *(["a bell"] if bells else []),
            *(["a crate"] if crates else []),
            *(["a part"] if kept else []),
        ]
        if len(named) > 1:
            raise InputError(
                "labels", f'"{words}" is {" and ".join(named)}', "print it from its page"
            )
        if batches:
            return _of_batch(connection, batches[0])
        if crates:
            return _crate(connection, crates[0])
        if bells:
            return _labelled(connection, bells)
        if kept:
            return LabelledPart(label=kept[0].label, name=kept[0].name)
    raise MissingError(
        "labels",
        f'nothing bears "{words[:80]}"',
        "name a batch, a serial, a crate or a part as on its page",
    )
