"""What the year worksheet takes and what it answers."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final

from pydantic import Field

from kitwright.worksheets.fields import Answer, AnswerPart, Case, Chance, Day, Part, shown
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.supply.batches_coming import (
    MOST_BATCHES,
    MOST_HISTORY,
    MOST_LATE,
    BatchPart,
    Bells,
    Late,
    YieldPart,
)

Some = Annotated[int, Field(ge=1, le=100_000)]
Days = Annotated[int, Field(ge=0, le=730)]
MOST_RUNS: Final = 200_000
MOST_POLICIES: Final = 400


class TryPart(Part):
    """Other numbers to try, every one with every other."""

    send_at: list[Bells] = Field(default_factory=list, max_length=40, description="Send at")
    lot: list[Some] = Field(default_factory=list, max_length=40, description="Castings in a batch")
    crates_at: list[Bells] = Field(
        default_factory=list, max_length=40, description="Order crates at"
    )
    reserve: list[Bells] = Field(default_factory=list, max_length=40, description="Reserve")


class YearCase(Case):
    """The shop today, what it meets, and what it does about it."""

    today: Day = Field(description="Today")
    bells: Bells = Field(default=0, description="Released bells on the shelf, free")
    waiting: Bells = Field(default=0, description="Orders that wait for a bell")
    castings: Bells = Field(default=0, description="Castings on the floor")
    batches: list[BatchPart] = Field(
        default_factory=list, max_length=MOST_BATCHES, description="Batches under way"
    )
    kits_per_week: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = Field(
        default=None, description="Kits asked for in a week"
    )
    history: list[Bells] | None = Field(
        default=None,
        min_length=1,
        max_length=1000,
        description="Or kits asked for in each of the last weeks",
    )
    loose_per_week: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] = Field(
        default=0.0, description="Bells asked for loose in a week"
    )
    yield_history: list[YieldPart] = Field(
        default_factory=list,
        max_length=MOST_HISTORY,
        description="Batches that came, and how many were good",
    )
    days_late: list[Late] = Field(
        default_factory=list, max_length=MOST_LATE, description="Days late of the batches that came"
    )
    machining_days: Annotated[int, Field(ge=1, le=730)] = Field(
        description="Days a batch is promised in"
    )
    crate: Some = Field(description="Castings in a crate")
    crate_days: Days = Field(description="Days a crate takes to come")
    casting_cost: Money = Field(description="Cost of one casting, landed")
    send_at: Bells = Field(
        description="Send a batch when bells on hand and under way are no more than"
    )
    lot: Some = Field(description="Castings in a batch")
    crates_at: Bells = Field(description="Order a crate when castings here and ordered are at most")
    reserve: Bells = Field(default=0, description="Bells never sold loose")
    service: Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)] | None = Field(
        default=None, description="Share of kits that must find a bell at once"
    )
    others: TryPart | None = Field(default=None, description="Other numbers to try")
    runs: Annotated[int, Field(ge=100, le=MOST_RUNS)] = Field(default=10_000, description="Years")
    seed: Annotated[int, Field(ge=0, le=2**53 - 1)] = Field(default=1, description="Seed")
    days: Annotated[int, Field(ge=1, le=730)] = Field(default=365, description="Days looked ahead")


class MonthRow(AnswerPart):
    """How things stand on one day: 5 of 100 years are below the first, 95 below the last."""

    day: date = shown("On")
    bells_low: float = shown("Bells, 5 %")
    bells_middle: float = shown("Bells, 50 %")
    bells_high: float = shown("Bells, 95 %")
    chance_short: Chance = shown("A kit waits")
    waiting_high: float = shown("Kits waiting, 95 %")
    cash_middle: Price = shown("Cash in castings, 50 %")
    cash_high: Price = shown("Cash in castings, 95 %")


class PolicyRow(AnswerPart):
    """What one way of doing it brings."""

    send_at: int = shown("Send at")
    lot: int = shown("Batch")
    crates_at: int = shown("Crate at")
    reserve: int = shown("Reserve")
    share_at_once: Chance = shown("Kits at once")
    days_short: float = shown("Days short")
    loose: float = shown("Loose sold")
    batches: float = shown("Batches")
    cash: Price = shown("Cash in castings, mean")
    meets: bool = shown("Meets the service")


class YearAnswer(Answer):
    """What a year would bring, and how surely that is known."""

    share_at_once: Chance = shown("Kits that find a bell at once")
    share_error: float = shown("Its standard error")
    kits: float = shown("Kits asked for, mean")
    wait_days: float = shown("Days that a kit waits, mean")
    days_short: float = shown("Days on which a kit waits, mean")
    chance_never_short: Chance = shown("No kit waits on any day")
    loose: float = shown("Bells sold loose, mean")
    loose_asked: float = shown("Of those asked for")
    batches: float = shown("Batches, mean")
    crates: float = shown("Crates, mean")
    cash: Price = shown("Cash in castings, mean over the year")
    cash_peak: Price = shown("Its highest, reached in 5 of 100 years")
    chance_opens: Chance = shown("Loose sales open for good within it")
    opens_middle: date | None = shown("They do by, in 50 of 100 years", optional=True)
    opens_late: date | None = shown("They do by, in 90 of 100 years", optional=True)
    best: str | None = shown("Least cash that meets the service", optional=True)
    months: list[MonthRow] = shown("As the year goes")
    policies: list[PolicyRow] = shown("Other ways")
    runs: int = shown("Years simulated")
    seed: int = shown("Seed")
    bells_band: list[list[float]] = shown("Bells day by day, 5, 50, 95 %", hidden=True)


EXAMPLE: Final = """\
# A year of the shop, ten thousand times: what would this way of doing it bring?
today = "2026-05-04"
bells = 12                # released, on the shelf, free
waiting = 0               # orders that wait for a bell
castings = 40             # on the floor
history = [2, 1, 3, 0, 2, 4, 1, 2, 3, 1, 2, 2]   # kits asked for, week by week
loose_per_week = 0.5
days_late = [0, 3, 5, 2, 9]
machining_days = 35       # a batch is promised in so many
crate = 30                # castings in one
crate_days = 28
casting_cost = {amount = "174.00", currency = "USD"}

send_at = 15              # bells on hand and under way, less those waited for
lot = 20                  # castings in a batch
crates_at = 30            # castings here and ordered
reserve = 8               # bells never sold loose
service = 0.95            # share of kits that must find a bell at once
runs = 10000
seed = 1

[[batches]]
name = "B-05"
due = "2026-05-18"
count = 20
days_late = [0, 3, 5, 2, 9]

[[yield_history]]
made = 50
good = 43

[others]                  # tried too, every one with every other
send_at = [10, 20, 25]
lot = [30]
"""
