"""What kits cost, from the books: the kit-cost form filled, and the rates between currencies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import rates
from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import costing
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    entry_of,
    lines_of,
    send_key,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_FIELDS: Final = ("source", "target", "rate", "day", "who")


class FromKits:
    """One offer for each kit that the shop sells."""

    words = "From the shop's kits"

    def offers(self, request: Request) -> Sequence[tuple[str, str]]:
        return [(str(each.id), each.name) for each in costing.costed(books_of(request))]

    def data(self, request: Request, key: str) -> dict[str, Any]:
        if not (key.isascii() and key.isdigit()):
            raise MissingError("kit", f'"{key[:40]}" is no number of a kit')
        return costing.case_of(books_of(request), int(key), today=today_of(request))


@router.get("/rates")
def listed(request: Request) -> Response:
    """Every rate that was entered, and a form for another."""
    return _rates(request)


@router.post("/rates")
async def added(request: Request, sent: Posted) -> Response:
    """Keep a rate."""
    return await run_in_threadpool(_keep, request, sent)


def _keep(request: Request, sent: Sent) -> Response:
    try:
        entry = entry_of(request, sent.text("who"))
        key = sent.text("send_key") or None
        costing.add_rate(books_of(request), sent.texts, entry=entry, send_key=key)
    except InputError as error:
        return _rates(request, sent.texts, error.problems)
    return done(request, "/rates", sent.text("who"))


def _rates(
    request: Request,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    today = today_of(request)
    with books_of(request).reading() as connection:
        kept = rates.lines(connection)
        counting = {each.id for each in rates.newest(connection, by=today)}
    return page(
        request,
        "rates.html",
        current="kits",
        status=422 if problems else 200,
        kept=[(each, each.id in counting, (today - each.day).days) for each in kept],
        typed={"who": who_of(request), "day": today.isoformat(), **(typed or {})},
        told=beside([problem for problem in problems if problem.where in _FIELDS]),
        listed=[(where if where in _FIELDS else "", line) for where, line in lines_of(problems)],
        send_key=send_key(),
    )
