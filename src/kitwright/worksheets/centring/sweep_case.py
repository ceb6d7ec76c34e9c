"""What the sweep worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Final, Literal, TypeVar

from pydantic import Field, ValidationInfo, field_validator

from kitwright.calc.centring.sweep import Cause
from kitwright.calc.centring.sweep_judge import Verdict
from kitwright.errors import InputError
from kitwright.worksheets.centring.limits import TirLimit
from kitwright.worksheets.fields import (
    Angle,
    Answer,
    AnswerPart,
    Case,
    Chance,
    Length,
    PositiveSize,
    Size,
    TableUnit,
    shown,
)
from kitwright.worksheets.written import refused

Surface = Literal["bore", "face"]
Reading = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Readings = Annotated[list[tuple[Angle, Reading]], Field(min_length=3, max_length=720)]
Given = TypeVar("Given")

BELONGS: Final[dict[str, Surface]] = {
    "sag": "bore",
    "bearing_clearance": "bore",
    "sweep_radius": "face",
    "plane_distance": "face",
    "bore_offset": "face",
    "bore_offset_clock_deg": "face",
    "bore_offset_u95": "face",
    "readings_b": "face",
}
"""Field → the one surface that it belongs to."""


class SweepCase(Case):
    """Dial readings round a bore or a face, the dial carried by the crank."""

    surface: Surface = Field(description="What was swept")
    unit: TableUnit = Field(description="Unit of the readings")
    readings: Readings = Field(description="Readings: clock angle, reading")
    repeats: list[Readings] = Field(
        default_factory=list,
        max_length=20,
        description="The same sweep taken again: clock angle, reading",
    )
    limit: TirLimit = Field(description="Largest TIR allowed")
    repeatability: Size | None = Field(
        default=None, description="Repeatability of a reading (standard uncertainty)"
    )
    graduation: Size | None = Field(default=None, description="Graduation of the dial")
    dial_error: Size | None = Field(
        default=None, description="Maximum permissible error of the dial"
    )
    form_allowance: Size | None = Field(
        default=None, description="Out of round, or warp, to allow for where it cannot be seen"
    )
    bore_diameter: PositiveSize | None = Field(default=None, description="Diameter of the bore")
    sag: Length | None = Field(
        default=None, description="Sag: at 6 o'clock, zeroed at 12, inside a true ring"
    )
    bearing_clearance: Size | None = Field(
        default=None, description="Dial change at 12 o'clock when the crank is lifted to its stop"
    )
    sweep_radius: PositiveSize | None = Field(
        default=None, description="From the crank axis to the dial's tip", validate_default=True
    )
    plane_distance: Size | None = Field(
        default=None, description="From the gearbox face forward to the pilot bearing"
    )
    bore_offset: Size | None = Field(default=None, description="Offset, from the bore's sweep")
    bore_offset_clock_deg: Angle | None = Field(
        default=None, description="Where that offset points", validate_default=True
    )
    bore_offset_u95: Size | None = Field(
        default=None, description="Expanded uncertainty of that offset (k = 2)"
    )
    readings_b: Readings | None = Field(
        default=None,
        description="A second dial, opposite, at the first's clock angles: clock angle, reading",
    )

    @field_validator(*BELONGS)
    @classmethod
    def _belongs(cls, value: Given, info: ValidationInfo) -> Given:
        """A field of one surface is refused on the other, and what needs its partner without it."""
        surface, name = info.data.get("surface"), str(info.field_name)
        if value is not None and surface not in (None, BELONGS[name]):
            raise refused(InputError("", f"belongs to a {BELONGS[name]}", "leave it out"))
        if value is None and name == "sweep_radius" and surface == "face":
            raise refused(InputError("", "missing", "a face needs it"))
        if "bore_offset" in info.data:
            offset = info.data["bore_offset"]
            if name == "bore_offset_clock_deg" and value is None and offset is not None:
                raise refused(InputError("", "missing", "bore_offset needs it"))
            if name.startswith("bore_offset_") and value is not None and offset is None:
                raise refused(InputError("", "given without bore_offset", "give that too"))
        if name == "readings_b" and value is not None and info.data.get("repeats"):
            raise refused(InputError("", "given with repeats", "give one or the other"))
        return value


class SuspectRow(AnswerPart):
    """A reading that does not belong to the others; it was used all the same."""

    clock_deg: float = shown("Clock")
    sweep: int | None = shown("Sweep")
    misfit_mm: float = shown("Off the others' curve by")
    chance: Chance = shown("Chance in a good sweep")
    tir_without_mm: float = shown("TIR without it")
    tir_without_u95_mm: float = shown("Its uncertainty (k = 2)")
    verdict_without: Verdict = shown("Verdict without it")
    offset_without_mm: float | None = shown("Offset without it", default=None)
    offset_without_clock_deg: float | None = shown("Pointing to", default=None)


class SweepAnswer(Answer):
    """Where the surface sits, and whether it may stay. What one surface has not is null."""

    surface: Surface = shown("Surface", hidden=True)
    verdict: Verdict = shown("Verdict")
    tir_mm: float = shown("TIR judged", u95="tir_u95_mm")
    tir_u95_mm: float = shown("Its expanded uncertainty (k = 2)")
    limit_mm: float = shown("Largest TIR allowed")
    cause: Cause | None = shown("Cause", optional=True, default=None)

    offset_mm: float | None = shown("Offset", u95="offset_u95_mm", optional=True, default=None)
    offset_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    offset_clock_deg: float | None = shown(
        "Offset points to", u95="offset_clock_u95_deg", optional=True, default=None
    )
    offset_clock_u95_deg: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    offset_x_mm: float | None = shown("Offset to the right", optional=True, default=None)
    offset_y_mm: float | None = shown("Offset up", optional=True, default=None)
    offset_covariance_mm2: list[float] | None = shown(
        "Covariance of the offset: xx, xy, yy", hidden=True, default=None
    )
    tir_from_offset_mm: float | None = shown(
        "TIR from the offset alone", optional=True, default=None
    )
    out_of_round_mm: float | None = shown(
        "Out of round", u95="out_of_round_u95_mm", optional=True, default=None
    )
    out_of_round_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    move_mm: float | None = shown("Move the bell by", optional=True, default=None)
    move_clock_deg: float | None = shown("Move it toward", optional=True, default=None)

    tilt_mrad: float | None = shown("Tilt", u95="tilt_u95_mrad", optional=True, default=None)
    tilt_u95_mrad: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    tilt_clock_deg: float | None = shown(
        "Stands furthest to the rear at", optional=True, default=None
    )
    warp_mm: float | None = shown("Warp", u95="warp_u95_mm", optional=True, default=None)
    warp_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    pilot_shift_mm: float | None = shown(
        "Shift at the pilot bearing", u95="pilot_shift_u95_mm", optional=True, default=None
    )
    pilot_shift_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    pilot_shift_clock_deg: float | None = shown("That shift points to", optional=True, default=None)
    float_mm: float | None = shown(
        "Crank float and warp, from two dials", optional=True, default=None
    )

    tir_as_read_mm: float = shown("TIR as read")
    tir_corrected_mm: float = shown("TIR after corrections")
    sum_check_mm: float | None = shown(
        "Sum check, 12 + 6 less 3 + 9", u95="sum_check_u95_mm", optional=True, default=None
    )
    sum_check_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    closure_mm: float | None = shown(
        "Closure, last less first", u95="closure_u95_mm", optional=True, default=None
    )
    closure_u95_mm: float | None = shown("Its expanded uncertainty (k = 2)", default=None)
    places: int = shown("Places read")
    residual_mm: float = shown("Readings about the fitted curve (rms)")
    reading_u_mm: float = shown("Standard uncertainty of a reading")
    suspects: list[SuspectRow] = shown("Readings that do not belong", optional=True)
    advice: list[str] = shown("What to do next", optional=True)
