"""The release-gap worksheet in words: its sentence, its cautions, its sources, its example."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from kitwright.calc.depth.release_gap import above_zero
from kitwright.calc.quality.conformity import OUTSIDE, UNDECIDED, WITHIN, decide_length
from kitwright.units import Lead, show_length
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.depth.limits import GapAnswer
from kitwright.worksheets.depth.release_gap_case import ReleaseGapAnswer

WORN: Final = "gap when the disc is worn"
STROKE_LEFT: Final = "stroke left when new"

HOW: Final = (
    "The gap is face to fingers less face to bearing: engine side and gearbox side measured from "
    "the two faces that will meet, the clutch new, the bearing pushed fully back, before bleeding. "
    "It is not the running contact: once filled and bled, many hydraulic bearings follow the "
    "fingers and touch them lightly all the time. Each figure is judged with the whole "
    "expanded uncertainty of the gap. Shims are taken so that most is surely within, then the "
    "fewest, then nearest to the middle of the limits."
)

SOURCES: Final = (
    "ISO 14253-1:1998 and 2013 (three outcomes; the guard is the expanded uncertainty)",
    "JCGM 100:2008, 4.2 (the mean of repeated readings and its uncertainty)",
    "A gap of 1/8 to 1/4 in before bleeding: common practice, no source",
    "About 0.150 in with one disc, 0.200 in with two: common practice, no source",
)

BOTH_WAYS: Final = Caution(
    "WARNING",
    "No gap when worn and the clutch slips and burns; too much gap and the bearing can run past "
    "its stroke, lose its fluid and leave you without a clutch. The figures of the makers of "
    "bearing and clutch come before any shown here.",
)
FLUID: Final = Caution(
    "CAUTION",
    "Use only the fluid that the bearing's maker names; keep it off skin, eyes and paint.",
)

CAUTIONS: Final = (
    Caution(
        "DANGER",
        "The car stands on stands rated for it, on hard level ground, wheels chocked; the gearbox "
        "hangs on a jack made for it. Never work under a car on a jack alone.",
    ),
    BOTH_WAYS,
    Caution(
        "WARNING",
        "Stop and ask if the gearbox does not go home by hand: never draw it up with its bolts.",
    ),
    FLUID,
)

EXAMPLE: Final = """
# The gap between release bearing and clutch fingers, before the gearbox goes in.
# Engine side: from the bell's gearbox face forward to the finger tips, at several fingers.
face_to_fingers = ["69.02 mm", "68.94 mm", "69.10 mm"]

# Gearbox side: from its face forward to the bearing's face, the bearing pushed fully back.
# One reading, or a list where you measured again.
face_to_bearing = ["52.35 mm", "52.31 mm", "52.40 mm"]

# Measured over a straightedge? Say over which, and whether the readings came out short of the
# distance by its thickness (it lay on the face and you read from its far side: it is added) or
# long by it (your reading went through it: it is taken off).
straightedge = {thickness = "10 mm", over = "face_to_bearing", reading = "short"}

# What the bearing's maker allows. Left out: 1/8 to 1/4 in, common practice.
gap = {low = "1/8 in", high = "1/4 in"}

# Shims at hand, to go behind the bearing.
shims = [{thickness = "1.6 mm", count = 2}, {thickness = "0.8 mm", count = 2}]

# From the makers of clutch and bearing; left out, wear and stroke are not judged.
clutch = {disc_wear = "1 mm", finger_ratio = 3.0}
stroke = "16 mm"
release_travel = "9 mm"              # from touching the fingers to a clutch that is free
"""


def say(answer: ReleaseGapAnswer, lead: Lead) -> str:
    """What to put behind the bearing, or why to stop."""
    if answer.verdict == "outside":
        return f"Stop, do not bolt up. {_against(answer, lead)}"
    gap = show_length(answer.gap_shimmed_mm, lead=lead, uncertainty_mm=answer.gap_u95_mm).leading
    said = f"No shims: the gap is {gap}"
    if answer.shims_used:
        shims = " and ".join(
            f"{row.count} of {show_length(row.thickness_mm, lead=lead).leading}"
            for row in answer.shims_used
        )
        said = f"Shims behind the bearing, {shims}: the gap comes to {gap}"
    if answer.verdict == "within":
        return f"{said}, within {answer.gap.said(lead)}, and what follows from it holds."
    return f"{said}. Too close to call: measure again, at more places, before you bolt up."


def _against(answer: ReleaseGapAnswer, lead: Lead) -> str:
    """The first thing that is surely outside, in the unit of the reader's own dial."""

    def length(mm: float) -> str:
        return show_length(mm, lead=lead).leading

    u95, low, high = answer.gap_u95_mm, answer.gap.low_mm, answer.gap.high_mm
    code = decide_length(
        [answer.gap_shimmed_mm],
        u95=u95,
        low=-math.inf if low is None else low,
        high=math.inf if high is None else high,
    ).codes[0]
    if code == OUTSIDE:
        return gap_reason(OUTSIDE, answer.gap_shimmed_mm, answer.gap, length, lead)
    worn = answer.gap_worn_mm
    if worn is not None and above_zero(worn, u95) == OUTSIDE:
        return rest_reason(OUTSIDE, WORN, worn, length)
    assert answer.stroke_left_mm is not None
    return rest_reason(OUTSIDE, STROKE_LEFT, answer.stroke_left_mm, length)


def gap_reason(
    code: int, gap_mm: float, gap: GapAnswer, length: Callable[[float], str], lead: Lead = "mm"
) -> str:
    """What the gap with its shims is against its limits; `length` says a length."""
    limits, said = gap.said(lead), f"The gap of {length(gap_mm)} is "
    if code == WITHIN:
        return f"{said}within {limits}, its uncertainty allowed for."
    if code == UNDECIDED:
        return f"{said}too close to a limit of {limits} to call, by its uncertainty."
    low, high = gap.low_mm, gap.high_mm
    if low is not None and gap_mm < low:
        return (
            f"{said}less than {length(low)} without any shim: the bearing stands "
            f"{length(low - gap_mm)} too far forward."
        )
    assert high is not None
    wanted = length(gap_mm - high)
    if low is not None:
        wanted += f" to {length(gap_mm - low)}"
    return f"{said}not within {limits}, and no shims at hand bring it there: it takes {wanted}."


def rest_reason(code: int, what: str, mm: float, length: Callable[[float], str]) -> str:
    """What is left of something that must be above zero."""
    said = f"The {what} is {length(mm)}"
    if code == WITHIN:
        return f"{said}, above zero by more than its uncertainty."
    return f"{said}, too close to zero to call." if code == UNDECIDED else f"{said}: there is none."
