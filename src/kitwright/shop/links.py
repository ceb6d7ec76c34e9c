"""Give a fitter or a machinist his link, find the one that stands, and say its whole address."""

from __future__ import annotations

import datetime
from typing import Final

from sqlalchemy import Connection

from kitwright.books import links
from kitwright.books.entries import Entry, whole
from kitwright.books.links import Link
from kitwright.books.opening import Books

FIT_UP_DAYS: Final = 60
MACHINIST_DAYS: Final = 365
_MOST_DAYS: Final = 3650


def give_for_fit_up(books: Books, fit_up_id: int, *, entry: Entry, days: int = FIT_UP_DAYS) -> Link:
    """A new link to one fit-up, for so many days."""
    with books.writing() as connection:
        return links.open_for_fit_up(
            connection, fit_up_id, expires=_until(entry, days), entry=entry
        )


def give_for_machinist(
    books: Books, machinist_id: int, *, entry: Entry, days: int = MACHINIST_DAYS
) -> Link:
    """A new link to one machinist's batches, for so many days."""
    with books.writing() as connection:
        return links.open_for_machinist(
            connection, machinist_id, expires=_until(entry, days), entry=entry
        )


def _until(entry: Entry, days: int) -> datetime.datetime:
    least = min(whole(days, where="days", least=1), _MOST_DAYS)
    return entry.recorded + datetime.timedelta(days=least)


def withdraw(books: Books, link_id: int, *, why: str, entry: Entry) -> None:
    """From now on this link opens nothing."""
    with books.writing() as connection:
        links.withdraw(connection, link_id, entry, why=why)


def standing_for_fit_up(
    connection: Connection, fit_up_id: int, now: datetime.datetime
) -> Link | None:
    """The newest link that opens this fit-up now."""
    every = links.of_fit_up(connection, fit_up_id)
    return next((each for each in every if each.stands(now)), None)


def whole_address(connection: Connection, link: Link) -> str | None:
    """What a phone opens; None where the shop has set no address for links yet."""
    address = links.get_address(connection)
    return None if address is None else f"{address}{link.path}"
