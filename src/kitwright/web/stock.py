"""The stock: parts, bells and castings on a day; one part or crate with its movements."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any, Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import parts
from kitwright.books.shop import parties
from kitwright.errors import InputError, Problem
from kitwright.shop import moving, scanning, stock
from kitwright.shop.exports import stock_xlsx
from kitwright.shop.moving import past_day, whole_number
from kitwright.web.batches import XLSX
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    download,
    lines_of,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_DAYS: Final = ("least_days", "likely_days", "most_days")


@router.get("/stock")
def shown(request: Request, at: str = "") -> Response:
    """What is where, today or at the end of an earlier day."""
    try:
        day = past_day(at, today=today_of(request), where="at") if at.strip() else None
    except InputError as error:
        return _stock(request, None, at, error.problems)
    return _stock(request, day, at)


@router.get("/stock/stock.xlsx")
def exported(request: Request, at: str = "") -> Response:
    """The same as a workbook."""
    today = today_of(request)
    day = past_day(at, today=today, where="at") if at.strip() else None
    found = stock.view(books_of(request), today=today, at=day)
    data = stock_xlsx(found, created=site_of(request).clock())
    return download(data, XLSX, f"stock-{found.day.isoformat()}.xlsx")


@router.post("/stock/parts")
def added(request: Request, sent: Posted) -> Response:
    """Begin to keep a part by count."""
    try:
        given = _part(sent)
        with books_of(request).writing() as connection:
            number = parts.add_part(connection, given.pop("label"), given.pop("name"), **given)
    except InputError as error:
        return _stock(request, None, "", typed=sent.texts, asked=error.problems)
    return done(request, f"/stock/parts/{number}", who_of(request))


@router.get("/stock/parts/{number}")
def one_part(request: Request, number: int) -> Response:
    """A part: how many are where, its movements, and what is known of it."""
    return _part_page(request, number)


@router.post("/stock/parts/{number}")
def changed(request: Request, number: int, sent: Posted) -> Response:
    """Write anew what a part is called and where it comes from."""
    try:
        given = _part(sent)
        with books_of(request).writing() as connection:
            parts.change_part(connection, number, **given)
    except InputError as error:
        return _part_page(request, number, sent.texts, error.problems)
    return done(request, f"/stock/parts/{number}", who_of(request))


@router.get("/stock/crates/{number}")
def one_crate(request: Request, number: int) -> Response:
    """A crate: how many of its castings are where, and their movements."""
    books = books_of(request)
    item = moving.look(books, scanning.Named(kind="crate", id=number, name=""))
    return page(
        request,
        "stock-crate.html",
        current="stock",
        item=item,
        moved=stock.movements_of_castings(books, number),
    )


# ── the pages ────────────────────────────────────────────────────────────────────────────


def _stock(
    request: Request,
    day: datetime.date | None,
    at: str,
    problems: Sequence[Problem] = (),
    typed: Mapping[str, str] | None = None,
    asked: Sequence[Problem] = (),
) -> Response:
    books, today = books_of(request), today_of(request)
    return page(
        request,
        "stock.html",
        current="stock",
        status=422 if problems or asked else 200,
        found=stock.view(books, today=today, at=day),
        today=today,
        at=at,
        told={**beside(problems), **beside(asked)},
        problems_told=lines_of(asked),
        typed=dict(typed or {}),
        suppliers=_suppliers(request),
    )


def _part_page(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books = books_of(request)
    with books.reading() as connection:
        kept = parts.get_part(connection, number)
        bills = parts.bills_with(connection, number)
    item = moving.look(books, scanning.Named(kind="part", id=number, name=kept.label))
    days = {name: getattr(kept, name) for name in _DAYS}
    return page(
        request,
        "stock-part.html",
        current="stock",
        status=422 if problems else 200,
        kept=kept,
        item=item,
        line=stock.line_of(books, number),
        bills=bills,
        moved=stock.movements_of_part(books, number),
        typed={
            "label": kept.label,
            "name": kept.name,
            "supplier": str(kept.supplier_id or ""),
            "reorder": kept.reorder or "",
            **{name: "" if value is None else str(value) for name, value in days.items()},
            **(typed or {}),
        },
        told=beside(problems),
        problems_told=lines_of(problems),
        suppliers=_suppliers(request),
    )


def _suppliers(request: Request) -> list[tuple[str, str]]:
    with books_of(request).reading() as connection:
        found = parties(connection, "supplier")
    return [("", "none"), *((str(each.id), each.name) for each in found)]


def _part(sent: Sent) -> dict[str, Any]:
    """What the form says of a part.

    Raises
    ------
    InputError
        Days that are no whole numbers, or some of the three without the others.
    """
    days = {name: sent.text(name) for name in _DAYS}
    lead_time = None
    if any(days.values()):
        if missing := [name for name in _DAYS if not days[name]]:
            raise InputError.of(
                Problem(name, "missing", "give all three, or none") for name in missing
            )
        given = {name: whole_number(text, where=name, least=0) for name, text in days.items()}
        try:
            lead_time = parts.LeadTime(**given)
        except InputError as error:
            told = error.problems[0]
            raise InputError("least_days", told.given, told.expected) from None
    return {
        "label": sent.text("label"),
        "name": sent.text("name"),
        "supplier_id": sent.number("supplier"),
        "lead_time": lead_time,
        "reorder": sent.text("reorder"),
    }
