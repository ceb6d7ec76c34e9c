"""The heard worksheet in words: its sentence, what it does not show, its example."""

from __future__ import annotations

from typing import Final

from kitwright.calc.shell.loss_ranges import LOSSES, SOURCE
from kitwright.units import Lead
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.shell.heard_case import HeardAnswer, HeardDesign
from kitwright.worksheets.shell.tap_said import hertz, seconds

CAUTIONS: Final = (
    Caution(
        "CAUTION",
        "The sound is made so that it is not loud, but your amplifier does not know that. Turn it "
        "down before you put headphones on.",
    ),
)

HOW: Final = (
    "Each mode starts with the speed that the same blow gives it and dies away as its loss factor "
    "says: amplitude exp(-pi x frequency x loss factor x time). Both bells are scaled alike, so "
    "that the louder one is louder. The ring is the time in which the energy of all modes has "
    "fallen 60 dB; the ear's share is by A-weighting."
)

SOURCES: Final = (
    f"Loss factors: {SOURCE}",
    "A-weighting: IEC 61672-1:2013 (from memory)",
    (
        "Loss factor = 2.2 / (frequency x time to fall 60 dB): L. Cremer, M. Heckl, E. E. Ungar, "
        "Structure-Borne Sound (from memory)"
    ),
)

EXAMPLE: Final = """
# How would this bell sound beside that one? The same blow for both.
# The figures of the first are those of a tap (kitwright work tap); the second is on paper.
[[designs]]
name = "cast bell, as tapped"
measured = true                     # its loss factors are from a tap
mass_kg = 9.5                       # of two lists, the lighter bell moves more
modes = [
  {frequency_hz = 318.4, level_db = 0.0, loss_factor = 0.0034},
  {frequency_hz = 321.1, level_db = -3.5, loss_factor = 0.0031},
  {frequency_hz = 884.2, level_db = -2.0, loss_factor = 0.0022},
  {frequency_hz = 1704.6, level_db = -8.2, loss_factor = 0.0019},
]

[[designs]]
name = "steel bell, on paper"
loss_of = "welded steel"            # as published: a range, so the answer is one too
mass_kg = 14.0
modes = [
  {frequency_hz = 402.0, level_db = 0.0},
  {frequency_hz = 1120.0, level_db = -3.0},
  {frequency_hz = 2140.0, level_db = -6.0},
]
# In place of modes: bell = {...}, a case of the worksheet modes, and struck_at = {z = "80 mm"}.
"""


def say(answer: HeardAnswer, lead: Lead) -> str:
    """What someone who listened would say."""
    first = answer.designs[0]
    said = f"{_alone(first)}."
    if len(answer.designs) == 1:
        return said
    second = answer.designs[1]
    said += f" {_alone(second)}."
    if answer.second_over_first_db is not None:
        louder = answer.second_over_first_db
        if abs(louder) < 0.5:
            said += " At the same blow they begin equally loud."
        else:
            word = "louder" if louder > 0 else "quieter"
            said += f" At the same blow the second begins {abs(louder):.0f} dB {word}."
    return said


def _alone(design: HeardDesign) -> str:
    name = f"{design.name[:1].upper()}{design.name[1:]}"
    if design.ring_shortest_s is not None and design.ring_longest_s is not None:
        lasting = f"{seconds(design.ring_shortest_s)} to {seconds(design.ring_longest_s)}"
    else:
        lasting = seconds(design.ring_s)
    source = "measured" if design.loss.startswith("measured") else "not measured"
    return f"{name}: heard loudest at {hertz(design.loudest_hz)}, rings {lasting} ({source})"


def in_car(shortest: float, longest: float) -> list[str]:
    """What the sound does not show, with how long the first bell would ring bolted together."""
    bolted = LOSSES["bolted together"]
    return [
        (
            "This is the bell by itself, hung free. In the car it is bolted to block and gearbox, "
            "and joints lose more than the metal."
        ),
        (
            f"Published for what is bolted together: {bolted.low:g} to {bolted.high:g}. At that "
            f"the first bell would ring {seconds(shortest)} to {seconds(longest)}."
        ),
        "Against losses like these, what tells two metals apart when they hang free is small.",
    ]
