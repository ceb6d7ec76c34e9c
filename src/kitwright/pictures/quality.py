"""The pictures of the quality stage's answers: limits, scatter, charts, plans, gauges."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

from kitwright.pictures.bores import Region
from kitwright.pictures.chart import Panel
from kitwright.pictures.chart import control_chart as chart_of
from kitwright.pictures.gauge_cells import MOST_PARTS, MOST_PERSONS, gauge_cells
from kitwright.pictures.limits import limit_line
from kitwright.pictures.palette import Palette
from kitwright.pictures.picture import Picture
from kitwright.pictures.plan_curve import CurveMark, plan_curve, say_share
from kitwright.pictures.strip import strip
from kitwright.pictures.target import Mark, target
from kitwright.units import Lead
from kitwright.worksheets.showing import say_chance


def sampling_plan(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The plan's curve with the qualities it was made for."""
    risks = answer.risks
    marks = []
    if risks.accept_quality is not None:
        chance = 1 - risks.producers_risk
        marks.append(_mark(answer, risks.accept_quality, risks.accept_bad, chance, good=True))
    if risks.reject_quality is not None:
        chance = risks.consumers_risk
        marks.append(_mark(answer, risks.reject_quality, risks.reject_bad, chance, good=False))
    svg = plan_curve(
        [(row.quality, row.chance_accepted) for row in answer.curve],
        marks=marks,
        whole=answer.lot is not None,
        palette=palette,
        title="How often the plan accepts",
    )
    yield Picture(svg=svg, caption="How often the plan accepts, by the share bad that comes.")


def _mark(answer: Any, quality: float, bad: int | None, chance: float, *, good: bool) -> CurveMark:
    at = quality if bad is None else bad / answer.lot
    share = say_share(quality) if bad is None else f"{bad} of {answer.lot}"
    words = f"{share} bad: accepted {say_chance(chance)}"
    return CurveMark(quality=at, accepted=chance, good=good, words=words)


def gauge_study(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Readings by part and person."""
    cells: dict[tuple[str, str], list[float]] = {}
    for part, person, value in case.readings:
        cells.setdefault((part, person), []).append(value)
    parts = list(dict.fromkeys(part for part, _ in cells))
    persons = list(dict.fromkeys(person for _, person in cells))
    svg = gauge_cells(
        cells,
        parts=parts[:MOST_PARTS],
        persons=persons[:MOST_PERSONS],
        unit=answer.unit,
        palette=palette,
        title="What each person read on each part",
    )
    caption = "Each reading less the mean of its part; a stroke joins one person's repeats."
    if len(parts) > MOST_PARTS or len(persons) > MOST_PERSONS:
        caption += (
            f" The first {min(len(persons), MOST_PERSONS)} of {len(persons)} persons and "
            f"{min(len(parts), MOST_PARTS)} of {len(parts)} parts."
        )
    yield Picture(svg=svg, caption=caption)


def conformity(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The value between its limits."""
    svg = limit_line(
        value_mm=answer.value_mm,
        u95_mm=answer.u95_mm,
        low_mm=answer.limits.low_mm,
        high_mm=answer.limits.high_mm,
        guard_mm=answer.guard_mm,
        verdict=answer.verdict,
        lead=lead,
        palette=palette,
        title="The value between its limits",
    )
    caption = "The value with its plus and minus; a value in a hatched band is too close to call."
    yield Picture(svg=svg, caption=caption)


_POSITIONS_SHOWN: Final = 400


def capability(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """How values lie between their limits, or positions in their zone."""
    if case.positions is None:
        svg = strip(
            answer.strip,
            lowest=answer.strip_from,
            highest=answer.strip_to,
            low=answer.limits.low,
            high=answer.limits.high,
            mean=answer.mean,
            unit=answer.unit,
            palette=palette,
            title="Values between their limits",
        )
        yield Picture(svg=svg, caption="How the measured values lie between the limits.")
        return
    mm, radius = case.unit.mm, answer.zone / 2
    shown = case.positions[-_POSITIONS_SHOWN:]
    marks = [
        Mark(
            x_mm=x * mm,
            y_mm=y * mm,
            verdict="within" if math.hypot(x, y) <= radius else "outside",
        )
        for x, y in shown
    ]
    xx, xy, yy = (each * mm * mm for each in answer.covariance)
    region = Region(
        x_mm=answer.mean[0] * mm,
        y_mm=answer.mean[1] * mm,
        covariance_mm2=(xx, xy, yy),
        label="95 % of all",
    )
    svg = target(
        limit_tir_mm=answer.zone * mm,
        marks=marks,
        regions=[region],
        note=f"{say_chance(answer.chance_outside)} outside the zone",
        lead=lead,
        palette=palette,
        title="Positions in their zone",
    )
    caption = "Where the positions lie, and where 95 % of all will."
    if len(shown) < len(case.positions):
        caption += f" The last {len(shown)} of {len(case.positions)}."
    yield Picture(svg=svg, caption=caption)


_PLOTTED: Final = {"individuals": "Values", "mean-range": "Means", "mean-sigma": "Means"}


def control_chart(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Both charts, one over the other."""
    panels = [
        Panel(
            name=name,
            points=chart.points,
            first=first,
            centre=chart.centre,
            low=chart.limits.low,
            high=chart.limits.high,
            signals=[signal.where for signal in chart.signals],
        )
        for name, chart, first in (
            (_PLOTTED[answer.kind], answer, 1),
            (answer.dispersion.of.capitalize(), answer.dispersion, answer.dispersion.first),
        )
    ]
    svg = chart_of(
        panels, unit=answer.unit, phase_1=answer.phase_1, palette=palette, title="Control chart"
    )
    yield Picture(svg=svg, caption="Points in the order made; a ring marks a signal.")
