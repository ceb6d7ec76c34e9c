"""What the radial-budget worksheet takes: the kinds of contributor as a person writes them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from kitwright.errors import InputError
from kitwright.worksheets.centring.limits import TirLimit
from kitwright.worksheets.fields import (
    Angle,
    Case,
    Expansion,
    Number,
    Part,
    Place,
    PositiveSize,
    Size,
    TableUnit,
    TemperatureRise,
)
from kitwright.worksheets.written import refused

MOST_CONTRIBUTORS = 60
MOST_VECTORS = 100_000

Name = Annotated[str, Field(min_length=1, max_length=80)]
Where = Literal["bore", "dowel-a", "dowel-b"]
Material = Literal[
    "aluminium",
    "aluminium A380",
    "aluminium 380",
    "aluminium A356",
    "aluminium A356-T6",
    "aluminium 6061-T6",
    "steel",
    "grey iron",
]


class SizeLimits(Part):
    """Least and largest diameter of a hole or a pin."""

    low: PositiveSize = Field(description="Low limit")
    high: PositiveSize = Field(description="High limit")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low.exact > self.high.exact:
            swapped = f'low "{self.low.text}" is above high "{self.high.text}"'
            raise refused(InputError("", swapped, "swap them"))
        return self


class ZonePart(Part):
    """A hole's centre in a circle."""

    name: Name = Field(description="Contributor")
    kind: Literal["zone"] = Field(description="Kind")
    where: Where = Field(default="bore", description="Where it acts")
    zone: PositiveSize = Field(description="Zone")
    spread: Literal["normal", "disc", "edge"] = Field(default="normal", description="Spread")


class ShiftPart(Part):
    """The same offset in every car."""

    name: Name = Field(description="Contributor")
    kind: Literal["shift"] = Field(description="Kind")
    where: Where = Field(default="bore", description="Where it acts")
    size: Size = Field(description="Size")
    clock_deg: Angle = Field(description="Toward")


class LinePart(Part):
    """An error along one line only."""

    name: Name = Field(description="Contributor")
    kind: Literal["line"] = Field(description="Kind")
    where: Where = Field(default="bore", description="Where it acts")
    plus_minus: PositiveSize = Field(description="Plus or minus")
    clock_deg: Angle = Field(description="Along")
    spread: Literal["normal", "even"] = Field(default="normal", description="Spread")


class FloatPart(Part):
    """A pin loose in its hole: limits of both, or a fit by name."""

    name: Name = Field(description="Contributor")
    kind: Literal["float"] = Field(description="Kind")
    where: Where = Field(default="bore", description="Where it acts")
    hole: SizeLimits | None = Field(default=None, description="Hole")
    pin: SizeLimits | None = Field(default=None, description="Pin")
    fit: Annotated[str, Field(max_length=40)] | None = Field(default=None, description="Fit")
    rests: Literal["down"] | None = Field(default=None, description="Rests")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        given = [name for name in ("hole", "pin", "fit") if getattr(self, name) is not None]
        if given not in (["fit"], ["hole", "pin"]):
            problem = f"{' and '.join(given)} given" if given else "no sizes given"
            raise refused(InputError("", problem, 'give hole and pin, or fit = "16 H7/m6"'))
        return self


class GrowthPart(Part):
    """Bell and block warm up together and grow differently."""

    name: Name = Field(description="Contributor")
    kind: Literal["growth"] = Field(description="Kind")
    where: Literal["bore"] = Field(default="bore", description="Where it acts")
    temperature_rise: TemperatureRise = Field(description="Temperature rise")
    bell_material: Material | None = Field(default=None, description="Bell's material")
    bell_expansion: Expansion | None = Field(default=None, description="Bell's expansion")
    block_material: Material | None = Field(default=None, description="Block's material")
    block_expansion: Expansion | None = Field(default=None, description="Block's expansion")
    bore: Place | None = Field(default=None, description="Bore from the dowels' middle: x, y")

    @model_validator(mode="after")
    def _expansions_known(self) -> Self:
        for part in ("bell", "block"):
            both = getattr(self, f"{part}_material"), getattr(self, f"{part}_expansion")
            if both.count(None) != 1:
                found = "no {0}_material or {0}_expansion given"
                if None not in both:
                    found = "{0}_material and {0}_expansion given"
                raise refused(InputError("", found.format(part), "give one of the two"))
        return self


class MeasuredPart(Part):
    """Bells that were measured: each vector as likely as the next."""

    name: Name = Field(description="Contributor")
    kind: Literal["measured"] = Field(description="Kind")
    where: Where = Field(default="bore", description="Where it acts")
    unit: TableUnit = Field(description="Unit of the vectors")
    vectors: list[tuple[Number, Number]] = Field(
        min_length=1, max_length=MOST_VECTORS, description="Vectors: x, y"
    )


ContributorPart = ZonePart | ShiftPart | LinePart | FloatPart | GrowthPart | MeasuredPart
AnyContributor = Annotated[ContributorPart, Field(discriminator="kind")]


class RadialBudgetCase(Case):
    """Everything that moves the bore off the crank axis, and the TIR allowed."""

    limit: TirLimit = Field(description="Largest TIR allowed")
    contributors: list[AnyContributor] = Field(
        min_length=1, max_length=MOST_CONTRIBUTORS, description="Contributors"
    )
    dowel_a: Place | None = Field(default=None, description="Dowel hole a: x, y")
    dowel_b: Place | None = Field(default=None, description="Dowel hole b: x, y")
    check: Literal["yes", "no"] = Field(default="yes", description="Check by simulation")
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] | None = Field(
        default=None, description="Seed of a simulation"
    )
