"""A batch's report: yield, the target, capability, charts, what is held, for the file."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any, Final

from kitwright.paper.pieces import TitleBlock, caution_data, picture_data, ruled_data
from kitwright.paper.typesetting import Paper, typeset
from kitwright.pictures.palette import PRINT
from kitwright.shop.corrections import GAUGE_NOISE
from kitwright.shop.drawings import bores_of_batch
from kitwright.shop.judging import rule_in_words
from kitwright.shop.samples import SampleView, caution
from kitwright.shop.summary import Process, Summary
from kitwright.shop.summary_tables import (
    Told,
    budgets_notes,
    budgets_table,
    processes_note,
    processes_table,
    shares_note,
    shares_table,
    signals_list,
    too_close_table,
)
from kitwright.shop.undecided import ASSUMES

CAPTION: Final = "Each disc is a bell's bore as inspected."


def batch_report_pdf(
    shown: Summary, sampled: list[SampleView], *, date: datetime.date, paper: Paper = "a4"
) -> bytes:
    """The report as a PDF; its pictures are the page's, in black."""
    return typeset(
        "batch",
        batch_report_data(shown, sampled, date=date),
        title=f"Batch {shown.found.batch.label}",
        date=date,
        paper=paper,
    )


def batch_report_data(
    shown: Summary, sampled: list[SampleView], *, date: datetime.date
) -> dict[str, Any]:
    """What the template prints."""
    batch = shown.found.batch
    block = TitleBlock(
        what="Batch report",
        name_label="Batch",
        name=batch.label,
        revision=shown.revision.label,
        shop=shown.found.shop.name,
        date=date,
    )
    drawn = bores_of_batch(shown.found, lead=shown.lead, palette=PRINT)
    close = too_close_table(shown.too_close, lead=shown.lead)
    budgets = budgets_table(shown)
    return {
        "info": block.data(),
        "label": batch.label,
        "about": f"{shown.design.name}, revision {shown.revision.label}, machined by "
        f"{shown.machinist}.",
        "sentence": shown.say(),
        "cautions": caution_data([caution()] if sampled else []),
        "samples": [f"{each.sample.named.capitalize()}: {each.say()}" for each in sampled],
        "target": picture_data([replace(drawn.picture, caption=CAPTION)])[0] if drawn else None,
        "shares": _table(shares_table(shown)),
        "shares_note": shares_note(shown),
        "budgets": _table(budgets) if budgets.rows else None,
        "budgets_notes": [*budgets_notes(shown), GAUGE_NOISE] if budgets.rows else [],
        "too_close": _table(close) if close.rows else None,
        "too_close_note": ASSUMES,
        "processes": _table(processes_table(shown)),
        "processes_note": processes_note(shown),
        "signals": signals_list(shown),
        "charts": [_charts(each, shown) for each in shown.processes],
        "rule": rule_in_words(shown.found.shop),
    }


def _table(told: Told) -> dict[str, Any]:
    return ruled_data(told.title, told.columns, told.rows)


def _charts(one: Process, shown: Summary) -> dict[str, Any]:
    """A characteristic's pictures: how its values lie, then its charts."""
    return {
        "name": one.about.name,
        "why_not": one.why_not,
        "signals": one.signals,
        "pictures": picture_data(one.pictures(lead=shown.lead, palette=PRINT)),
    }
