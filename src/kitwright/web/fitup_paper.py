"""A fit-up on paper: the sheets to fill in, the slip of the kit, and typing in what comes back."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any, Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books.entries import one_of
from kitwright.days import read_day
from kitwright.errors import InputError, MissingError, Problem
from kitwright.paper.of_fit_up import blank_of, slip_of
from kitwright.paper.typesetting import Paper
from kitwright.shop import dowels_in
from kitwright.shop.fitting import GRADUATIONS, NOTE, UNDOES, Item
from kitwright.shop.fitup_course import WORDS, Course, course_of
from kitwright.shop.fitup_fields import UNITS
from kitwright.shop.fitup_stages import BY_NAME, STAGES, Stage
from kitwright.shop.fitup_typing import next_stage, offered, type_in
from kitwright.units import say_clock
from kitwright.web.fitup_shown import SHAPES
from kitwright.web.fitup_written import written
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import (
    Posted,
    Sent,
    beside,
    books_of,
    done,
    download,
    lines_of,
    send_key,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

PLACES: Final = (*range(0, 360, 45), 360)
"""Clock angles with a field for a reading; the last is 12 o'clock again."""

_PAPERS: Final[tuple[Paper, ...]] = ("a4", "us-letter")
_NOON: Final = datetime.time(12)
_WITH_LENGTHS: Final = ("fine", "length", "lengths")


# ── on paper ─────────────────────────────────────────────────────────────────────────────


@router.get("/fit-ups/{number}/blank.pdf")
def blank(request: Request, number: int, paper: str = "a4") -> Response:
    """Every stage to fill in by hand."""
    now = site_of(request).clock()
    data = blank_of(books_of(request), number, now=now, paper=_paper(paper))
    return download(data, "application/pdf", f"fit-up-{number}-by-hand.pdf", inline=True)


@router.get("/fit-ups/{number}/slip.pdf")
def slip(request: Request, number: int, paper: str = "a4") -> Response:
    """The slip that goes with the kit."""
    now = site_of(request).clock()
    data = slip_of(books_of(request), number, now=now, paper=_paper(paper))
    return download(data, "application/pdf", f"kit-slip-{number}.pdf", inline=True)


def _paper(given: str) -> Paper:
    one_of(given, _PAPERS, where="paper")
    return "us-letter" if given == "us-letter" else "a4"


# ── typing it in ─────────────────────────────────────────────────────────────────────────


@router.get("/fit-ups/{number}/paper")
def first(request: Request, number: int) -> Response:
    """The stage that comes next, and the list of all."""
    course = course_of(books_of(request), number)
    return _page(request, course, next_stage(course))


@router.get("/fit-ups/{number}/paper/{name}")
def stage(request: Request, number: int, name: str) -> Response:
    """One stage: what stands there, or its form."""
    return _page(request, course_of(books_of(request), number), _stage(name))


@router.post("/fit-ups/{number}/paper/{name}")
def typed_in(request: Request, number: int, name: str, sent: Posted) -> Response:
    """Keep a stage, or a note, as the fitter wrote it; on a fault the form comes back."""
    chosen = None if name == NOTE else _stage(name)
    who = sent.text("who")
    try:
        values = {"said": sent.text("said")} if chosen is None else values_of(chosen, sent)
        item = Item(send_key=sent.text("send_key"), stage=name, values=values)
        _take(request, number, item, who, _noon(sent.text("day")))
    except InputError as error:
        course = course_of(books_of(request), number)
        problems = [_at_its_field(problem, chosen) for problem in error.problems]
        return _page(request, course, chosen or next_stage(course), sent, problems, asked=name)
    return done(request, f"/fit-ups/{number}/paper", who)


@router.post("/fit-ups/{number}/paper/{name}/back")
def taken_back(request: Request, number: int, name: str, sent: Posted) -> Response:
    """Take back what stands at a stage, so that it can be typed in anew."""
    chosen, who = _stage(name), sent.text("who")
    try:
        item = Item(
            send_key=sent.text("send_key"), stage=name, values={UNDOES: sent.text("record")}
        )
        now = site_of(request).clock().astimezone()
        _take(request, number, item, who, now)
    except InputError as error:
        course = course_of(books_of(request), number)
        return _page(request, course, chosen, sent, error.problems, asked="back")
    return done(request, f"/fit-ups/{number}/paper/{name}", who)


def _take(request: Request, number: int, item: Item, who: str, day: datetime.datetime) -> None:
    type_in(books_of(request), number, item, who=who, day=day, now=site_of(request).clock())


def _stage(name: str) -> Stage:
    if name not in BY_NAME:
        raise MissingError("stage", f'there is no stage "{name[:40]}"', "choose one of the list")
    return BY_NAME[name]


def _noon(typed: str) -> datetime.datetime:
    """Noon of the day that was typed, where the shop's machine stands."""
    day = read_day(typed, where="day", expected="give a date, as 2026-03-01")
    return datetime.datetime.combine(day, _NOON).astimezone()


# ── the form ─────────────────────────────────────────────────────────────────────────────


def values_of(chosen: Stage, sent: Sent) -> dict[str, Any]:
    """A posted form as the fitter's page would send the same stage."""
    values: dict[str, Any] = {"unit": sent.text("unit")}
    if chosen.works == "dowels":
        return values | {name: sent.text(name) for name in dowels_in.FIELDS}
    if chosen.works == "sweep":
        values["graduation"] = sent.text("graduation").partition(" ")[0]
        values["readings"] = [
            [place, sent.text(f"reading_{place}")]
            for place in PLACES
            if sent.text(f"reading_{place}")
        ]
    for field in chosen.fields:
        if field.kind == "check":
            values |= {field.name: True} if sent.text(field.name) else {}
        elif field.kind == "lengths":
            texts = [sent.text(f"{field.name}_{k}") for k in range(1, field.most + 1)]
            values |= {field.name: [text for text in texts if text]} if any(texts) else {}
        elif sent.text(field.name):
            values[field.name] = sent.text(field.name)
    return values


def _at_its_field(problem: Problem, chosen: Stage | None) -> Problem:
    """A fault at the field of this form that it speaks of; else at none."""
    where = problem.where.partition("[")[0].partition(".")[0]
    names = {"day", "who", "said" if chosen is None else "unit"}
    if chosen is None:
        where = where.replace("note", "said")
    elif chosen.works == "dowels":
        names |= set(dowels_in.FIELDS)
    else:
        names |= {field.name for field in chosen.fields}
    if chosen is not None and chosen.works == "sweep":
        where = f"reading_{PLACES[0]}" if where == "readings" else where
        names |= {"graduation", *(f"reading_{place}" for place in PLACES)}
    if where not in names:
        return Problem("", str(problem), "")
    return Problem(where, problem.given, problem.expected)


def _page(
    request: Request,
    course: Course,
    chosen: Stage | None,
    sent: Sent | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: str = "",
) -> Response:
    found = course.view
    record = None if chosen is None else course.record(chosen.name)
    return page(
        request,
        "fit-up-paper.html",
        current="fit-ups",
        status=422 if problems else 200,
        found=found,
        stages=STAGES,
        words={name: WORDS[each] for name, each in course.status.items()},
        shapes={name: SHAPES.get(each, "") for name, each in course.status.items()},
        chosen=chosen,
        offered=chosen is not None and offered(course, chosen),
        record=record,
        written=() if record is None or chosen is None else written(chosen, record.said_json),
        may_take_back=record is not None and record.send_key in course.may_take_back,
        lengths=chosen is not None and any(f.kind in _WITH_LENGTHS for f in chosen.fields),
        units=UNITS,
        places=[(place, _hour(place)) for place in PLACES],
        graduations=[(text, text) for text in _graduations()],
        typed={
            "who": who_of(request),
            "day": today_of(request).isoformat(),
            "today": today_of(request).isoformat(),
            **dict(_filled(request, course)),
            **(sent.texts if sent is not None else {}),
            "send_key": send_key(),
        },
        told=beside(problems),
        problems_told=lines_of(problems),
        asked=asked,
    )


def _filled(request: Request, course: Course) -> Iterator[tuple[str, str]]:
    """What a form is filled with: the unit as it was last, dowels as they were advised."""
    lead = frame_of(request).lead
    last = [each.said_json for each in course.records if each.said_json.get("unit")]
    yield "unit", str(last[-1]["unit"]) if last else "thou" if lead == "in" else "mm"
    swept = [said for said in last if said.get("graduation")]
    if swept:
        yield "graduation", f"{swept[-1]['graduation']} {swept[-1]['unit']}"
    advice = course.view.advice
    if advice is not None and advice.dowels_case is not None and advice.dowels_answer is not None:
        yield from dowels_in.as_advised(advice.dowels_case, advice.dowels_answer).items()


def _graduations() -> list[str]:
    return [f"{size} {unit}" for unit in UNITS for size in GRADUATIONS[unit]]


def _hour(place: int) -> str:
    return "12 o'clock again" if place == 360 else f"{say_clock(place)}, {place}°"
