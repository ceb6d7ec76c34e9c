"""Rates between currencies by day, entered by hand; a wrong one is put right by a new line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

from sqlalchemy import Connection, select

from kitwright.books import rows
from kitwright.books.entries import Entry
from kitwright.books.entries import day as calendar_day
from kitwright.books.tables import currency_rate
from kitwright.errors import InputError
from kitwright.money import check_currency, read_rate


@dataclass(frozen=True, kw_only=True)
class KeptRate:
    """On `day` one `source` was `rate` of `target`, as decimal text."""

    id: int
    source: str
    target: str
    rate: str
    day: date
    happened: datetime
    recorded: datetime
    who: str

    @property
    def exact(self) -> Fraction:
        return Fraction(self.rate)


def add_rate(
    connection: Connection, source: str, target: str, rate: str, day: date, entry: Entry
) -> int:
    """Write down what one `source` was worth on a day; give the line's number.

    Raises
    ------
    InputError
        No currency, one currency twice, no rate, or a day after it is written down.
    """
    check_currency(source, where="source")
    check_currency(target, where="target")
    if source == target:
        raise InputError("target", f"{target} in itself", "name another currency")
    read_rate(rate, where="rate")
    # east of Greenwich a day begins before the day in UTC that its entry is written down in
    if calendar_day(day, where="day") > entry.recorded.date() + timedelta(days=1):
        raise InputError("day", f"{day.isoformat()} is still to come", "give the day it was so")
    return rows.add(
        connection,
        currency_rate,
        source=source,
        target=target,
        rate=rate,
        day=day,
        **entry.line,
    )


def lines(connection: Connection) -> list[KeptRate]:
    """Every line, the newest day first, and of one day the one written down last first."""
    query = select(currency_rate).order_by(currency_rate.c.day.desc(), currency_rate.c.id.desc())
    return rows.read(connection, query, KeptRate)


def newest(connection: Connection, *, by: date) -> list[KeptRate]:
    """The rate that counts on a day, for each pair of currencies that has one."""
    counts: dict[tuple[str, str], KeptRate] = {}
    for line in lines(connection):
        if line.day <= by:
            counts.setdefault((line.source, line.target), line)
    return list(counts.values())
