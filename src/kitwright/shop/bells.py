"""One bell's whole life, gathered for its page and its certificate."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from sqlalchemy import Connection

from kitwright.books import (
    bells,
    conversions,
    decisions,
    designs,
    fitups,
    inspections,
    orders,
    standing,
    stock,
)
from kitwright.books.characteristics import Characteristic, characteristics
from kitwright.books.entries import Entry
from kitwright.books.movements import Movement
from kitwright.books.opening import Books
from kitwright.books.places import Place
from kitwright.books.shop import Party, Shop, get_party, get_shop, parties
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.calc.quality.conformity import Verdict
from kitwright.errors import MissingError, MoveError
from kitwright.shop.fitup_lives import lives_of
from kitwright.shop.judging import judge, verdict_of
from kitwright.shop.samples import SampleView, accepted
from kitwright.units import Lead

BORE: Final = "bore"
"""The position characteristic of the bore: from the crank axis, seen from behind."""


@dataclass(frozen=True, kw_only=True)
class MeasuredValue:
    """One characteristic of a bell: what the drawing asks, what was measured, the verdict."""

    about: Characteristic
    value_mm: float
    """A length, or the distance of a position from its true place."""
    x_mm: float | None
    y_mm: float | None
    u95_mm: float
    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class Happening:
    """One line of the route card."""

    when: datetime.datetime
    who: str
    what: str
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class BellView:
    """A bell with everything that its page shows."""

    standing: Standing
    shop: Shop
    """With the guard by which this bell was released, where it was released by a rule."""
    place: str
    batch: stock.Batch
    crate: stock.Crate
    supplier: Party
    machinist: Party
    revision: designs.Revision
    design: designs.Design
    conversion: conversions.Conversion
    drawn: tuple[Characteristic, ...]
    inspection: inspections.Inspection | None
    measured: tuple[MeasuredValue, ...]
    """Since its rework, where it was reworked."""
    before_rework: tuple[MeasuredValue, ...]
    """What it measured before its rework, as long as nothing has been measured since."""
    decisions: tuple[bells.Decision, ...]
    route: tuple[Happening, ...]
    """What happened, in order, with what was heard of its fit-ups."""
    order: orders.Order | None
    fit_ups: tuple[fitups.FitUp, ...]
    sample: SampleView | None
    """The sample on whose evidence it was released; None where it was measured itself."""

    @property
    def bore(self) -> MeasuredValue | None:
        """Where the bore sits, where that was measured."""
        return next(
            (one for one in self.measured if one.about.name == BORE and one.x_mm is not None), None
        )

    @property
    def release(self) -> bells.Decision | None:
        """The decision by which it may be sold; None where the newest such has been undone."""
        if self.standing.state not in ("released", "allocated", "shipped", "fitted"):
            return None
        return _release(self.decisions)


def _release(made: Sequence[bells.Decision]) -> bells.Decision | None:
    found = [one for one in made if one.kind in ("release", "concede")]
    return found[-1] if found else None


def view(books: Books, serial: str) -> BellView:
    """Everything about the bell of this serial.

    Raises
    ------
    MissingError
        There is no bell of this serial.
    """
    with books.reading() as connection:
        bell = standing.one(connection, serial)
        shop = get_shop(connection)
        batch = stock.get_batch(connection, bell.batch_id)
        crate = stock.get_crate(connection, bell.crate_id)
        drawn = characteristics(connection, bell.revision_id)
        taken = inspections.inspections_of(connection, serial)
        design = designs.get_design(connection, bell.design_id)
        made = bells.decisions_of(connection, serial)
        release = _release(made)
        sampled = release is not None and release.kind == "release" and not release.inspection_id
        if release is not None and release.rule is not None and not sampled:
            shop = replace(shop, guard=release.rule)
        newest = inspections.newest_of(connection, serial)
        older = newest
        if serial in newest.outdated:
            older = inspections.newest_of(connection, serial, outdated_too=True)
        return BellView(
            standing=bell,
            shop=shop,
            place=place_in_words(bell.place, names_of(connection)),
            batch=batch,
            crate=crate,
            supplier=get_party(connection, crate.supplier_id),
            machinist=get_party(connection, batch.machinist_id),
            revision=designs.get_revision(connection, bell.revision_id),
            design=design,
            conversion=conversions.get_conversion(connection, design.conversion_id),
            drawn=tuple(drawn),
            inspection=taken[-1] if taken else None,
            measured=tuple(_measured(newest, shop)),
            before_rework=() if older is newest else tuple(_measured(older, shop)),
            decisions=tuple(made),
            route=tuple(_whole_route(connection, serial, shop)),
            order=None if bell.order_id is None else orders.get_order(connection, bell.order_id),
            fit_ups=tuple(fitups.fit_ups_of(connection, serial)),
            sample=accepted(connection, bell.bell_id) if sampled else None,
        )


def allowed(bell: Standing) -> tuple[str, ...]:
    """The decisions that a person may make on the bell's page.

    Allocating and shipping belong to orders, fitting to a fit-up, releasing and measuring anew to
    an import: a bell is released by what was measured, or conceded by a person.
    """
    if bell.state == "withdrawn" and bell.place_name == "customer":
        return "return", "scrap"
    return tuple(
        kind
        for kind in bell.allowed
        if kind not in {"release", "allocate", "free", "ship", "fit", "remeasure"}
    )


def decide(
    books: Books, serial: str, kind: str, *, why: str, seen: int | None, entry: Entry
) -> None:
    """Make one of the `allowed` decisions on a bell, with its newest inspection as evidence.

    What was measured before a rework is no evidence after it. A person's decision names no rule.
    A rework carries the bell to its batch's machinist.
    """
    with books.writing() as connection:
        bell = standing.one(connection, serial)
        if kind not in allowed(bell):
            may = ", ".join(allowed(bell)) or "nothing more can be done to it here"
            raise MoveError("decision", f'"{kind}" cannot be decided, it is {bell.state}', may)
        if kind == "withdraw":
            bells.withdraw(connection, [serial], entry, why=why)
        elif kind == "return":
            bells.take_back(connection, serial, entry, why=why)
        else:
            taken = inspections.inspections_of(connection, serial)
            reworked = [
                one.recorded
                for one in bells.decisions_of(connection, serial)
                if one.kind == "rework"
            ]
            if reworked:
                taken = [one for one in taken if one.recorded > reworked[-1]]
            if kind == "concede" and reworked and not taken:
                raise MoveError(
                    bell.named, "it was not measured since its rework", "import its inspection"
                )
            evidence = taken[-1].id if taken else None
            if kind == "rework":
                owner = stock.get_batch(connection, bell.batch_id).machinist_id
                bells.send_for_rework(
                    connection,
                    serial,
                    owner,
                    entry,
                    why=why or None,
                    inspection_id=evidence,
                    seen=seen,
                )
                return
            decisions.decide(
                connection,
                serial,
                kind,
                entry,
                inspection_id=evidence,
                why=why or None,
                seen=seen,
            )


def _measured(newest: inspections.Newest, shop: Shop) -> Iterator[MeasuredValue]:
    """The values of the one bell that `newest` is of."""
    codes = judge(newest, shop).codes[0]
    for k, about in enumerate(newest.characteristics):
        x, y = newest.mm[0, k].tolist()
        verdict = verdict_of(int(codes[k]))
        if verdict is None:
            continue
        position = about.kind == "position"
        away = float(np.hypot(x - (about.x_mm or 0), y - (about.y_mm or 0))) if position else x
        yield MeasuredValue(
            about=about,
            value_mm=away,
            x_mm=x if position else None,
            y_mm=y if position else None,
            u95_mm=float(newest.u95_mm[0, k]),
            verdict=verdict,
        )


# ── the route card ───────────────────────────────────────────────────────────────────────


def names_of(connection: Connection) -> Mapping[int, str]:
    """Everybody's name, by number."""
    return {
        party.id: party.name
        for role in ("supplier", "machinist", "customer")
        for party in parties(connection, role)
    }


_WHERE: Final = {
    "supplier": "at the supplier's",
    "floor": "on the floor",
    "birth": "about to be born",
    "machinist": "at the machinist's",
    "shelf": "on the shelf",
    "customer": "with the customer",
    "scrap": "in the scrap",
    "reserved": "reserved",
    "count": "the count",
}


def place_in_words(place: Place, names: Mapping[int, str]) -> str:
    """Where something is, with its owner's name: "at the machinist's, Carrack Lane"."""
    owner = names.get(place.party_id or 0, "")
    return f"{_WHERE[place.name]}, {owner}" if owner else _WHERE[place.name]


_DONE: Final = {
    "release": "released",
    "hold": "held",
    "reject": "rejected",
    "remeasure": "measured anew",
    "concede": "conceded",
    "rework": "sent for rework",
    "scrap": "scrapped",
    "allocate": "allocated",
    "free": "freed",
    "ship": "shipped",
    "fit": "fitted",
    "return": "returned",
    "withdraw": "withdrawn",
}


def _whole_route(connection: Connection, serial: str, shop: Shop) -> list[Happening]:
    """The bell's own lines, and among them what was heard of its fit-ups."""
    lead: Lead = "in" if shop.lead == "in" else "mm"
    of_fit_ups = (
        Happening(when=line.when, who=line.who, what=line.what, detail=line.detail)
        for line in lives_of(connection, serial, lead)
    )
    return _merged(list(of_fit_ups), list(_route(connection, serial)))


def _merged(inserted: Sequence[Happening], lines: Sequence[Happening]) -> list[Happening]:
    """Each inserted line before the first of the others that is later; their order stays."""
    whole: list[Happening] = []
    left = sorted(inserted, key=lambda line: line.when)
    for line in lines:
        while left and left[0].when < line.when:
            whole.append(left.pop(0))
        whole.append(line)
    return [*whole, *left]


def _route(connection: Connection, serial: str) -> Iterator[Happening]:
    names = names_of(connection)
    lines = bells.route_card(connection, serial)
    labels = orders.labels(
        connection,
        {line.order_id for line in lines if isinstance(line, bells.Decision) and line.order_id},
    )
    for line in lines:
        match line:
            case bells.Decision():
                parts = [line.reason or ""]
                if line.order_id is not None and line.kind in ("allocate", "ship"):
                    parts.append(f"order {labels[line.order_id]}")
                if line.fit_up_id is not None:
                    parts.append(f"fit-up {line.fit_up_id}")
                if line.rule and line.kind in ("release", "hold", "reject"):
                    parts.append(f"by the rule “{line.rule}”")
                detail = "; ".join(part for part in parts if part)
                what = _DONE[line.kind].capitalize()
            case Movement(from_place="birth"):
                what, detail = "Born from a casting", place_in_words(line.to, names)
            case Movement():
                what = f"Moved: {place_in_words(line.to, names)}"
                came = f"it was {place_in_words(line.source, names)}"
                detail = "; ".join(part for part in (came, line.why or "") if part)
            case inspections.Inspection():
                what, detail = "Inspected", f"with {line.instrument}"
        yield Happening(when=line.happened, who=line.who, what=what, detail=detail)


def find(books: Books, words: str) -> str:
    """The serial that someone meant: as typed, or in capitals.

    Raises
    ------
    MissingError
        No bell bears it.
    """
    wanted = words.strip()
    with books.reading() as connection:
        for serial in dict.fromkeys((wanted, wanted.upper())):
            if standing.where(connection, bell_now.c.serial == serial):
                return serial
    raise MissingError("serial", f'there is no bell "{wanted}"', "read it off the bell again")
