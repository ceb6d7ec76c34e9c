"""The whole fit-up on paper: every stage with boxes for a pencil, for a fitter without a phone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any, Final

from kitwright.paper.pieces import TitleBlock, caution_data, picture_data
from kitwright.paper.typesetting import Paper, typeset
from kitwright.pictures.picture import Picture
from kitwright.shop.fitting import GRADUATIONS
from kitwright.shop.fitup_fields import UNITS
from kitwright.shop.fitup_stages import STAGES, Field, Stage
from kitwright.shop.fitups import FitUpView
from kitwright.units import Lead, say_clock, say_length

PLACES: Final = tuple(range(0, 360, 45))
"""Clock angles with a box for a reading; the first is read again at the end."""

HOW: Final = (
    "Work from the first step to the last. Read a step to its end before you begin it.",
    (
        "Tick what you have done, write what you have read. Nothing is worked out on paper: "
        "call the shop with your readings, it tells you what they come to and what to turn."
    ),
    (
        "Leave a reading empty rather than guess it. Strike out what is wrong so that it can still "
        "be read, and write the right value beside it."
    ),
    "Send every page back. The shop types it in as you wrote it.",
)

_LINES: Final = 2
_ORDER: Final = "Tighten in this order, more than once round."


def fit_up_blank_pdf(
    found: FitUpView,
    *,
    date: datetime.date,
    code: str,
    bolts: Mapping[str, str] | None = None,
    paper: Paper = "a4",
) -> bytes:
    """The sheets as a PDF.

    Parameters
    ----------
    date : of the print
    code : what the QR carries: the whole address of the fitter's link, or the bell's own code
    bolts : face → the drawing of its bolts in their order, in the colours of print
    """
    return typeset(
        "fit-up-blank",
        fit_up_blank_data(found, date=date, code=code, bolts=bolts or {}),
        title=f"Fit-up {found.fit_up.id}, bell {found.fit_up.serial}, to fill in by hand",
        date=date,
        paper=paper,
    )


def fit_up_blank_data(
    found: FitUpView, *, date: datetime.date, code: str, bolts: Mapping[str, str]
) -> dict[str, Any]:
    """What the template prints."""
    block = TitleBlock(
        what=f"Fit-up {found.fit_up.id}, to fill in by hand",
        name_label="Bell",
        name=found.fit_up.serial,
        shop=found.shop.name,
        date=date,
        code=code,
    )
    about = (
        ("Fitter", found.fit_up.fitter),
        ("Car", found.car),
        ("Engine", found.engine),
        ("Gearbox", found.gearbox),
        ("Block", found.fit_up.block),
    )
    return {
        "info": block.data(),
        "name": str(found.fit_up.id),
        "about": [pair for pair in about if pair[1]],
        "call": found.shop.name,
        "how": HOW,
        "places": [_place(clock_deg) for clock_deg in PLACES],
        "graduations": [
            {"unit": unit, "sizes": [f"{size} {unit}" for size in GRADUATIONS[unit]]}
            for unit in UNITS
        ],
        "stages": [
            _stage(number, stage, limits_of(found), bolts)
            for number, stage in enumerate(STAGES, start=1)
        ],
    }


def limits_of(found: FitUpView) -> dict[str, tuple[str, str, str]]:
    """What stands beside a stage's words: a label, the limit, and the same in the other unit."""
    of = found.conversion
    lead: Lead = "in" if found.shop.lead == "in" else "mm"
    other: Lead = "mm" if lead == "in" else "in"

    def both(label: str, *lengths_mm: float) -> tuple[str, str, str]:
        first, second = (
            " to ".join(say_length(each, lead=unit) for each in lengths_mm)
            for unit in (lead, other)
        )
        return label, first, second

    return {
        "serial": ("The bell's serial", found.fit_up.serial, ""),
        "tir": both("Limit, TIR", of.tir_mm),
        "gap": both("Limits of the gap", of.gap_low_mm, of.gap_high_mm),
        "pilot": both("The shaft's tip may stand off the pilot's middle by", of.pilot_mm),
    }


def _place(clock_deg: int) -> dict[str, Any]:
    hour = say_clock(clock_deg).removesuffix(" o'clock")
    return {"clock_deg": clock_deg, "words": hour, "main": clock_deg % 90 == 0}


def _stage(
    number: int, stage: Stage, limits: Mapping[str, tuple[str, str, str]], bolts: Mapping[str, str]
) -> dict[str, Any]:
    drawn = bolts.get(stage.bolts, "")
    return {
        "number": str(number),
        "title": stage.title,
        "works": stage.works,
        "surface": stage.surface,
        "limit": limits.get(stage.shows),
        "cautions": caution_data(stage.cautions),
        "why": stage.why,
        "needed": stage.needed,
        "do": stage.do,
        "stop": stage.stop_and_call,
        "seized": stage.seized,
        "ruins": stage.ruins,
        "bolts": picture_data([Picture(svg=drawn, caption=_ORDER)]) if drawn else [],
        "coarse": any(field.kind in ("length", "lengths") for field in stage.fields),
        "fields": list(_fields(stage.fields)),
    }


def _fields(fields: Sequence[Field]) -> Sequence[dict[str, Any]]:
    return [
        {
            "label": field.label,
            "kind": field.kind,
            "options": [words for _, words in field.options],
            "boxes": field.most,
            "lines": _LINES if field.kind == "text" and not field.needed else 1,
            "help": field.help,
            "needed": field.needed,
        }
        for field in fields
    ]
