"""What the capability worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kitwright.calc.quality.capability import Method
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Chance,
    PositiveSize,
    TableUnit,
    shown,
)
from kitwright.worksheets.quality.limits import Limits
from kitwright.worksheets.quality.series import Positions, Subgroups, Values

WithinBy = Literal["pooled", "mean range", "mean sigma"]
Holds = Literal["yes", "no", "too few values to tell"]
Confidence = Annotated[float, Field(ge=0.5, le=0.999)]
Coverage = Annotated[float, Field(ge=0.5, le=0.9999)]


class CapabilityCase(Case):
    """Measured parts in the order made: values, subgroups or positions."""

    unit: TableUnit = Field(description="Unit of the numbers")
    values: Values | None = Field(default=None, description="Values, in the order made")
    subgroups: Subgroups | None = Field(
        default=None, description="Subgroups made together, in the order made"
    )
    positions: Positions | None = Field(
        default=None, description="Positions from the true place, in the order made: x, y"
    )
    limits: Limits | None = Field(default=None, description="Limits on the drawing, for values")
    zone: PositiveSize | None = Field(default=None, description="Zone (a diameter), for positions")
    confidence: Confidence = Field(default=0.95, description="Confidence of every interval")
    coverage: Coverage = Field(
        default=0.95, description="Share of the process that the tolerance interval holds"
    )
    within_by: WithinBy | None = Field(
        default=None, description="Sigma within subgroups from (pooled if not given)"
    )


class IndexAnswer(AnswerPart):
    """An index with its interval."""

    value: float = shown("Value")
    low: float = shown("At least")
    high: float = shown("At most")


class IntervalAnswer(AnswerPart):
    """An interval."""

    low: float = shown("At least")
    high: float = shown("At most")


class NormalTestAnswer(AnswerPart):
    """Anderson and Darling's test."""

    name: str = shown("Name")
    statistic: float = shown("A²")
    p: Chance = shown("p")


class QuantileAnswer(AnswerPart):
    """Performance by the quantiles of the process, in the case's unit."""

    method: Literal["Pearson curve", "counted"] = shown("From")
    low_quantile: float = shown("0.135 % below", in_unit=True)
    median: float = shown("Median", in_unit=True)
    high_quantile: float = shown("0.135 % above", in_unit=True)
    pp: float | None = shown("Pp", optional=True)
    ppk: float = shown("Ppk")


class ToleranceAnswer(AnswerPart):
    """Limits that hold the coverage with the confidence, in the case's unit."""

    coverage_share: Chance = shown("Holds")
    confidence_chance: Chance = shown("With a confidence of")
    low: float = shown("From", in_unit=True)
    high: float = shown("To", in_unit=True)
    factor: float = shown("Factor, two-sided")
    one_sided_low: float = shown("One-sided, all above", in_unit=True)
    one_sided_high: float = shown("One-sided, all below", in_unit=True)
    one_sided_factor: float = shown("Factor, one-sided")
    free_low: float | None = shown("Without a curve, from", in_unit=True, optional=True)
    free_high: float | None = shown("Without a curve, to", in_unit=True, optional=True)


class LimitNumbers(AnswerPart):
    """Limits in the case's unit; null where there is none."""

    low: float | None = shown("Low", in_unit=True, optional=True)
    high: float | None = shown("High", in_unit=True, optional=True)


class CapabilityAnswer(Answer):
    """What the process does against its limits. Lengths are in the case's unit."""

    holds: Holds = shown("Holds the drawing")
    unit: str = shown("Unit")
    count: int = shown("Parts measured")
    limits: LimitNumbers | None = shown("Limits", optional=True)
    zone: float | None = shown("Zone", in_unit=True, optional=True)
    mean: float | list[float] = shown("Mean", in_unit=True)
    sigma_within: float | list[float] = shown("Sigma within", in_unit=True)
    sigma_overall: float | list[float] = shown("Sigma overall", in_unit=True)
    cp: IndexAnswer | None = shown("Cp", optional=True)
    cpk: IndexAnswer = shown("Cpk")
    pp: IndexAnswer | None = shown("Pp", optional=True)
    ppk: IndexAnswer = shown("Ppk")
    cpk_safe: IntervalAnswer | None = shown("Cpk for few values", optional=True)
    ppk_safe: IntervalAnswer | None = shown("Ppk for few values", optional=True)
    chance_outside: Chance = shown("Chance outside")
    chance_outside_low: Chance = shown("Chance outside, at least")
    chance_outside_high: Chance = shown("Chance outside, at most")
    chance_inside: Chance = shown("Chance inside")
    chance_method: Method = shown("Chance reckoned from")
    chance_below: Chance | None = shown("Below the low limit", optional=True)
    chance_above: Chance | None = shown("Above the high limit", optional=True)
    chance_outside_normal: Chance = shown("Chance outside, if normal")
    counted_outside: int = shown("Parts outside, of those measured")
    normal_test: NormalTestAnswer | None = shown("Normal test")
    quantiles: QuantileAnswer | None = shown("By quantiles", optional=True)
    tolerance_interval: ToleranceAnswer | None = shown("Tolerance interval", optional=True)
    beyond_limits: int | None = shown("Points beyond the limits of its chart", optional=True)
    covariance: list[float] | None = shown("Covariance of positions: xx, xy, yy", hidden=True)
    strip: list[int] = shown("Values in equal steps from lowest to highest", hidden=True)
    strip_from: float | None = shown("Lowest value", hidden=True)
    strip_to: float | None = shown("Highest value", hidden=True)
