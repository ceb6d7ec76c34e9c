"""Scan to move: what it is, where it is, which moves are allowed now; one tap makes one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import moving, scanning
from kitwright.shop.offers import Item
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    lines_of,
    send_key,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_FIELDS: Final = frozenset({"count", "why", "who", "on", "undo_why", "undo_who"})
"""What a fault can be mended in; the rest is of the thing itself."""


@router.get("/scan")
def scanned(request: Request, what: str = "") -> Response:
    """The thing that was typed or scanned, or an empty field to scan into."""
    if not what.strip():
        return _page(request)
    try:
        found = scanning.named_by(books_of(request), what)
    except InputError as error:
        return _page(request, what=what, lost=error.problems)
    if len(found) > 1:
        return _page(request, what=what, several=found)
    return _page(request, item=moving.look(books_of(request), found[0]))


@router.post("/scan")
def moved(request: Request, sent: Posted) -> Response:
    """Make a move; on any fault the form comes back as it was filled."""
    key = sent.text("move")
    try:
        if not key:
            raise InputError("", "no move was chosen", "tap one of the moves")
        moving.move(
            books_of(request),
            sent.text("page"),
            key,
            count=sent.text("count"),
            why=sent.text("why"),
            seen=sent.number("seen"),
            send_key=sent.text("send_key") or None,
            entry=moving.dated(
                sent.text("on"),
                who=sent.text("who"),
                now=site_of(request).clock(),
                today=today_of(request),
            ),
        )
    except InputError as error:
        return _again(request, sent, error.problems)
    return _back(request, sent)


@router.post("/scan/undo")
def undone(request: Request, sent: Posted) -> Response:
    """Undo the newest movement, for a reason."""
    try:
        moving.undo(
            books_of(request),
            sent.text("page"),
            sent.number("number") or 0,
            why=sent.text("undo_why"),
            send_key=sent.text("send_key") or None,
            entry=moving.dated(
                "",
                who=sent.text("undo_who"),
                now=site_of(request).clock(),
                today=today_of(request),
            ),
        )
    except InputError as error:
        named = {"why": "undo_why", "who": "undo_who"}
        problems = [
            Problem(named.get(each.where, each.where), each.given, each.expected)
            for each in error.problems
        ]
        return _again(request, sent, problems)
    return _back(request, sent)


def _back(request: Request, sent: Sent) -> Response:
    who = sent.text("who") or sent.text("undo_who")
    return done(request, f"/scan?what={quote(sent.text('page'), safe='')}", who)


def _again(request: Request, sent: Sent, problems: Sequence[Problem]) -> Response:
    found = scanning.named_by(books_of(request), sent.text("page"))
    if len(found) != 1:
        raise MissingError("page", "there is nothing to move", "scan it again")
    item = moving.look(books_of(request), found[0])
    return _page(request, item=item, typed=sent.texts, problems=problems)


def _page(
    request: Request,
    *,
    what: str = "",
    item: Item | None = None,
    several: Sequence[scanning.Named] = (),
    lost: Sequence[Problem] = (),
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    who = who_of(request)
    return page(
        request,
        "scan.html",
        current="stock",
        status=(404 if lost else 422 if problems else 200),
        what=what,
        item=item,
        several=several,
        lost=beside(lost).get("what", ""),
        typed={"who": who, "undo_who": who, **(typed or {})},
        send_key=send_key(),
        day=today_of(request),
        told=beside(problems),
        problems_told=[
            (where if where in _FIELDS else "", line) for where, line in lines_of(problems)
        ],
    )
