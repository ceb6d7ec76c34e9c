"""The forms of the supply worksheets filled from the books."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from starlette.requests import Request

from kitwright.books.opening import Books
from kitwright.errors import MissingError
from kitwright.shop import supply_cases
from kitwright.shop.order_view import case_of_order
from kitwright.web.shop_state import books_of, today_of
from kitwright.web.worksheets import Filler

_ORDER: Final = "order-"


class FromVariants:
    """What can be promised: one offer for each variant; an order that waits by its number."""

    words = "From the shop's orders and batches"

    def offers(self, request: Request) -> Sequence[tuple[str, str]]:
        return _said(supply_cases.variants_offered(books_of(request)))

    def data(self, request: Request, key: str) -> dict[str, Any]:
        books, today = books_of(request), today_of(request)
        if key.startswith(_ORDER):
            number = _number(key.removeprefix(_ORDER), "order")
            return case_of_order(books, number, today)
        return supply_cases.promise_of_variant(books, _number(key, "variant"), today=today)


class FromSupply:
    """One offer for each bell that is drawn."""

    def __init__(self, case: Callable[[Books, int, datetime.date], dict[str, Any]]) -> None:
        self.words = "From the shop's bells, orders and batches"
        self._case = case

    def offers(self, request: Request) -> Sequence[tuple[str, str]]:
        return _said(supply_cases.designs_offered(books_of(request)))

    def data(self, request: Request, key: str) -> dict[str, Any]:
        return self._case(books_of(request), _number(key, "design"), today_of(request))


def _number(key: str, what: str) -> int:
    if not (key.isascii() and key.isdigit()):
        raise MissingError(what, f'"{key[:40]}" is no number of {what}s')
    return int(key)


def _said(offers: Sequence[tuple[int, str]]) -> Sequence[tuple[str, str]]:
    return [(str(number), words) for number, words in offers]


FILLERS: Final[Mapping[str, Filler]] = {
    "promise": FromVariants(),
    "hold-back": FromSupply(supply_cases.hold_back_of),
    "year": FromSupply(supply_cases.year_of),
}
"""A worksheet's name and what fills its case."""
