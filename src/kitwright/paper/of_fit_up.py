"""The papers of a fit-up as the shop's books have it, with the link that stands as their code."""

from __future__ import annotations

import datetime

from kitwright.books.links import Link, get_address
from kitwright.books.opening import Books
from kitwright.paper.fit_up_blank import fit_up_blank_pdf
from kitwright.paper.kit_slip import code_of, kit_slip_pdf
from kitwright.paper.typesetting import Paper
from kitwright.pictures.palette import PRINT
from kitwright.shop.drawings import bolts_of_conversion
from kitwright.shop.fitups import view
from kitwright.shop.links import standing_for_fit_up


def blank_of(books: Books, number: int, *, now: datetime.datetime, paper: Paper = "a4") -> bytes:
    """The whole fit-up to fill in by hand, as a PDF."""
    found = view(books, number)
    link, address = _door(books, number, now)
    return fit_up_blank_pdf(
        found,
        date=now.astimezone().date(),
        code=code_of(found, link=link, address=address),
        bolts=bolts_of_conversion(books, found.conversion.id, palette=PRINT),
        paper=paper,
    )


def slip_of(books: Books, number: int, *, now: datetime.datetime, paper: Paper = "a4") -> bytes:
    """The slip that goes with the kit, as a PDF."""
    found = view(books, number)
    link, address = _door(books, number, now)
    return kit_slip_pdf(
        found, date=now.astimezone().date(), link=link, address=address, paper=paper
    )


def _door(books: Books, number: int, now: datetime.datetime) -> tuple[Link | None, str | None]:
    with books.reading() as connection:
        return standing_for_fit_up(connection, number, now), get_address(connection)
