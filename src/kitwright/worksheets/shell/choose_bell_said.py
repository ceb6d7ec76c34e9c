"""The choose-bell worksheet in words: its sentence, why, its cautions, its example.

No line here may promise anything of a shell; a test reads them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from kitwright.units import Lead
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.money import Price
from kitwright.worksheets.shell.choose_bell_case import ChooseBellAnswer, DesignPart

CAUTIONS: Final = (
    Caution(
        "DANGER",
        "A clutch or flywheel that bursts kills. Nothing here says what any bell does then. The "
        "sanctioning body's current rule book, the certificate on the bell itself and the makers "
        "of bell, clutch and flywheel say what may be used, and how.",
    ),
    Caution(
        "WARNING",
        "Rules here are copies, each with its source and the day it was copied. Check the current "
        "book before you order and again before you race.",
    ),
)

HOW: Final = (
    "First what is out, whatever its figures: a rule that counts and demands a certified shell, a "
    "certificate whose last day comes before the first use, the budget, the day, the opening. What "
    "is left is ordered by ratios: each figure counts as so many times the best one of the bells "
    "left, to the power of its weight's share, and these are multiplied; 1 is best in everything. "
    "A bell that is taken off the list changes nothing between the others."
)

SOURCES: Final = (
    (
        "The weighted product: P. W. Bridgman, Dimensional Analysis (1922); D. W. Miller, M. K. "
        "Starr, Executive Decisions and Operations Research (1969): from memory"
    ),
    "Rules: each with its own source, as copied",
)

EXAMPLE: Final = """
# Which bell for this customer? What is out comes first, then an order by figures.
use = "street, and four drag days a year"
day_of_use = "2026-08-15"            # a certificate must last to here
wanted_by = "2026-07-01"
power_kw = 430
speed_rpm = 7200
budget = {amount = "1500.00", currency = "USD"}
noise_wish = "as quiet as can be"    # or "does not matter"
hand_room_wish = "as roomy as can be"
# needed_width = "60 mm"             # the hand-room worksheet says what serves
# needed_height = "45 mm"

# Weights of your own; without them each figure that matters counts the same.
# weights = {price = 2, mass = 1, ring = 1, hand_room = 0}

# Copied from the body's book: say from where and when, and check the current book.
[[rules]]
body = "Fenmark Strip Association"
use = "drag, quarter mile"
demands = "certified shell"          # or "no certified shell"
spec = "shell class B"
from_what = "from 400 kW, or quicker than 11.5 s"
from_power_kw = 400
source = "rule book 2026, 4.12"
copied_on = "2026-02-10"

[[designs]]
name = "Heron cast bell"
material = "cast aluminium"
mass_kg = 7.4
price = {amount = "685.00", currency = "USD"}
certified = false
ring_s = 0.3                         # how long it rings; where it is a range, its least
ring_most_s = 0.6
opening_width = "96 mm"
opening_height = "62 mm"
ships_on = "2026-05-04"

[[designs]]
name = "Heron steel bell"
material = "certified steel"
mass_kg = 13.1
price = {amount = "1140.00", currency = "USD"}
certified = true
certificate = "SD-20417"
certificate_last_day = "2027-03-31"
ring_s = 1.4
opening_width = "70 mm"
opening_height = "48 mm"
ships_on = "2026-05-21"

[[designs]]
name = "Heron quiet steel bell"
material = "certified steel"
mass_kg = 14.0
price = {amount = "1310.00", currency = "USD"}
certified = true
certificate = "SD-20418"
certificate_last_day = "2027-03-31"
ring_s = 0.7
opening_width = "70 mm"
opening_height = "48 mm"
ships_on = "2026-06-18"
"""


def say(answer: ChooseBellAnswer, lead: Lead) -> str:
    """Which one and why, or that none is left."""
    out = list(dict.fromkeys(row.name for row in answer.excluded))
    if answer.recommended is None or answer.price is None or answer.mass_kg is None:
        reasons = "; ".join(f"{name}: {_first_reason(answer, name)}" for name in out)
        return f"No bell on offer is left. {reasons}."
    price, mass = answer.price.text, f"{answer.mass_kg:g} kg"
    if len(answer.ranked) == 1:
        said = f"One bell is left: {answer.recommended}, {price}, {mass}."
    else:
        count = len(answer.ranked)
        said = (
            f"{answer.recommended} comes first of the {count} bells that are left, at {price} and "
            f"{mass}."
        )
        if answer.close:
            said += " It is close: a small change of the weights puts another first."
    if out:
        said += f" Out: {'; '.join(f'{name}, {_first_reason(answer, name)}' for name in out)}."
    return f"{said} Check the current rule book before you order."


def _first_reason(answer: ChooseBellAnswer, name: str) -> str:
    return next(row.reason for row in answer.excluded if row.name == name)


def ring_said(ring: tuple[float, float]) -> str:
    """How long it rings."""
    low, high = ring
    return f"{low:g} s" if low == high else f"{low:g} to {high:g} s"


def why(ordered: Sequence[DesignPart], figures: Sequence[str]) -> list[str]:
    """The first against the next, figure by figure, in sentences."""
    if len(ordered) == 1:
        return ["It is the only one that is left."]
    return [f"Against {ordered[1].name}: {', '.join(_apart(ordered[0], ordered[1], figures))}."]


def _apart(one: DesignPart, other: DesignPart, figures: Sequence[str]) -> Iterator[str]:
    currency = one.price.currency
    for figure in figures:
        if figure == "price":
            more = one.price.amount.exact - other.price.amount.exact
            amount = Price.of(abs(more), currency).text
            yield "the same price" if more == 0 else f"{amount} {'more' if more > 0 else 'less'}"
        elif figure == "mass":
            more_kg = one.mass_kg - other.mass_kg
            word = "heavier" if more_kg > 0 else "lighter"
            yield "the same mass" if more_kg == 0 else f"{abs(more_kg):.3g} kg {word}"
        elif figure == "ring" and one.ring and other.ring:
            yield f"rings for {ring_said(one.ring)} against {ring_said(other.ring)}"
        elif figure == "hand room" and one.opening_width and other.opening_width:
            yield _opening(one, other)


def _opening(one: DesignPart, other: DesignPart) -> str:
    areas = [
        each.opening_width.mm * each.opening_height.mm
        for each in (one, other)
        if each.opening_width is not None and each.opening_height is not None
    ]
    if areas[0] == areas[1]:
        return "the same opening"
    return f"an opening {areas[0] / areas[1]:.2g} times as large"
