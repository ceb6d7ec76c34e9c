"""Rules on certified shells: the shop's copies, added, changed and withdrawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import rules
from kitwright.books.tables.rules import DEMANDS
from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import shell_rules
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
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

_FIELDS: Final = (
    "body",
    "use",
    "demands",
    "spec",
    "from_what",
    "from_power_kw",
    "from_speed_rpm",
    "source",
    "copied_on",
    "why",
    "who",
)


@router.get("/rules")
def listed(request: Request) -> Response:
    """Every rule that stands, those withdrawn, and a form for another."""
    return _list(request)


@router.post("/rules")
async def added(request: Request, sent: Posted) -> Response:
    """Copy a rule."""

    def act() -> None:
        shell_rules.add(
            books_of(request),
            sent.texts,
            entry=entry_of(request, sent.text("who")),
            send_key=sent.text("send_key") or None,
        )

    return await run_in_threadpool(_keep, request, sent, act, lambda *told: _list(request, *told))


@router.get("/rules/{number}")
def shown(request: Request, number: int) -> Response:
    """One rule: as it is, how it was, and forms to change and to withdraw it."""
    return _one(request, number)


@router.post("/rules/{number}")
async def changed(request: Request, number: int, sent: Posted) -> Response:
    """Put a new line in its place."""

    def act() -> None:
        shell_rules.change(
            books_of(request),
            number,
            sent.texts,
            entry=entry_of(request, sent.text("who")),
            send_key=sent.text("send_key") or None,
        )

    return await run_in_threadpool(
        _keep, request, sent, act, lambda *told: _one(request, number, *told, asked="change")
    )


@router.post("/rules/{number}/withdraw")
async def withdrawn(request: Request, number: int, sent: Posted) -> Response:
    """Take it out of use."""

    def act() -> None:
        shell_rules.withdraw(
            books_of(request),
            number,
            sent.texts,
            entry=entry_of(request, sent.text("who")),
            send_key=sent.text("send_key") or None,
        )

    return await run_in_threadpool(
        _keep, request, sent, act, lambda *told: _one(request, number, *told, asked="withdraw")
    )


def _keep(
    request: Request,
    sent: Sent,
    act: Callable[[], None],
    again: Callable[[Mapping[str, str], Sequence[Problem]], Response],
) -> Response:
    """Do it and go to the list; or the form as it was filled, with what is to be mended."""
    try:
        act()
    except MissingError:
        raise
    except InputError as error:
        return again(sent.texts, error.problems)
    return done(request, "/rules", sent.text("who"))


def _list(
    request: Request,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    today = today_of(request)
    with books_of(request).reading() as connection:
        found = rules.rules(connection)
    about = [
        (each, shell_rules.limits_said(each), shell_rules.is_old(each, today=today))
        for each in found
    ]
    return page(
        request,
        "rules.html",
        current="rules",
        status=422 if problems else 200,
        standing=[each for each in about if each[0].state == "stands"],
        withdrawn=[each[0] for each in about if each[0].state == "withdrawn"],
        **_form(request, typed or {"copied_on": today.isoformat()}, problems),
    )


def _one(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: str = "",
) -> Response:
    with books_of(request).reading() as connection:
        rule = rules.get_rule(connection, number)
        lines = rules.lines(connection, number)
    return page(
        request,
        "rule.html",
        current="rules",
        status=422 if problems else 200,
        rule=rule,
        limits=shell_rules.limits_said(rule),
        old=shell_rules.is_old(rule, today=today_of(request)),
        lines=[(each, shell_rules.limits_said(each)) for each in lines],
        asked=asked,
        seen=(typed or {}).get("seen", str(rule.number)),
        **_form(request, {**shell_rules.typed_of(rule), **(typed or {})}, problems),
    )


def _form(
    request: Request, typed: Mapping[str, str], problems: Sequence[Problem]
) -> dict[str, object]:
    return {
        "typed": {"who": who_of(request), **typed},
        "told": beside([problem for problem in problems if problem.where in _FIELDS]),
        "listed": [(where if where in _FIELDS else "", line) for where, line in lines_of(problems)],
        "demands": [(word, word) for word in DEMANDS],
        "send_key": send_key(),
    }
