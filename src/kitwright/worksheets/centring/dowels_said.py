"""The dowels worksheet in words: its sentence, its cautions, its sources, its example."""

from __future__ import annotations

import math
from typing import Final

from kitwright.units import Lead, say_clock, say_length
from kitwright.worksheets.centring.cautions import BY_HAND, DRIVEN, MAKERS, NO_DRESSING, STANDS
from kitwright.worksheets.centring.dowels_case import (
    CandidateRow,
    DowelsAnswer,
    LearnedAnswer,
    NextTurnAnswer,
)

HOW: Final = (
    "For each pair of sizes, and each side of the dowels' line to which their slots can point, the "
    "setting of least offset by branch and bound, proven to 1e-6 of the largest size; the bell "
    "moves as a rigid body to first order. The chances by quadrature over both turning errors, "
    "the sweep's uncertainty taken exactly as a circular normal."
)

SOURCES: Final = (
    "S. O. Rice, Mathematical analysis of random noise, Bell System Technical Journal 24 (1945)",
    "L. N. Trefethen and J. A. C. Weideman, SIAM Review 56 (2014) 385-458: even rules on circles",
    "Sizes of 7, 14 and 21 thou, and turning a slot to about 5 degrees: common practice, no source",
)

CAUTIONS: Final = (STANDS, BY_HAND, DRIVEN, NO_DRESSING, MAKERS)

EXAMPLE: Final = """
# Which eccentric dowels, turned to where, put this bore right?
# From the sweep: the offset is half the TIR of a round bore. The clock angle says where the bore
# lies from the crank axis, seen from behind the engine, 12 o'clock up.
offset = "7.2 thou"
offset_clock_deg = 240
offset_u95 = "1 thou"              # how well the sweep knows it (k = 2)
limit = "5 thou"                   # the largest TIR allowed

# Where the dowel holes are, from the crank axis: x to the right, y up, seen from behind.
dowel_a = ["-180 mm", "20 mm"]
dowel_b = ["180 mm", "20 mm"]

# What is in the drawer; plain dowels are always there.
sizes = ["7 thou", "14 thou", "21 thou"]
hole_clearance = "1 thou"          # of each dowel in its hole, on the diameter
angle_error_deg = 5                # standard error of turning one slot

# The bell may turn no further than its bolts allow:
# bolt_radius = "200 mm"           # the furthest bolt from the crank axis
# bolt_clearance = "0.5 mm"        # of the bolt in its hole, on the diameter

# After the turn and a second sweep, what did the dowels really do?
# offset_after = "2.8 thou"
# offset_after_clock_deg = 165
# [turned]
# a_size = "7 thou"
# a_clock_deg = 60
# b_size = "7 thou"
# b_clock_deg = 60
"""

_ON_THE_HOUR = 2.0  # degrees; further off, the angle is said as well


def say(answer: DowelsAnswer, lead: Lead) -> str:
    """The answer as a fitter would say it."""
    limit = say_length(answer.limit_mm, lead=lead)
    if answer.learned is not None:
        return _say_after(answer, answer.learned, lead)
    if answer.outcome == "within already":
        now = _small(answer.tir_now_mm, lead)
        return f"Leave it alone: its offset reads {now} TIR, and {limit} is allowed."
    if answer.outcome == "no surer":
        surer = f"no setting is likelier to be within {limit} TIR than it is now"
        if answer.tir_now_mm <= answer.limit_mm:
            return f"Leave it alone: {surer}."
        return f"Do not turn yet: {surer}. Sweep again to know it better, or get smaller sizes."
    if answer.recommended is None:
        least = min(row.predicted_tir_mm for row in answer.candidates)
        return (
            f"These dowels cannot put it right: the closest leaves {_small(least, lead)} TIR, "
            f"and {limit} is allowed."
        )
    best = answer.candidates[answer.recommended]
    said = f"{_dowels(best, lead)}: {_left(best, limit, lead)}."
    return said[0].upper() + said[1:]


def _say_after(answer: DowelsAnswer, learned: LearnedAnswer, lead: Lead) -> str:
    limit = say_length(answer.limit_mm, lead=lead)
    if answer.within_after:
        return f"The second sweep is within {limit} TIR: leave it."
    turn = answer.next_turn
    if turn is None and 2 * learned.plain_offset_mm <= answer.limit_mm:
        return f"The second sweep is not surely within {limit} TIR: sweep again to know it better."
    if turn is None:
        return f"The second sweep is not surely within {limit} TIR, and no setting comes closer."
    turns = _turns(turn)
    if turn.a_size_mm == turn.b_size_mm == 0:
        said = f"put {_dowels(turn, lead)}: {_left(turn, limit, lead)}."
    elif turns is None:
        said = f"take other dowels, {_dowels(turn, lead)}: {_left(turn, limit, lead)}."
    else:
        said = f"{turns}: {_left(turn, limit, lead)}."
    return said[0].upper() + said[1:]


def _turns(turn: NextTurnAnswer) -> str | None:
    """How to turn the dowels that are in; None where others are to be taken."""
    parts = []
    for name, size, degrees in (
        ("a", turn.a_size_mm, turn.a_turn_deg),
        ("b", turn.b_size_mm, turn.b_turn_deg),
    ):
        if size > 0 and degrees is None:
            return None
        if degrees is not None:
            way = "clockwise" if degrees >= 0 else "counter-clockwise"
            parts.append(f"dowel {name} {abs(degrees):.0f}° {way}")
    stand = "they stand" if len(parts) == 2 else "it stands"
    return f"turn {' and '.join(parts)} from where {stand}" if parts else None


def _dowels(row: CandidateRow, lead: Lead) -> str:
    a, b = say_length(row.a_size_mm, lead=lead), say_length(row.b_size_mm, lead=lead)
    if row.a_clock_deg is None or row.b_clock_deg is None:
        plain, other = ("a", "b") if row.a_clock_deg is None else ("b", "a")
        size, clock = (b, row.b_clock_deg) if plain == "a" else (a, row.a_clock_deg)
        if clock is None:
            return "plain dowels in both holes"
        return f"{size} dowel in hole {other}, slot at {_hour(clock)}, and a plain one in {plain}"
    slot_a, slot_b = _hour(row.a_clock_deg), _hour(row.b_clock_deg)
    if a == b and slot_a == slot_b:
        return f"{a} dowels in both holes, slots at {slot_a}"
    return f"{a} dowel in hole a, slot at {slot_a}, and {b} in hole b, slot at {slot_b}"


def _hour(clock_deg: float) -> str:
    """The hour, with the angle where the hour alone would mislead."""
    off = abs((clock_deg + 7.5) % 15 - 7.5)
    hour = say_clock(clock_deg)
    return hour if off <= _ON_THE_HOUR else f"{hour} ({clock_deg % 360:.0f}°)"


def _left(row: CandidateRow, limit: str, lead: Lead) -> str:
    tir = row.predicted_tir_mm
    return f"about {_small(tir, lead)} TIR left, within {limit} {_times(row.chance_within)}"


def _small(mm: float, lead: Lead) -> str:
    """A length said, and never as nothing."""
    least = 0.00254 if lead == "in" else 0.002
    return say_length(mm, lead=lead) if mm >= least else say_length(least, lead=lead)


def _times(chance: float) -> str:
    times = math.floor(100 * chance + 1e-9)
    if times == 100 or chance > 0.995:
        return "more than 99 times in 100"
    if times < 1:
        return "less than once in 100"
    return f"{times} times in 100" if times > 1 else "once in 100"
