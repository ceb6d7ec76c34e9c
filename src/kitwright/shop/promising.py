"""Promise days that hold: quote one, keep what it rests on, and watch which are in danger."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection

from kitwright.books import kits, orders, promises
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.promises import Basis, SupplyRule
from kitwright.books.sendings import first_time
from kitwright.calc.checks import Floats
from kitwright.calc.supply.days import triangle
from kitwright.calc.supply.promise import Coming, Needed, arrived, promise
from kitwright.errors import MoveError
from kitwright.shop.outlook import (
    WAITS,
    Supply,
    hold_back_case,
    promise_case,
    short_in_turn,
    short_parts,
    supply_of,
)
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read
from kitwright.worksheets.supply.batches_coming import learned
from kitwright.worksheets.supply.hold_back_case import HoldBackAnswer, HoldBackCase
from kitwright.worksheets.supply.promise_case import PromiseAnswer, PromiseCase

Outcome = Literal["holds", "doubtful", "in danger", "no day"]
DOUBTFUL_BELOW: Final = 0.5
"""A promised day that holds less often than not is in danger."""


@dataclass(frozen=True, kw_only=True)
class Quote:
    """What can be promised for one more kit of a variant.

    Where the variant is a bell alone, `gate` says whether it may go; for a kit it is None.
    """

    variant_id: int
    rule: SupplyRule
    case: Mapping[str, Any]
    answer: PromiseAnswer
    gate: HoldBackAnswer | None

    @property
    def loose(self) -> bool:
        """The variant is a bell alone."""
        return self.gate is not None

    @property
    def gate_shut(self) -> bool:
        return self.gate is not None and self.gate.loose_today < 1

    def chance_on(self, day: datetime.date) -> float:
        """How surely this day would hold; where hardly more is to come, to 0.002 and from below."""
        if day == self.answer.day and self.answer.chance is not None:
            return self.answer.chance
        days = (day - datetime.date.fromisoformat(self.case["today"])).days
        chances = self.answer.chances
        return 0.0 if days < 0 else chances[min(days, len(chances) - 1)]


def quote(connection: Connection, variant_id: int, today: datetime.date) -> Quote:
    """What can be promised today for one more order of this variant."""
    supply = supply_of(connection, kits.get_variant(connection, variant_id).design_id, today)
    short = short_parts(connection, variant_id, _before(connection, None))
    return _quoted(connection, supply, variant_id, ahead=len(supply.waiting), short=short)


def _quoted(
    connection: Connection,
    supply: Supply,
    variant_id: int,
    *,
    ahead: int,
    short: Sequence[Mapping[str, Any]],
) -> Quote:
    rule = promises.get_rule(connection)
    case = promise_case(supply, ahead=ahead, parts_short=short, chance=rule.chance)
    return Quote(
        variant_id=variant_id,
        rule=rule,
        case=case,
        answer=_solved("promise", PromiseCase, case),
        gate=gate_of(supply, service=rule.service) if variant_id in supply.loose else None,
    )


def gate_of(supply: Supply, *, service: float) -> HoldBackAnswer:
    """How many bells of a design are held back for kits today."""
    answer: HoldBackAnswer = _solved(
        "hold-back", HoldBackCase, hold_back_case(supply, service=service)
    )
    return answer


def _solved(name: str, kind: Any, case: Mapping[str, Any]) -> Any:
    return load(name).solve(read(kind, dict(case)))


def _before(connection: Connection, order_id: int | None) -> list[orders.Order]:
    """Orders that take their parts before this one, or before one that is not booked yet."""
    return [
        each
        for each in orders.in_states(connection, (*WAITS, "allocated"))
        if order_id is None or each.id < order_id
    ]


def of_order(connection: Connection, order_id: int, today: datetime.date) -> Quote:
    """What can be promised today for an order that is booked and waits for its bell.

    Raises
    ------
    MoveError
        It does not wait.
    """
    found = orders.get_order(connection, order_id)
    supply = supply_of(connection, found.design_id, today)
    place = [each.id for each in supply.waiting]
    if order_id not in place:
        raise MoveError(found.named, f"it is {found.state}", "only one that waits is promised")
    short = short_parts(connection, found.variant_id, _before(connection, order_id), own=order_id)
    return _quoted(connection, supply, found.variant_id, ahead=place.index(order_id), short=short)


def keep(
    connection: Connection,
    order_id: int,
    quoted: Quote,
    entry: Entry,
    *,
    why: str = "",
    day: datetime.date | None = None,
) -> None:
    """Promise the quoted day, or another one that is wanted, and keep what it rests on.

    Another day than was promised before needs a reason.
    """
    day = quoted.answer.day if day is None else day
    if day is None:
        raise MoveError(f"order {order_id}", "no day can be held", "plan a batch first")
    orders.promise(connection, order_id, day, entry, why=why)
    promises.keep_basis(
        connection,
        order_id,
        promised_for=day,
        wanted=quoted.rule.chance,
        chance=quoted.chance_on(day),
        case=quoted.case,
        rests_on=[each.what for each in quoted.answer.rests_on],
        entry=entry,
    )


def promise_again(
    books: Books,
    order_id: int,
    *,
    why: str,
    entry: Entry,
    today: datetime.date,
    shown: datetime.date | None = None,
    send_key: str | None = None,
) -> Quote:
    """Promise an order the day that can be held now, with the reason; the earlier one stays.

    Parameters
    ----------
    shown
        The day that whoever confirms it was shown; where it is another by now, it is refused.
    """
    with books.writing() as connection:
        quoted = of_order(connection, order_id, today)
        if not first_time(connection, send_key, f"promise order {order_id}", entry):
            return quoted
        if shown is not None and shown != quoted.answer.day:
            now = "no day" if quoted.answer.day is None else quoted.answer.day.isoformat()
            raise MoveError("day", f"{shown} was shown, it is {now} now", "look again")
        keep(connection, order_id, quoted, entry, why=why)
        return quoted


# ── the board ────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Watched:
    """An order that waits: what was promised, how surely that holds now, what could be today."""

    order: orders.Order
    place: int
    """In its design's sequence, from 1."""
    chance: float | None
    """That the promised day holds; None where none was promised."""
    earliest: datetime.date | None
    """The day that holds now with the wanted chance."""
    outcome: Outcome
    slowest: str | None
    basis: Basis | None
    """What the promise rested on when it was made."""
    case: Mapping[str, Any]
    """Of the worksheet `promise`, as it would be asked today."""


@dataclass(frozen=True, kw_only=True)
class Board:
    """Every promise that still has to be kept, those in danger first."""

    today: datetime.date
    rule: SupplyRule
    watched: tuple[Watched, ...]

    def of(self, *outcomes: Outcome) -> list[Watched]:
        return [each for each in self.watched if each.outcome in outcomes]


URGENCY: Final[Mapping[Outcome, int]] = {"in danger": 0, "doubtful": 1, "no day": 2, "holds": 3}


def board(books: Books, today: datetime.date) -> Board:
    """How surely each promise holds, by what is known today."""
    with books.reading() as connection:
        return watch(connection, today)


def watch(connection: Connection, today: datetime.date) -> Board:
    """As `board`, within a transaction: what is about to be written counts already."""
    rule = promises.get_rule(connection)
    kept = promises.bases(connection)
    booked = _before(connection, None)
    lacking = short_in_turn(connection, booked)
    designs = sorted({each.design_id for each in booked if each.state in WAITS})
    found = [
        watched
        for design_id in designs
        for watched in _watched(supply_of(connection, design_id, today), lacking, rule, kept)
    ]
    found.sort(key=lambda each: (URGENCY[each.outcome], each.order.promised_for or today))
    return Board(today=today, rule=rule, watched=tuple(found))


def _watched(
    supply: Supply,
    lacking: Mapping[int, Sequence[Mapping[str, Any]]],
    rule: SupplyRule,
    kept: Mapping[int, Basis],
) -> Iterator[Watched]:
    case = read(PromiseCase, promise_case(supply, ahead=0, parts_short=[], chance=rule.chance))
    coming = learned(case.batches, case.yield_history, case.today)
    law = arrived(coming)
    for place, order in enumerate(supply.waiting):
        short = lacking[order.id]
        yield _one(order, place, supply, short, coming, law, rule, kept.get(order.id))


def _one(
    order: orders.Order,
    place: int,
    supply: Supply,
    short: Sequence[Mapping[str, Any]],
    coming: Sequence[Coming],
    law: Floats,
    rule: SupplyRule,
    basis: Basis | None,
) -> Watched:
    found = promise(
        ahead=place,
        on_shelf=supply.free,
        coming=coming,
        needed=[
            Needed(
                name=str(each["name"]),
                arrives=triangle(each["least"], each["likely"], each["most"]),
            )
            for each in short
        ],
        wanted=rule.chance,
        law=law,
    )
    chance = None
    if order.promised_for is not None:
        days = (order.promised_for - supply.today).days
        chance = 0.0 if days < 0 else float(found.ready[min(days, len(found.ready) - 1)])
    earliest = None if found.day is None else supply.today + datetime.timedelta(days=found.day)
    return Watched(
        order=order,
        place=place + 1,
        chance=chance,
        earliest=earliest,
        outcome=outcome_of(chance, rule),
        slowest=None if found.day == 0 else found.slowest or "the bell",
        basis=basis,
        case=promise_case(supply, ahead=place, parts_short=short, chance=rule.chance),
    )


def outcome_of(chance: float | None, rule: SupplyRule) -> Outcome:
    """What a promise that holds with this chance is called; None is none."""
    if chance is None:
        return "no day"
    if chance >= rule.chance - 1e-9:
        return "holds"
    return "doubtful" if chance >= DOUBTFUL_BELOW else "in danger"
