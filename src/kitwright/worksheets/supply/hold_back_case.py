"""What the hold-back worksheet takes and what it answers."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final, Literal

from pydantic import Field

from kitwright.worksheets.fields import Answer, AnswerPart, Case, Chance, Day, Part, shown
from kitwright.worksheets.money import Money
from kitwright.worksheets.supply.batches_coming import (
    MOST_BATCHES,
    MOST_HISTORY,
    BatchPart,
    Bells,
    YieldPart,
)

Weeks = Annotated[float, Field(ge=0, le=520, allow_inf_nan=False)]
Wanted = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]


class ReplenishmentPart(Part):
    """Weeks until new bells come, as a person estimates them."""

    least: Weeks = Field(description="At least, weeks")
    likely: Weeks = Field(description="Most likely, weeks")
    most: Annotated[float, Field(ge=0, le=104, allow_inf_nan=False)] = Field(
        description="At most, weeks"
    )


class HoldBackCase(Case):
    """Bells on hand, how kits are asked for, and how long new bells take."""

    on_hand: Bells = Field(description="Bells on the shelf that may be sold")
    promised: Bells = Field(default=0, description="Of them promised or allocated already")
    kits_per_week: Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)] | None = Field(
        default=None, description="Kits asked for in a week"
    )
    history: list[Bells] | None = Field(
        default=None,
        min_length=1,
        max_length=1000,
        description="Kits asked for in each of the last weeks",
    )
    replenishment_weeks: Weeks | None = Field(
        default=None, description="Weeks until new bells come"
    )
    replenishment: ReplenishmentPart | None = Field(
        default=None, description="Or, where that is not sure"
    )
    service: Wanted | None = Field(
        default=None, description="Chance that no kit goes short until then"
    )
    kit_margin: Money | None = Field(default=None, description="What a kit leaves")
    loose_margin: Money | None = Field(default=None, description="What a bell sold loose leaves")
    today: Day | None = Field(default=None, description="Today")
    batches: list[BatchPart] = Field(
        default_factory=list, max_length=MOST_BATCHES, description="Batches under way"
    )
    yield_history: list[YieldPart] = Field(
        default_factory=list,
        max_length=MOST_HISTORY,
        description="Batches that came, and how many were good",
    )


class HoldRow(AnswerPart):
    """What holding so many bells brings."""

    bells: int = shown("Held")
    chance_served: Chance = shown("No kit goes short")
    chance_at_once: Chance = shown("Kits that find a bell at once")
    left: float = shown("Left when new ones come, mean")


class HoldBackAnswer(Answer):
    """What to hold back, what may go loose, and what that rests on."""

    reserve: int = shown("Hold back for kits")
    loose_today: int = shown("May be sold loose today")
    chance_short: Chance = shown("A kit goes short all the same")
    """With what is then kept: the reserve, or all there is where that is less."""
    chance_at_once: Chance = shown("Kits that find a bell at once")
    expected_demand: float = shown("Kits expected until new bells come")
    demand_kind: Literal["Poisson", "over-dispersed"] = shown("Demand scatters")
    dispersion_index: float | None = shown("Index of dispersion", optional=True)
    chance_poisson: Chance | None = shown("Chance of such scatter by chance alone", optional=True)
    reserve_by_margins: int | None = shown("Worth holding by the margins", optional=True)
    opens_on: date | None = shown("Loose sales may open for good on", optional=True)
    options: list[HoldRow] = shown("What holding more or less brings")
    chances: list[Chance] = shown("No kit goes short, holding 0, 1, 2 ...", hidden=True)
    chance_wanted: Chance = shown("Wanted")


EXAMPLE: Final = """\
# How many bells to hold back for kits, and how many may be sold loose today.
on_hand = 14              # released bells on the shelf
promised = 1              # of them promised or allocated to orders
history = [2, 1, 3, 0, 2, 4, 1, 2, 3, 1, 2, 2]   # kits asked for, week by week
replenishment_weeks = 3   # until new bells come
# replenishment = {least = 2, likely = 3, most = 6}   # instead, where that is not sure
service = 0.95            # chance that no kit goes short until then
"""
