"""What the block-population worksheet takes and answers."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Chance,
    Number,
    PositiveSize,
    Size,
    TableUnit,
    shown,
)

MOST_SAMPLES: Final = 5000

Vectors = Annotated[list[tuple[Number, Number]], Field(max_length=MOST_SAMPLES)]
Block = Literal["new", "line-honed"]


class BlockPopulationCase(Case):
    """Samples of one kind of block, and what is wanted to be known of them."""

    block: Block | None = Field(default=None, description="Kind of block")
    unit: TableUnit = Field(description="Unit of the samples")
    samples: Vectors | None = Field(default=None, description="Samples: right, up")
    sweeps: Vectors | None = Field(default=None, description="Bores as first swept: right, up")
    bells: Vectors | None = Field(default=None, description="The bells' own offsets: right, up")
    limit: PositiveSize | None = Field(default=None, description="Largest TIR allowed")
    u95: Size | None = Field(default=None, description="Plus or minus of one sample (k = 2)")
    half_width: PositiveSize | None = Field(default=None, description="Mean wanted to within")
    accuracy: Annotated[float, Field(gt=0, lt=1)] | None = Field(
        default=None, description="Chance outside wanted to within"
    )
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] | None = Field(
        default=None, description="Seed of the draws"
    )


class Span(AnswerPart):
    """An estimate with its 95 % interval."""

    value_mm: float = shown("Estimate")
    low_mm: float = shown("At least")
    high_mm: float = shown("At most")


class ChanceSpan(AnswerPart):
    """A chance with its 95 % interval."""

    estimate_chance: Chance = shown("Estimate")
    low_chance: Chance = shown("At least")
    high_chance: Chance = shown("At most")


class EllipsePart(AnswerPart):
    """A region about the mean: its half axes, and the clock angle of the long one."""

    long_mm: float = shown("Long half axis")
    short_mm: float = shown("Short half axis")
    clock_deg: float = shown("Long axis toward")


class SampleRow(AnswerPart):
    """One sample; `distance` is from the mean, in standard deviations along its own direction."""

    number: int = shown("Sample")
    x_mm: float = shown("Right")
    y_mm: float = shown("Up")
    distance: float = shown("Off the mean, standard deviations")


class BlockPopulationAnswer(Answer):
    """Mean and spread of a population of blocks, and how well they are known."""

    block: Block | None = shown("Kind of block", optional=True)
    count: int = shown("Fit-ups")
    mean_x_mm: float = shown("Mean, right")
    mean_x_half_mm: float = shown("Mean right, plus or minus (95 %)")
    mean_y_mm: float = shown("Mean, up")
    mean_y_half_mm: float = shown("Mean up, plus or minus (95 %)")
    mean_mm: float = shown("Mean offset")
    mean_clock_deg: float | None = shown("Mean offset toward")
    shifted: bool = shown("Shift beyond chance")
    zone_mm: Span = shown("Zone (six standard deviations)")
    sigma_mm: Span = shown("Standard deviation", hidden=True)
    sigma_x_mm: Span = shown("Standard deviation right", hidden=True)
    sigma_y_mm: Span = shown("Standard deviation up", hidden=True)
    even: bool = shown("Same spread in every direction")
    even_chance: Chance = shown("Chance that an even spread looks like this")
    limit_mm: float | None = shown("Largest TIR allowed", optional=True)
    chance_outside: ChanceSpan | None = shown("Outside with a true bell", optional=True)
    chance_outside_next: Chance | None = shown(
        "Chance that the next block is outside, with a true bell", optional=True
    )
    noise_share: float | None = shown("Share that is measuring", optional=True)
    mean_region: EllipsePart = shown("Region of the mean")
    prediction_region: EllipsePart = shown("Region of the next block")
    covariance_mm2: list[float] = shown("Covariance xx, xy, yy, mm²", hidden=True)
    more_for_mean: int | None = shown("More fit-ups for the mean", optional=True)
    more_for_accuracy: int | None = shown("More fit-ups for the chance", optional=True)
    contributors: str = shown("For a radial-budget")
    samples: list[SampleRow] = shown("Samples", hidden=True)
    suspects: list[SampleRow] = shown("Samples to look at again", optional=True)
    notes: list[str] = shown("Notes", optional=True)
    seed: int | None = shown("Seed", optional=True)
