"""A choose-bell case from the shop's books: a conversion's designs, and the rules that stand."""

from __future__ import annotations

import datetime
import re
from typing import Any, Final

from sqlalchemy import Connection

from kitwright.books import conversions, designs, orders, rules, stock
from kitwright.books.conversions import Conversion
from kitwright.books.designs import Design
from kitwright.books.opening import Books
from kitwright.errors import MissingError
from kitwright.shop.orders import free_bells

_OPENING: Final = re.compile(
    r"(?P<width>\d+(?:\.\d+)?)\s*(?:by|x|×)\s*(?P<height>\d+(?:\.\d+)?)\s*(?P<unit>mm|in)\b"
)


def offered(books: Books) -> list[Conversion]:
    """The conversions that a bell is designed for, by name."""
    with books.reading() as connection:
        with_bell = {each.conversion_id for each in designs.designs(connection)}
        return [each for each in conversions.conversions(connection) if each.id in with_bell]


def case_of(books: Books, conversion_id: int, *, today: datetime.date) -> dict[str, Any]:
    """What the books know of a case: bells and rules; use, days and wishes are the customer's.

    Raises
    ------
    MissingError
        No such conversion, or no bell is designed for it.
    """
    with books.reading() as connection:
        conversions.get_conversion(connection, conversion_id)
        found = designs.designs(connection, conversion_id)
        if not found:
            raise MissingError("conversion", "no bell is designed for it", "choose another")
        return {
            "day_of_use": today.isoformat(),
            "rules": [_rule(each) for each in rules.rules(connection, standing=True)],
            "designs": [_design(connection, each, today) for each in found],
        }


def _rule(rule: rules.Rule) -> dict[str, Any]:
    told = {
        "body": rule.body,
        "use": rule.use,
        "demands": rule.demands,
        "spec": rule.spec,
        "from_what": rule.from_what,
        "from_power_kw": rule.from_power_kw,
        "from_speed_rpm": rule.from_speed_rpm,
        "source": rule.source,
        "copied_on": rule.copied_on.isoformat(),
    }
    return {name: value for name, value in told.items() if value is not None}


def _design(connection: Connection, design: Design, today: datetime.date) -> dict[str, Any]:
    ships, ships_on = ships_when(connection, design.id, today=today)
    opening = _OPENING.search(design.opening)
    last = design.certificate_expires
    told = {
        "name": design.name,
        "material": design.material,
        "mass_kg": design.mass_kg,
        "price": {"amount": f"{design.price.amount:f}", "currency": design.price.currency},
        "certified": design.certificate is not None,
        "certificate": design.certificate,
        "certificate_last_day": None if last is None else last.isoformat(),
        "opening_width": opening and f"{opening['width']} {opening['unit']}",
        "opening_height": opening and f"{opening['height']} {opening['unit']}",
        "ships": ships,
        "ships_on": None if ships_on is None else ships_on.isoformat(),
    }
    return {name: value for name, value in told.items() if value is not None}


def ships_when(
    connection: Connection, design_id: int, *, today: datetime.date
) -> tuple[bool, datetime.date | None]:
    """Whether a bell could be had by an order taken now, and when; None where no day is known.

    Orders that wait are served first, from the shelf and then from batches by their day; an
    overdue batch promises no day.
    """
    waiting = sum(
        each.state in ("open", "promised") and each.design_id == design_id
        for each in orders.orders(connection)
    )
    ahead = waiting - len(free_bells(connection, design_id))
    if ahead < 0:
        return True, today
    own = {revision.id for revision in designs.revisions(connection, design_id)}
    coming = [
        batch
        for batch in stock.batches(connection)
        if batch.revision_id in own and batch.state in ("planned", "sent")
    ]
    for batch in sorted(coming, key=lambda each: (each.due, each.id)):
        if ahead < batch.count:
            return True, batch.due if batch.due >= today else None
        ahead -= batch.count
    return False, None
