"""A quote in words: the day and its chance, what it rests on, the price, the gate."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from kitwright.books.entries import Money
from kitwright.shop.orders import price_of
from kitwright.shop.promising import Quote
from kitwright.worksheets.showing import say_chance


def money(amount: Money) -> str:
    """An amount as pages write it, with its currency's decimals.

    >>> money(Money(329500, "USD"))
    '3\u202f295.00 USD'
    """
    return f"{amount.amount:,f}".replace(",", "\u202f") + f" {amount.currency}"


def amount_said(amount: Money) -> str:
    """What an option adds; nothing is said as such."""
    return money(amount) if amount.minor else "no charge"


def quote_said(
    connection: Connection, found: Quote, option_ids: Sequence[int]
) -> dict[str, object]:
    """What a page shows of a quote, and a script puts into it; text only."""
    answer = found.answer
    return {
        "day": None if answer.day is None else answer.day.isoformat(),
        "chance": answer.chance,
        "say": say(found),
        "rests_on": [each.what for each in answer.rests_on],
        "price": money(price_of(connection, found.variant_id, option_ids)),
        "gate": gate_said(found),
        "shut": found.gate_shut,
        "worksheet": f"/worksheets/promise?books={found.variant_id}#case",
    }


def say(found: Quote) -> str:
    """The day that can be promised, and how surely it holds."""
    answer = found.answer
    if answer.day is None or answer.chance is None:
        return (
            f"No day holds with {100 * found.rule.chance:.4g}\u00a0%: the order stays open until "
            "a batch is planned."
        )
    chance = say_chance(answer.chance).replace(" %", "\u00a0%")
    return f"{answer.day.isoformat()}, which holds with {chance}."


def gate_said(found: Quote) -> str:
    """Whether a bell alone may be sold today; empty where the variant is a whole kit."""
    gate = found.gate
    if gate is None:
        return ""
    held = f"{gate.reserve} {'bell is' if gate.reserve == 1 else 'bells are'} held back for kits"
    if gate.loose_today:
        count = gate.loose_today
        return f"A bell alone: {count} may be sold loose today; {held}."
    opens = (
        f"it may open for good on {gate.opens_on.isoformat()}"
        if gate.opens_on is not None
        else "no batch under way opens it"
    )
    return f"A bell alone: none may be sold loose today; {held}, {opens}."
