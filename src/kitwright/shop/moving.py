"""Moves that a person makes with a thing in hand: which are allowed now, making one, undoing it."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from typing import Final

from sqlalchemy import Connection

from kitwright.books import sendings
from kitwright.books.entries import Entry, reason, whole
from kitwright.books.opening import Books
from kitwright.days import read_day
from kitwright.errors import InputError, MissingError, MoveError
from kitwright.shop import moving_bells, moving_crates, moving_parts
from kitwright.shop.offers import Item, Offer
from kitwright.shop.scanning import Named, find

_LOOK: Final[dict[str, Callable[[Connection, int], Item]]] = {
    "bell": moving_bells.look,
    "crate": moving_crates.look,
    "part": moving_parts.look,
}
_MOVE: Final[dict[str, Callable[..., None]]] = {
    "bell": moving_bells.move,
    "crate": moving_crates.move,
    "part": moving_parts.move,
}
_UNDO: Final[dict[str, Callable[..., None]]] = {
    "bell": moving_bells.undo,
    "crate": moving_crates.undo,
    "part": moving_parts.undo,
}

_WHOLE: Final = re.compile(r"[+-]?[0-9]{1,18}")


def look(books: Books, named: Named) -> Item:
    """What it is, where it is, and which moves are allowed now."""
    with books.reading() as connection:
        return _LOOK[named.kind](connection, named.id)


def move(
    books: Books,
    page: str,
    key: str,
    *,
    count: str = "",
    why: str = "",
    seen: int | None = None,
    send_key: str | None = None,
    entry: Entry,
) -> None:
    """Make one of the moves that are allowed now.

    Parameters
    ----------
    page
        The thing's own address.
    key
        The offer's.
    count
        As it was typed, for moves by count.
    seen
        The item's `seen` as it was shown: what has been moved or decided on since is refused.
    send_key
        A move that was sent before is kept once.

    Raises
    ------
    MissingError, InputError, MoveError
        No such thing; a count that is none, no reason; the move is not allowed, or not any more.
    """
    with books.writing() as connection:
        item = _item(connection, page)
        act = f"{item.named} {key} {count.strip()}"
        if not sendings.first_time(connection, send_key, act, entry):
            return
        if seen is not None and seen != item.seen:
            raise MoveError(str(item.named), f"comes second, {item.since}", "look again")
        offer = next((each for each in item.offers if each.key == key), None)
        if offer is None:
            may = "; ".join(each.words for each in item.offers) or "nothing may be moved"
            raise MoveError(str(item.named), f'"{key[:40]}" is not allowed now', may)
        _MOVE[item.named.kind](
            connection, item, offer, _number(offer, count), why.strip() or None, entry
        )


def undo(
    books: Books, page: str, number: int, *, why: str, send_key: str | None = None, entry: Entry
) -> None:
    """Undo the newest movement by its opposite, for a reason.

    Raises
    ------
    MissingError, InputError, MoveError
        No such thing; no reason; the movement is not the newest any more, or has no opposite.
    """
    with books.writing() as connection:
        item = _item(connection, page)
        act = f"{item.named} undo {number}"
        if not sendings.first_time(connection, send_key, act, entry):
            return
        if item.last is None or not item.last.undoable or item.last.number != number:
            raise MoveError(
                str(item.named), f"movement {number} cannot be undone", "only the newest can, once"
            )
        why = reason(why, where="why", needed_by="undoing")
        _UNDO[item.named.kind](connection, item, f"undone: {why}", entry)


def _item(connection: Connection, page: str) -> Item:
    found = find(connection, page)
    if len(found) != 1:
        raise MissingError("what", f'there is nothing at "{page[:60]}"', "scan it again")
    return _LOOK[found[0].kind](connection, found[0].id)


def _number(offer: Offer, typed: str) -> int:
    if offer.least is None:
        return 1
    return whole_number(typed, least=offer.least)


def whole_number(typed: str, *, where: str = "count", least: int = 1) -> int:
    """A count as someone typed it.

    >>> whole_number(" 12 ")
    12
    >>> whole_number("2.5")
    Traceback (most recent call last):
    kitwright.errors.InputError: count: "2.5" is not a whole number; give 1 or more
    """
    plain = typed.strip().replace("−", "-")
    if not plain:
        raise InputError(where, "missing", "say how many")
    if not _WHOLE.fullmatch(plain):
        raise InputError(where, f'"{plain[:40]}" is not a whole number', f"give {least} or more")
    return whole(int(plain), where=where, least=least)


def dated(
    typed: str, *, who: str, now: datetime.datetime, today: datetime.date, where: str = "on"
) -> Entry:
    """An entry for what happened on the day that was typed, at noon; now, where none was.

    Raises
    ------
    InputError
        It is no day, or lies ahead.
    """
    if not typed.strip():
        return Entry(who=who, recorded=now)
    on = past_day(typed, today=today, where=where)
    noon = datetime.datetime.combine(on, datetime.time(12), datetime.UTC)
    return Entry(who=who, recorded=now, happened=min(noon, now))


def past_day(typed: str, *, today: datetime.date, where: str = "on") -> datetime.date:
    """A day as it was typed, today or before."""
    on = read_day(typed, where=where, expected=f"write it as {today.isoformat()}")
    if on > today:
        raise InputError(where, f"{on.isoformat()} lies ahead", f"give {today} or a day before")
    return on
