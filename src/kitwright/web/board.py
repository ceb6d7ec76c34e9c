"""The promise board: what is in danger, what holds, what comes this week; and the supply rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import promises
from kitwright.books.promises import SupplyRule
from kitwright.books.sendings import first_time
from kitwright.errors import InputError, Problem
from kitwright.shop import week
from kitwright.shop.order_exports import board_xlsx
from kitwright.web.batches import XLSX
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    download,
    entry_of,
    lines_of,
    send_key,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_FIELDS: Final = ("chance", "service", "who")


@router.get("/board")
def shown(request: Request) -> Response:
    """Every promise still to keep, those in danger first, and the week ahead."""
    return _page(request)


@router.get("/board/board.xlsx")
def exported(request: Request) -> Response:
    """The same as a workbook."""
    today = today_of(request)
    data = board_xlsx(week.look(books_of(request), today), created=site_of(request).clock())
    return download(data, XLSX, f"board-{today.isoformat()}.xlsx")


@router.post("/board/rule")
def ruled(request: Request, sent: Posted) -> Response:
    """Say how surely promises must hold from now on."""
    try:
        faults = [] if sent.text("who") else [Problem("who", "missing", "say who decides")]
        given = {}
        for name in ("chance", "service"):
            try:
                given[name] = _share(sent.text(name), name)
            except InputError as error:
                faults += error.problems
        if faults:
            raise InputError.of(faults)
        entry = entry_of(request, sent.text("who"))
        with books_of(request).writing() as connection:
            if first_time(connection, sent.text("send_key") or None, "supply rule", entry):
                promises.set_rule(connection, SupplyRule(**given), entry)
    except InputError as error:
        return _page(request, sent.texts, error.problems)
    return done(request, "/board#rule", sent.text("who"))


def _share(text: str, name: str) -> float:
    """A share as it was typed: "90 %", "90" or "0.9"."""
    plain = text.removesuffix("%").strip()
    try:
        value = float(plain)
    except ValueError:
        given = f'"{text[:40]}" is not a share' if text else "missing"
        raise InputError(name, given, 'write it as "90 %"') from None
    value = value / 100 if text.endswith("%") or value > 1 else value
    if not 0 < value < 1:
        raise InputError(name, f'"{text[:40]}" is out of range', "give more than 0 %, under 100 %")
    return value


def _page(
    request: Request,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    found = week.look(books_of(request), today_of(request))
    rule = found.board.rule
    kept = {"chance": f"{100 * rule.chance:.4g} %", "service": f"{100 * rule.service:.4g} %"}
    return page(
        request,
        "board.html",
        current="board",
        status=422 if problems else 200,
        found=found,
        counts=week.counts(found.board),
        day=today_of(request),
        typed={"who": who_of(request), **kept, **(typed or {})},
        told=beside(problems),
        listed=[(where if where in _FIELDS else "", line) for where, line in lines_of(problems)],
        send_key=send_key(),
    )
