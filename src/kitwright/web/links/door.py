"""Who holds a link that stands comes in; everyone else is told to ask the shop."""

from __future__ import annotations

from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request

from kitwright.books import links
from kitwright.books.entries import said
from kitwright.books.links import Link
from kitwright.errors import MissingError
from kitwright.web.shop_state import site_of

_ASK: Final = "ask the shop for a new one"


def opened(request: Request, token: str, opens: str) -> Link:
    """The link of this token, which opens a thing of the kind `opens` ("fit-up", "machinist").

    Raises
    ------
    MissingError
        There never was such a link.
    HTTPException
        It has expired or was withdrawn: 410.
    """
    site = site_of(request)
    with site.books.reading() as connection:
        found = links.by_token(connection, token)
    if found is None or found.opens != opens:
        raise MissingError("link", "this link opens nothing", f"see that it is whole, or {_ASK}")
    if found.withdrawn is not None:
        raise HTTPException(410, f"this link was withdrawn by the shop; {_ASK}")
    if not found.stands(site.clock()):
        raise HTTPException(410, f"this link expired on {said(found.expires)}; {_ASK}")
    return found
