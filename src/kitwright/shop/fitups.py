"""Stand by a fitter: keep his sweep, solve it, and tell him which dowels to turn where."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from kitwright.books import conversions, designs, fitups, inspections, orders, standing
from kitwright.books.entries import Entry
from kitwright.books.fitups import FitUp, FitUpStep
from kitwright.books.opening import Books
from kitwright.books.shop import Shop, get_shop
from kitwright.errors import InputError, MissingError, MoveError
from kitwright.shop.dowels_in import AS_TURNED, as_turned, kept_of, turned_before
from kitwright.worksheets.centring.dowels_case import DowelsAnswer, DowelsCase
from kitwright.worksheets.centring.sweep import SweepAnswer, SweepCase
from kitwright.worksheets.centring.sweep_said import doubted
from kitwright.worksheets.declaration import load
from kitwright.worksheets.fields import Case, Size
from kitwright.worksheets.reading import read

DRAWER: Final = ("0.007 in", "0.014 in", "0.021 in")
"""Eccentric dowels as they are commonly sold (common practice, no source)."""

LEAVE: Final = "leave the bell as it is"
OVAL: Final = "the bore is out of round, which no dowel cures: call the shop"
NOT_KNOWN: Final = "it is not known which dowels are in: put plain ones in, sweep again"
"""Notes of an advice without dowels."""

MEASURED_FIT: Final = (
    "hole_clearance: this bell's newest measured dowel holes less the conversion's dowels, the "
    "mean of both; the dowels turned have the conversion's diameter"
)
_DECIMALS: Final = 6  # a nanometre: what is left is no false digit of a difference

DOWEL_HOLES: Final = ("dowel a", "dowel b")
"""Names of the two dowel holes in a conversion's block pattern; a lies to the left."""


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What a sweep came to, and the dowels that put it right where it is not within."""

    sweep_case: SweepCase
    sweep_answer: SweepAnswer
    dowels_case: DowelsCase | None = None
    dowels_answer: DowelsAnswer | None = None
    without: str | None = None
    """Why no dowels are advised, or what to do first; None where they are."""


@dataclass(frozen=True, kw_only=True)
class FitUpView:
    """A fit-up with its car, its bell's conversion, its steps, and the advice that stands."""

    fit_up: FitUp
    shop: Shop
    order: orders.Order | None
    car: str
    engine: str
    gearbox: str
    conversion: conversions.Conversion
    dowel_mm: float | None
    """Diameter of the block's dowels, where it is written down."""
    steps: tuple[FitUpStep, ...]
    standing: tuple[FitUpStep, ...]
    """The steps without those that the fitter took back."""
    advice: Advice | None

    @property
    def open(self) -> bool:
        return self.fit_up.state not in fitups.ENDED


def open_for_order(books: Books, order_id: int, *, fitter: str, block: str, entry: Entry) -> int:
    """Open the fit-up of a shipped order's bell; give its number."""
    with books.writing() as connection:
        order = orders.get_order(connection, order_id)
        bell = orders.bell_of(connection, order_id)
        if bell is None:
            raise MoveError(order.named, f"it is {order.state}", "ship its bell first")
        return fitups.open_fit_up(
            connection, bell.serial, fitter=fitter, block=block, entry=entry, car_id=order.car_id
        )


def receive_sweep(
    books: Books,
    fit_up_id: int,
    given: Mapping[str, Any],
    *,
    entry: Entry,
    drawer: Sequence[str] = DRAWER,
    hole_clearance: str | None = None,
    send_key: str | None = None,
) -> Advice:
    """Keep a fitter's sweep of the bore, solve it, and advise him; all in one transaction.

    Parameters
    ----------
    given
        The case of the worksheet `sweep`, as a face gives it. A limit left out is the conversion's.
    drawer
        Sizes of the eccentric dowels at hand.
    hole_clearance
        Of a dowel in its hole, diametral, as text with its unit; left out, what the bell's own
        measured dowel holes leave the conversion's dowels.
    send_key
        What a page sends once only: a sweep that came before under it is not kept twice.

    Raises
    ------
    InputError
        The sweep cannot be used; nothing is kept.
    MoveError
        The fit-up has ended.
    """
    with books.writing() as connection:
        return sweep_in(
            connection,
            fit_up_id,
            given,
            entry=entry,
            drawer=drawer,
            hole_clearance=hole_clearance,
            send_key=send_key,
        )


def sweep_in(
    connection: Connection,
    fit_up_id: int,
    given: Mapping[str, Any],
    *,
    entry: Entry,
    drawer: Sequence[str] = DRAWER,
    hole_clearance: str | None = None,
    send_key: str | None = None,
) -> Advice:
    """`receive_sweep` as a part of a transaction that is under way."""
    found = fitups.get_fit_up(connection, fit_up_id)
    if found.state in fitups.ENDED:
        raise MoveError(f"fit-up {fit_up_id}", f"it has {found.state}", "open a new one")
    conversion = conversion_of(connection, found.serial)
    taken = fitups.standing_steps_of(connection, fit_up_id)
    fit = _fit(connection, conversion, found.serial, hole_clearance)
    advice = _solve(connection, conversion, given, drawer, taken, fit)
    kept = _keep(
        connection,
        fit_up_id,
        "measuring",
        "sweep",
        advice.sweep_case,
        advice.sweep_answer,
        entry,
        send_key,
    )
    if kept.number < fitups.steps_of(connection, fit_up_id)[-1].number:
        return standing_advice(fitups.standing_steps_of(connection, fit_up_id)) or advice
    if advice.dowels_case is not None and advice.dowels_answer is not None:
        _keep(
            connection,
            fit_up_id,
            "advice",
            "dowels",
            advice.dowels_case,
            advice.dowels_answer,
            entry,
            None,
        )
    else:
        fitups.take_step(connection, fit_up_id, "advice", entry, why=advice.without)
    return advice


def _solve(
    connection: Connection,
    conversion: conversions.Conversion,
    given: Mapping[str, Any],
    drawer: Sequence[str],
    taken: Sequence[FitUpStep],
    fit: _Fit,
) -> Advice:
    worksheet = load("sweep")
    case = read(SweepCase, {"limit": f"{conversion.tir_mm!r} mm", **given})
    if case.surface != "bore":
        raise InputError("surface", f'"{case.surface}" is not the bore', 'write "bore"')
    answer: SweepAnswer = worksheet.solve(case)
    if answer.verdict == "within":
        return Advice(sweep_case=case, sweep_answer=answer, without=LEAVE)
    if doubted(answer):
        return Advice(sweep_case=case, sweep_answer=answer, without=answer.advice[0])
    if answer.verdict == "outside" and answer.cause == "out of round":
        return Advice(sweep_case=case, sweep_answer=answer, without=OVAL)
    turned = turned_before(taken)
    if turned is not None and not turned:
        return Advice(sweep_case=case, sweep_answer=answer, without=NOT_KNOWN)
    dowel_a, dowel_b = _dowel_holes(connection, conversion)
    swept = {
        "offset": f"{answer.offset_mm!r} mm",
        "offset_clock_deg": answer.offset_clock_deg,
        "offset_u95": f"{answer.offset_u95_mm!r} mm",
    }
    if turned is not None:
        after = ("offset_after", "offset_after_clock_deg", "offset_after_u95")
        swept = {**turned, **dict(zip(after, swept.values(), strict=True))}
    dowels_case = read(
        DowelsCase,
        {
            **swept,
            "dowel_a": dowel_a,
            "dowel_b": dowel_b,
            "sizes": list(drawer),
            "limit": case.limit.text,
            **({} if fit.hole_clearance is None else {"hole_clearance": fit.hole_clearance.text}),
        },
    )
    advised: DowelsAnswer = load("dowels").solve(dowels_case)
    if fit.measured:
        advised = advised.model_copy(update={"assumed": [*advised.assumed, MEASURED_FIT]})
    return Advice(
        sweep_case=case, sweep_answer=answer, dowels_case=dowels_case, dowels_answer=advised
    )


class _Fit(Case):
    """The dowels in their holes."""

    hole_clearance: Size | None = None
    measured: bool = False


def _fit(
    connection: Connection, conversion: conversions.Conversion, serial: str, given: str | None
) -> _Fit:
    """The clearance as given, or else by the bell's newest inspection where that leaves any."""
    if given is not None:
        return read(_Fit, {"hole_clearance": given})
    newest = inspections.newest_of(connection, serial)
    measured_mm = {
        about.name: float(newest.mm[0, column, 0])
        for column, about in enumerate(newest.characteristics)
        if about.kind == "length"
    }
    left_mm = [
        measured_mm.get(f"{hole.name} diameter", math.nan) - (hole.diameter_mm or math.nan)
        for hole in conversions.pattern(connection, conversion.id, "block")
        if hole.name in DOWEL_HOLES
    ]
    if len(left_mm) != len(DOWEL_HOLES) or not all(left > 0 for left in left_mm):
        return _Fit()
    mean_mm = round(sum(left_mm) / len(left_mm), _DECIMALS)
    return read(_Fit, {"hole_clearance": f"{mean_mm!r} mm", "measured": True})


def _dowel_holes(connection: Connection, conversion: conversions.Conversion) -> list[list[str]]:
    holes = {hole.name: hole for hole in conversions.pattern(connection, conversion.id, "block")}
    if missing := [name for name in DOWEL_HOLES if name not in holes]:
        raise MissingError(
            f"conversion {conversion.name}",
            f"its block pattern has no hole called {' or '.join(missing)}",
            "write the pattern down first",
        )
    return [[f"{holes[name].x_mm!r} mm", f"{holes[name].y_mm!r} mm"] for name in DOWEL_HOLES]


def conversion_of(connection: Connection, serial: str) -> conversions.Conversion:
    """The conversion that a bell belongs to."""
    design = designs.get_design(connection, standing.one(connection, serial).design_id)
    return conversions.get_conversion(connection, design.conversion_id)


def _keep(
    connection: Connection,
    fit_up_id: int,
    state: str,
    worksheet: str,
    case: Any,
    answer: Any,
    entry: Entry,
    send_key: str | None,
) -> FitUpStep:
    return fitups.take_step(
        connection,
        fit_up_id,
        state,
        entry,
        worksheet=worksheet,
        case=case.model_dump(mode="json", exclude_none=True),
        answer=answer.model_dump(mode="json"),
        send_key=send_key,
    )


def finish(books: Books, fit_up_id: int, *, succeeded: bool, why: str, entry: Entry) -> None:
    """Write down how a fit-up ended."""
    with books.writing() as connection:
        fitups.take_step(
            connection, fit_up_id, "succeeded" if succeeded else "failed", entry, why=why or None
        )


def corrected(
    books: Books,
    fit_up_id: int,
    *,
    why: str,
    entry: Entry,
    dowels: Mapping[str, Any] | None = None,
) -> None:
    """Write down that the fitter turned his dowels, and how they are in now.

    Parameters
    ----------
    dowels
        Sizes and slots as `dowels_in.as_turned` takes them; without them they are taken to be set
        as advised.

    Raises
    ------
    InputError
        Dowels that cannot be used; nothing is kept.
    """
    with books.writing() as connection:
        correct_in(connection, fit_up_id, why=why, entry=entry, dowels=dowels)


def correct_in(
    connection: Connection,
    fit_up_id: int,
    *,
    why: str,
    entry: Entry,
    dowels: Mapping[str, Any] | None = None,
    send_key: str | None = None,
) -> None:
    """`corrected` as a part of a transaction that is under way."""
    kept = None if dowels is None else kept_of(as_turned(dowels))
    fitups.take_step(
        connection,
        fit_up_id,
        "corrected",
        entry,
        why=why or None,
        worksheet=None if kept is None else AS_TURNED,
        case=kept,
        send_key=send_key,
    )


# ── reading ──────────────────────────────────────────────────────────────────────────────


def view(books: Books, fit_up_id: int) -> FitUpView:
    """Everything about a fit-up."""
    with books.reading() as connection:
        found = fitups.get_fit_up(connection, fit_up_id)
        conversion = conversion_of(connection, found.serial)
        taken = fitups.standing_steps_of(connection, fit_up_id)
        return FitUpView(
            fit_up=found,
            shop=get_shop(connection),
            order=None if found.order_id is None else orders.get_order(connection, found.order_id),
            car=_named(conversions.cars(connection), found.car_id),
            engine=_named(conversions.engines(connection), conversion.engine_id),
            gearbox=_named(conversions.gearboxes(connection), conversion.gearbox_id),
            conversion=conversion,
            dowel_mm=_dowel_mm(connection, conversion),
            steps=tuple(fitups.steps_of(connection, fit_up_id)),
            standing=tuple(taken),
            advice=standing_advice(taken),
        )


def _dowel_mm(connection: Connection, conversion: conversions.Conversion) -> float | None:
    holes = conversions.pattern(connection, conversion.id, "block")
    return next((hole.diameter_mm for hole in holes if hole.name in DOWEL_HOLES), None)


def _named(known: Sequence[conversions.Named], wanted: int | None) -> str:
    return next((each.name for each in known if each.id == wanted), "")


def standing_advice(taken: Sequence[FitUpStep]) -> Advice | None:
    """The newest sweep and what was advised on it."""
    swept = [step for step in taken if step.worksheet == "sweep"]
    if not swept:
        return None
    after = [step for step in taken if step.number > swept[-1].number and step.state == "advice"]
    advised = [step for step in after if step.worksheet == "dowels"]
    return Advice(
        sweep_case=read(SweepCase, swept[-1].case_json),
        sweep_answer=SweepAnswer.model_validate(swept[-1].answer_json),
        dowels_case=read(DowelsCase, advised[-1].case_json) if advised else None,
        dowels_answer=DowelsAnswer.model_validate(advised[-1].answer_json) if advised else None,
        without=after[-1].why if after and not advised else None,
    )
