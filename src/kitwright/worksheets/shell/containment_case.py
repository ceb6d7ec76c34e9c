"""What the containment worksheet takes and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from pydantic import Field

from kitwright.calc.shell.perforation import Metal
from kitwright.worksheets.fields import Answer, AnswerPart, Case, Part, PositiveSize, Size, shown

MOST_WALLS: Final = 12
MOST_PIECES: Final = 12


@dataclass(frozen=True)
class Stock:
    """A wall's metal: which models know it, its tensile strength, its density, its source."""

    metal: Metal
    strength_mpa: float
    density_kg_m3: float
    source: str


WALL_STOCK: Final = {
    "cast A356-T6": Stock("aluminium", 262, 2680, "ASTM B108, permanent mould, least"),
    "die-cast A380": Stock("aluminium", 324, 2710, "NADCA table A-3-2, typical"),
    "6061-T6 plate": Stock("aluminium", 310, 2700, "MIL-HDBK-5, from memory"),
    "grey iron": Stock("iron", 214, 7200, "Shigley A-24, class 30, from memory"),
    "mild steel": Stock("steel", 440, 7800, "Shigley A-20, AISI 1018 cold drawn, from memory"),
}
DISC_DENSITY: Final = {"steel": 7800.0, "grey iron": 7200.0, "aluminium": 2700.0}

Name = Annotated[str, Field(min_length=1, max_length=80)]
WallMaterial = Literal["cast A356-T6", "die-cast A380", "6061-T6 plate", "grey iron", "mild steel"]


class WallPart(Part):
    """One wall to compare."""

    name: Name = Field(description="Wall")
    material: WallMaterial = Field(description="Material")
    thickness: PositiveSize = Field(description="Thickness where it is thinnest")
    strength_mpa: Annotated[float, Field(gt=0, le=5000)] | None = Field(
        default=None, description="Tensile strength, MPa"
    )
    span: PositiveSize | None = Field(
        default=None, description="Free width between ribs or flanges"
    )


class PiecePart(Part):
    """A piece of one's own, such as a cover's strap or a spring."""

    name: Name = Field(description="Piece")
    mass_kg: Annotated[float, Field(gt=0, le=500)] = Field(description="Mass")
    radius: PositiveSize = Field(description="Radius of its centre")
    across: PositiveSize = Field(description="Width where it hits")


class ContainmentCase(Case):
    """A disc or flywheel at speed, and the walls to compare."""

    mass_kg: Annotated[float, Field(gt=0, le=500)] = Field(description="Mass of the disc")
    outer_radius: PositiveSize = Field(description="Outer radius")
    inner_radius: Size | None = Field(default=None, description="Inner radius, of a ring")
    thickness: PositiveSize | None = Field(default=None, description="Thickness of the disc")
    material: Literal["steel", "grey iron", "aluminium"] = Field(
        default="steel", description="Material of the disc"
    )
    speed_rpm: Annotated[float, Field(gt=0, le=100_000)] = Field(description="Highest speed")
    pieces: Annotated[list[PiecePart], Field(max_length=MOST_PIECES)] = Field(
        default_factory=list, description="Pieces of your own"
    )
    walls: Annotated[list[WallPart], Field(min_length=1, max_length=MOST_WALLS)] = Field(
        description="Walls"
    )


class FragmentRow(AnswerPart):
    """One piece in flight."""

    name: str = shown("Piece")
    mass_kg: float = shown("Mass")
    speed_m_s: float = shown("Speed")
    fragment_energy_j: float = shown("Energy")
    length_mm: float = shown("Greatest dimension")
    edge_mm: float = shown("Across, edge first")
    spread_deg: float | None = shown("From the disc's plane, either way")


class WallRow(AnswerPart):
    """One wall against the third of the disc, edge first: the least and most by any model."""

    name: str = shown("Wall")
    material: str = shown("Material")
    thickness_mm: float = shown("Thickness")
    wall_energy_j: float = shown("Least by a model")
    wall_energy_high_j: float = shown("Most")
    ratio: float = shown("Third over least")
    ratio_low: float = shown("Third over most", hidden=True)
    worst_piece: str = shown("Piece of the largest ratio", hidden=True)
    worst_ratio: float = shown("Largest ratio", hidden=True)
    left_energy_j: float = shown("Left behind at worst")
    models: str = shown("Models")


class ModelRow(AnswerPart):
    """One wall, one piece, one model."""

    wall: str = shown("Wall")
    piece: str = shown("Piece")
    model: str = shown("Model")
    wall_energy_j: float | None = shown("The wall takes")
    wall_energy_flat_j: float | None = shown("By its mean shadow", hidden=True)
    ratio: float | None = shown("Piece over wall")
    outside: str = shown("Outside its range, which is in brackets")


class ContainmentAnswer(Answer):
    """Energies of pieces and what models give walls; never a promise."""

    fragment_energy_j: float = shown("A third of the disc brings")
    disc_energy_j: float = shown("The whole disc holds")
    rim_speed_m_s: float = shown("Speed of the rim")
    largest_ratio: float = shown("Largest ratio, piece over wall")
    fragments: list[FragmentRow] = shown("Pieces")
    walls: list[WallRow] = shown("Walls, against the third")
    comparisons: list[ModelRow] = shown("By model")
    read_as: list[str] = shown("How to read it")
