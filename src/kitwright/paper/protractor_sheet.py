"""The page with full-size protractors: where each eccentric dowel's slot must point."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from kitwright.paper.pieces import caution_data
from kitwright.paper.typesetting import Svg
from kitwright.pictures.palette import PRINT
from kitwright.pictures.protractor import (
    ACROSS_MM,
    RULE_WIDE_MM,
    WIDE_MM,
    scale_rule,
    slot_protractor,
)
from kitwright.units import Lead, plain, say_clock, say_length, show_length
from kitwright.worksheets.centring.dowels_case import CandidateRow, DowelsAnswer, DowelsCase
from kitwright.worksheets.declaration import load

DOWEL_MM: Final = 16.0
"""Diameter of the hole where nobody gave the dowel's; common practice, no source."""

STEPS: Final = (
    (
        "Print at actual size, 100 %, never fitted to the page. Measure both lines above: if they "
        "are not 100 mm and 4 in long, the discs are wrong too. Print again."
    ),
    f"Cut the disc out along its outer circle ({ACROSS_MM:g} mm), then the dashed hole.",
    (
        "Slide it over the dowel, printed side toward you as you stand behind the engine. Lay a "
        "straightedge over the middles of both dowels and turn the disc until its dashed line lies "
        "along it, toward the other dowel. Then 12 is up."
    ),
    (
        "Turn the dowel until its slot lies along the bold line and points to the arrow. The slot "
        "must point from the end in the block to the end in the bell: if your maker marks his "
        "dowels otherwise, his mark counts."
    ),
    "Take the paper off before the bell goes on.",
)
"""Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One eccentric dowel: its hole's letter, its size, and where its slot is to point."""

    letter: str
    size_mm: float
    slot_deg: float
    other_deg: float
    """Clock angle of the other dowel as seen from this one."""


def protractor_data(
    case: DowelsCase, answer: DowelsAnswer, lead: Lead, *, dowel_mm: float | None = None
) -> dict[str, Any] | None:
    """What the template prints; None where no eccentric dowel is to be turned.

    Parameters
    ----------
    dowel_mm : diameter of the dowels; without one the page says that it took `DOWEL_MM`
    """
    slots = list(slots_of(case, answer))
    if not slots:
        return None
    across = DOWEL_MM if dowel_mm is None else dowel_mm
    hole = str(show_length(across, lead=lead, usual_mm=1))
    dangers = [c for c in load("dowels").cautions if c.word == "DANGER"]
    return {
        "template": "protractors",
        "cautions": caution_data(dangers),
        "rule": Svg(scale_rule(PRINT)),
        "rule_mm": RULE_WIDE_MM,
        "wide_mm": WIDE_MM,
        "discs": [_disc(slot, across, lead) for slot in slots],
        "hole": f"The hole is drawn for a dowel of {hole}, which was "
        + ("assumed: no diameter was given. " if dowel_mm is None else "given. ")
        + "Measure your dowel and cut to it.",
        "steps": STEPS,
    }


def _disc(slot: Slot, across_mm: float, lead: Lead) -> dict[str, Any]:
    svg = slot_protractor(
        name=f"dowel {slot.letter}",
        size=say_length(slot.size_mm, lead=lead),
        slot_deg=slot.slot_deg,
        other_deg=slot.other_deg,
        dowel_mm=across_mm,
        palette=PRINT,
    )
    degrees = plain(slot.slot_deg % 360, 0)
    size = show_length(slot.size_mm, lead=lead)
    return {
        "svg": Svg(svg),
        "caption": f"Dowel {slot.letter}, {size}: slot at {degrees}°, {say_clock(slot.slot_deg)}",
    }


def slots_of(case: DowelsCase, answer: DowelsAnswer) -> Iterator[Slot]:
    """The slots to set: by the recommended setting, or after a turn by the next one."""
    best: CandidateRow | None = answer.next_turn
    if answer.learned is None:
        best = None if answer.recommended is None else answer.candidates[answer.recommended]
    if best is None:
        return
    slot_a, slot_b = answer.slots_deg(case.turned)
    (ax, ay), (bx, by) = case.dowel_a, case.dowel_b
    to_b = math.degrees(math.atan2(bx.mm - ax.mm, by.mm - ay.mm)) % 360
    if slot_a is not None and best.a_size_mm > 0:
        yield Slot(letter="a", size_mm=best.a_size_mm, slot_deg=slot_a, other_deg=to_b)
    if slot_b is not None and best.b_size_mm > 0:
        yield Slot(
            letter="b", size_mm=best.b_size_mm, slot_deg=slot_b, other_deg=(to_b + 180) % 360
        )
