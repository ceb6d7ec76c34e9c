"""From the shop's page of a fit-up to its fitter: a link of his own, notes, and what is new."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from kitwright.books import fitup_talk, links
from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import links as giving
from kitwright.shop.fitup_course import version_of
from kitwright.web.fitups import fit_up_page
from kitwright.web.shop_state import Posted, books_of, done, entry_of

router = APIRouter(include_in_schema=False)


@router.get("/fit-ups/{number}/version")
def version(request: Request, number: int) -> Response:
    """Another mark whenever something came in; the page asks for it while it is looked at."""
    return JSONResponse({"version": version_of(books_of(request), number)})


@router.post("/fit-ups/{number}/link")
def link(request: Request, number: int, sent: Posted) -> Response:
    """Give the fitter a link to this fit-up."""
    who = sent.text("who")
    try:
        days = sent.number("days")
        giving.give_for_fit_up(
            books_of(request),
            number,
            entry=entry_of(request, who),
            days=giving.FIT_UP_DAYS if days is None else days,
        )
    except InputError as error:
        return fit_up_page(request, number, sent.texts, error.problems, asked="link")
    return done(request, f"/fit-ups/{number}#link", who)


@router.post("/fit-ups/{number}/link/{link_id}/withdraw")
def withdrawn(request: Request, number: int, link_id: int, sent: Posted) -> Response:
    """Withdraw a link to this fit-up; it opens nothing from now on."""
    who = sent.text("who")
    books = books_of(request)
    try:
        with books.reading() as connection:
            own = {each.id for each in links.of_fit_up(connection, number)}
        if link_id not in own:
            raise MissingError("link", f"fit-up {number} has no link number {link_id}")
        giving.withdraw(books, link_id, why=sent.text("link_why"), entry=entry_of(request, who))
    except InputError as error:
        problems = [
            Problem(f"link_{told.where}", told.given, told.expected)
            if told.where == "why"
            else told
            for told in error.problems
        ]
        return fit_up_page(request, number, sent.texts, problems, asked=f"link-{link_id}")
    return done(request, f"/fit-ups/{number}#link", who)


@router.post("/fit-ups/{number}/note")
def note(request: Request, number: int, sent: Posted) -> Response:
    """Write to the fitter; he sees it on his page."""
    who = sent.text("who")
    try:
        with books_of(request).writing() as connection:
            fitup_talk.add_note(
                connection,
                number,
                "shop",
                sent.text("note"),
                send_key=sent.text("send_key"),
                entry=entry_of(request, who),
            )
    except InputError as error:
        return fit_up_page(request, number, sent.texts, error.problems, asked="note")
    return done(request, f"/fit-ups/{number}#fitter", who)
