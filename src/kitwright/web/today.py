"""The first page: what needs a decision, and what stands where."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from kitwright.shop.bells import find
from kitwright.shop.promising import board
from kitwright.shop.today import look
from kitwright.shop.week import counts
from kitwright.web.pages import page
from kitwright.web.shop_state import books_of, today_of

router = APIRouter(include_in_schema=False)


@router.get("/")
def today(request: Request) -> Response:
    """What waits today, and the stock of every design."""
    day = today_of(request)
    return page(
        request,
        "today.html",
        current="today",
        day=day,
        found=look(books_of(request), today=day),
        promised=counts(board(books_of(request), day)),
    )


@router.get("/find")
def found(request: Request, serial: str = "") -> Response:
    """The page of the bell that someone typed the serial of."""
    return RedirectResponse(
        f"/bells/{quote(find(books_of(request), serial), safe='')}", status_code=303
    )
