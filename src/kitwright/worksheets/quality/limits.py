"""The drawing's limits, as cases give them."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from kitwright.errors import InputError
from kitwright.worksheets.fields import Length, Part
from kitwright.worksheets.written import refused


class Limits(Part):
    """The drawing's limits; either may be missing, not both."""

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
