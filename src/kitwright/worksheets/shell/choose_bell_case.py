"""What the choose-bell worksheet takes and what it answers."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final, Literal, Self

from pydantic import Field, model_validator

from kitwright.errors import InputError
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Day,
    Part,
    PositiveSize,
    shown,
)
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.written import refused

MOST_DESIGNS: Final = 40
MOST_RULES: Final = 40

Name = Annotated[str, Field(min_length=1, max_length=120)]
Words = Annotated[str, Field(max_length=400)]
Positive = Annotated[float, Field(gt=0, le=1e6)]
Weight = Annotated[float, Field(ge=0, le=1000)]


class RulePart(Part):
    """What a sanctioning body asks for in one use, as copied from its book."""

    body: Name = Field(description="Sanctioning body")
    use: Name = Field(description="Class or use")
    demands: Literal["certified shell", "no certified shell"] = Field(description="Demands")
    spec: Words | None = Field(default=None, description="Certificate's specification")
    from_what: Words | None = Field(default=None, description="From what on, in the book's words")
    from_power_kw: Positive | None = Field(default=None, description="From this power, kW")
    from_speed_rpm: Positive | None = Field(default=None, description="From this engine speed")
    applies: Literal["by its limits", "yes", "no"] = Field(
        default="by its limits", description="Applies here"
    )
    source: Words | None = Field(default=None, description="Source")
    copied_on: Day | None = Field(default=None, description="Copied on")

    @property
    def named(self) -> str:
        """As a line names it."""
        return f"{self.body}, {self.use}"


class DesignPart(Part):
    """One bell on offer."""

    name: Name = Field(description="Bell")
    material: Name = Field(description="Material")
    mass_kg: Annotated[float, Field(gt=0, le=1000)] = Field(description="Mass")
    price: Money = Field(description="Price")
    certified: bool = Field(description="Certified shell")
    certificate: Words | None = Field(default=None, description="Certificate")
    certificate_last_day: Day | None = Field(default=None, description="Certificate's last day")
    ring_s: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        default=None, description="Rings for"
    )
    ring_most_s: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        default=None, description="Rings for at most, where it is a range"
    )
    opening_width: PositiveSize | None = Field(default=None, description="Opening, along the crank")
    opening_height: PositiveSize | None = Field(default=None, description="Opening, round the bell")
    ships: bool = Field(default=True, description="Can be shipped")
    ships_on: Day | None = Field(default=None, description="Ships on")

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.certified and self.certificate_last_day is None:
            raise refused(
                InputError("", "certified without a last day", "give certificate_last_day")
            )
        if not self.certified and (self.certificate or self.certificate_last_day):
            raise refused(
                InputError("", "a certificate and certified = false", "say which of the two holds")
            )
        if (self.opening_width is None) != (self.opening_height is None):
            raise refused(
                InputError("", "half an opening", "give opening_width and opening_height")
            )
        if self.price.amount.exact == 0:
            raise refused(InputError("", "its price is zero", "give more than zero"))
        if self.ring_most_s is not None and self.ring_s is None:
            raise refused(InputError("", "half a range of the ring", "give ring_s, its least"))
        if self.ring is not None and self.ring[0] > self.ring[1]:
            raise refused(InputError("", "ring_s is above ring_most_s", "swap them"))
        return self

    @property
    def ring(self) -> tuple[float, float] | None:
        """Least and most, in s."""
        if self.ring_s is None:
            return None
        return self.ring_s, self.ring_s if self.ring_most_s is None else self.ring_most_s


class WeightsPart(Part):
    """What each figure weighs."""

    price: Weight = Field(description="Price")
    mass: Weight = Field(description="Mass")
    ring: Weight = Field(description="Ring")
    hand_room: Weight = Field(description="Hand room")


class ChooseBellCase(Case):
    """What a customer wants, which rules he races under, and the bells on offer."""

    use: Words = Field(min_length=1, description="Use, in his words")
    day_of_use: Day = Field(description="First day of use")
    wanted_by: Day | None = Field(default=None, description="Must ship by")
    power_kw: Positive | None = Field(default=None, description="Power, kW")
    speed_rpm: Positive | None = Field(default=None, description="Highest engine speed")
    budget: Money | None = Field(default=None, description="Budget for the bell")
    noise_wish: Literal["as quiet as can be", "does not matter"] = Field(
        default="does not matter", description="Noise"
    )
    hand_room_wish: Literal["as roomy as can be", "does not matter"] = Field(
        default="does not matter", description="Hand room"
    )
    needed_width: PositiveSize | None = Field(
        default=None, description="Opening needed, along the crank"
    )
    needed_height: PositiveSize | None = Field(
        default=None, description="Opening needed, round the bell"
    )
    weights: WeightsPart | None = Field(default=None, description="Weights")
    rules: Annotated[list[RulePart], Field(max_length=MOST_RULES)] = Field(
        default_factory=list, description="Rules"
    )
    designs: Annotated[list[DesignPart], Field(min_length=1, max_length=MOST_DESIGNS)] = Field(
        description="Bells on offer"
    )


class RankedRow(AnswerPart):
    """One bell that is left, best first."""

    rank: int = shown("Place")
    name: str = shown("Bell")
    material: str = shown("Material")
    price: Price = shown("Price")
    mass_kg: float = shown("Mass")
    ring: str | None = shown("Rings for")
    opening: str | None = shown("Opening")
    certificate: str | None = shown("Certificate")
    ships_on: date | None = shown("Ships on")
    score: float = shown("Score")


class ExcludedRow(AnswerPart):
    """One reason why one bell is out."""

    name: str = shown("Bell")
    reason: str = shown("Why it is out")
    rule: str | None = shown("By which rule")


class RuleRow(AnswerPart):
    """One rule, and whether it counts here."""

    rule: str = shown("Rule")
    demands: str = shown("Demands")
    counts: Literal["yes", "no"] = shown("Counts here")
    why: str = shown("Why")
    source: str = shown("From, copied on")


class CountedRow(AnswerPart):
    """How one figure of one bell counted."""

    name: str = shown("Bell")
    figure: str = shown("Figure")
    value: str = shown("Value")
    times_best: float = shown("Times the best")
    weight_share: float = shown("Weight")
    factor: float = shown("Counts as")


class TurnRow(AnswerPart):
    """Where another weight of one figure changes the answer."""

    figure: str = shown("Figure")
    weight: float = shown("Weight now")
    below: float | None = shown("Another wins below")
    below_first: str | None = shown("First below it")
    above: float | None = shown("Another wins above")
    above_first: str | None = shown("First above it")


class ChooseBellAnswer(Answer):
    """Which bell, why, what is out and by which rule; never that a bell takes a burst."""

    recommended: str | None = shown("Bell")
    price: Price | None = shown("Price", optional=True)
    mass_kg: float | None = shown("Mass", optional=True)
    weights_may_move_percent: float | None = shown("Every weight may be off by, %", optional=True)
    close: bool | None = shown("A small change of the weights changes it", optional=True)
    why: list[str] = shown("Why this one")
    ranked: list[RankedRow] = shown("Bells that are left, best first")
    excluded: list[ExcludedRow] = shown("Bells that are out")
    rules: list[RuleRow] = shown("Rules")
    counted: list[CountedRow] = shown("How each figure counted")
    turns: list[TurnRow] = shown("Where other weights change it")
    to_check: list[str] = shown("Check before you order")
