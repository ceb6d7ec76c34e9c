"""What the shop does with crates and batches: receive, plan, send, move, take back, decide."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import designs, stock
from kitwright.books.shop import get_shop, parties
from kitwright.days import read_day
from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import handing_in, supplying
from kitwright.shop.moving import dated, whole_number
from kitwright.web.pages import page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    entry_of,
    lines_of,
    send_key,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_FROM: Final = "from-"
_DECIDED: Final = (
    ("release", "would be released"),
    ("hold", "would be held"),
    ("reject", "would be rejected"),
)


# ── crates in, batches planned: on the list's page ───────────────────────────────────────


@router.get("/batches/crate")
def crate_form(request: Request) -> Response:
    """The form of a crate that came in."""
    return _crate(request)


@router.post("/batches/crate")
async def received(request: Request, sent: Posted) -> Response:
    """Take a crate in."""
    return await run_in_threadpool(_receive, request, sent)


def _receive(request: Request, sent: Sent) -> Response:
    try:
        with books_of(request).reading() as connection:
            currency = get_shop(connection).currency
        given = _each(
            {
                "who": lambda: _who(sent),
                "design": lambda: _chosen(sent, "design"),
                "supplier": lambda: _chosen(sent, "supplier"),
                "count": lambda: whole_number(sent.text("count")),
                "cost": lambda: supplying.amount(sent.text("cost"), currency),
            }
        )
        entry = dated(
            sent.text("on"),
            who=given["who"],
            now=site_of(request).clock(),
            today=today_of(request),
        )
        supplying.receive_crate(
            books_of(request),
            sent.text("label"),
            design_id=given["design"],
            supplier_id=given["supplier"],
            count=given["count"],
            cost=given["cost"],
            entry=entry,
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        return _crate(request, sent.texts, error.problems)
    return done(request, "/batches#crates", sent.text("who"))


@router.get("/batches/plan")
def plan_form(request: Request) -> Response:
    """The form of a batch that is planned."""
    return _plan(request)


@router.post("/batches/plan")
async def planned(request: Request, sent: Posted) -> Response:
    """Plan a batch."""
    return await run_in_threadpool(_do_plan, request, sent)


def _do_plan(request: Request, sent: Sent) -> Response:
    try:
        given = _each(
            {
                "who": lambda: _who(sent),
                "design": lambda: _chosen(sent, "design"),
                "machinist": lambda: _chosen(sent, "machinist"),
                "count": lambda: whole_number(sent.text("count")),
                "due": lambda: read_day(sent.text("due"), where="due"),
            }
        )
        number = supplying.plan_batch(
            books_of(request),
            sent.text("label"),
            design_id=given["design"],
            machinist_id=given["machinist"],
            count=given["count"],
            due=given["due"],
            entry=entry_of(request, given["who"]),
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        return _plan(request, sent.texts, error.problems)
    there = "/batches" if number is None else f"/batches/{number}"
    return done(request, there, sent.text("who"))


def _crate(
    request: Request, typed: Mapping[str, str] | None = None, problems: Sequence[Problem] = ()
) -> Response:
    with books_of(request).reading() as connection:
        about = {
            "designs": _names(designs.designs(connection)),
            "suppliers": _names(parties(connection, "supplier")),
            "currency": get_shop(connection).currency,
        }
        label = supplying.next_crate_label(connection)
    fields = ("label", "design", "supplier", "count", "cost", "on", "who")
    start = {"label": label, "on": today_of(request).isoformat()}
    return _page(request, "crate-new.html", start, fields, typed, problems, **about)


def _plan(
    request: Request, typed: Mapping[str, str] | None = None, problems: Sequence[Problem] = ()
) -> Response:
    with books_of(request).reading() as connection:
        about = {
            "designs": _names(designs.designs(connection)),
            "machinists": _names(parties(connection, "machinist")),
        }
        label = supplying.next_batch_label(connection)
    fields = ("label", "design", "machinist", "count", "due", "who")
    return _page(request, "batch-new.html", {"label": label}, fields, typed, problems, **about)


# ── one batch ────────────────────────────────────────────────────────────────────────────


@router.get("/batches/{number}/send")
def send_form(request: Request, number: int) -> Response:
    """The form that sends a planned batch: its castings and their serials."""
    return _send(request, number)


@router.post("/batches/{number}/send")
async def sent_away(request: Request, number: int, sent: Posted) -> Response:
    """Send it; or propose the serials from the first one."""
    return await run_in_threadpool(_do_send, request, number, sent)


def _do_send(request: Request, number: int, sent: Sent) -> Response:
    with books_of(request).reading() as connection:
        count = stock.get_batch(connection, number).count
    try:
        if "propose" in sent.texts:
            row = supplying.serials_from(sent.text("first"), count)
            return _send(request, number, {**sent.texts, "serials": "\n".join(row)}, proposed=True)
        given = _each(
            {
                "who": lambda: _who(sent),
                "serials": lambda: (
                    sent.text("serials").split()
                    or supplying.serials_from(sent.text("first"), count)
                ),
                "from": lambda: {
                    int(name.removeprefix(_FROM)): whole_number(text, where="from", least=0)
                    for name, text in sent.texts.items()
                    if name.startswith(_FROM) and name[5:].isdigit() and text.strip()
                },
            }
        )
        supplying.send_batch(
            books_of(request),
            number,
            given["from"],
            given["serials"],
            entry=entry_of(request, given["who"]),
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        return _send(request, number, sent.texts, error.problems)
    return done(request, f"/batches/{number}", sent.text("who"))


def _send(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    proposed: bool = False,
) -> Response:
    with books_of(request).reading() as connection:
        batch = stock.get_batch(connection, number)
        found = supplying.to_send(connection, batch)
    start = {"first": found.first}
    start |= {f"{_FROM}{crate}": str(count) for crate, count in found.from_each.items()}
    fields = ("first", "serials", "from", "who")
    return _page(
        request, "batch-send.html", start, fields, typed, problems,
        batch=batch, crates=found.crates, proposed=proposed,
    )  # fmt: skip


@router.get("/batches/{number}/due")
def due_form(request: Request, number: int) -> Response:
    """The form that moves the day on which a batch is due."""
    return _due(request, number)


@router.post("/batches/{number}/due")
async def moved(request: Request, number: int, sent: Posted) -> Response:
    """Show which promises a new day touches; move it, once that was seen."""
    return await run_in_threadpool(_move, request, number, sent)


def _move(request: Request, number: int, sent: Sent) -> Response:
    books = books_of(request)
    try:
        given = _each(
            {"who": lambda: _who(sent), "due": lambda: read_day(sent.text("due"), where="due")}
        )
        entry = entry_of(request, given["who"])
        if "look" in sent.texts:
            shifts = supplying.look_at_move(
                books, number, given["due"], entry=entry, today=today_of(request)
            )
            return _due(request, number, sent.texts, shifts=shifts)
        supplying.move_due(
            books,
            number,
            given["due"],
            why=sent.text("why"),
            entry=entry,
            seen=read_day(sent.text("seen"), where="due") if sent.text("seen") else None,
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        return _due(request, number, sent.texts, error.problems)
    return done(request, f"/batches/{number}", sent.text("who"))


def _due(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    shifts: Sequence[supplying.Shift] | None = None,
) -> Response:
    with books_of(request).reading() as connection:
        batch = stock.get_batch(connection, number)
    start = {"due": batch.due.isoformat(), "seen": batch.due.isoformat()}
    return _page(
        request, "batch-due.html", start, ("due", "why", "who"), typed, problems,
        batch=batch, shifts=shifts,
    )  # fmt: skip


@router.post("/batches/{number}/back")
async def taken_back(request: Request, number: int, sent: Posted) -> Response:
    """Take a sent batch back."""

    def act() -> None:
        entry = entry_of(request, _who(sent))
        key = sent.text("send_key") or None
        supplying.take_back(books_of(request), number, entry=entry, send_key=key)

    return await run_in_threadpool(_acted, request, number, sent, "back", act)


@router.post("/batches/{number}/decide")
async def decided(request: Request, number: int, sent: Posted) -> Response:
    """Decide on what the machinist handed in."""

    def act() -> None:
        handing_in.decide_handed_in(books_of(request), number, entry=entry_of(request, _who(sent)))

    return await run_in_threadpool(_acted, request, number, sent, "decide", act)


@router.get("/batches/{number}/back")
def back_form(request: Request, number: int) -> Response:
    """The form that takes a sent batch back."""
    return _act(request, number, "back")


@router.get("/batches/{number}/decide")
def decide_form(request: Request, number: int) -> Response:
    """What was handed in, and how each bell would be decided."""
    return _act(request, number, "decide")


def _acted(
    request: Request, number: int, sent: Sent, kind: str, act: Callable[[], None]
) -> Response:
    try:
        act()
    except InputError as error:
        if isinstance(error, MissingError):
            raise
        return _act(request, number, kind, sent.texts, error.problems)
    return done(request, f"/batches/{number}#bells", sent.text("who"))


def _act(
    request: Request,
    number: int,
    kind: str,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books = books_of(request)
    waiting = None
    with books.reading() as connection:
        batch = stock.get_batch(connection, number)
        if kind == "decide":
            waiting = handing_in.handed_in(connection, number)
    return _page(
        request, "batch-act.html", {}, ("who",), typed, problems,
        batch=batch,
        kind=kind,
        waiting=waiting,
        decisions=[]
        if waiting is None
        else [f"{waiting.counts[kind]} {word}" for kind, word in _DECIDED if waiting.counts[kind]],
    )  # fmt: skip


# ── what the forms share ─────────────────────────────────────────────────────────────────


def _page(
    request: Request,
    template: str,
    start: Mapping[str, str],
    fields: Sequence[str],
    typed: Mapping[str, str] | None,
    problems: Sequence[Problem],
    **about: Any,
) -> Response:
    return page(
        request,
        template,
        current="batches",
        status=422 if problems else 200,
        typed={"who": who_of(request), **start, **(typed or {})},
        told=beside([each for each in problems if each.where in fields]),
        listed=[(where if where in fields else "", line) for where, line in lines_of(problems)],
        send_key=send_key(),
        day=today_of(request),
        **about,
    )


def _each(asked: Mapping[str, Callable[[], Any]]) -> dict[str, Any]:
    """Every field read; the faults of all together."""
    given, faults = {}, list[Problem]()
    for name, read in asked.items():
        try:
            given[name] = read()
        except InputError as error:
            faults += error.problems
    if faults:
        raise InputError.of(faults)
    return given


def _who(sent: Sent) -> str:
    if not sent.text("who"):
        raise InputError("who", "missing", "say who does it")
    return sent.text("who")


def _chosen(sent: Sent, name: str) -> int:
    number = sent.number(name)
    if number is None:
        raise InputError(name, "missing", "choose one")
    return number


def _names(found: Sequence[Any]) -> list[tuple[str, str]]:
    return [("", "choose one"), *((str(each.id), each.name) for each in found)]
