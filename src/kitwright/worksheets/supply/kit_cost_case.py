"""What the kit-cost worksheet takes and what it answers."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Annotated, Final

from pydantic import (
    ConfigDict,
    Field,
)
from pydantic.json_schema import JsonSchemaValue

from kitwright.money import RATE, read_rate
from kitwright.worksheets.fields import Answer, AnswerPart, Case, Part, day_like, shown
from kitwright.worksheets.money import Currency, Money, Price
from kitwright.worksheets.supply.lot_plan_case import Share
from kitwright.worksheets.written import Written

MOST: Final = 400
OLDEST_DAYS: Final = 30

Name = Annotated[str, Field(min_length=1, max_length=80)]
Count = Annotated[int, Field(ge=1, le=100_000)]
PerCent = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Margin = Annotated[float, Field(ge=0, le=0.99, allow_inf_nan=False)]


Day = Annotated[datetime.date, day_like("2026-03-01")]
"""A calendar day: "2026-03-01"."""


class RateText(Written):
    """What one of a currency is in another, as written and exactly: "1.0842"."""

    __slots__ = ("exact",)

    def __init__(self, text: object) -> None:
        self.exact = read_rate(text)
        self.text = str(text)

    @property
    def meaning(self) -> tuple[str, Fraction]:
        return "rate", self.exact

    @classmethod
    def json_schema(cls) -> JsonSchemaValue:
        return {"type": "string", "pattern": f"^(?:{RATE.pattern})$", "examples": ["1.0842"]}


class RatePart(Part):
    """A rate with its date."""

    model_config = ConfigDict(serialize_by_alias=True)

    source: Currency = Field(alias="from", description="One of")
    target: Currency = Field(alias="to", description="is in")
    rate: RateText = Field(description="so many")
    date: Day = Field(description="on")


class UsePart(Part):
    """So many of a part, and another that could stand in its place."""

    part: Name = Field(description="Part")
    count: Count = Field(default=1, description="Count")
    alternative: Name | None = Field(default=None, description="Or in its place")


class PartPart(Part):
    """A part that is bought, or an assembly made of parts."""

    name: Name = Field(description="Name")
    price: Money | None = Field(default=None, description="Price")
    price_of: Count = Field(default=1, description="That is the price of so many")
    made_of: list[UsePart] = Field(default_factory=list, max_length=MOST, description="Made of")
    assembling: Money | None = Field(default=None, description="Price of putting one together")


class FreightPart(Part):
    """What a load of castings costs to bring in."""

    price: Money = Field(description="Price of one load")
    castings: Count = Field(description="Castings in it")


class MachiningPart(Part):
    """Machining by the batch."""

    model_config = ConfigDict(serialize_by_alias=True)

    price: Money = Field(description="Price of one casting")
    set_up: Money | None = Field(default=None, description="Price of one set-up")
    batch: Count = Field(default=1, description="Castings in a batch")
    share_good: Share = Field(
        default=1.0, alias="yield", description="Share that comes out good, mean"
    )
    scrap: Money | None = Field(default=None, description="What a reject fetches")


class BellPart(Part):
    """A bell as it stands ready in the shop."""

    name: Name = Field(description="Name")
    price: Money = Field(description="Price of one casting, or of one bell as bought")
    freight: FreightPart | None = Field(default=None, description="Freight")
    duty_percent: PerCent | None = Field(default=None, description="Duty on the price")
    machining: MachiningPart | None = Field(default=None, description="Machining")
    inspection: Money | None = Field(default=None, description="Inspection of one")
    packing: Money | None = Field(default=None, description="Packing of a good one")


class OptionPart(Part):
    """What a buyer may add."""

    name: Name = Field(description="Name")
    price: Money = Field(description="Price to the buyer")
    parts: list[UsePart] = Field(default_factory=list, max_length=MOST, description="Its parts")


class VariantPart(Part):
    """A version of the kit: its bell, its price, its own parts."""

    name: Name = Field(description="Name")
    bell: Name | None = Field(default=None, description="Its bell")
    price: Money = Field(description="Price to the buyer")
    parts: list[UsePart] = Field(
        default_factory=list, max_length=MOST, description="Parts that only it has"
    )


class KitCostCase(Case):
    """What kits are made of and sold for, and what money was worth when."""

    currency: Currency = Field(description="Currency of the answer")
    on: Day | None = Field(default=None, description="Day that it is worked out for")
    rates: list[RatePart] = Field(
        default_factory=list, max_length=MOST, description="Rates between currencies"
    )
    oldest_rate_days: Annotated[int, Field(ge=0, le=36_500)] = Field(
        default=OLDEST_DAYS, description="A rate is old after so many days"
    )
    variants: list[VariantPart] = Field(min_length=1, max_length=40, description="Variants")
    base: Name | None = Field(default=None, description="Variant that the others are set against")
    shared: list[UsePart] = Field(
        default_factory=list, max_length=MOST, description="Parts that every variant has"
    )
    bells: list[BellPart] = Field(default_factory=list, max_length=40, description="Bells")
    parts: list[PartPart] = Field(
        default_factory=list, max_length=MOST, description="Parts and assemblies"
    )
    options: list[OptionPart] = Field(default_factory=list, max_length=MOST, description="Options")
    wanted_margin: Margin | None = Field(
        default=None, description="Share of the price that you want left"
    )


class VariantRow(AnswerPart):
    """One variant: what it costs, what is left of its price."""

    variant: str = shown("Variant")
    bell: str | None = shown("Bell", hidden=True)
    price: Price = shown("Price")
    cost: Price = shown("Cost")
    bell_cost: Price = shown("Of it, the bell")
    parts_cost: Price = shown("Of it, parts")
    margin: Price = shown("Left")
    margin_share: float | None = shown("Of the price")
    price_wanted: Price | None = shown("Price for the share wanted")


class StepRow(AnswerPart):
    """From the base to another variant."""

    variant: str = shown("Variant")
    base: str = shown("Set against")
    price_step: Price = shown("Price")
    cost_step: Price = shown("Cost")
    bell_step: Price = shown("Of it, the bell")
    parts_step: Price = shown("Of it, parts")
    margin_step: Price = shown("Left")
    cost_share: float | None = shown("Cost, of the step in price")
    """null where the price is the same."""


class OptionRow(AnswerPart):
    """One option by itself."""

    option: str = shown("Option")
    price: Price = shown("Price")
    cost: Price = shown("Cost")
    margin: Price = shown("Left")
    margin_share: float | None = shown("Of the price")


class BellRow(AnswerPart):
    """One line of what a good bell costs landed."""

    bell: str = shown("Bell")
    line: str = shown("What")
    cost: Price = shown("Cost of a good one")


class LineRow(AnswerPart):
    """One line of a variant's or an option's bill. Lines one level down add up to the line above
    them; those at level 0 to the whole."""

    of: str = shown("Of")
    level: int = shown("Level")
    part: str = shown("Part")
    count: int = shown("Count")
    cost: Price = shown("Cost")


class AlternativeRow(AnswerPart):
    """A part that could stand in another's place, in one kit."""

    of: str = shown("Of")
    part: str = shown("In place of")
    alternative: str = shown("Alternative")
    saves: Price = shown("Saves")
    """Below zero where it costs more."""


class RateRow(AnswerPart):
    """A rate that was used."""

    source: str = shown("One of")
    target: str = shown("is in")
    rate: str = shown("so many")
    date: str = shown("on")
    days: int = shown("Days old")
    old: bool = shown("Too old")


class KitCostAnswer(Answer):
    """What each kit costs, what is left of its price, and what makes the steps between them."""

    currency: str = shown("Currency")
    told: list[str] = shown("To look at", optional=True)
    variants: list[VariantRow] = shown("Variants")
    steps: list[StepRow] = shown("Steps from one variant to another", optional=True)
    options: list[OptionRow] = shown("Options", optional=True)
    bells: list[BellRow] = shown("Bells, landed", optional=True)
    lines: list[LineRow] = shown("Bill of materials", optional=True)
    alternatives: list[AlternativeRow] = shown("Alternatives", optional=True)
    rates: list[RateRow] = shown("Rates used", optional=True)
