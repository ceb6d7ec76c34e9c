"""Batches under way and batches that came, as cases of supply say them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import Annotated, Final

from pydantic import Field

from kitwright.calc.supply.days import DaysLaw, arrival, triangle
from kitwright.calc.supply.lateness import lateness, with_overdue
from kitwright.calc.supply.promise import Coming
from kitwright.calc.supply.yields import YieldLaw, learn_yield
from kitwright.errors import InputError
from kitwright.worksheets.fields import Day, Part

Bells = Annotated[int, Field(ge=0, le=100_000)]
MOST_DAYS: Final = 3650
"""Days late, early or overdue; a batch further off than that teaches no more."""
Late = Annotated[int, Field(ge=-MOST_DAYS, le=MOST_DAYS)]
Overdue = Annotated[int, Field(ge=0, le=MOST_DAYS)]
MOST_IN_BATCH: Final = 5_000
MOST_UNDER_WAY: Final = 20_000
"""Bells of all batches together."""
MOST_BATCHES: Final = 50
MOST_LATE: Final = 500
MOST_HISTORY: Final = 200

YIELD_UNKNOWN: Final = (
    "nothing is known, so all bells of a batch may be good or none (Jeffreys' prior), half on the "
    "mean"
)


class BatchPart(Part):
    """A batch that is planned, sent, or back and not yet judged."""

    name: Annotated[str, Field(min_length=1, max_length=200)] = Field(description="Batch")
    due: Day = Field(description="Due")
    count: Annotated[int, Field(ge=1, le=MOST_IN_BATCH)] = Field(description="Bells in it")
    days_late: list[Late] = Field(
        default_factory=list,
        max_length=MOST_LATE,
        description="Days late of that machinist's batches before",
    )
    others_overdue: list[Overdue] = Field(
        default_factory=list,
        max_length=MOST_BATCHES,
        description="Days overdue of that machinist's other batches",
    )
    back: bool = Field(default=False, description="Back already, so that only inspecting is left")
    days_to_inspect: Annotated[int, Field(ge=0, le=365)] = Field(
        default=0, description="Days from its coming back to its bells being ready"
    )


class YieldPart(Part):
    """A batch that came: bells made, and how many of them were good."""

    made: Annotated[int, Field(ge=1, le=100_000)] = Field(description="Bells made")
    good: Bells = Field(description="Of them good")


def yield_of(history: Sequence[YieldPart]) -> YieldLaw:
    """What the batches that came tell of the next one's yield."""
    return learn_yield([each.good for each in history], [each.made for each in history])


def in_turn(batches: Sequence[BatchPart]) -> list[BatchPart]:
    """In the order in which their bells serve: what is back first, then by the day due."""
    return sorted(batches, key=lambda each: (not each.back, each.due))


def learned(
    batches: Sequence[BatchPart], history: Sequence[YieldPart], today: date | None
) -> list[Coming]:
    """Each batch with the law of its day and of its good bells, as they serve.

    Raises
    ------
    InputError
        There are batches, and no day to count from; or more bells than can be reckoned with.
    """
    if not batches:
        return []
    count = sum(each.count for each in batches)
    if count > MOST_UNDER_WAY:
        raise InputError("batches", f"{count} bells in all", f"give {MOST_UNDER_WAY} at most")
    if today is None:
        raise InputError("today", "missing", "the batches' days are counted from it")
    law = yield_of(history)
    return [
        Coming(
            name=each.name,
            arrives=_ready(each, today),
            good=law.good(each.count),
        )
        for each in in_turn(batches)
    ]


def _ready(batch: BatchPart, today: date) -> DaysLaw:
    days = batch.days_to_inspect
    if batch.back:
        return triangle(days, days, days)
    late, overdue = tuple(batch.days_late), tuple(batch.others_overdue)
    return arrives((batch.due - today).days, late, overdue, extra=days)


@lru_cache(maxsize=256)
def arrives(
    due: int, late: tuple[int, ...], overdue: tuple[int, ...], *, extra: int = 0
) -> DaysLaw:
    """When a batch due in so many days is here, by the days that its machinist's others came late
    and those that they are overdue. Every order on a board asks the same of the same batches."""
    law = arrival(due, with_overdue(lateness(late), overdue), extra=extra)
    law.chance.flags.writeable = False
    return law
