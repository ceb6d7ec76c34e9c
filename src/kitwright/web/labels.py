"""Labels: what is to be printed, on which sheet or roll, and the PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, quote, unquote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books.links import get_address, plain_address
from kitwright.books.opening import Books
from kitwright.errors import InputError, MissingError, Problem
from kitwright.paper.label_layout import FIELDS, read_layout
from kitwright.paper.labels import (
    Label,
    bell_label,
    crate_label,
    labels_pdf,
    part_label,
    shelf_labels,
)
from kitwright.shop.labelled import bells_of, bells_of_batch, crate_of, part_of
from kitwright.web.pages import page
from kitwright.web.shop_state import beside, books_of, download

router = APIRouter(include_in_schema=False)

CHOICES: Final = ("bare", "outline")
_KINDS: Final = ("batch", "bell", "crate", "part")
_KEPT: Final = "labels"
"""The cookie that holds how labels were last laid out at this browser."""
_YEAR: Final = 365 * 24 * 3600
_STOCK: Final = ("Stock", "/stock")


@dataclass(frozen=True)
class _Subject:
    """What is to be labelled: said in words, and the page that it belongs to."""

    said: str
    back: tuple[str, str]
    labels: tuple[Label, ...]


@router.get("/labels")
def chosen(request: Request) -> Response:
    """Choose sheet or roll for the labels of a batch, a bell, a crate, a part or shelves."""
    asked = dict(request.query_params)
    kept = dict(parse_qsl(unquote(request.cookies.get(_KEPT, ""))))
    kept = {name: kept[name] for name in (*FIELDS, *CHOICES) if name in kept}
    return _page(request, {"address": _usual_address(books_of(request)), **kept, **asked})


@router.get("/labels.pdf")
def printed(request: Request) -> Response:
    """The labels; where they cannot be printed so, the form comes back as it was filled."""
    asked = dict(request.query_params)
    asked.setdefault("address", _usual_address(books_of(request)))
    problems: list[Problem] = []
    layout, address = None, None
    try:
        layout = read_layout(asked)
    except InputError as error:
        problems.extend(error.problems)
    try:
        if asked["address"].strip():
            address = plain_address(asked["address"], where="address")
    except InputError as error:
        problems.extend(error.problems)
    try:
        subject = _subject(books_of(request), asked, address)
        if layout is not None and not problems:
            bare, outline = (bool(asked.get(name)) for name in CHOICES)
            data = labels_pdf(subject.labels, layout, bare=bare, outline=outline)
            return _sent(data, asked)
    except MissingError:
        raise
    except InputError as error:
        problems.extend(error.problems)
    return _page(request, asked, problems)


def _sent(data: bytes, asked: Mapping[str, str]) -> Response:
    answer = download(data, "application/pdf", "labels.pdf", inline=True)
    kept = {name: asked[name] for name in (*FIELDS, *CHOICES) if asked.get(name)}
    kept.pop("skip", None)
    answer.set_cookie(
        _KEPT, quote(urlencode(kept)), max_age=_YEAR, httponly=True, samesite="strict"
    )
    return answer


def _usual_address(books: Books) -> str:
    with books.reading() as connection:
        return get_address(connection) or ""


def _subject(books: Books, asked: Mapping[str, str], address: str | None) -> _Subject:
    """What the address asks to be labelled: one of `_KINDS`; else what was typed."""
    if asked.get("batch"):
        number = _number(asked["batch"], "batch")
        bells = bells_of_batch(books, number)
        labels = tuple(bell_label(bell, address=address) for bell in bells)
        back = (f"Batch {bells[0].batch}", f"/batches/{number}")
        return _Subject(f"{len(labels)} bells of batch {bells[0].batch}", back, labels)
    if asked.get("bell"):
        (bell,) = bells_of(books, [asked["bell"]])
        back = (f"Bell {bell.serial}", f"/bells/{quote(bell.serial, safe='')}")
        return _Subject(f"bell {bell.serial}", back, (bell_label(bell, address=address),))
    if asked.get("crate"):
        number = _number(asked["crate"], "crate")
        crate = crate_of(books, number)
        back = (f"Crate {crate.label}", f"/stock/crates/{number}")
        return _Subject(f"crate {crate.label}", back, (crate_label(crate),))
    if asked.get("part"):
        number = _number(asked["part"], "part")
        part = part_of(books, number)
        back = (f"Part {part.label}", f"/stock/parts/{number}")
        return _Subject(f"part {part.label}", back, (part_label(part),))
    typed = tuple(shelf_labels(asked.get("shelf", "")))
    return _Subject("shelves and drawers", _STOCK, typed)


def _number(text: str, what: str) -> int:
    if text.isascii() and text.isdigit() and len(text) < 16:
        return int(text)
    raise MissingError(what, f'there is no {what} number "{text[:40]}"')


def _page(request: Request, typed: Mapping[str, str], problems: Sequence[Problem] = ()) -> Response:
    typed = {name: text for name, text in typed.items() if text or name not in FIELDS}
    fixed = next((name for name in _KINDS if typed.get(name)), "")
    subject, refused = _Subject("shelves and drawers", _STOCK, ()), list(problems)
    if fixed:
        try:
            subject = _subject(books_of(request), typed, None)
        except MissingError:
            raise
        except InputError as error:
            refused = list(error.problems)
    fields = {*FIELDS, "address", "shelf"}
    return page(
        request,
        "labels.html",
        current="batches",
        status=422 if refused else 200,
        subject=subject,
        fixed=fixed,
        typed={**FIELDS, **typed},
        told=beside([each for each in refused if each.where in fields]),
        untold=[each for each in refused if each.where not in fields],
    )
