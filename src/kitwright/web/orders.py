"""Orders: the list, one order with what may be done, taking one, a file of them in and out."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Final
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from kitwright.books import orders as kept
from kitwright.books.moves import ORDER
from kitwright.books.shop import parties
from kitwright.days import read_day
from kitwright.errors import InputError, MissingError, Problem
from kitwright.files.tables import read_csv
from kitwright.shop import order_file, order_view, promising, supplying
from kitwright.shop.order_exports import orders_xlsx
from kitwright.shop.orders import take_order
from kitwright.web.batches import XLSX
from kitwright.web.order_said import amount_said, money, quote_said
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    download,
    entry_of,
    lines_of,
    send_key,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_OPTION: Final = "option-"
_FIELDS: Final = ("label", "customer", "new_customer", "variant", "options", "car", "why", "who")
_ACTS: Final = ("promise", "allocate", "free", "ship", "close", "cancel")
_ACT_FIELDS: Final = ("serial", "why", "who")
DONE: Final = {
    "taken": "The order is taken.",
    "promise": "The new day is promised.",
    "allocate": "The bell is allocated.",
    "free": "The bell is free again.",
    "ship": "It is shipped.",
    "close": "It is closed.",
    "cancel": "It is cancelled.",
}


# ── the list ─────────────────────────────────────────────────────────────────────────────


@router.get("/orders")
def listed(
    request: Request, state: str = "", customer: str = "", text: str = "", at: str = ""
) -> Response:
    """Orders, the newest first, a hundred a page: promised when, how surely, with which bell."""
    return _list(request, state=state, customer=customer, text=text, at=at)


def _list(
    request: Request,
    *,
    state: str = "",
    customer: str = "",
    text: str = "",
    at: str = "",
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books, today = books_of(request), today_of(request)
    state = state if state in ORDER.states else ""
    found = order_view.listed(
        books,
        today,
        state=state,
        customer_id=_digits(customer),
        text=text[:200],
        page=_digits(at) or 1,
    )
    with books.reading() as connection:
        customers = [(str(each.id), each.name) for each in parties(connection, "customer")]
    asked = {"state": state, "customer": customer, "text": text}
    return page(
        request,
        "orders.html",
        current="orders",
        status=422 if problems else 200,
        found=found,
        asked=asked,
        address="/orders?" + urlencode({name: value for name, value in asked.items() if value}),
        states=[("", "any"), *((each, each) for each in ORDER.states)],
        customers=[("", "anyone"), *customers],
        day=today,
        money=money,
        typed={"who": who_of(request), **(typed or {})},
        told=beside([each for each in problems if each.where in ("file", "who")]),
        untold=[each for each in problems if each.where not in ("file", "who")],
        problems=problems,
    )


def _digits(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else None


@router.get("/orders/orders.xlsx")
def exported(request: Request) -> Response:
    """Every order as a workbook."""
    today = today_of(request)
    data = orders_xlsx(books_of(request), today=today, created=site_of(request).clock())
    return download(data, XLSX, f"orders-{today.isoformat()}.xlsx")


@router.post("/orders/import")
async def imported(request: Request, sent: Posted) -> Response:
    """Take a file of orders in; on any fault nothing is taken."""
    return await run_in_threadpool(_import, request, sent)


def _import(request: Request, sent: Sent) -> Response:
    try:
        if sent.file is None:
            raise InputError("file", "missing", "choose the file of orders")
        order_file.import_orders(
            books_of(request),
            read_csv(sent.file, name=sent.file_name),
            who=sent.text("who"),
            now=site_of(request).clock(),
            today=today_of(request),
        )
    except InputError as error:
        return _list(request, typed=sent.texts, problems=error.problems)
    return done(request, "/orders", sent.text("who"))


# ── taking one ───────────────────────────────────────────────────────────────────────────


@router.get("/orders/new")
def form(request: Request, variant: str = "", customer: str = "") -> Response:
    """The form of an order."""
    return _form(request, {"variant": variant, "customer": customer})


@router.get("/orders/quote")
def quoted(request: Request, variant: str = "", options: str = "") -> dict[str, object]:
    """What can be promised for a variant with these options, as data; while somebody types."""
    number = _digits(variant)
    if number is None:
        raise MissingError("variant", f'"{variant[:40]}" is no number of a variant')
    numbers = map(_digits, options.split(","))
    wanted = [option for option in numbers if option is not None]
    with books_of(request).reading() as connection:
        found = promising.quote(connection, number, today_of(request))
        return quote_said(connection, found, wanted)


@router.post("/orders/new")
async def taken(request: Request, sent: Posted) -> Response:
    """Take the order; or say what can be promised, where only that is asked."""
    return await run_in_threadpool(_take, request, sent)


def _take(request: Request, sent: Sent) -> Response:
    typed = dict(sent.texts)
    if "ask" in typed:
        missing = [] if sent.text("variant") else [Problem("variant", "missing", "choose one")]
        return _form(request, typed, missing)
    try:
        variant = sent.number("variant")
        problems = []
        if variant is None:
            problems.append(Problem("variant", "missing", "choose one"))
        customer, new = sent.number("customer"), sent.text("new_customer")
        if customer is None and not new:
            problems.append(Problem("customer", "missing", "choose one, or write a new name"))
        if customer is not None and new:
            told = "one is chosen above"
            problems.append(Problem("new_customer", told, "leave it out, or choose none"))
        if not sent.text("who"):
            problems.append(Problem("who", "missing", "say who takes it"))
        if problems or variant is None:
            raise InputError.of(problems)
        made = take_order(
            books_of(request),
            sent.text("label"),
            customer_id=customer,
            new_customer=new,
            variant_id=variant,
            car_id=sent.number("car"),
            option_ids=_options(sent),
            past_gate=sent.text("why"),
            entry=entry_of(request, sent.text("who")),
            today=today_of(request),
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        renamed = {"name": "new_customer", "gate": "why"}
        return _form(request, typed, [_as(each, renamed) for each in error.problems])
    return done(request, f"/orders/{made.order.id}?done=taken", sent.text("who"))


def _as(problem: Problem, names: Mapping[str, str]) -> Problem:
    return Problem(names.get(problem.where, problem.where), problem.given, problem.expected)


def _options(sent: Sent) -> list[int]:
    found = (_digits(name.removeprefix(_OPTION)) for name in sent.texts if name[:7] == _OPTION)
    return [number for number in found if number is not None]


def _form(request: Request, typed: Mapping[str, str], problems: Sequence[Problem] = ()) -> Response:
    books = books_of(request)
    offered = order_view.choices(books)
    number = _digits(typed.get("variant", ""))
    said = None
    if number in {each.id for each, _, _ in offered.variants}:
        assert number is not None
        with books.reading() as connection:
            found = promising.quote(connection, number, today_of(request))
            chosen = _options(Sent(typed))
            mine = {
                option.id
                for each, _, options in offered.variants
                for option in options
                if each.id == number
            }
            said = quote_said(connection, found, [each for each in chosen if each in mine])
    return page(
        request,
        "order-new.html",
        current="orders",
        status=422 if problems else 200,
        customers=[("", "a new one"), *((str(each.id), each.name) for each in offered.customers)],
        variants=[
            ("", "choose one"),
            *((str(each.id), f"{kit}, {each.name}") for each, kit, _ in offered.variants),
        ],
        options=[
            (
                each,
                kit,
                [(f"{_OPTION}{one.id}", f"{one.name}, {amount_said(one.price)}") for one in some],
            )
            for each, kit, some in offered.variants
            if some
        ],
        cars=[("", "none"), *((str(number), name) for number, name in offered.cars)],
        said=said,
        typed={"label": offered.label, "who": who_of(request), **typed},
        told=beside([each for each in problems if each.where in _FIELDS]),
        listed=[(where if where in _FIELDS else "", line) for where, line in lines_of(problems)],
        send_key=typed.get("send_key") or send_key(),
    )


# ── one order ────────────────────────────────────────────────────────────────────────────


@router.get("/orders/{named}")
def shown(request: Request, named: str, done: str = "", short: str = "") -> Response:
    """An order by its number; by its label it leads there."""
    number = _digits(named)
    if number is None or not _is_there(request, number):
        with books_of(request).reading() as connection:
            number = kept.of_label(connection, named).id
        return RedirectResponse(f"/orders/{number}", status_code=303)
    return _order(request, number, said=DONE.get(done, ""), short=short[:300])


def _is_there(request: Request, number: int) -> bool:
    with books_of(request).reading() as connection:
        return bool(kept.these(connection, [number]))


@router.post("/orders/{number}/{act}")
def acted(request: Request, number: int, act: str, sent: Posted) -> Response:
    """Do one of the things that may be done with an order; or the page with what stands
    against it."""
    if act not in _ACTS:
        raise MissingError("page", f'nothing is done to an order by "{act[:40]}"')
    try:
        if not sent.text("who"):
            raise InputError("who", "missing", "say who does it")
        short = _acted(request, number, act, sent)
    except InputError as error:
        return _order(request, number, sent.texts, error.problems, asked=act)
    told = f"&short={quote('; '.join(short))}" if short else ""
    return done(request, f"/orders/{number}?done={act}{told}", sent.text("who"))


def _acted(request: Request, number: int, act: str, sent: Sent) -> list[str]:
    entry = entry_of(request, sent.text("who"))
    key = sent.text("send_key") or None
    if act == "promise":
        promising.promise_again(
            books_of(request),
            number,
            why=sent.text("why"),
            entry=entry,
            today=today_of(request),
            shown=_day_of(sent.text("shown")),
            send_key=key,
        )
        return []
    serial, _, seen = sent.text("serial").rpartition("|")
    return supplying.act_on_order(
        books_of(request),
        number,
        act,
        entry=entry,
        why=sent.text("why"),
        serial=serial,
        seen=_digits(seen),
        send_key=key,
    )


def _day_of(text: str) -> datetime.date | None:
    return read_day(text, where="day", expected="load the page again") if text else None


def _order(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: str = "",
    said: str = "",
    short: str = "",
) -> Response:
    found = order_view.story(books_of(request), number, today_of(request))
    known = {each.where for each in problems if each.where in _ACT_FIELDS}
    form = _forms(asked, {"who": who_of(request), **(typed or {})}, beside(problems))
    return page(
        request,
        "order.html",
        current="orders",
        status=422 if problems else 200,
        found=found,
        money=money,
        said=said,
        short=short,
        day=today_of(request),
        bells=[("", "choose a bell")]
        + [(f"{each.serial}|{each.decisions}", each.serial) for each in found.free],
        asked=asked,
        form=form,
        listed=[
            (f"{asked}-{where}" if where in known else "", line)
            for where, line in lines_of(problems)
        ],
        send_key=send_key,
    )


def _forms(
    asked: str, typed: Mapping[str, str], told: Mapping[str, str]
) -> Callable[[str, str], tuple[str, str]]:
    """`form(act, field)`: what was typed there and what is wrong with it, of the form asked only;
    who it is, of every form."""

    def value(act: str, name: str) -> tuple[str, str]:
        if act == asked:
            return typed.get(name, ""), told.get(name, "")
        return (typed.get("who", ""), "") if name == "who" else ("", "")

    return value
