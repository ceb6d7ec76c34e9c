"""Batches: the list, a batch with all its bells, the import of its inspection, its export."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import designs, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.shop import get_party, parties
from kitwright.errors import InputError, MissingError, Problem
from kitwright.files.inspection import blank_inspection
from kitwright.pictures.time_line import time_line
from kitwright.shop import batches, handing_in, samples, week
from kitwright.shop.corrections import GAUGE_NOISE, with_batch
from kitwright.shop.drawings import bores_of_batch
from kitwright.shop.exports import batch_csv, batch_xlsx, measured_whole
from kitwright.shop.judging import rule_in_words
from kitwright.shop.summary_tables import too_close_table
from kitwright.shop.undecided import ASSUMES, too_close
from kitwright.web import inspection_form
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    download,
    entry_of,
    site_of,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)

CSV: Final = "text/csv; charset=utf-8"
_MOST_BARS: Final = 30
XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("/batches")
def listed(request: Request) -> Response:
    """Every batch, newest first."""
    with books_of(request).reading() as connection:
        drawn = {each.id: each for each in designs.designs(connection)}
        design_of = {each.id: drawn[each.design_id] for each in designs.revisions(connection)}
        machinists = {each.id: each for each in parties(connection, "machinist")}
        suppliers = {each.id: each for each in parties(connection, "supplier")}
        found = [
            (each, design_of[each.revision_id], machinists[each.machinist_id])
            for each in reversed(stock.batches(connection))
        ]
        crates = [
            (crate, drawn[crate.design_id], suppliers[crate.supplier_id])
            for crate in reversed(stock.crates(connection))
        ]
        bars = week.bars(connection, today_of(request))[-_MOST_BARS:]
    return page(
        request,
        "batches.html",
        current="batches",
        found=found,
        crates=crates,
        day=today_of(request),
        drawn=time_line(bars, today=today_of(request), title="Batches on a time line")
        if bars
        else "",
    )


@router.get("/batches/{number}")
def shown(request: Request, number: int) -> Response:
    """A batch and all its bells."""
    return _page(request, number)


@router.post("/batches/{number}")
async def imported(request: Request, number: int, sent: Posted) -> Response:
    """Take an inspection in; on any fault the form comes back, and nothing is kept."""
    return await run_in_threadpool(_import, request, number, sent)


def _import(request: Request, number: int, sent: Posted) -> Response:
    who = sent.text("who")
    try:
        batches.import_inspection(
            books_of(request),
            number,
            inspection_form.handed_in(sent),
            instrument=sent.text("instrument"),
            entry=entry_of(request, who),
        )
    except MissingError as error:
        if error.problems[0].where == "batch":
            raise
        return _page(request, number, sent.texts, error.problems)
    except InputError as error:
        return _page(request, number, sent.texts, error.problems)
    return done(request, f"/batches/{number}#bells", who)


def _page(
    request: Request,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
) -> Response:
    books = books_of(request)
    found = batches.view(books, number)
    with books.reading() as connection:
        revision = designs.get_revision(connection, found.batch.revision_id)
        design = designs.get_design(connection, revision.design_id)
        machinist = get_party(connection, found.batch.machinist_id)
        waiting = len(handing_in.handed_in(connection, number).bells)
    lead = frame_of(request).lead
    drawn = bores_of_batch(found, lead=lead)
    fields = inspection_form.FIELDS
    told = beside([problem for problem in problems if problem.where in fields])
    return page(
        request,
        "batch.html",
        current="batches",
        status=422 if problems else 200,
        found=found,
        revision=revision,
        design=design,
        machinist=machinist,
        rule=rule_in_words(found.shop),
        waiting=waiting,
        picture=drawn,
        budgets=with_batch(books, number) if drawn is not None and drawn.sold else [],
        gauge_noise=GAUGE_NOISE,
        reasons=found.reasons(),
        sampled=samples.views(books, number),
        close=too_close_table(too_close(found), lead=lead),
        assumes=ASSUMES,
        whole=bool(measured_whole(found)),
        typed={"who": who_of(request), **(typed or {})},
        problems=problems,
        told=told,
        untold=[problem for problem in problems if problem.where not in fields],
    )


@router.get("/batches/{number}/blank.csv")
def blank(request: Request, number: int) -> Response:
    """The inspection file to fill in: its header, and the batch's serials."""
    found = batches.view(books_of(request), number)
    with books_of(request).reading() as connection:
        drawn = characteristics(connection, found.batch.revision_id)
    text = blank_inspection(batches.expected_of(drawn), [bell.serial for bell in found.bells])
    return download(text.encode(), CSV, f"inspection-{found.batch.label}.csv")


@router.get("/batches/{number}/batch.csv")
def as_csv(request: Request, number: int) -> Response:
    """The batch as CSV."""
    found = batches.view(books_of(request), number)
    return download(batch_csv(found).encode(), CSV, f"batch-{found.batch.label}.csv")


@router.get("/batches/{number}/batch.xlsx")
def as_xlsx(request: Request, number: int) -> Response:
    """The batch as a workbook."""
    found = batches.view(books_of(request), number)
    created = site_of(request).clock()
    return download(batch_xlsx(found, created=created), XLSX, f"batch-{found.batch.label}.xlsx")
