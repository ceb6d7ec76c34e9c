"""A bell's page: its whole life, what was measured, its certificate, and what may be decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books.links import get_address
from kitwright.errors import InputError, Problem
from kitwright.paper.certificate import certificate_pdf
from kitwright.paper.of_shop import certificate_of
from kitwright.shop import bells
from kitwright.shop.drawings import bore_of_bell
from kitwright.shop.judging import limits_in_words, rule_in_words
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    download,
    entry_of,
    lines_of,
    shower,
    who_of,
)

router = APIRouter(include_in_schema=False)

CHOICES: Final = {
    "hold": "hold: wait for a second look",
    "reject": "reject: it may not be sold",
    "concede": "concede: sell it although it is not plainly within",
    "rework": "rework: it goes back to be machined",
    "scrap": "scrap: for good",
    "withdraw": "withdraw: it may not be used, whoever holds it",
    "return": "return: it came back from the customer",
}


@router.get("/bells/{serial}")
def shown(request: Request, serial: str) -> Response:
    """A bell's whole life."""
    return _page(request, serial)


@router.post("/bells/{serial}")
def decided(request: Request, serial: str, sent: Posted) -> Response:
    """Decide on a bell; on any fault the form comes back as it was filled."""
    who = sent.text("who")
    try:
        bells.decide(
            books_of(request),
            serial,
            sent.text("kind"),
            why=sent.text("why"),
            seen=sent.number("seen"),
            entry=entry_of(request, who),
        )
    except InputError as error:
        bells.view(books_of(request), serial)  # a serial of no bell is a page that is not there
        return _page(request, serial, sent.texts, error.problems)
    here = f"/bells/{quote(serial, safe='')}"
    return done(
        request, f"{here}/recall" if sent.text("kind") == "withdraw" else f"{here}#route", who
    )


@router.get("/bells/{serial}/certificate.pdf")
def certificate(request: Request, serial: str) -> Response:
    """The bell's certificate of measurement."""
    books = books_of(request)
    with books.reading() as connection:
        address = get_address(connection)
    data = certificate_pdf(certificate_of(bells.view(books, serial), address=address))
    return download(data, "application/pdf", f"certificate-{serial}.pdf", inline=True)


def _page(
    request: Request,
    serial: str,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    found = bells.view(books_of(request), serial)
    lead = frame_of(request).lead
    return page(
        request,
        "bell.html",
        current="batches",
        status=422 if problems else 200,
        found=found,
        picture=bore_of_bell(found, lead=lead),
        limits=[
            limits_in_words(one.about, lead=lead) for one in found.measured or found.before_rework
        ],
        rule=rule_in_words(found.shop),
        allowed=bool(bells.allowed(found.standing)),
        typed={"who": who_of(request), **(typed or {})},
        problems=problems,
        told=beside(problems),
        problems_told=lines_of(problems),
        choices=[(kind, CHOICES[kind]) for kind in bells.allowed(found.standing)],
        show=shower(lead),
    )
