"""What the match worksheet takes and answers."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Final

from pydantic import Field

from kitwright.calc.quality.conformity import Verdict
from kitwright.errors import InputError
from kitwright.units import unit_size
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Chance,
    Length,
    Part,
    PositiveSize,
    TableUnit,
    shown,
)

MOST: Final = 500
"""So many bells, and so many engines, at most."""

Name = Annotated[str, Field(min_length=1, max_length=80)]

_BARE: Final = re.compile(
    r"\s*[+\-−]?(?:\d{1,30}(?:\.\d{0,30})?|\.\d{1,30})(?:[eE][+\-]?\d{1,3})?\s*"
)
_LARGEST_MM: Final = 10**15


class TableLength(Length):
    """A length with its unit, or a bare number in the unit that the case says once."""

    example = "0.4"
    __slots__ = ("bare",)

    def __init__(self, text: object) -> None:
        if isinstance(text, int | float) and not isinstance(text, bool):
            text = repr(text)
        self.bare = isinstance(text, str) and _BARE.fullmatch(text) is not None
        if self.bare:
            self.text = str(text)
            self.exact = Fraction(self.text.strip().replace("−", "-"))
            self.check()
        else:
            super().__init__(text)

    @property
    def meaning(self) -> tuple[str, Fraction]:
        return "bare number" if self.bare else self.kind, self.exact

    def mm_in(self, unit: TableUnit | None) -> float:
        """The length in mm.

        Raises
        ------
        InputError
            A bare number, and no unit said; one beyond any length.
        """
        if not self.bare:
            return self.mm
        written = self.text.strip()
        if unit is None:
            raise InputError(
                "", f'"{written}" has no unit', f'write "{written} thou", or give `unit` once'
            )
        size = self.exact * unit_size(unit.name)
        if abs(size) > _LARGEST_MM:
            raise InputError("", f'"{written}" is beyond any length here', "check it")
        return float(size)


class TableSize(TableLength):
    """The same, zero or more."""

    __slots__ = ()

    def check(self) -> None:
        if self.exact < 0:
            raise InputError("", f'"{self.text}" is negative', "give zero or more")


Vector = tuple[TableLength, TableLength]


class BellPart(Part):
    """One bell on the shelf."""

    serial: Name = Field(description="Serial")
    vector: Vector = Field(description="Bore as measured: right, up")
    u95: TableSize | None = Field(default=None, description="Plus or minus (k = 2)")


class EnginePart(Part):
    """One engine that waits for its bell."""

    order: Name = Field(description="Order")
    vector: Vector = Field(description="Block and crank as swept: right, up")
    u95: TableSize = Field(description="Plus or minus (k = 2)")


class PairPart(Part):
    """A bell that is this order's already."""

    order: Name = Field(description="Order")
    serial: Name = Field(description="Serial")


class Gone(Part):
    """What takes no part any more."""

    serials: list[Name] = Field(default_factory=list, max_length=MOST, description="Bells")
    orders: list[Name] = Field(default_factory=list, max_length=MOST, description="Orders")


class MatchCase(Case):
    """Bells on the shelf, engines that wait for one, and the TIR allowed."""

    limit: PositiveSize = Field(description="Largest TIR allowed")
    unit: TableUnit | None = Field(default=None, description="Unit of bare numbers")
    bells: list[BellPart] = Field(min_length=1, max_length=MOST, description="Bells")
    engines: list[EnginePart] = Field(min_length=1, max_length=MOST, description="Engines")
    keep: list[PairPart] = Field(
        default_factory=list, max_length=MOST, description="Pairs that stay as they are"
    )
    without: Gone | None = Field(default=None, description="Gone since")


class PairRow(AnswerPart):
    """A bell in the car it goes into."""

    order: str = shown("Order")
    serial: str = shown("Bell")
    expected_tir_mm: float = shown("Expected TIR")
    chance_within: Chance = shown("Within the limit")
    verdict: Verdict = shown("Verdict")
    offset_clock_deg: float | None = shown("Offset toward")
    offset_x_mm: float = shown("Right", hidden=True)
    offset_y_mm: float = shown("Up", hidden=True)
    offset_u95_mm: float = shown("Plus or minus", hidden=True)
    kept: bool | None = shown("Kept")
    """null where the case keeps no pair."""


class Total(AnswerPart):
    """All pairs together."""

    within: float = shown("Fit-ups expected within")
    outside: float = shown("Fit-ups expected outside")
    expected_tir_mm: float = shown("Expected TIR, added up")


class ChangeRow(AnswerPart):
    """An order whose bell is another one now."""

    order: str = shown("Order")
    before: str | None = shown("Bell before")
    after: str | None = shown("Bell now")


class MatchAnswer(Answer):
    """Which bell for which engine, and what that is worth."""

    count: int = shown("Pairs")
    limit_mm: float = shown("Largest TIR allowed")
    total: Total = shown("Matched")
    first_come: Total = shown("First come, first served")
    proven: bool = shown("Proven the best")
    gap: float = shown("Fit-ups that another match could gain at most", hidden=True)
    pairs: list[PairRow] = shown("Pairs")
    changes: list[ChangeRow] | None = shown("Changes", optional=True)
    left_over: list[str] = shown("Bells left over", optional=True)
    waiting: list[str] = shown("Orders still without a bell", optional=True)
    first_come_pairs: list[PairRow] = shown("First come, first served")
