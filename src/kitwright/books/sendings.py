"""Forms that were sent: each key once, so that a form sent twice is kept once."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import IntegrityError

from kitwright.books.entries import LONGEST_TEXT, Entry, words
from kitwright.books.tables import sending
from kitwright.errors import InputError


def first_time(connection: Connection, send_key: str | None, act: str, entry: Entry) -> bool:
    """Is this the first time that this act is sent? Ask before acting, in the same transaction.

    Of two who send one key at once, the second waits for the first. Without a key every time is
    the first.

    Raises
    ------
    InputError
        The key came with another act before.
    """
    if send_key is None:
        return True
    key = words(send_key, where="send_key")
    act = words(act, where="act", most=LONGEST_TEXT)
    try:
        with connection.begin_nested():
            connection.execute(insert(sending).values(send_key=key, act=act, **entry.line))
    except IntegrityError:
        kept = select(sending.c.act).where(sending.c.send_key == key)
        if connection.execute(kept).scalar_one() != act:
            told = "something else was sent with it"
            raise InputError("send_key", told, "load the page again") from None
        return False
    return True
