"""A batch summed up, its report, its sample and the verdict on it; a bell's recall list."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import samples as kept
from kitwright.books.samples import Sample
from kitwright.calc.quality.random_sample import LARGEST_SEED
from kitwright.calc.quality.standard_plans import AQLS
from kitwright.errors import InputError, MissingError, Problem
from kitwright.paper.batch_report import batch_report_pdf
from kitwright.shop import batches, samples
from kitwright.shop.corrections import GAUGE_NOISE
from kitwright.shop.drawings import bores_of_batch
from kitwright.shop.exports import batch_qif
from kitwright.shop.judging import rule_in_words
from kitwright.shop.recall import HEADER, recall, recall_csv, recall_xlsx
from kitwright.shop.summary import summarise
from kitwright.shop.summary_tables import (
    budgets_notes,
    budgets_table,
    processes_note,
    processes_table,
    shares_note,
    shares_table,
    too_close_table,
)
from kitwright.shop.undecided import ASSUMES
from kitwright.web.batches import CSV, XLSX
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
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)


@router.get("/batches/{number}/summary")
def summary(request: Request, number: int) -> Response:
    """Yield, capability, charts, what is held, and what measuring better would change."""
    shown = summarise(books_of(request), number)
    lead = frame_of(request).lead
    drawn = bores_of_batch(shown.found, lead=lead)
    return page(
        request,
        "batch_summary.html",
        current="batches",
        shown=shown,
        batch=shown.found.batch,
        sampled=samples.views(books_of(request), number),
        picture=drawn,
        shares=shares_table(shown),
        shares_note=shares_note(shown),
        budgets=budgets_table(shown),
        budgets_notes=[*budgets_notes(shown), GAUGE_NOISE],
        close=too_close_table(shown.too_close, lead=lead),
        assumes=ASSUMES,
        processes=processes_table(shown),
        processes_note=processes_note(shown),
        drawn=[(each, each.pictures(lead=lead)) for each in shown.processes],
        rule=rule_in_words(shown.found.shop),
    )


@router.get("/batches/{number}/report.pdf")
def report(request: Request, number: int) -> Response:
    """The same, to print."""
    shown = summarise(books_of(request), number)
    data = batch_report_pdf(shown, samples.views(books_of(request), number), date=today_of(request))
    name = f"batch-{shown.found.batch.label}.pdf"
    return download(data, "application/pdf", name, inline=True)


@router.get("/batches/{number}/inspection.qif")
def as_qif(request: Request, number: int) -> Response:
    """The newest measurements as QIF Results."""
    found = batches.view(books_of(request), number)
    data = batch_qif(found, created=site_of(request).clock())
    return download(data, "application/xml", f"inspection-{found.batch.label}.qif")


# ── samples ──────────────────────────────────────────────────────────────────────────────


@router.get("/batches/{number}/sample")
def sample(request: Request, number: int) -> Response:
    """The batch's samples, and the form to draw one."""
    return _sample_page(request, number)


@router.post("/batches/{number}/sample")
def drawn(request: Request, number: int, sent: Posted) -> Response:
    """Draw a sample; on any fault the form comes back as it was filled."""
    who = sent.text("who")
    try:
        asked = samples.asked_for(
            n=_whole(sent, "n"), c=_whole(sent, "c"), aql=_level(sent.text("aql"))
        )
        samples.draw(
            books_of(request),
            number,
            asked,
            seed=secrets.randbelow(LARGEST_SEED + 1),
            entry=entry_of(request, who),
        )
    except MissingError:
        raise
    except InputError as error:
        return _sample_page(
            request, number, sent.texts, [_field_of(each) for each in error.problems]
        )
    return done(request, f"/batches/{number}/sample", who)


@router.post("/batches/{number}/sample/verdict")
def judged(request: Request, number: int, sent: Posted) -> Response:
    """Give the open sample its verdict, and release what follows from it."""
    who = sent.text("who")
    found = samples.open_sample(samples.views(books_of(request), number))
    try:
        if found is None:
            raise InputError("sample", "none waits for its verdict", "draw one first")
        samples.judge(books_of(request), found.sample.id, entry_of(request, who))
    except InputError as error:
        return _sample_page(request, number, sent.texts, error.problems)
    return done(request, f"/batches/{number}/sample", who)


def _whole(sent: Sent, name: str) -> int | None:
    text = sent.text(name)
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise InputError(name, f'"{text[:40]}" is not a whole number', "write digits only")
    return int(text)


def _level(text: str) -> float | None:
    if not text:
        return None
    if text not in {f"{each:g}" for each in AQLS}:
        raise InputError("aql", f'"{text[:40]}" is not in the tables', "choose one of the list")
    return float(text)


def _field_of(problem: Problem) -> Problem:
    """The worksheet's plan.n is this form's n."""
    where = {"plan.n": "n", "plan.c": "c", "table.aql": "aql"}.get(problem.where, problem.where)
    return Problem(where, problem.given, problem.expected)


def _sample_page(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books = books_of(request)
    found = batches.view(books, number)
    seen = samples.views(books, number)
    with books.reading() as connection:
        waiting = len(kept.waiting(connection, number))
    rejected = any(each.sample.verdict == "reject" for each in seen)
    may_draw = (
        found.batch.state == "back"
        and waiting > 1
        and not rejected
        and samples.open_sample(seen) is None
    )
    fields = {"n", "c", "aql", "who"}
    return page(
        request,
        "batch_sample.html",
        current="batches",
        status=422 if problems else 200,
        batch=found.batch,
        seen=list(reversed(seen)),
        waiting=waiting,
        may_draw=may_draw,
        levels=[("", "a plan of our own"), *((f"{each:g}", f"AQL {each:g} %") for each in AQLS)],
        caution=samples.caution(),
        bad=samples.BAD,
        risk=_risk,
        typed={"who": who_of(request), **(typed or {})},
        told=beside([each for each in problems if each.where in fields]),
        problems_told=lines_of(problems),
    )


def _risk(one: Sample, lot: int) -> str:
    """What an accepted sample leaves open, in a sentence."""
    answer = samples.plan({"plan": {"n": one.n, "c": one.c}}, lot)
    half = next(each for each in answer.points if each.chance_accepted == 0.5)
    tenth = next(each for each in answer.points if each.chance_accepted == 0.1)
    return (
        f"With {half.bad} of {lot} bad, such a sample is accepted at least half of the time; with "
        f"{tenth.bad} bad, at least one time in ten."
    )


# ── a bell found bad later ───────────────────────────────────────────────────────────────


@router.get("/bells/{serial}/recall")
def recalled(request: Request, serial: str) -> Response:
    """Who has this bell, and who has those that may share what is wrong with it."""
    shown = recall(books_of(request), serial)
    return page(
        request,
        "recall.html",
        current="batches",
        shown=shown,
        columns=HEADER,
    )


@router.get("/bells/{serial}/recall.csv")
def recalled_csv(request: Request, serial: str) -> Response:
    """The list as CSV."""
    shown = recall(books_of(request), serial)
    return download(recall_csv(shown).encode(), CSV, f"recall-{serial}.csv")


@router.get("/bells/{serial}/recall.xlsx")
def recalled_xlsx(request: Request, serial: str) -> Response:
    """The list as a workbook."""
    data = recall_xlsx(recall(books_of(request), serial), created=site_of(request).clock())
    return download(data, XLSX, f"recall-{serial}.xlsx")
