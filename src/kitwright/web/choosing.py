"""The choose-bell form filled from the shop's own designs and rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from starlette.requests import Request

from kitwright.errors import MissingError
from kitwright.shop import choosing
from kitwright.web.shop_state import books_of, today_of


class FromDesigns:
    """One offer for each conversion that a bell is designed for."""

    words = "From the shop's designs"

    def offers(self, request: Request) -> Sequence[tuple[str, str]]:
        return [(str(each.id), each.name) for each in choosing.offered(books_of(request))]

    def data(self, request: Request, key: str) -> dict[str, Any]:
        if not (key.isascii() and key.isdigit()):
            raise MissingError("conversion", f'"{key[:40]}" is no number of a conversion')
        return choosing.case_of(books_of(request), int(key), today=today_of(request))
