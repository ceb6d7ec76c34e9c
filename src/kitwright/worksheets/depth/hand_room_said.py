"""The hand-room worksheet in words: its sentence, its cautions, its sources, its example."""

from __future__ import annotations

from typing import Final

from kitwright.units import Lead, say_length
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.depth.hand_room_case import HandRoomAnswer

HOW: Final = (
    "By plane geometry: the wall is flat, the tool a straight bar with a wider head that goes in "
    "straight along the line on which it then stands, and swings square to the adjuster's axis. "
    "What a swing needs of the opening is one rectangle, from the low end of its first angle to "
    "the high end of its last; the first angle is chosen to leave most room. The smallest opening "
    "is a proven least over all ways in and all first angles."
)

SOURCES: Final = (
    "EN 547-3 (ISO 15534-3), 5th and 95th percentiles of hand and arm: from memory",
    "S. Pheasant, Bodyspace: hand breadth and thickness over the thumb: from memory",
    "A wrench's proportions to its size; 30 degrees a swing: common practice, no source",
)

CAUTIONS: Final = (
    Caution(
        "DANGER",
        "Reach in only when nothing can turn: key out, battery's cable off, out of gear. A "
        "starter or a crank that moves takes fingers.",
    ),
    Caution(
        "DANGER",
        "The car stands on stands rated for it, on hard level ground, wheels chocked. Never work "
        "under a car on a jack alone.",
    ),
    Caution(
        "WARNING",
        "An opening weakens a bell. One that must hold fragments may not be opened or altered: the "
        "shell's maker and your sanctioning body's current rule book say what is allowed.",
    ),
    Caution("CAUTION", "Round every edge that a hand can touch."),
)

EXAMPLE: Final = """
# Can a wrench reach the release bearing's adjuster through the opening in the bell?
# Look at the wall from outside: x along the crank (rearward), y round the bell, from any one point.
box = {width = "60 mm", height = "70 mm", x = "0 mm", y = "0 mm"}
# Or corner by corner:
# outline = [["-30 mm", "-35 mm"], ["30 mm", "-35 mm"], ["30 mm", "35 mm"], ["-30 mm", "35 mm"]]
wall = "6 mm"

# Where the adjuster lies, and which way its axis points.
adjuster = {x = "5 mm", y = "4 mm", depth = "70 mm", axis = "along the crank"}

tool = "open-ended wrench"           # or "hand"
swing_deg = 30                       # a 15 degree head, turned over after each swing
clearance = "2 mm"                   # wanted on every side

# Measure your own; what is left out follows from the size.
[wrench]
size = "13 mm"
length = "180 mm"                    # from the nut's middle to the end
"""


def say(answer: HandRoomAnswer, lead: Lead) -> str:
    """Whether it serves, and what would."""
    tool = "The hand" if answer.tool == "hand" else "The wrench"
    if answer.verdict == "fits" and answer.margin_mm is not None:
        does = "gets in and reaches"
        if answer.swing_deg is not None:
            does = f"gets in, reaches and swings {answer.swing_deg:g}°"
        return f"{tool} {does}, with {say_length(answer.margin_mm, lead=lead)} free on every side."
    said = f"{tool} does not serve: {answer.limited_by[:1].lower()}{answer.limited_by[1:]}"
    small = answer.smallest
    if small is not None:
        width, height = (say_length(mm, lead=lead) for mm in (small.width_mm, small.height_mm))
        said += f" The smallest opening that serves is {width} by {height}, over the adjuster."
    return said
