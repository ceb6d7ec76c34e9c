"""Links: an unguessable token that opens one fit-up, or one machinist's batches, for a while."""

from __future__ import annotations

import re
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from urllib.parse import urlsplit

from sqlalchemy import ColumnElement, Connection, insert, select

from kitwright.books import bulk, fitups, rows
from kitwright.books.entries import Entry, moment, reason, said
from kitwright.books.shop import get_party
from kitwright.books.tables import link, link_address, link_withdrawal
from kitwright.errors import InputError, MissingError, MoveError

_BYTES: Final = 24
_HOST: Final = re.compile(r"[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?|\[[0-9a-f:]+\]")


@dataclass(frozen=True, kw_only=True)
class Link:
    """A link: what it opens, until when, and why it was withdrawn, if it was."""

    id: int
    token: str
    opens: str
    fit_up_id: int | None
    machinist_id: int | None
    expires: datetime
    happened: datetime
    recorded: datetime
    who: str
    withdrawn: datetime | None
    withdrawn_why: str | None
    withdrawn_who: str | None = None

    def stands(self, now: datetime) -> bool:
        """Does it open anything now?"""
        return self.withdrawn is None and now < self.expires

    @property
    def path(self) -> str:
        """Where it leads, below the address of the links."""
        return f"/{'f' if self.opens == 'fit-up' else 'm'}/{self.token}"


# ── the address that outsiders reach ─────────────────────────────────────────────────────


def set_address(connection: Connection, address: str, entry: Entry) -> str:
    """Write down under which address outsiders reach the links; give it as it is kept.

    Raises
    ------
    InputError
        It is no address of the form http://host:port.
    """
    kept = plain_address(address)
    if kept != get_address(connection):
        connection.execute(insert(link_address).values(address=kept, **entry.line))
    return kept


def get_address(connection: Connection) -> str | None:
    """The address that was set last, without a slash at its end; None before the first."""
    query = select(link_address.c.address).order_by(link_address.c.id.desc()).limit(1)
    return connection.execute(query).scalar_one_or_none()


def plain_address(address: str, *, where: str = "links") -> str:
    """An address with its scheme, host and port, and nothing behind; an error names `where`.

    >>> plain_address("HTTP://Garage.test:8711/")
    'http://garage.test:8711'
    """
    expected = 'write it as "http://192.0.2.7:8711" or "https://kits.example"'
    try:
        parts = urlsplit(address.strip())
        port = parts.port
    except ValueError:
        raise InputError(where, f'"{address[:80]}" is not an address', expected) from None
    host = parts.netloc.rpartition("@")[2].lower()
    name = host.rpartition(":")[0] if port is not None else host
    if (
        parts.scheme not in ("http", "https")
        or "@" in parts.netloc
        or not _HOST.fullmatch(name)
        or port == 0
        or parts.path not in ("", "/")
        or parts.query
        or parts.fragment
    ):
        raise InputError(where, f'"{address[:80]}" is not an address', expected)
    return f"{parts.scheme}://{host}"


# ── making and withdrawing ───────────────────────────────────────────────────────────────


def open_for_fit_up(
    connection: Connection, fit_up_id: int, *, expires: datetime, entry: Entry
) -> Link:
    """A new link to one fit-up."""
    fitups.get_fit_up(connection, fit_up_id)
    return _open(connection, "fit-up", fit_up_id, expires, entry)


def open_for_machinist(
    connection: Connection, machinist_id: int, *, expires: datetime, entry: Entry
) -> Link:
    """A new link to one machinist's batches."""
    get_party(connection, machinist_id, "machinist")
    return _open(connection, "machinist", machinist_id, expires, entry)


def _open(
    connection: Connection, opens: str, opened_id: int, expires: datetime, entry: Entry
) -> Link:
    until = moment(expires, where="expires")
    if until <= entry.recorded:
        raise InputError("expires", f"{said(until)} is past", "give a later time")
    number = rows.add(
        connection,
        link,
        token=secrets.token_urlsafe(_BYTES),
        opens=opens,
        fit_up_id=opened_id if opens == "fit-up" else None,
        machinist_id=opened_id if opens == "machinist" else None,
        expires=until,
        **entry.line,
    )
    return _links(connection, link.c.id == number)[0]


def withdraw(connection: Connection, link_id: int, entry: Entry, *, why: str) -> None:
    """From now on this link opens nothing.

    Raises
    ------
    MissingError, InputError, MoveError
        No such link; no reason; it is withdrawn already.
    """
    found = _links(connection, link.c.id == rows.key_of(link_id))
    if not found:
        raise MissingError("link", f"there is no link number {link_id}")
    why = reason(why, where="why", needed_by="withdrawing a link")
    if found[0].withdrawn is not None:
        raise MoveError("link", f"it was withdrawn {said(found[0].withdrawn)}")
    rows.add(connection, link_withdrawal, link_id=link_id, why=why, **entry.line)


# ── reading ──────────────────────────────────────────────────────────────────────────────


def by_token(connection: Connection, token: str) -> Link | None:
    """The link of this token, standing or not; None where there never was one."""
    found = _links(connection, link.c.token == rows.text_of(token))
    return found[0] if found else None


def of_fit_up(connection: Connection, fit_up_id: int) -> list[Link]:
    """Every link to a fit-up, the newest first."""
    return _links(connection, link.c.fit_up_id == rows.key_of(fit_up_id))


def of_fit_ups(connection: Connection, fit_up_ids: Sequence[int]) -> dict[int, list[Link]]:
    """Fit-up → every link to it, the newest first; asks once, however many there are."""
    found: dict[int, list[Link]] = {each: [] for each in fit_up_ids}
    for each in _links(connection, bulk.among(connection, link.c.fit_up_id, fit_up_ids)):
        assert each.fit_up_id is not None
        found[each.fit_up_id].append(each)
    return found


def of_machinist(connection: Connection, machinist_id: int) -> list[Link]:
    """Every link to a machinist's batches, the newest first."""
    return _links(connection, link.c.machinist_id == rows.key_of(machinist_id))


def every(connection: Connection) -> list[Link]:
    """Every link that was ever given, the newest first."""
    return _links(connection)


def _links(connection: Connection, *conditions: ColumnElement[bool]) -> list[Link]:
    query: Any = (
        select(
            link,
            link_withdrawal.c.happened.label("withdrawn"),
            link_withdrawal.c.why.label("withdrawn_why"),
            link_withdrawal.c.who.label("withdrawn_who"),
        )
        .outerjoin(link_withdrawal, link_withdrawal.c.link_id == link.c.id)
        .where(*conditions)
        .order_by(link.c.id.desc())
    )
    return rows.read(connection, query, Link)
