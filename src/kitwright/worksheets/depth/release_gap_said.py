"""The release-gap worksheet in words: its sentence, its cautions, its sources, its example."""

from __future__ import annotations

from typing import Final

from kitwright.units import Lead, show_length
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.depth.release_gap_case import ReleaseGapAnswer

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
        return f"Stop, do not bolt up. {answer.reasons[0]}"
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
