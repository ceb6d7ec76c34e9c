"""The fitter's sheet after his sweep: what to turn, what to read next, when to stop."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import Any, Final

from kitwright.calc.centring.sweep import correct_bore
from kitwright.errors import InputError
from kitwright.paper.pieces import (
    PAGE_MM,
    TitleBlock,
    caution_data,
    picture_data,
    ruled_data,
)
from kitwright.paper.protractor_sheet import protractor_data
from kitwright.paper.typesetting import Paper, typeset
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.clock import signed
from kitwright.pictures.palette import PRINT
from kitwright.units import Lead, plain, say_clock, say_length, show_length
from kitwright.worksheets.centring import dowels_said, sweep_said
from kitwright.worksheets.centring.dowels_case import CandidateRow, DowelsAnswer, DowelsCase
from kitwright.worksheets.centring.sweep_case import SweepAnswer, SweepCase
from kitwright.worksheets.fields import TableUnit

BOLTS: Final = ("Bell to block", "Gearbox to bell", "Crossmember and mounts")

PLACES: Final = (0, 45, 90, 135, 180, 225, 270, 315)
"""Clock angles with a box for the second sweep: four for a quick one, eight for a full one."""

BESIDE: Final = 16
BESIDE_MM: Final = 80.0
"""So many readings have room beside their drawing, and how much."""

METRIC: Final = ("mm", "cm", "m", "µm")

STOP: Final = (
    "the bell does not go on over its dowels by hand: never draw it on with its bolts",
    "a dowel is loose in its hole, or turns as the bell goes on",
    "the dial does not come back to where it started at 12",
    "the second sweep is outside the limit, or far from what it should read",
    "the crank does not turn freely by hand with the gearbox bolted up",
)
"""Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class FitUpSheet:
    """One fit-up after a sweep of the bore: its first, or one after dowels were turned.

    Where no dowels were asked for, both of their fields are None. `call` says whom to call;
    `code` is what the QR carries, a link or nothing. `dowel_mm` is the dowels' diameter, for the
    protractors' holes; without one the sheet says what it took.
    """

    shop_name: str
    name: str
    serial: str
    car: str
    engine: str
    gearbox: str
    date: datetime.date
    sweep_case: SweepCase
    sweep_answer: SweepAnswer
    dowels_case: DowelsCase | None = None
    dowels_answer: DowelsAnswer | None = None
    lead: Lead = "mm"
    call: str = "the shop"
    bolts: tuple[str, ...] = BOLTS
    code: str = ""
    dowel_mm: float | None = None

    def __post_init__(self) -> None:
        if self.sweep_case.surface != "bore":
            raise InputError("sweep_case", "a face was swept", "give the sweep of the bore")
        if (self.dowels_case is None) != (self.dowels_answer is None):
            raise InputError("dowels_answer", "half given", "give the dowels' case and answer")

    @property
    def after_a_turn(self) -> bool:
        """Whether dowels were turned before this sweep."""
        return self.dowels_answer is not None and self.dowels_answer.learned is not None

    @property
    def setting(self) -> CandidateRow | None:
        """The pair of dowels to turn, where one is recommended."""
        answer = self.dowels_answer
        if answer is not None and answer.learned is not None:
            return answer.next_turn
        if answer is None or answer.recommended is None:
            return None
        return answer.candidates[answer.recommended]


def fit_up_sheet_pdf(sheet: FitUpSheet, *, paper: Paper = "a4") -> bytes:
    """The sheet as a PDF: what to do on its first page, what to write on its second, and last
    the protractors for the slots where dowels are to be turned."""
    return typeset(
        "fit-up",
        fit_up_data(sheet),
        title=f"Fit-up {sheet.name}, bell {sheet.serial}",
        date=sheet.date,
        paper=paper,
    )


def fit_up_data(sheet: FitUpSheet) -> dict[str, Any]:
    """What the template prints."""
    block = TitleBlock(
        what=f"Fitter's sheet, fit-up {sheet.name}",
        name_label="Bell",
        name=sheet.serial,
        shop=sheet.shop_name,
        date=sheet.date,
        code=sheet.code,
    )
    about = (("Car", sheet.car), ("Engine", sheet.engine), ("Gearbox", sheet.gearbox))
    bore, as_read = picture_data(
        pictures_of("sweep", sheet.sweep_case, sheet.sweep_answer, lead=sheet.lead, palette=PRINT)
    )
    cautions, then, pair = list(sweep_said.CAUTIONS), "", None
    if sheet.dowels_case is not None and sheet.dowels_answer is not None:
        cautions += dowels_said.CAUTIONS
        then = dowels_said.say(sheet.dowels_answer, sheet.lead)
        if sheet.setting is not None:
            bore, pair = picture_data(
                pictures_of(
                    "dowels", sheet.dowels_case, sheet.dowels_answer, lead=sheet.lead, palette=PRINT
                )
            )
    return {
        "info": block.data(),
        "name": sheet.name,
        "serial": sheet.serial,
        "about": [(label, text) for label, text in about if text],
        "cautions": caution_data(cautions),
        "sentence": sweep_said.say(sheet.sweep_answer, sheet.lead),
        "then": then,
        "advice": sheet.sweep_answer.advice,
        "target": bore,
        "dowels": pair,
        "turn": _turn(sheet),
        "readings": as_read,
        "beside": len(sheet.sweep_case.readings) <= BESIDE,
        "first": _first(sheet),
        "second": _second(sheet),
        "bolts": sheet.bolts,
        "call": sheet.call,
        "stop": STOP,
        "further": _further(sheet),
    }


def _further(sheet: FitUpSheet) -> list[dict[str, Any]]:
    """The protractors for the slots, where dowels are to be turned."""
    if sheet.dowels_case is None or sheet.dowels_answer is None:
        return []
    page = protractor_data(
        sheet.dowels_case, sheet.dowels_answer, sheet.lead, dowel_mm=sheet.dowel_mm
    )
    return [] if page is None else [page]


def _turn(sheet: FitUpSheet) -> dict[str, Any] | None:
    """Each dowel's size and where its slot points."""
    best = sheet.setting
    if best is None:
        return None
    rows = [
        (name, _size(size_mm, sheet.lead), _slot(clock_deg, turn_deg))
        for name, size_mm, clock_deg, turn_deg in (
            ("a", best.a_size_mm, best.a_clock_deg, getattr(best, "a_turn_deg", None)),
            ("b", best.b_size_mm, best.b_clock_deg, getattr(best, "b_turn_deg", None)),
        )
    ]
    slot = "Turn it" if sheet.after_a_turn else "Slot points to"
    return ruled_data("What to turn", ("Dowel", "Size", slot), rows)


def _size(size_mm: float, lead: Lead) -> str:
    return str(show_length(size_mm, lead=lead)) if size_mm else "plain"


def _slot(clock_deg: float | None, turn_deg: float | None) -> str:
    """Where a slot is to point; for a dowel that is in, how far to turn it from where it stands."""
    if clock_deg is None:
        return "any way"
    if turn_deg is not None:
        way = "clockwise" if turn_deg >= 0 else "counter-clockwise"
        return f"{plain(abs(turn_deg), 0)}° {way}"
    return f"{plain(clock_deg % 360, 0)}°, {say_clock(clock_deg)}"


def _first(sheet: FitUpSheet) -> dict[str, Any]:
    """The sweep as it was read, in the fitter's unit."""
    unit = sheet.sweep_case.unit
    rows = [
        (f"{clock:g}°", signed(reading, _decimals(unit.mm)))
        for clock, reading in sheet.sweep_case.readings
    ]
    columns = ("Clock", f"Reads, {unit.name}")
    room_mm = PAGE_MM if len(rows) > BESIDE else BESIDE_MM
    title = "This sweep, as read" if sheet.after_a_turn else "First sweep, as read"
    return ruled_data(title, columns, rows, room_mm=room_mm)


def _second(sheet: FitUpSheet) -> dict[str, Any]:
    """Boxes for the second sweep, and what it should read."""
    unit = sheet.sweep_case.unit
    said = "Bolt the bell up again by the maker's figure and sweep the bore as you did before."
    best = sheet.setting
    if best is not None:
        said += f" It should read about {say_length(best.predicted_tir_mm, lead=sheet.lead)} TIR."
    return {
        "title": "Next sweep" if sheet.after_a_turn else "Second sweep",
        "said": said,
        "unit": unit.name,
        "places": [
            {"words": say_clock(place).removesuffix(" o'clock"), "main": place % 90 == 0}
            for place in PLACES
        ],
        "expected": [
            {
                "reading": signed(reading, _decimals(unit.mm)),
                "give": f"± {plain(u95, _decimals(unit.mm))}",
            }
            for reading, u95 in second_readings(sheet)
        ],
        "limit": _limit(sheet.sweep_case.limit.mm, unit),
    }


def _limit(limit_mm: float, unit: TableUnit) -> str:
    """The limit as the dial reads it, and in the other unit."""
    read = plain(limit_mm / unit.mm, _decimals(unit.mm) + 1)
    read = read.rstrip("0").rstrip(".") if "." in read else read
    other = show_length(limit_mm, lead="in" if unit.name in METRIC else "mm").leading
    return f"{read} {unit.name} ({other})"


def second_readings(sheet: FitUpSheet) -> list[tuple[float, float]]:
    """What the dial should read at `PLACES`, zeroed at 12, and how far it may be from it.

    In the unit of the first sweep, and as the dial shows it: sag and bearing clearance, which the
    worksheet takes out of the first sweep, show again in the second. Empty without dowels to turn,
    and after a turn: what is said then is the TIR alone.
    """
    case, answer = sheet.sweep_case, sheet.dowels_answer
    if sheet.setting is None or answer is None or sheet.after_a_turn:
        return []
    corrections = correct_bore(
        [[place, 0.0] for place in PLACES],
        sag_mm=0.0 if case.sag is None else case.sag.mm,
        bearing_clearance_mm=0.0 if case.bearing_clearance is None else case.bearing_clearance.mm,
    )[:, 1]
    expected = {round(row.clock_deg): row for row in answer.second_sweep}
    return [
        (
            (expected[place].reading_mm - correction + corrections[0]) / case.unit.mm,
            expected[place].reading_u95_mm / case.unit.mm,
        )
        for place, correction in zip(PLACES, corrections.tolist(), strict=True)
    ]


def _decimals(unit_mm: float) -> int:
    """Decimals of a reading that a shop's dial can show: 0.1 thou, 0.01 mm."""
    return max(0, round(-math.log10(0.004 / unit_mm)))
