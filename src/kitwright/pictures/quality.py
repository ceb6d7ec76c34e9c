"""The pictures of a sampling plan and of a gauge study, from their answers."""

from __future__ import annotations

from typing import Any

from kitwright.pictures.gauge_cells import MOST_PARTS, MOST_PERSONS, gauge_cells
from kitwright.pictures.palette import Palette
from kitwright.pictures.plan_curve import CurveMark, plan_curve, say_share
from kitwright.worksheets.showing import say_chance


def plan_picture(answer: Any, palette: Palette) -> tuple[str, str]:
    """The plan's curve with the qualities it was made for, and the line beneath it."""
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
    return svg, "How often the plan accepts, by the share bad that comes."


def _mark(answer: Any, quality: float, bad: int | None, chance: float, *, good: bool) -> CurveMark:
    at = quality if bad is None else bad / answer.lot
    share = say_share(quality) if bad is None else f"{bad} of {answer.lot}"
    words = f"{share} bad: accepted {say_chance(chance)}"
    return CurveMark(quality=at, accepted=chance, good=good, words=words)


def gauge_picture(case: Any, answer: Any, palette: Palette) -> tuple[str, str]:
    """Readings by part and person, and the line beneath them."""
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
    return svg, caption
