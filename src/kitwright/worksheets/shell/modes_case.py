"""What the modes worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from kitwright.calc.shell.bell_modes import Support
from kitwright.calc.shell.mode_kinds import Kind
from kitwright.worksheets.fields import Answer, AnswerPart, Part, PositiveSize, shown
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.shell.bell_case import (
    BellFields,
    FlangePart,
    MaterialName,
    OpeningPart,
    PadPart,
    RibsPart,
)

Mesh = Literal["coarse", "usual", "fine"]
LeftOut = Literal["ribs", "openings", "pads", "front_flange", "rear_flange", "wall_rear"]


class ChangePart(Part):
    """What is to be other than it is; what is not given stays."""

    model_config = ConfigDict(serialize_by_alias=True)

    front_radius: PositiveSize | None = Field(default=None, description="Wall's radius in front")
    rear_radius: PositiveSize | None = Field(default=None, description="Wall's radius behind")
    length: PositiveSize | None = Field(default=None, description="Length, face to face")
    wall: PositiveSize | None = Field(default=None, description="Wall's thickness")
    wall_rear: PositiveSize | None = Field(default=None, description="Wall's thickness behind")
    front_flange: FlangePart | None = Field(default=None, description="Flange at the block face")
    rear_flange: FlangePart | None = Field(default=None, description="Flange at the gearbox face")
    material: MaterialName | None = Field(default=None, description="Material")
    add_ribs: RibsPart | None = Field(default=None, description="Ribs more")
    add_opening: OpeningPart | None = Field(default=None, description="One opening more")
    add_pad: PadPart | None = Field(default=None, description="One thicker or thinner place more")
    leave_out: Annotated[list[LeftOut], Field(max_length=6)] = Field(
        default_factory=list, description="Left out altogether"
    )


class ModesCase(BellFields):
    """A bell, how it is held, and how many of its pitches are asked for."""

    support: Support = Field(default="free", description="How it is held")
    count: Annotated[int, Field(ge=1, le=60)] = Field(default=12, description="How many modes")
    mesh: Mesh = Field(default="usual", description="Mesh")
    price_per_kg: Money | None = Field(default=None, description="Price of a kilogram, finished")
    change: ChangePart | None = Field(default=None, description="One change, to see what it does")


class ModeRow(AnswerPart):
    """One mode."""

    number: int = shown("No.")
    frequency_hz: float = shown("Frequency", u95="frequency_error_hz")
    frequency_error_hz: float = shown("Error of the mesh")
    kind: Kind = shown("Kind")
    nodal_diameters: int = shown("Nodal diameters")
    nodal_circles: int = shown("Nodal circles")
    wave_share: float = shown("Share of that wave")
    modal_mass_kg: float = shown("Mass where it moves most")
    effective_mass_x_kg: float | None = shown("Effective mass, x")
    effective_mass_y_kg: float | None = shown("Effective mass, y")
    effective_mass_z_kg: float | None = shown("Effective mass, z")


class MeshAnswer(AnswerPart):
    """How large the calculation was."""

    elements: int = shown("Elements")
    nodes: int = shown("Nodes", hidden=True)
    unknowns: int = shown("Unknowns")
    largest_error_share: float = shown("Largest error of a frequency")
    elements_coarser: int = shown("Elements of the coarser one", hidden=True)


class ChangedRow(AnswerPart):
    """One mode, before the change and after."""

    number: int = shown("No.")
    kind: Kind = shown("Kind")
    nodal_diameters: int = shown("Nodal diameters")
    frequency_before_hz: float = shown("Before")
    frequency_after_hz: float | None = shown("After")
    change_hz: float | None = shown("Change")
    change_share: float | None = shown("Change, of before")
    number_after: int | None = shown("No. after")
    alike_share: float | None = shown("Alike")


class ChangedAnswer(AnswerPart):
    """The changed bell as a whole."""

    what: list[str] = shown("What is changed")
    mass_kg: float = shown("Mass after the change")
    mass_change_kg: float = shown("Change of mass")
    cost: Price | None = shown("Cost after the change", optional=True, default=None)
    paired_by: Literal["shape", "kind"] = shown("Modes paired by their")


class ViewAnswer(AnswerPart):
    """The surface and its motion, packed to be drawn (base 64, little endian)."""

    points: str = shown("Points")
    """x, y, z of each in tenths of a millimetre, 32-bit whole numbers."""
    faces: str = shown("Faces")
    """Four points each, 16-bit, counter-clockwise seen from outside."""
    moves: list[str] = shown("Moves")
    """For each mode shown, x, y, z of each point, -127 to 127, 8-bit."""
    modes: list[int] = shown("Modes")
    """The number of each mode shown."""


class ModesAnswer(Answer):
    """The pitches at which a bell rings."""

    support: Support = shown("How it is held")
    first_hz: float = shown("Lowest pitch", u95="first_error_hz")
    first_error_hz: float = shown("Error of the mesh")
    mass_kg: float = shown("Mass of the shell")
    cost: Price | None = shown("Cost of the shell", optional=True, default=None)
    mesh: MeshAnswer = shown("Mesh")
    modes: list[ModeRow] = shown("Modes")
    changed: ChangedAnswer | None = shown("Changed", optional=True, default=None)
    changes: tuple[ChangedRow, ...] = shown("What the change does", optional=True, default=())
    view: ViewAnswer = shown("View", hidden=True)
