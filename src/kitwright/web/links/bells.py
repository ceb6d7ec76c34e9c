"""What a bell's code leads to from outside: its serial, and whom to ask. Nothing is looked up."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books.entries import LONGEST_WORDS
from kitwright.web.pages import page

router = APIRouter(include_in_schema=False)


@router.get("/bells/{serial}")
def scanned(request: Request, serial: str) -> Response:
    """The same words for every serial, whether a bell bears it or not: serials can be guessed.

    Not found, since nothing but links with a token opens here; the words are for who scanned.
    """
    return page(request, "bell-scanned.html", status=404, serial=serial[:LONGEST_WORDS])
