"""The sheet of any worksheet: question, cautions, answer, picture, figures, case, sources."""

from __future__ import annotations

import datetime
from typing import Any

from pydantic import BaseModel

from kitwright.paper.buyers_sheet import buyers_data
from kitwright.paper.further_pages import further_pages
from kitwright.paper.pieces import (
    TitleBlock,
    caution_data,
    figure_data,
    picture_data,
    table_data,
)
from kitwright.paper.typesetting import Paper, Template, typeset
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import PRINT
from kitwright.units import Lead
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.shell.choose_bell_case import ChooseBellAnswer, ChooseBellCase
from kitwright.worksheets.showing import NOT_KNOWN, Figure, assumptions, figures, grids


def worksheet_pdf(
    worksheet: Worksheet,
    case: Case,
    answer: Answer,
    *,
    lead: Lead,
    date: datetime.date | None = None,
    shop_name: str = "",
    paper: Paper = "a4",
) -> bytes:
    """One worksheet as a PDF to print.

    Parameters
    ----------
    case, answer : what `worksheet.solve` took and gave
    lead : the unit written first
    date : printed in the title block; without one the box is left to write in
    paper : "a4" or "us-letter"
    """
    data = worksheet_data(worksheet, case, answer, lead=lead, date=date, shop_name=shop_name)
    template: Template = "worksheet"
    if isinstance(case, ChooseBellCase) and isinstance(answer, ChooseBellAnswer):
        template, data = "buyers-sheet", buyers_data(case, answer, data)
    return typeset(template, data, title=worksheet.question, date=date, paper=paper)


def worksheet_data(
    worksheet: Worksheet,
    case: Case,
    answer: Answer,
    *,
    lead: Lead,
    date: datetime.date | None,
    shop_name: str,
) -> dict[str, Any]:
    """What the template prints."""
    block = TitleBlock(
        what="Worksheet",
        name_label="Name",
        name=worksheet.name,
        shop=shop_name,
        date=date,
    )
    pictures = pictures_of(worksheet.name, case, answer, lead=lead, palette=PRINT)
    return {
        "info": block.data(),
        "stage": worksheet.stage.capitalize(),
        "question": worksheet.question,
        "cautions": caution_data(worksheet.cautions),
        "sentence": worksheet.say(answer, lead),
        "pictures": picture_data(pictures),
        "figures": figure_data(figures(answer, lead=lead)),
        "tables": [table_data(grid) for grid in grids(answer, lead=lead)],
        "case_figures": figure_data(given(case, lead=lead)),
        "case_tables": [table_data(grid) for grid in grids(case, lead=lead)],
        "how": answer.how,
        "assumed": assumptions(type(case), answer),
        "sources": worksheet.sources,
        "further": further_pages(worksheet.name, case, answer, lead=lead),
    }


def given(case: BaseModel, *, lead: Lead) -> list[Figure]:
    """The single values of a case that were given, each as it was written."""
    return [row for row in figures(case, lead=lead) if row.leading not in ("", NOT_KNOWN)]
