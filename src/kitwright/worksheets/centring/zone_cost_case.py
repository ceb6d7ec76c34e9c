"""What the zone-cost worksheet takes: a radial budget whose zones have a price."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from kitwright.calc.centring.zone_cost import LEAST_CHANCE
from kitwright.errors import InputError
from kitwright.worksheets.centring.radial_budget_case import (
    MOST_CONTRIBUTORS,
    FloatPart,
    GrowthPart,
    LinePart,
    MeasuredPart,
    ShiftPart,
    ZonePart,
)
from kitwright.worksheets.fields import Case, Part, Place, PositiveSize, TableUnit
from kitwright.worksheets.money import Money
from kitwright.worksheets.written import refused

MOST_PRICED = 12


class ZoneCost(Part):
    """The price of one hole in one bell: a + b / zone."""

    a: Money = Field(description="a, whatever the zone")
    b: Money = Field(description="b, divided by the zone")
    unit: TableUnit = Field(description="Unit of the zone under b")

    @model_validator(mode="after")
    def _rises(self) -> Self:
        if self.b.amount.exact == 0:
            raise refused(InputError("", "b is zero", "a tighter zone must be dearer"))
        return self


class Quote(Part):
    """What a machinist asks for this hole in one bell, at one zone."""

    zone: PositiveSize = Field(description="Zone")
    price: Money = Field(description="Price")


class ZoneLimits(Part):
    """How far a zone may go; what is missing is assumed."""

    low: PositiveSize | None = Field(default=None, description="Least zone")
    high: PositiveSize | None = Field(default=None, description="Largest zone")


class PricedZonePart(ZonePart):
    """A zone as it is today; with a price, it may be changed."""

    cost: ZoneCost | None = Field(default=None, description="Price as a curve")
    quotes: Annotated[list[Quote], Field(min_length=2, max_length=2)] | None = Field(
        default=None, description="Price by two quotes"
    )
    zone_limits: ZoneLimits | None = Field(default=None, description="Bounds of the zone")

    @model_validator(mode="after")
    def _one_price(self) -> Self:
        if self.cost is not None and self.quotes is not None:
            raise refused(InputError("", "cost and quotes given", "give one of the two"))
        if self.zone_limits is not None and self.cost is None and self.quotes is None:
            raise refused(InputError("", "zone_limits without a price", "give cost or quotes"))
        return self


class Correction(Part):
    """What it costs to put one bell right in the field."""

    price: Money | None = Field(default=None, description="Price of one correction")
    hours: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        default=None, description="Hours of one correction"
    )
    rate: Money | None = Field(default=None, description="Price of an hour")
    parts: Money | None = Field(default=None, description="Parts for one correction")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        by_hours = self.hours is not None and self.rate is not None
        if self.price is None and not by_hours:
            raise refused(InputError("", "no price", "give price, or hours and rate"))
        if self.price is not None and any((self.hours, self.rate, self.parts)):
            raise refused(InputError("", "price and its parts given", "give one of the two"))
        return self


AnyContributor = Annotated[
    PricedZonePart | ShiftPart | LinePart | FloatPart | GrowthPart | MeasuredPart,
    Field(discriminator="kind"),
]


class ZoneCostCase(Case):
    """A radial budget, the prices of its zones, and what is wanted of it."""

    limit: PositiveSize = Field(description="Largest TIR allowed")
    chance_outside: Annotated[float, Field(ge=LEAST_CHANCE, lt=1)] | None = Field(
        default=None, description="Chance outside that is wanted at most"
    )
    correction: Correction | None = Field(default=None, description="Correction in the field")
    contributors: list[AnyContributor] = Field(
        min_length=1, max_length=MOST_CONTRIBUTORS, description="Contributors"
    )
    dowel_a: Place | None = Field(default=None, description="Dowel hole a: x, y")
    dowel_b: Place | None = Field(default=None, description="Dowel hole b: x, y")
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] | None = Field(
        default=None, description="Seed of a simulation"
    )

    @model_validator(mode="after")
    def _aim(self) -> Self:
        if self.chance_outside is None and self.correction is None:
            raise refused(
                InputError("", "nothing to aim at", "give chance_outside, correction or both")
            )
        return self
