"""What the shop's pages share: the books behind them, who is at the browser, what time it is."""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote, unquote

from fastapi import Depends
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, Shown, show_length

WHO: Final = "who"
"""The cookie and the field that say who is at the browser."""

_YEAR: Final = 365 * 24 * 3600
_MOST_FIELDS: Final = 200


@dataclass(frozen=True, kw_only=True)
class Site:
    """The shop behind the pages."""

    name: str
    books: Books
    clock: Callable[[], datetime.datetime]


def site_of(request: Request) -> Site:
    """The shop that answers this request."""
    site = request.app.state.shop
    assert isinstance(site, Site)
    return site


def books_of(request: Request) -> Books:
    """The books of the shop that answers this request."""
    return site_of(request).books


def today_of(request: Request) -> datetime.date:
    """Today where the shop's machine stands."""
    return site_of(request).clock().astimezone().date()


def who_of(request: Request) -> str:
    """Who last typed a name at this browser; empty before that."""
    return unquote(request.cookies.get(WHO, ""))


def entry_of(request: Request, who: str) -> Entry:
    """An entry by `who`, now."""
    return Entry(who=who, recorded=site_of(request).clock())


@dataclass(frozen=True)
class Sent:
    """A posted form: its texts as typed, and its file where one came along."""

    texts: Mapping[str, str]
    file_name: str = ""
    file: bytes | None = None

    def text(self, name: str) -> str:
        return self.texts.get(name, "").strip()

    def number(self, name: str) -> int | None:
        """A whole number that the page itself put into the form."""
        text = self.text(name)
        if not text:
            return None
        try:
            return int(text)
        except ValueError:
            raise InputError(
                name, f'"{text[:40]}" is not a whole number', "load the page again"
            ) from None


async def _sent(request: Request) -> Sent:
    try:
        async with request.form(max_files=1, max_fields=_MOST_FIELDS) as form:
            return await _read(form)
    except HTTPException as error:
        if error.status_code != 400:
            raise
        raise InputError("form", f"cannot be read: {error.detail}", "load the page again") from None


async def _read(form: FormData) -> Sent:
    texts: dict[str, str] = {}
    name, data = "", None
    for key, value in form.multi_items():
        if isinstance(value, UploadFile):
            if value.filename:
                name, data = value.filename, await value.read()
        else:
            texts[key] = value
    return Sent(texts, name, data)


Posted = Annotated[Sent, Depends(_sent)]


def done(request: Request, address: str, who: str) -> Response:
    """Go on to a page after something was kept; the browser remembers who did it."""
    answer = RedirectResponse(address, status_code=303)
    answer.set_cookie(WHO, quote(who), max_age=_YEAR, httponly=True, samesite="strict")
    return answer


def send_key() -> str:
    """A key that a form sends once only, so that sending it twice keeps it once."""
    return secrets.token_urlsafe(18)


def beside(problems: Sequence[Problem]) -> dict[str, str]:
    """Field → what is wrong with it, for the messages beside a form's fields."""
    told: dict[str, str] = {}
    for problem in problems:
        line = f"{problem.given}; {problem.expected}" if problem.expected else problem.given
        told[problem.where] = f"{told[problem.where]} {line}" if problem.where in told else line
    return told


def lines_of(problems: Sequence[Problem]) -> list[tuple[str, str]]:
    """The faults of a form, each with the field that it belongs to, for the head of the form."""
    return [(problem.where, str(problem)) for problem in problems]


def shower(lead: Lead) -> Callable[..., Shown]:
    """`show(mm)` and `show(mm, u95_mm)` for templates: a length in both units."""

    def show(mm: float, u95_mm: float | None = None) -> Shown:
        return show_length(mm, lead=lead, uncertainty_mm=u95_mm)

    return show


def download(data: bytes, kind: str, name: str, *, inline: bool = False) -> Response:
    """A file to keep, or to look at."""
    way = "inline" if inline else "attachment"
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "-" for c in name)
    return Response(
        data, media_type=kind, headers={"Content-Disposition": f'{way}; filename="{safe}"'}
    )
