"""The shop's page of links: who may come in by which, until when; give one, withdraw one."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

import segno
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import fitups, links
from kitwright.books.shop import parties
from kitwright.errors import InputError, Problem
from kitwright.shop import links as giving
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    entry_of,
    site_of,
    who_of,
)

router = APIRouter(include_in_schema=False)


def qr_svg(address: str) -> str:
    """A QR code of an address as SVG text, dark on white with its quiet zone."""
    drawn = io.BytesIO()
    segno.make_qr(address, error="m").save(
        drawn, kind="svg", scale=5, border=4, light="#fff", xmldecl=False, svgns=True
    )
    return drawn.getvalue().decode()


@router.get("/links")
def listed(request: Request) -> Response:
    """Every link, the newest first, and the machinists who could have one."""
    return _page(request)


@router.post("/links")
def given(request: Request, sent: Posted) -> Response:
    """Give a machinist a link."""
    who = sent.text("who")
    try:
        machinist = sent.number("machinist")
        if machinist is None:
            raise InputError("machinist", "missing", "choose whose batches it opens")
        days = sent.number("days")
        giving.give_for_machinist(
            books_of(request),
            machinist,
            entry=entry_of(request, who),
            days=giving.MACHINIST_DAYS if days is None else days,
        )
    except InputError as error:
        return _page(request, sent.texts, error.problems)
    return done(request, "/links", who)


@router.post("/links/{number}/withdraw")
def withdrawn(request: Request, number: int, sent: Posted) -> Response:
    """Withdraw a link; it opens nothing from now on."""
    who = sent.text("who")
    try:
        giving.withdraw(
            books_of(request), number, why=sent.text("why"), entry=entry_of(request, who)
        )
    except InputError as error:
        return _page(request, sent.texts, error.problems, asked=number)
    return done(request, "/links", who)


def _page(
    request: Request,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: int = 0,
) -> Response:
    now = site_of(request).clock()
    with books_of(request).reading() as connection:
        machinists = parties(connection, "machinist")
        names = {each.id: each.name for each in machinists}
        fitted = {each.id: each for each in fitups.fit_ups(connection)}
        found = []
        for link in links.every(connection):
            address = giving.whole_address(connection, link)
            stands = link.stands(now)
            found.append(
                {
                    "link": link,
                    "opens": f"Batches of {names[link.machinist_id]}"
                    if link.machinist_id is not None
                    else f"Fit-up {link.fit_up_id}, bell {fitted[link.fit_up_id or 0].serial}",
                    "state": "stands"
                    if stands
                    else "withdrawn"
                    if link.withdrawn is not None
                    else "expired",
                    "address": address if stands else None,
                    "qr": qr_svg(address) if stands and address else None,
                }
            )
        set_address = links.get_address(connection)
    return page(
        request,
        "links.html",
        current="links",
        status=422 if problems else 200,
        found=found,
        address=set_address,
        machinists=[(str(each.id), each.name) for each in machinists],
        days=giving.MACHINIST_DAYS,
        typed={"who": who_of(request), **(typed or {})},
        told=beside(problems),
        problems=problems,
        asked=asked,
    )
