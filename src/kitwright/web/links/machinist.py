"""The machinist's pages by his link: his batches, what he hands in, what to shift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books.machine_axes import DIAMETER, DIRECTIONS, MachineAxes
from kitwright.books.shop import get_party
from kitwright.calc.quality.control_chart import individuals
from kitwright.errors import InputError, Problem
from kitwright.files.inspection import blank_inspection
from kitwright.pictures.chart import Panel, control_chart
from kitwright.shop import handing_in, machinist
from kitwright.shop.batches import expected_of
from kitwright.shop.machinist import BatchForMachinist, Offset
from kitwright.web import inspection_form
from kitwright.web.links.door import opened
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    download,
    entry_of,
    shower,
    who_of,
)

router = APIRouter(include_in_schema=False)

MOST_CHARTS: Final = 6
_CSV: Final = "text/csv; charset=utf-8"
_WORDS: Final = {"right": "to the right", "up": "upward"}


@router.get("/m/{token}")
def listed(request: Request, token: str) -> Response:
    """His batches, newest first."""
    his = _his(request, token)
    with books_of(request).reading() as connection:
        name = get_party(connection, his, "machinist").name
        found = machinist.batches_of(connection, his)
    return page(request, "machinist.html", token=token, name=name, found=found)


@router.get("/m/{token}/batches/{number}")
def shown(request: Request, token: str, number: int) -> Response:
    """A batch of his: the drawing's limits, an answer for each bell, what to shift."""
    return _page(request, token, number)


@router.post("/m/{token}/batches/{number}")
async def handed_in(request: Request, token: str, number: int, sent: Posted) -> Response:
    """Keep what he measured; on any fault the form comes back, and nothing is kept."""
    return await run_in_threadpool(_hand_in, request, token, number, sent)


def _hand_in(request: Request, token: str, number: int, sent: Posted) -> Response:
    his = _his(request, token)
    who = sent.text("who")
    books = books_of(request)
    with books.reading() as connection:
        machinist.own_batch(connection, his, number)
    try:
        handing_in.hand_in(
            books,
            number,
            inspection_form.handed_in(sent),
            instrument=sent.text("instrument"),
            entry=entry_of(request, who),
        )
    except InputError as error:
        return _page(request, token, number, sent.texts, error.problems, asked="file")
    return done(request, f"/m/{token}/batches/{number}#bells", who)


@router.post("/m/{token}/batches/{number}/axes")
def axes_declared(request: Request, token: str, number: int, sent: Posted) -> Response:
    """Keep which way his machine's axes point."""
    his = _his(request, token)
    who = sent.text("who")
    names = _length_names(machinist.view(books_of(request), his, number))
    said = {name: sent.text(f"length_{place}") for place, name in enumerate(names)}
    try:
        machinist.declare_axes(
            books_of(request),
            his,
            number,
            MachineAxes(
                right=sent.text("right"),
                up=sent.text("up"),
                lengths={name: way for name, way in said.items() if way},
            ),
            entry=entry_of(request, who),
        )
    except InputError as error:
        return _page(request, token, number, sent.texts, error.problems, asked="axes")
    return done(request, f"/m/{token}/batches/{number}#offsets", who)


@router.get("/m/{token}/batches/{number}/blank.csv")
def blank(request: Request, token: str, number: int) -> Response:
    """The inspection file to fill in: its header, and the batch's serials."""
    found = machinist.view(books_of(request), _his(request, token), number)
    serials = [each.serial for each in found.answers]
    text = blank_inspection(expected_of(found.characteristics), serials)
    return download(text.encode(), _CSV, f"inspection-{found.batch.label}.csv")


def _his(request: Request, token: str) -> int:
    number = opened(request, token, "machinist").machinist_id
    assert number is not None
    return number


def _length_names(found: BatchForMachinist) -> list[str]:
    """Lengths that have a middle to aim at, so that their direction is worth declaring."""
    return [
        each.name
        for each in found.characteristics
        if each.kind == "length" and each.low_mm is not None and each.high_mm is not None
    ]


def _page(
    request: Request,
    token: str,
    number: int,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    *,
    asked: str = "",
) -> Response:
    found = machinist.view(books_of(request), _his(request, token), number)
    lengths = _length_names(found)
    axes = found.axes
    kept = {} if axes is None else {"right": axes.right, "up": axes.up}
    if axes is not None:
        for place, name in enumerate(lengths):
            kept[f"length_{place}"] = axes.lengths.get(name, "")
    fields = inspection_form.FIELDS
    known = fields | {"right", "up"} if asked == "axes" else fields
    return page(
        request,
        "machinist-batch.html",
        status=422 if problems else 200,
        token=token,
        found=found,
        lengths=lengths,
        directions=DIRECTIONS,
        ways=[("", "not declared"), *((each, each) for each in (*DIRECTIONS, DIAMETER))],
        advice=[_said(request, each) for each in found.offsets],
        charts=_charts(found),
        typed={"who": who_of(request), **kept, **(typed or {})},
        asked=asked,
        told=beside([each for each in problems if each.where in known]),
        untold=[each for each in problems if each.where not in known],
        show=shower(frame_of(request).lead),
    )


def _said(request: Request, offset: Offset) -> dict[str, str]:
    """One line of the table of offsets."""
    stands = offset.setting
    known = (stands.level.high - stands.level.low) / 2
    show = shower(frame_of(request).lead)

    def by(mm: float) -> str:
        return str(show(mm, known))

    if not offset.worth_it:
        do = "leave it"
    elif offset.shift_mm is None:
        do = f"change it by {by(stands.shift)}; declare your axes to see which way"
    elif offset.machine == DIAMETER:
        do = f"change the diameter by {by(offset.shift_mm)}, half of that on the radius"
    else:
        do = f"shift {offset.machine} by {by(offset.shift_mm)}"
    return {
        "name": f"{offset.about.name}, {_WORDS[offset.axis]}" if offset.axis else offset.about.name,
        "off": by(stands.level.value - stands.target),
        "known": f"± {by(known)}",
        "drift": "drifts" if stands.wanders else "steady",
        "do": do,
        "shape": "open" if offset.worth_it else "filled",
        "bells": str(stands.count),
    }


def _charts(found: BatchForMachinist) -> list[str]:
    """Individuals in serial order of what is off or drifts, as deviations from the target."""
    drawn: list[str] = []
    columns = {each.id: k for k, each in enumerate(found.characteristics)}
    for offset in found.offsets:
        if not (offset.worth_it or offset.setting.wanders) or len(drawn) == MOST_CHARTS:
            continue
        mm = found.measured.mm[:, columns[offset.about.id]]
        made = mm[:, 1 if offset.axis == "up" else 0]
        made = made[np.isfinite(made)] - offset.setting.target
        if made.max() == made.min():
            continue
        chart = individuals(made)
        name = f"{offset.about.name} {offset.axis}".strip()
        drawn.append(
            control_chart(
                [
                    Panel(
                        name=f"{name}, from its target",
                        points=chart.points.tolist(),
                        first=chart.first,
                        centre=chart.centre,
                        low=chart.low,
                        high=chart.high,
                        signals=[each.where for each in chart.signals],
                    )
                ],
                unit="mm",
                phase_1=chart.phase_1,
                title=f"{name}, bell by bell, {len(made)} bells",
            )
        )
    return drawn
