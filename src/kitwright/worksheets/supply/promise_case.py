"""What the promise worksheet takes and what it answers."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final

from pydantic import Field

from kitwright.worksheets.fields import Answer, AnswerPart, Case, Chance, Day, Part, shown
from kitwright.worksheets.supply.batches_coming import (
    MOST_BATCHES,
    MOST_HISTORY,
    BatchPart,
    Bells,
    YieldPart,
)
from kitwright.worksheets.supply.hold_back_case import Wanted

MOST_LEAD_DAYS: Final = 700
LeadDays = Annotated[int, Field(ge=0, le=MOST_LEAD_DAYS)]


class ShortPart(Part):
    """A part of the kit that is not on the shelf for this order."""

    name: Annotated[str, Field(min_length=1, max_length=200)] = Field(description="Part")
    least: LeadDays = Field(description="At least, days")
    likely: LeadDays = Field(description="Most likely, days")
    most: LeadDays = Field(description="At most, days")


class PromiseCase(Case):
    """Where an order stands in the sequence, and what is to come."""

    today: Day = Field(description="Today")
    ahead: Bells = Field(
        default=0, description="Orders before it that wait for a bell of the same design"
    )
    on_shelf: Bells = Field(default=0, description="Free bells on the shelf")
    batches: list[BatchPart] = Field(
        default_factory=list, max_length=MOST_BATCHES, description="Batches under way"
    )
    yield_history: list[YieldPart] = Field(
        default_factory=list,
        max_length=MOST_HISTORY,
        description="Batches that came, and how many were good",
    )
    parts_short: list[ShortPart] = Field(
        default_factory=list, max_length=400, description="Parts that are still to come"
    )
    chance: Wanted | None = Field(default=None, description="Chance with which the day must hold")


class DayRow(AnswerPart):
    """How surely a day would hold."""

    day: date = shown("Day")
    chance: Chance = shown("It holds")


class BringsRow(AnswerPart):
    """Where the bell comes from."""

    source: str = shown("The bell comes from")
    chance: Chance = shown("With the chance")


class RestsRow(AnswerPart):
    """One thing that the day rests on."""

    what: str = shown("It rests on")


class PromiseAnswer(Answer):
    """The earliest day that can be held, and what it rests on."""

    day: date | None = shown("Earliest day held")
    """null where no day within two years holds with the wanted chance."""
    chance: Chance | None = shown("It holds")
    chance_wanted: Chance = shown("Wanted")
    bell_day: date | None = shown("The bell alone, by")
    parts_day: date | None = shown("The other parts alone, by")
    slowest: str | None = shown("What holds it up", optional=True)
    chance_good: Chance | None = shown("Share good of a batch, mean", optional=True)
    rests_on: list[RestsRow] = shown("What it rests on")
    brings: list[BringsRow] = shown("Where the bell comes from")
    days: list[DayRow] = shown("How surely other days would hold")
    chances: list[Chance] = shown("Day by day from today", hidden=True)
    """As far as it still rises, two years at most."""


EXAMPLE: Final = """\
# Which day can be held for an order, and how surely.
today = "2026-05-04"
ahead = 6                 # orders before it that wait for a bell of the same design
on_shelf = 2              # free bells
chance = 0.9              # with which the day must hold

[[batches]]               # planned, sent, or back and not judged yet
name = "B-05"
due = "2026-05-18"
count = 12
days_late = [0, 3, 5, 2, 9]   # that machinist's batches before; early ones are negative
days_to_inspect = 2

[[batches]]
name = "B-06"
due = "2026-06-15"
count = 24
days_late = [0, 3, 5, 2, 9]
days_to_inspect = 2

[[yield_history]]         # batches that came
made = 50
good = 43
[[yield_history]]
made = 24
good = 22

[[parts_short]]           # of this order's kit
name = "flywheel"
least = 5
likely = 9
most = 20
"""
