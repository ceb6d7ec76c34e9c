"""A bell found bad later: who has it, and who has the others that may share what is wrong."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from sqlalchemy import Connection

from kitwright.books import bells, decisions, fitups, inspections, orders, standing, stock
from kitwright.books.opening import Books
from kitwright.books.shop import get_shop
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.calc.quality.conformity import WITHIN
from kitwright.files.tables import Cell, write_csv
from kitwright.files.workbook import Sheet, write_workbook
from kitwright.shop.bells import names_of, place_in_words
from kitwright.shop.judging import NOT_MEASURED, judge

ITSELF: Final = "the bell itself"
HEADER: Final = ("serial", "shares", "state", "where", "who has it", "order", "fit-up")
_GONE: Final = ("scrapped",)
_FIRST: Final = ("customer", "shelf", "machinist", "scrap")


@dataclass(frozen=True, kw_only=True)
class Holder:
    """One bell of a recall list."""

    serial: str
    shares: tuple[str, ...]
    """What it has in common with the bell that was found bad."""
    state: str
    where: str
    who: str
    """Whose it is, where it is somebody's."""
    order: str
    fit_up: str

    @property
    def cells(self) -> tuple[Cell, ...]:
        """As a row under `HEADER`."""
        shared = ", ".join(self.shares)
        return self.serial, shared, self.state, self.where, self.who, self.order, self.fit_up


@dataclass(frozen=True, kw_only=True)
class Recall:
    """The bell that was found bad, and everyone who has it or one like it."""

    bell: Standing
    withdrawn: bells.Decision | None
    """Its withdrawal; None where it was not withdrawn."""
    batch: str
    crate: str
    faults: tuple[str, ...]
    """Characteristics that are not plainly within by its newest measurement."""
    holders: tuple[Holder, ...]
    """The bell itself first; then those with customers, then those at home."""

    def say(self) -> str:
        """Who has it, and how many others are out, in a sentence."""
        itself = self.holders[0]
        if self.bell.place_name == "customer":
            has = f"{itself.who} has it"
        else:
            has = f"It is {itself.where}{', ' if itself.who else ''}{itself.who}"
        count = len(self.away)
        if not count:
            return f"{has}. No other that may share its fault is with a customer."
        are = "other that may share its fault is with a customer"
        if count > 1:
            are = "others that may share its fault are with customers"
        return f"{has}. {count} {are}."

    @property
    def others(self) -> tuple[Holder, ...]:
        """All but the bell itself."""
        return self.holders[1:]

    @property
    def away(self) -> tuple[Holder, ...]:
        """Those of the others that a customer has."""
        return tuple(each for each in self.others if each.state in ("shipped", "fitted"))


def recall(books: Books, serial: str) -> Recall:
    """Everyone who holds this bell, or one of its batch, its crate, or with the same fault.

    The same fault: a bell of the same revision, sold or for sale, of which a characteristic that
    is not within on this bell is not within either, by its newest measurement. Scrapped bells are
    left out.

    Raises
    ------
    MissingError
        There is no bell of this serial.
    """
    with books.reading() as connection:
        bell = standing.one(connection, serial)
        batch = stock.get_batch(connection, bell.batch_id)
        crate = stock.get_crate(connection, bell.crate_id)
        faults = _faults(connection, serial)
        shared: dict[str, list[str]] = {serial: [ITSELF]}
        found: dict[str, Standing] = {serial: bell}
        for why, these in (
            (f"batch {batch.label}", bell_now.c.batch_id == bell.batch_id),
            (f"crate {crate.label}", bell_now.c.crate_id == bell.crate_id),
        ):
            for each in standing.where(connection, these, bell_now.c.state.not_in(_GONE)):
                found.setdefault(each.serial, each)
                if each.serial != serial:
                    shared.setdefault(each.serial, []).append(why)
        same = _with_fault(connection, bell.revision_id, faults)
        missing = [each for each in same if each not in found]
        for each in standing.of(connection, missing):
            found[each.serial] = each
        for other, names in same.items():
            if other != serial:
                shared.setdefault(other, []).append(f"not within: {', '.join(names)}")
        _mark_sampled(connection, bell.batch_id, found, shared)
        made = bells.decisions_of(connection, serial)
        return Recall(
            bell=bell,
            withdrawn=next((one for one in reversed(made) if one.kind == "withdraw"), None),
            batch=batch.label,
            crate=crate.label,
            faults=faults,
            holders=tuple(_listed(connection, serial, found, shared)),
        )


def _faults(connection: Connection, serial: str) -> tuple[str, ...]:
    newest = inspections.newest_of(connection, serial, outdated_too=True)
    judged = judge(newest, get_shop(connection))
    return tuple(
        about.name
        for about, code in zip(newest.characteristics, judged.codes[0].tolist(), strict=True)
        if code not in (WITHIN, NOT_MEASURED)
    )


def _with_fault(
    connection: Connection, revision_id: int, faults: tuple[str, ...]
) -> Mapping[str, list[str]]:
    """Serial → which of these characteristics are not within, of bells sold or for sale."""
    if not faults:
        return {}
    sold = inspections.released_values(connection, revision_id)
    judged = judge(sold, get_shop(connection))
    columns = [k for k, about in enumerate(sold.characteristics) if about.name in faults]
    codes = judged.codes[:, columns]
    strays = (codes != WITHIN) & (codes != NOT_MEASURED)
    return {
        sold.serials[row]: [sold.characteristics[columns[k]].name for k in np.flatnonzero(hit)]
        for row, hit in enumerate(strays)
        if hit.any()
    }


def _mark_sampled(
    connection: Connection,
    batch_id: int,
    found: Mapping[str, Standing],
    shared: Mapping[str, list[str]],
) -> None:
    """Say of the batch's bells which were never measured."""
    kinds = decisions.kinds_of_batch(connection, batch_id)
    for serial, bell in found.items():
        if decisions.BY_SAMPLE in kinds.get(bell.bell_id, ()):
            shared[serial].append("not itself measured")


def _listed(
    connection: Connection,
    serial: str,
    found: Mapping[str, Standing],
    shared: Mapping[str, list[str]],
) -> Iterator[Holder]:
    names = names_of(connection)
    labels = orders.labels(
        connection, {each.order_id for each in found.values() if each.order_id is not None}
    )
    buyers = {
        each.serial: names.get(each.customer_id or 0, "")
        for each in bells.holders(connection, [*found])
        if found[each.serial].state == "allocated"
    }
    fitted: dict[str, str] = {}
    for each in fitups.fit_ups(connection):
        if each.serial in found:
            fitted[each.serial] = f"{each.id}, {each.state}, {each.fitter}"

    def rank(other: str) -> tuple[bool, int, str]:
        return other != serial, _FIRST.index(found[other].place_name), other

    for other in sorted(found, key=rank):
        bell = found[other]
        yield Holder(
            serial=other,
            shares=tuple(shared[other]),
            state=bell.state,
            where=place_in_words(bell.place, {}),
            who=names.get(bell.party_id or 0, ""),
            order=", for ".join(filter(None, (labels.get(bell.order_id or 0), buyers.get(other)))),
            fit_up=fitted.get(other, ""),
        )


def recall_csv(shown: Recall) -> str:
    """The list as CSV text."""
    return write_csv(HEADER, (each.cells for each in shown.holders))


def recall_xlsx(shown: Recall, *, created: datetime.datetime) -> bytes:
    """The list as a workbook."""
    rows = [each.cells for each in shown.holders]
    return write_workbook([Sheet(name="recall", header=HEADER, rows=rows)], created=created)
