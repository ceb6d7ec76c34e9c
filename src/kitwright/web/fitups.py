"""Fit-ups: the list, opening one, a fitter's sweep and what he is advised, and how it ended."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from kitwright.books import orders
from kitwright.books.tables.designs import BLOCKS
from kitwright.errors import InputError, Problem
from kitwright.paper.fit_up_sheet import fit_up_sheet_pdf
from kitwright.paper.of_shop import fit_up_sheet_of
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.picture import Picture
from kitwright.shop import dowels_in, fitups
from kitwright.shop.fitup_watch import TURNS, of_turn, version_of_all, watch
from kitwright.shop.links import FIT_UP_DAYS
from kitwright.units import Lead, say_clock
from kitwright.web.fitup_said import said_of
from kitwright.web.fitup_shown import clock, talk_of
from kitwright.web.pages import frame_of, page
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
    who_of,
)
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.fields import Answer
from kitwright.worksheets.showing import assumptions, figures, grids

router = APIRouter(include_in_schema=False)

PLACES: Final = tuple(range(0, 360, 45))
"""Clock angles with a field for a reading; what is left empty was not read."""

ENDS: Final = ("corrected", "succeeded", "failed")
_OPTIONAL: Final = ("limit", "graduation", "repeatability", "sag", "bearing_clearance")
_READING: Final = re.compile(r"readings\[(\d+)\](?:\[\d+\])?")


@router.get("/fit-ups")
def listed(request: Request) -> Response:
    """Every fit-up, newest first, and the shipped orders that could have one."""
    return _list(request)


@router.post("/fit-ups")
def opened(request: Request, sent: Posted) -> Response:
    """Open the fit-up of a shipped order."""
    who = sent.text("who")
    try:
        order_id = sent.number("order")
        if order_id is None:
            raise InputError("order", "missing", "choose the order that is fitted")
        number = fitups.open_for_order(
            books_of(request),
            order_id,
            fitter=sent.text("fitter"),
            block=sent.text("block"),
            entry=entry_of(request, who),
        )
    except InputError as error:
        return _list(request, sent.texts, error.problems)
    return done(request, f"/fit-ups/{number}", who)


@router.get("/fit-ups/version")
def version(request: Request) -> Response:
    """Another mark whenever anything of any fit-up may be new; the open list asks for it."""
    return JSONResponse({"version": version_of_all(books_of(request))})


def _list(
    request: Request,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books = books_of(request)
    marked = version_of_all(books)  # before what it marks, so that it is never too new
    found = watch(books)
    under_way = {each.fit_up.order_id for each in found if each.turn != "ended"}
    fitted = {each.fit_up.order_id for each in found if each.fit_up.state == "succeeded"}
    with books.reading() as connection:
        waiting = [
            each
            for each in orders.orders(connection)
            if each.state in ("shipped", "closed") and each.id not in under_way | fitted
        ]
    return page(
        request,
        "fit-ups.html",
        current="fit-ups",
        status=422 if problems else 200,
        version=marked,
        turns=[(turn, of_turn(found, turn)) for turn in TURNS],
        waiting=waiting,
        blocks=BLOCKS,
        typed={"who": who_of(request), **(typed or {})},
        problems=problems,
        told=beside(problems),
        problems_told=lines_of(problems),
        waiting_options=[(str(each.id), f"order {each.label}") for each in waiting],
        clock=clock,
    )


@router.get("/fit-ups/{number}")
def shown(request: Request, number: int) -> Response:
    """A fit-up: its advice, and the form for the next sweep."""
    return fit_up_page(request, number)


@router.post("/fit-ups/{number}/sweep")
def swept(request: Request, number: int, sent: Posted) -> Response:
    """Take a fitter's sweep in and advise him; on any fault the form comes back as filled."""
    who = sent.text("who")
    try:
        case, places = case_of(sent)
        fitups.receive_sweep(
            books_of(request),
            number,
            case,
            entry=entry_of(request, who),
            drawer=_drawer(sent.text("drawer")),
            hole_clearance=sent.text("hole_clearance") or None,
            send_key=sent.text("send_key") or None,
        )
    except InputError as error:
        problems = [_at_its_place(problem, places_of(sent)) for problem in error.problems]
        return fit_up_page(request, number, sent.texts, problems)
    assert places
    return done(request, f"/fit-ups/{number}", who)


@router.post("/fit-ups/{number}/outcome")
def ended(request: Request, number: int, sent: Posted) -> Response:
    """Write down that the dowels were turned, or how the fit-up ended."""
    who, outcome, why = sent.text("who"), sent.text("outcome"), sent.text("why")
    books, entry_who = books_of(request), who
    try:
        if outcome not in ENDS:
            raise InputError("outcome", "missing", f"choose {', '.join(ENDS)}")
        if outcome == "failed" and not why:
            raise InputError("why", "missing", "say what went wrong")
        entry = entry_of(request, entry_who)
        if outcome == "corrected":
            asked = any(name in sent.texts for name in dowels_in.FIELDS)
            dowels = {name: sent.text(name) for name in dowels_in.FIELDS} if asked else None
            fitups.corrected(books, number, why=why, entry=entry, dowels=dowels)
        else:
            fitups.finish(books, number, succeeded=outcome == "succeeded", why=why, entry=entry)
    except InputError as error:
        return fit_up_page(request, number, sent.texts, error.problems)
    return done(request, f"/fit-ups/{number}", who)


@router.get("/fit-ups/{number}/sheet.pdf")
def sheet(request: Request, number: int) -> Response:
    """The fitter's sheet."""
    data = fit_up_sheet_pdf(fit_up_sheet_of(fitups.view(books_of(request), number)))
    return download(data, "application/pdf", f"fitters-sheet-{number}.pdf", inline=True)


# ── the form ─────────────────────────────────────────────────────────────────────────────


def places_of(sent: Sent) -> list[int]:
    """The clock angles whose fields were filled, in order."""
    return [place for place in PLACES if sent.text(f"reading_{place}")]


def case_of(sent: Sent) -> tuple[dict[str, Any], list[int]]:
    """The case of the worksheet `sweep` in a posted form, and the places that were read.

    Raises
    ------
    InputError
        Readings that are not numbers, a line each.
    """
    places, readings, faults = places_of(sent), [], []
    for place in places:
        typed = sent.text(f"reading_{place}")
        try:
            readings.append([place, _reading(typed)])
        except InputError as error:
            told = error.problems[0]
            faults.append(Problem(f"reading_{place}", told.given, told.expected))
    if faults:
        raise InputError.of(faults)
    case: dict[str, Any] = {
        "surface": "bore",
        "unit": sent.text("unit"),
        "readings": readings,
    }
    for name in _OPTIONAL:
        if sent.text(name):
            case[name] = sent.text(name)
    return case, places


def _reading(typed: str) -> float:
    plain = typed.replace("−", "-")
    if not re.fullmatch(r"[+-]?(\d{1,6}(\.\d{0,6})?|\.\d{1,6})", plain):
        expected = "write a decimal point" if "," in plain else "write a plain number, as −2.5"
        raise InputError("", f'"{typed[:40]}" is not a reading', expected)
    return float(plain)


def _drawer(typed: str) -> Sequence[str]:
    sizes = [size.strip() for size in typed.split(",") if size.strip()]
    return sizes or fitups.DRAWER


def _at_its_place(problem: Problem, places: Sequence[int]) -> Problem:
    """A fault of the worksheet at the field of this form that it speaks of."""
    where = problem.where
    found = _READING.fullmatch(where)
    if found and int(found[1]) < len(places):
        where = f"reading_{places[int(found[1])]}"
    elif where.startswith("sizes"):
        where = "drawer"
    elif where == "readings":
        where = f"reading_{PLACES[0]}"
    return Problem(where, problem.given, problem.expected)


def fit_up_page(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: str = "",
) -> Response:
    """The page of a fit-up; `asked` names the form that comes back as it was filled."""
    lead = frame_of(request).lead
    talk = talk_of(books_of(request), number, site_of(request).clock(), lead)
    found = talk.course.view
    asked = asked or ("outcome" if typed and ("outcome" in typed or "why" in typed) else "sweep")
    given = {
        "who": who_of(request),
        "unit": "thou" if lead == "in" else "mm",
        "drawer": ", ".join(fitups.DRAWER),
        "send_key": send_key(),
        **_as_advised(found.advice),
        **(typed or {}),
    }
    return page(
        request,
        "fit-up.html",
        current="fit-ups",
        status=422 if problems else 200,
        found=found,
        advised=None if found.advice is None else advised(found.advice, lead),
        cautions=tuple(dict.fromkeys((*load("sweep").cautions, *load("dowels").cautions))),
        places=PLACES,
        ends=ENDS,
        typed=given,
        problems=problems,
        told=beside(problems),
        problems_told=[(_id(name, asked), line) for name, line in lines_of(problems)],
        asked=asked,
        say_clock=say_clock,
        talk=talk,
        link_days=FIT_UP_DAYS,
        clock=clock,
    )


def _id(name: str, asked: str) -> str:
    """Where a field of this form stands on the page, which has several with the same name."""
    if name == "who" and asked != "sweep":
        return f"{asked}-who"
    return f"{asked}-why" if name == "link_why" else name


def _as_advised(advice: fitups.Advice | None) -> dict[str, str]:
    if advice is None or advice.dowels_case is None or advice.dowels_answer is None:
        return {}
    return dowels_in.as_advised(advice.dowels_case, advice.dowels_answer)


def advised(advice: fitups.Advice, lead: Lead) -> dict[str, Any]:
    """What the page says and draws of the advice that stands."""
    sweep = load("sweep")
    drawn: list[Picture] = pictures_of("sweep", advice.sweep_case, advice.sweep_answer, lead=lead)
    answers: list[tuple[Worksheet, Answer]] = [(sweep, advice.sweep_answer)]
    if advice.dowels_answer is not None:
        dowels = load("dowels")
        drawn = [
            *pictures_of("dowels", advice.dowels_case, advice.dowels_answer, lead=lead),
            drawn[-1],
        ]
        answers.append((dowels, advice.dowels_answer))
    return {
        "said": said_of(advice, lead),
        "verdict": advice.sweep_answer.verdict,
        "pictures": drawn,
        "answers": [
            {
                "sheet": worksheet,
                "figures": figures(answer, lead=lead),
                "grids": grids(answer, lead=lead),
                "how": answer.how,
                "assumed": assumptions(worksheet.case, answer),
            }
            for worksheet, answer in answers
        ],
    }
