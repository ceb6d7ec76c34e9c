"""What the shop's own kits cost: a kit-cost case from the books, and rates as they are typed."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection

from kitwright.books import designs, kits, rates
from kitwright.books.entries import Entry, Money
from kitwright.books.kits import Kit, Option, Part, Variant
from kitwright.books.opening import Books
from kitwright.books.sendings import first_time
from kitwright.books.shop import get_shop
from kitwright.days import read_day
from kitwright.errors import MissingError


def costed(books: Books) -> list[Kit]:
    """Every kit that has a variant to work out."""
    with books.reading() as connection:
        return [kit for kit in kits.kits(connection) if kits.variants(connection, kit.id)]


def case_of(books: Books, kit_id: int, *, today: datetime.date) -> dict[str, Any]:
    """The kit-cost case of one kit: its variants, bills and options, each bell at its design's
    price, and the rates that count today.

    Raises
    ------
    MissingError
        There is no such kit, or it has no variant.
    """
    with books.reading() as connection:
        variants = kits.variants(connection, kit_id)
        if not variants:
            raise MissingError("kit", f"there is no kit number {kit_id} with a variant")
        bills = {each.id: kits.bill(connection, each.id) for each in variants}
        names = _part_names({line.id: line for bill in bills.values() for line in bill}.values())
        shared = [line for line in bills[variants[0].id] if line.variant_id is None]
        bells = {
            each.design_id: designs.get_design(connection, each.design_id) for each in variants
        }
        case: dict[str, Any] = {
            "currency": get_shop(connection).currency,
            "on": today.isoformat(),
            "rates": [
                {"from": each.source, "to": each.target, "rate": each.rate,
                 "date": each.day.isoformat()}
                for each in rates.newest(connection, by=today)
            ],
            "shared": [_use(names, line) for line in shared],
            "variants": [
                {
                    "name": each.name,
                    "bell": bells[each.design_id].name,
                    "price": _money(each.price),
                    "parts": [
                        _use(names, line) for line in bills[each.id] if line.variant_id is not None
                    ],
                }
                for each in variants
            ],
            "bells": [
                {"name": each.name, "price": _money(each.price)} for each in bells.values()
            ],
            "parts": [
                {"name": name, "price": _money(cost)}
                for name, cost in {
                    names[line.id]: line.cost for bill in bills.values() for line in bill
                }.items()
            ],
            "options": list(_options(connection, variants)),
        }  # fmt: skip
    return {name: value for name, value in case.items() if value != []}


def _part_names(lines: Iterable[Part]) -> dict[int, str]:
    """What each line of the bills is called: by its part, and by its cost where two differ."""
    costs: dict[str, set[Money]] = {}
    listed = list(lines)
    for line in listed:
        costs.setdefault(line.name, set()).add(line.cost)
    return {
        line.id: line.name if len(costs[line.name]) == 1 else f"{line.name}, {_said(line.cost)}"
        for line in listed
    }


def _use(names: Mapping[int, str], line: Part) -> dict[str, Any]:
    return {"part": names[line.id], "count": line.count}


def _options(connection: Connection, variants: list[Variant]) -> Iterable[dict[str, Any]]:
    """Each option once; by its variant too where it has another price there."""
    found: list[tuple[Variant, Option]] = [
        (each, option) for each in variants for option in kits.options(connection, each.id)
    ]
    prices: dict[str, set[Money]] = {}
    for _, option in found:
        prices.setdefault(option.name, set()).add(option.price)
    once: dict[str, Money] = {}
    for variant, option in found:
        alike = len(prices[option.name]) == 1
        once[option.name if alike else f"{option.name}, {variant.name}"] = option.price
    for name, price in once.items():
        yield {"name": name, "price": _money(price)}


def _money(amount: Money) -> dict[str, str]:
    return {"amount": f"{amount.amount:f}", "currency": amount.currency}


def _said(amount: Money) -> str:
    return f"{amount.amount:f} {amount.currency}"


# ── rates ────────────────────────────────────────────────────────────────────────────────


def add_rate(books: Books, typed: Mapping[str, str], *, entry: Entry, send_key: str | None) -> None:
    """Keep a rate as it was typed; the same sending twice keeps it once."""
    source, target = (typed.get(name, "").strip().upper() for name in ("source", "target"))
    rate, day = typed.get("rate", "").strip(), read_day(typed.get("day", ""), where="day")
    with books.writing() as connection:
        if first_time(connection, send_key, f"rate of {source} in {target}", entry):
            rates.add_rate(connection, source, target, rate, day, entry)
