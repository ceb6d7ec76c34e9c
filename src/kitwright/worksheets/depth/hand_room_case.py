"""What the hand-room worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kitwright.calc.depth.hand_room import STEEPEST_DEG
from kitwright.calc.depth.openings import MOST_CORNERS
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Length,
    Part,
    Place,
    PositiveSize,
    Size,
    shown,
)


class BoxPart(Part):
    """An upright opening with straight sides."""

    width: PositiveSize = Field(description="Width, along the crank")
    height: PositiveSize = Field(description="Height, round the bell")
    x: Length = Field(description="Middle, x")
    y: Length = Field(description="Middle, y")


class AdjusterPart(Part):
    """The nut or ring to be turned."""

    x: Length = Field(description="x")
    y: Length = Field(description="y")
    depth: PositiveSize = Field(description="Behind the wall's outer face")
    axis: Literal["along the crank", "round the bell"] = Field(
        default="along the crank", description="Its axis lies"
    )


class WrenchPart(Part):
    """An open-ended wrench; what is not given follows from its size."""

    size: PositiveSize = Field(description="Size across the nut's flats")
    head_width: PositiveSize | None = Field(default=None, description="Head's width")
    head_thickness: PositiveSize | None = Field(default=None, description="Head's thickness")
    handle_width: PositiveSize | None = Field(default=None, description="Handle's width")
    handle_thickness: PositiveSize | None = Field(default=None, description="Handle's thickness")
    length: PositiveSize | None = Field(default=None, description="Length from the nut's middle")
    grip: Size | None = Field(default=None, description="Of it, what you hold outside")


class HandPart(Part):
    """A hand, flat, and the arm behind it."""

    breadth: PositiveSize | None = Field(default=None, description="Breadth over the thumb")
    thickness: PositiveSize | None = Field(default=None, description="Thickness over the thumb")
    length: PositiveSize | None = Field(default=None, description="Length, wrist to finger tips")
    arm: PositiveSize | None = Field(default=None, description="Arm's thickness")
    arm_reach: PositiveSize | None = Field(default=None, description="Reach of the arm")


class HandRoomCase(Case):
    """An opening in the bell's wall, an adjuster behind it, and what should reach it."""

    outline: Annotated[list[Place], Field(min_length=3, max_length=MOST_CORNERS)] | None = Field(
        default=None, description="Outline of the opening: x, y"
    )
    box: BoxPart | None = Field(default=None, description="Or an upright opening")
    wall: Size = Field(description="Thickness of the wall")
    adjuster: AdjusterPart = Field(description="Adjuster")
    tool: Literal["open-ended wrench", "hand"] = Field(
        default="open-ended wrench", description="What reaches in"
    )
    wrench: WrenchPart | None = Field(default=None, description="Wrench")
    hand: HandPart | None = Field(default=None, description="Hand")
    swing_deg: Annotated[float, Field(ge=0, le=2 * STEEPEST_DEG, allow_inf_nan=False)] | None = (
        Field(default=None, description="Swing to be made")
    )
    clearance: Size | None = Field(default=None, description="Clearance wanted on every side")


class SmallestAnswer(AnswerPart):
    """The smallest upright opening that serves."""

    width_mm: float = shown("Width, along the crank")
    height_mm: float = shown("Height, round the bell")
    x_mm: float = shown("Middle, x")
    y_mm: float = shown("Middle, y")


class ViewAnswer(AnswerPart):
    """What the drawing needs: the tool's stance, angles from the wall's normal."""

    way: Literal["flat", "turned"] | None = shown("Goes in")
    enter_deg: float | None = shown("Goes in at")
    swing_from_deg: float | None = shown("Swings from")
    swing_to_deg: float | None = shown("Swings to")
    head_width_mm: float = shown("Head's width")
    head_thickness_mm: float = shown("Head's thickness")
    handle_width_mm: float = shown("Handle's width")
    handle_thickness_mm: float = shown("Handle's thickness")
    length_mm: float = shown("Length")
    swings_along: Literal["x", "y"] = shown("Swings along")
    outline_mm: list[tuple[float, float]] = shown("Outline")
    adjuster_mm: tuple[float, float] = shown("Adjuster")
    depth_mm: float = shown("Depth")
    wall_mm: float = shown("Wall")


class HandRoomAnswer(Answer):
    """Whether the tool gets in, reaches and swings."""

    tool: Literal["open-ended wrench", "hand"] = shown("What reaches in")
    verdict: Literal["fits", "does not fit"] = shown("Verdict")
    limited_by: str = shown("What limits it")
    margin_mm: float | None = shown("Least margin")
    clearance_mm: float = shown("Clearance wanted")
    enter_margin_mm: float | None = shown("Margin going in")
    swing_margin_mm: float | None = shown("Margin swinging")
    swing_deg: float | None = shown("Swing wanted", optional=True)
    swing_possible_deg: float | None = shown("Swing possible", optional=True)
    way: str | None = shown("Goes in", optional=True)
    room_behind_mm: float = shown("Between head and wall inside")
    smallest: SmallestAnswer | None = shown("Smallest opening that serves", optional=True)
    view: ViewAnswer = shown("View", hidden=True)
