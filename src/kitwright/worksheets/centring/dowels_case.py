"""What the dowels worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from kitwright.calc.centring.dowels import Outcome
from kitwright.errors import InputError
from kitwright.worksheets.centring.limits import TirLimit
from kitwright.worksheets.fields import (
    Angle,
    Answer,
    AnswerPart,
    Case,
    Chance,
    Part,
    Place,
    PositiveSize,
    Size,
    shown,
)
from kitwright.worksheets.written import refused

MOST_SIZES = 12
"""More sizes than any drawer holds; the pairs of them are counted one by one."""


class Turned(Part):
    """The dowels that were put in, and where their slots point now."""

    a_size: Size = Field(description="Dowel a")
    a_clock_deg: Angle | None = Field(default=None, description="Slot a")
    b_size: Size = Field(description="Dowel b")
    b_clock_deg: Angle | None = Field(default=None, description="Slot b")

    @model_validator(mode="after")
    def _slots_known(self) -> Self:
        for name, size, clock in (
            ("a", self.a_size, self.a_clock_deg),
            ("b", self.b_size, self.b_clock_deg),
        ):
            if size.exact > 0 and clock is None:
                raise refused(
                    InputError("", f"{name}_clock_deg is missing", "say where its slot points")
                )
        return self


class DowelsCase(Case):
    """A bore that is off, two dowel holes, and a drawer of eccentric dowels."""

    offset: Size = Field(description="Offset of the bore")
    offset_clock_deg: Angle = Field(description="Where the bore lies from the crank axis")
    offset_u95: Size | None = Field(
        default=None, description="Expanded uncertainty of the offset (k = 2)"
    )
    dowel_a: Place = Field(description="Dowel hole a, from the crank axis: x, y")
    dowel_b: Place = Field(description="Dowel hole b, from the crank axis: x, y")
    sizes: list[Size] = Field(max_length=MOST_SIZES, description="Sizes in the drawer")
    limit: TirLimit = Field(description="Largest TIR allowed")
    hole_clearance: Size | None = Field(
        default=None, description="Clearance of each dowel in its hole (diametral)"
    )
    angle_error_deg: Annotated[float, Field(ge=0, le=45, allow_inf_nan=False)] | None = Field(
        default=None, description="Standard error of turning one dowel"
    )
    bolt_radius: PositiveSize | None = Field(
        default=None, description="Furthest bolt from the crank axis"
    )
    bolt_clearance: Size | None = Field(
        default=None, description="Clearance of a bolt in its hole (diametral)"
    )
    turned: Turned | None = Field(default=None, description="After a turn: the dowels as they are")
    offset_after: Size | None = Field(
        default=None, description="After a turn: offset by the second sweep"
    )
    offset_after_clock_deg: Angle | None = Field(
        default=None, description="After a turn: where the bore lies by the second sweep"
    )
    offset_after_u95: Size | None = Field(
        default=None, description="After a turn: expanded uncertainty of the second sweep (k = 2)"
    )


class CandidateRow(AnswerPart):
    """One setting of two dowels and what it leads to."""

    a_size_mm: float = shown("Dowel a")
    a_clock_deg: float | None = shown("slot a")
    b_size_mm: float = shown("Dowel b")
    b_clock_deg: float | None = shown("slot b")
    predicted_offset_mm: float = shown("Offset left")
    predicted_tir_mm: float = shown("TIR left")
    turn_mrad: float = shown("Turns by")
    chance_within: Chance = shown("Within")
    chance_binds: Chance = shown("Binds")
    predicted_offset_x_mm: float = shown("Offset left, x", hidden=True)
    predicted_offset_y_mm: float = shown("Offset left, y", hidden=True)
    chance_error: float = shown("Bound on the error of the chances", hidden=True)


class Compared(AnswerPart):
    """What was chosen, beside what else could be done."""

    choice: str = shown("Choice")
    index: int = shown("Candidate", hidden=True)
    a_size_mm: float = shown("Dowel a")
    b_size_mm: float = shown("Dowel b")
    predicted_tir_mm: float = shown("TIR left")
    chance_within: Chance = shown("Within")
    chance_binds: Chance = shown("Binds")
    bolt_shift_mm: float | None = shown("Moves at bolts")


class Reading(AnswerPart):
    """One reading of the second sweep, the dial zeroed at 12 o'clock."""

    clock_deg: float = shown("At")
    reading_mm: float = shown("Reads")
    reading_u95_mm: float = shown("give or take")


class LearnedAnswer(AnswerPart):
    """What the second sweep says of the dowels."""

    moved_mm: float = shown("Bore moved by")
    moved_clock_deg: float = shown("Bore moved toward")
    expected_move_mm: float = shown("It should have moved by")
    expected_move_clock_deg: float = shown("It should have moved toward")
    a_error_deg: float = shown("Dowel a points past its slot by", u95="a_error_u95_deg")
    a_error_u95_deg: float = shown("Uncertainty of that")
    b_error_deg: float = shown("Dowel b points past its slot by", u95="b_error_u95_deg")
    b_error_u95_deg: float = shown("Uncertainty of that")
    unexplained_mm: float = shown("Move that no turning explains")
    mismatch_mm: float = shown("Mismatch along the dowels' line, as read")
    bind_mm: float = shown("Of that, more than the clearance")
    plain_offset_mm: float = shown("Offset with plain dowels, by both sweeps")
    plain_offset_clock_deg: float = shown("It lies toward")


class NextTurnAnswer(CandidateRow):
    """Where to turn the dowels next."""

    a_clock_deg: float | None = shown("dowel a is to point toward")
    b_clock_deg: float | None = shown("dowel b is to point toward")
    a_turn_deg: float | None = shown("turn a clockwise by", optional=True)
    b_turn_deg: float | None = shown("turn b clockwise by", optional=True)


class DowelsAnswer(Answer):
    """Every sensible setting, the likeliest first, and which one to take."""

    limit_mm: float = shown("Largest TIR allowed")
    tir_now_mm: float = shown("TIR of the offset as it sits")
    chance_now: Chance = shown("Chance that it is within the limit as it sits")
    recommended: int | None = shown("Candidate to take, counted from 0", hidden=True)
    outcome: Outcome = shown("Outcome", hidden=True)
    reason: str | None = shown("Why no dowels are recommended", hidden=True)
    compared: list[Compared] = shown("The choice, and what else could be done")
    second_sweep: list[Reading] = shown(
        "What a second sweep should read, zeroed at 12 o'clock", optional=True
    )
    learned: LearnedAnswer | None = shown("The turn that was made", optional=True)
    next_turn: NextTurnAnswer | None = shown("Next turn", optional=True)
    within_after: bool | None = shown("Surely within the limit after the turn", optional=True)
    notes: list[str] = shown("Mind", optional=True)
    candidates: list[CandidateRow] = shown("Settings, the likeliest first")

    def slots_deg(self, turned: Turned | None) -> tuple[float | None, float | None]:
        """Where the slots of dowels a and b are to be set, in degrees; None for a plain dowel.

        By the recommended setting, or after a turn by the next one. A dowel that is in may point
        past its slot, so its slot goes by as much as the dowel is to be turned.
        """
        if self.learned is None or turned is None:
            if self.recommended is None:
                return None, None
            best = self.candidates[self.recommended]
            return best.a_clock_deg, best.b_clock_deg
        turn = self.next_turn
        if turn is None:
            return None, None
        return (
            _slot_after(turn.a_clock_deg, turned.a_clock_deg, turn.a_turn_deg),
            _slot_after(turn.b_clock_deg, turned.b_clock_deg, turn.b_turn_deg),
        )


def _slot_after(
    to_deg: float | None, slot_deg: float | None, turn_deg: float | None
) -> float | None:
    if to_deg is None or slot_deg is None or turn_deg is None:
        return to_deg
    return (slot_deg + turn_deg) % 360
