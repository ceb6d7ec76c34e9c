"""What the gauge-study worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Chance,
    PositiveSize,
    TableUnit,
    shown,
)
from kitwright.worksheets.quality.series import Measured


def _as_name(value: Any) -> Any:
    """A part or person given by number is named by it."""
    return f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else value


Name = Annotated[str, BeforeValidator(_as_name), Field(min_length=1, max_length=60)]
Reading = tuple[Name, Name, Measured]
Worth = Literal["good", "with care", "not fit"]


class GaugeStudyCase(Case):
    """Parts measured by persons, each several times."""

    unit: TableUnit = Field(description="Unit of the numbers")
    readings: Annotated[list[Reading], Field(min_length=4, max_length=100_000)] = Field(
        description="Readings: part, person, value"
    )
    tolerance: PositiveSize | None = Field(default=None, description="Tolerance, its full width")
    pooled_above: Chance = Field(
        default=0.25, description="Pool the interaction where its p is above"
    )


class ComponentRow(AnswerPart):
    """One share of the spread."""

    source: str = shown("Source")
    sigma: float = shown("Sigma")
    six_sigma: float = shown("6 sigma")
    percent_of_total: float = shown("Per cent of all")
    percent_of_tolerance: float | None = shown("Per cent of the tolerance")


class VarianceRow(AnswerPart):
    """One line of the table of variance."""

    source: str = shown("Source")
    degrees_of_freedom: int = shown("Degrees of freedom")
    sum_of_squares: float = shown("Sum of squares")
    mean_square: float | None = shown("Mean square")
    f: float | None = shown("F")
    p: float | None = shown("p")


class RangesAnswer(AnswerPart):
    """The same study by averages and ranges; standard deviations in the case's unit."""

    repeatability: float = shown("Repeatability", in_unit=True)
    reproducibility: float | None = shown("Reproducibility", in_unit=True, optional=True)
    gauge: float = shown("Gauge", in_unit=True)
    part: float = shown("Part", in_unit=True)
    percent_of_tolerance: float | None = shown("Per cent of the tolerance", optional=True)
    percent_of_total: float = shown("Per cent of all")
    distinct_categories: int = shown("Distinct categories")
    mean_range: float = shown("Mean range", in_unit=True)
    range_limit: float = shown("Highest range by chance", in_unit=True)


class GaugeStudyAnswer(Answer):
    """What the gauge adds. Standard deviations are in the case's unit."""

    worth: Worth = shown("Gauge")
    unit: str = shown("Unit")
    parts: int = shown("Parts")
    persons: int = shown("Persons")
    trials: int | None = shown("Trials", optional=True)
    repeatability: float = shown("Repeatability (sigma)", in_unit=True)
    repeatability_low: float = shown("Repeatability, at least (95 %)", in_unit=True)
    repeatability_high: float = shown("Repeatability, at most (95 %)", in_unit=True)
    reproducibility: float | None = shown("Reproducibility (sigma)", in_unit=True)
    interaction: float | None = shown(
        "Interaction in it: a person on some parts (sigma)", in_unit=True, optional=True
    )
    gauge: float = shown("Gauge, both together (sigma)", in_unit=True)
    part: float = shown("Parts (sigma)", in_unit=True)
    total: float = shown("All (sigma)", in_unit=True)
    tolerance: float | None = shown("Tolerance", in_unit=True, optional=True)
    percent_of_tolerance: float | None = shown(
        "Gauge, per cent of the tolerance (6 sigma)", optional=True
    )
    percent_of_total: float = shown("Gauge, per cent of all")
    distinct_categories: int = shown("Distinct categories")
    interaction_pooled: bool | None = shown("Interaction pooled", optional=True)
    interaction_p: float | None = shown("p of the interaction", optional=True)
    suggested_u95: float = shown("Expanded uncertainty to judge with, at least", in_unit=True)
    tolerance_left_share: float | None = shown(
        "Of the tolerance, left when drawn in by it", optional=True
    )
    components: list[ComponentRow] = shown("What the spread comes from")
    variance_table: list[VarianceRow] = shown("Variance")
    by_ranges: RangesAnswer | None = shown("By averages and ranges", optional=True)
    out_of_line: list[str] = shown("Ranges to look into", optional=True)
    release: list[str] = shown("What it means for the release")
