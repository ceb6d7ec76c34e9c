"""The limits of a gap, as a case gives them and as an answer repeats them."""

from __future__ import annotations

from math import inf
from typing import Self

from pydantic import Field, model_validator

from kitwright.errors import InputError
from kitwright.units import Lead, show_length
from kitwright.worksheets.fields import AnswerPart, Length, Part, shown
from kitwright.worksheets.written import refused


class Gap(Part):
    """Limits of a gap; either may be missing, not both."""

    low: Length | None = Field(default=None, description="Low limit")
    high: Length | None = Field(default=None, description="High limit")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low is None and self.high is None:
            raise refused(InputError("", "neither low nor high given", "give low, high or both"))
        if self.low is not None and self.high is not None and self.low.exact > self.high.exact:
            swapped = f'low "{self.low.text}" is above high "{self.high.text}"'
            raise refused(InputError("", swapped, "swap them"))
        return self

    @property
    def low_mm(self) -> float:
        """-inf where there is none."""
        return -inf if self.low is None else self.low.mm

    @property
    def high_mm(self) -> float:
        """inf where there is none."""
        return inf if self.high is None else self.high.mm


class GapAnswer(AnswerPart):
    """Limits in mm; null where there is none."""

    low_mm: float | None = shown("Low", optional=True)
    high_mm: float | None = shown("High", optional=True)

    @classmethod
    def of(cls, gap: Gap) -> GapAnswer:
        return cls(
            low_mm=None if gap.low is None else gap.low.mm,
            high_mm=None if gap.high is None else gap.high.mm,
        )

    def said(self, lead: Lead) -> str:
        """The limits within a sentence."""
        low, high = (
            None if mm is None else show_length(mm, lead=lead).leading
            for mm in (self.low_mm, self.high_mm)
        )
        if low is not None and high is not None:
            return f"{low.removesuffix(f' {lead}')} to {high}"
        return f"at least {low}" if low is not None else f"at most {high}"
