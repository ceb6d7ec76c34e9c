"""What the release-gap worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kitwright.calc.quality.conformity import Verdict
from kitwright.worksheets.depth.limits import Gap, GapAnswer
from kitwright.worksheets.depth.repeats import Repeats
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Part,
    PositiveSize,
    Size,
    shown,
)

MOST_SHIMS = 12

Measured = Literal["face_to_fingers", "face_to_bearing"]


class StraightedgePart(Part):
    """A straightedge that a distance was measured over."""

    thickness: PositiveSize = Field(description="Thickness")
    over: Literal["face_to_fingers", "face_to_bearing", "both"] = Field(
        description="Measured over it"
    )
    reading: Literal["short", "long"] = Field(
        default="short", description="The readings came out short of, or long by, its thickness"
    )


class ShimPart(Part):
    """Shims of one thickness."""

    thickness: PositiveSize = Field(description="Thickness")
    count: Annotated[int, Field(ge=0, le=50)] = Field(default=1, description="How many")


class ClutchPart(Part):
    """How a clutch wears."""

    disc_wear: Size = Field(description="Wear of the whole disc, until it is worn out")
    finger_ratio: Annotated[float, Field(gt=0, le=20, allow_inf_nan=False)] = Field(
        description="Rise of the fingers over wear of the disc"
    )


class ReleaseGapCase(Case):
    """Two distances from the faces that meet, and what the gap between them must be."""

    face_to_fingers: Repeats = Field(description="Bell's gearbox face to finger tips")
    face_to_bearing: Repeats = Field(
        description="Gearbox face to bearing's face, bearing fully back"
    )
    reading_u95: Size | None = Field(
        default=None, description="Expanded uncertainty of one reading (k = 2)"
    )
    straightedge: StraightedgePart | None = Field(default=None, description="Straightedge")
    gap: Gap | None = Field(default=None, description="Limits of the gap")
    shims: list[ShimPart] = Field(
        default_factory=list, max_length=MOST_SHIMS, description="Shims at hand"
    )
    clutch: ClutchPart | None = Field(default=None, description="Clutch")
    stroke: PositiveSize | None = Field(default=None, description="Stroke of the bearing")
    release_travel: Size | None = Field(
        default=None, description="Travel that frees the clutch, from touching the fingers"
    )


class ShimsUsed(AnswerPart):
    """Shims of one thickness to put behind the bearing."""

    thickness_mm: float = shown("Thickness")
    count: int = shown("How many")


class ReleaseGapAnswer(Answer):
    """The gap as it is, with the best shims at hand, and when the clutch is worn."""

    verdict: Verdict = shown("Verdict")
    gap_mm: float = shown("Gap as it is", u95="gap_u95_mm")
    gap_u95_mm: float = shown("Its expanded uncertainty (k = 2)")
    gap: GapAnswer = shown("Limits of the gap")
    shims_used: list[ShimsUsed] = shown("Shims behind the bearing")
    shims_total_mm: float = shown("Shims in all")
    gap_shimmed_mm: float = shown("Gap with them", u95="gap_u95_mm")
    gap_worn_mm: float | None = shown("Gap when the disc is worn", u95="gap_u95_mm")
    stroke_left_mm: float | None = shown("Stroke left when new", u95="gap_u95_mm")
    shims_from_mm: float | None = shown("Shims that would do: from", optional=True)
    shims_to_mm: float | None = shown("Shims that would do: to", optional=True)
    face_to_fingers_mm: float = shown("Face to fingers", u95="face_to_fingers_u95_mm")
    face_to_fingers_u95_mm: float = shown("Its expanded uncertainty (k = 2)")
    face_to_bearing_mm: float = shown("Face to bearing", u95="face_to_bearing_u95_mm")
    face_to_bearing_u95_mm: float = shown("Its expanded uncertainty (k = 2)")
    reasons: list[str] = shown("Why")
