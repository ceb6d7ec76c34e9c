"""What the heard worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kitwright.worksheets.fields import (
    Angle,
    Answer,
    AnswerPart,
    Case,
    Number,
    Part,
    Size,
    shown,
)
from kitwright.worksheets.shell.modes_case import ModesCase

Loss = Annotated[float, Field(gt=0, le=0.2, allow_inf_nan=False)]
Published = Literal["aluminium alloy", "steel", "grey iron", "welded steel", "bolted together"]


class ModePart(Part):
    """One mode of a list."""

    frequency_hz: Annotated[float, Field(ge=10, le=100_000, allow_inf_nan=False)] = Field(
        description="Frequency"
    )
    level_db: Annotated[Number, Field(ge=-120, le=120)] = Field(
        default=0.0, description="Level, dB"
    )
    loss_factor: Loss | None = Field(default=None, description="Loss factor")


class StruckPart(Part):
    """Where a design is struck, square to the crank axis."""

    z: Size = Field(description="From the block face")
    clock_deg: Angle = Field(default=45.0, description="At")


class DesignPart(Part):
    """One bell: its modes, listed or computed, and how much it loses."""

    name: Annotated[str, Field(min_length=1, max_length=60)] = Field(description="Name")
    modes: Annotated[list[ModePart], Field(min_length=1, max_length=100)] | None = Field(
        default=None, description="Modes"
    )
    bell: ModesCase | None = Field(
        default=None,
        description="Or its design, a case of the worksheet modes",
        json_schema_extra={"as_text": True},
    )
    struck_at: StruckPart | None = Field(default=None, description="Where the design is struck")
    mass_kg: Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)] | None = Field(
        default=None, description="Mass, to strike two lists alike"
    )
    loss_factor: Loss | None = Field(default=None, description="Loss factor of every mode")
    measured: bool = Field(default=False, description="Loss factors were measured by a tap")
    loss_of: Published | None = Field(default=None, description="Or as published for")


class HeardCase(Case):
    """One bell, or two to hear side by side."""

    designs: Annotated[list[DesignPart], Field(min_length=1, max_length=2)] = Field(
        description="Bells"
    )


class HeardMode(AnswerPart):
    """One mode of a design as it is heard."""

    frequency_hz: float = Field(description="Frequency")
    heard_db: float = Field(description="Heard")
    """A-weighted, at the blow, against the loudest mode of both designs."""
    loss_factor: float = Field(description="Loss factor")
    decay_s: float = Field(description="Falls 60 dB in")


class HeardDesign(AnswerPart):
    """One design as a whole. Times span what is published where that was used."""

    name: str = Field(description="Bell")
    loss: str = Field(description="Its loss factor is")
    lowest_hz: float = Field(description="Lowest mode")
    loudest_hz: float = Field(description="Heard loudest")
    heard_db: float = Field(description="Blow")
    """A-weighted level of all modes at the blow, against the loudest mode of both."""
    ring_s: float = Field(description="Rings 60 dB down in")
    ring_shortest_s: float | None = Field(default=None, description="at least")
    ring_longest_s: float | None = Field(default=None, description="at most")
    weighted_s: float = Field(description="As the ear hears it")
    modes: list[HeardMode] = shown("Modes", hidden=True)


class HeardAnswer(Answer):
    """How the bells sound when each takes the same blow."""

    equal_blow: bool = Field(description="The same blow for both")
    """False where their levels say nothing of each other."""
    second_over_first_db: float | None = shown(
        "Second louder at the blow by", optional=True, default=None
    )
    second_over_first_ring: float | None = shown(
        "Second rings so many times as long", optional=True, default=None
    )
    designs: list[HeardDesign] = Field(description="Bells")
    first_modes: list[HeardMode] = Field(description="Modes of the first")
    second_modes: list[HeardMode] = shown("Modes of the second", optional=True)
    in_car: list[str] = Field(description="In the car")
