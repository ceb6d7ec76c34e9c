"""A bell's shape and material in a case, and what calculation takes of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Annotated, Literal, TypeVar

from pydantic import ConfigDict, Field

from kitwright.calc.shell.bell_shape import BellShape, Flange, Opening, Pad, Ribs
from kitwright.calc.shell.bricks import Isotropic
from kitwright.calc.shell.materials import METALS
from kitwright.errors import InputError, Problem
from kitwright.worksheets.fields import Angle, Case, Length, Number, Part, PositiveSize, Size

MaterialName = Literal[
    "aluminium A356", "aluminium A380", "aluminium 380", "aluminium 6061", "steel", "grey iron"
]
RadiiTo = Literal["middle of the wall", "outside", "inside"]
Along = tuple[Size, PositiveSize]
"""A point of the outline: z from the block face rearward, and a radius."""

Many = Field(max_length=24)
Made = TypeVar("Made")
Given = TypeVar("Given")


class FlangePart(Part):
    """A ring at one end of the wall."""

    outer_radius: PositiveSize = Field(description="Outer radius")
    thickness: PositiveSize = Field(description="Thickness")
    inner_radius: PositiveSize | None = Field(
        default=None, description="Inner radius, if inside the wall"
    )


class RibsPart(Part):
    """Ribs along the wall's outside, evenly spread."""

    model_config = ConfigDict(serialize_by_alias=True)

    count: Annotated[int, Field(ge=1, le=48)] = Field(description="How many")
    height: PositiveSize = Field(description="Height from the wall")
    width: PositiveSize = Field(description="Width")
    clock_deg: Angle = Field(default=0.0, description="The first at")
    start: Size | None = Field(default=None, alias="from", description="From z")
    end: Size | None = Field(default=None, alias="to", description="To z")


class OpeningPart(Part):
    """An opening through the wall."""

    model_config = ConfigDict(serialize_by_alias=True)

    clock_deg: Angle = Field(description="Its middle at")
    width: PositiveSize = Field(description="Width, round the wall")
    start: Size = Field(alias="from", description="From z")
    end: Size = Field(alias="to", description="To z")


class PadPart(Part):
    """A thicker or thinner place of the wall."""

    model_config = ConfigDict(serialize_by_alias=True)

    thicker_by: Length = Field(description="Thicker by")
    start: Size = Field(alias="from", description="From z")
    end: Size = Field(alias="to", description="To z")
    clock_deg: Angle = Field(default=0.0, description="Its middle at")
    width: PositiveSize | None = Field(default=None, description="Width, if not all round")


class ElasticPart(Part):
    """A material of your own."""

    e_gpa: Annotated[Number, Field(gt=0, le=2000)] = Field(description="Young's modulus, GPa")
    nu: Annotated[Number, Field(ge=0, le=0.49)] = Field(description="Poisson's ratio")
    density_kg_m3: Annotated[Number, Field(gt=0, le=30000)] = Field(description="Density, kg/m³")


class BellFields(Case):
    """A whole bell."""

    model_config = ConfigDict(serialize_by_alias=True)

    front_radius: PositiveSize | None = Field(default=None, description="Wall's radius in front")
    rear_radius: PositiveSize | None = Field(default=None, description="Wall's radius behind")
    length: PositiveSize | None = Field(default=None, description="Length, face to face")
    outline: Annotated[list[Along], Field(min_length=2, max_length=40)] | None = Field(
        default=None, description="Or the wall's outline: z, radius"
    )
    radii_to: RadiiTo = Field(default="middle of the wall", description="Radii are to the")
    wall: PositiveSize = Field(description="Wall's thickness, square to it")
    wall_rear: PositiveSize | None = Field(
        default=None, description="Wall's thickness behind, if it changes"
    )
    front_flange: FlangePart | None = Field(default=None, description="Flange at the block face")
    rear_flange: FlangePart | None = Field(default=None, description="Flange at the gearbox face")
    ribs: Annotated[list[RibsPart], Many] | None = Field(default=None, description="Ribs")
    openings: Annotated[list[OpeningPart], Many] | None = Field(
        default=None, description="Openings"
    )
    pads: Annotated[list[PadPart], Many] | None = Field(
        default=None, description="Thicker or thinner places"
    )
    material: MaterialName | None = Field(default=None, description="Material")
    elastic: ElasticPart | None = Field(default=None, description="Or a material of your own")


def shape_of(case: BellFields) -> BellShape:
    """The bell as calculation takes it, mm.

    Raises
    ------
    InputError
        A shape that cannot be; `where` is the case's own field.
    """
    given = _outline(case)
    front = _flange(case.front_flange)
    rear = _flange(case.rear_flange)
    ribs = _each("ribs", case.ribs, _ribs)
    openings = _each("openings", case.openings, _opening)
    pads = _each("pads", case.pads, _pad)
    wall_rear = None if case.wall_rear is None else case.wall_rear.mm
    with _own_names(case):
        if case.radii_to != "middle of the wall":
            plain = BellShape(outline_mm=given, wall_mm=case.wall.mm, wall_rear_mm=wall_rear).wall
            side = -0.5 if case.radii_to == "outside" else 0.5
            way = side * plain.thickness(plain.at_corner)[:, None] * plain.outward(plain.at_corner)
            moved = plain.corners + way
            given = tuple((float(z), float(radius)) for z, radius in moved)
        return BellShape(
            outline_mm=given,
            wall_mm=case.wall.mm,
            wall_rear_mm=wall_rear,
            front=front,
            rear=rear,
            ribs=ribs,
            openings=openings,
            pads=pads,
        )


def material_of(case: BellFields) -> tuple[Isotropic, str]:
    """The material, and where its figures come from.

    Raises
    ------
    InputError
        None given, or two.
    """
    if (case.material is None) == (case.elastic is None):
        found = "missing" if case.material is None else "given twice"
        raise InputError("material", found, "give material or elastic")
    if case.elastic is not None:
        own = case.elastic
        elastic = Isotropic(e_gpa=own.e_gpa, nu=own.nu, density_kg_m3=own.density_kg_m3)
        return elastic, "your own figures"
    assert case.material is not None
    metal = METALS[case.material]
    return metal.elastic, metal.source


def _outline(case: BellFields) -> tuple[tuple[float, float], ...]:
    ends = {"front_radius": case.front_radius, "rear_radius": case.rear_radius}
    ends["length"] = case.length
    given = [name for name, value in ends.items() if value is not None]
    if case.outline is not None:
        if given:
            raise InputError(given[0], "given beside an outline", "leave it out")
        return tuple((z.mm, radius.mm) for z, radius in case.outline)
    if len(given) < 3:
        raise InputError.of(
            Problem(name, "missing", "give it, or an outline")
            for name, value in ends.items()
            if value is None
        )
    assert case.front_radius is not None
    assert case.rear_radius is not None
    assert case.length is not None
    return (0.0, case.front_radius.mm), (case.length.mm, case.rear_radius.mm)


@contextmanager
def _own_names(case: BellFields) -> Iterator[None]:
    """Without an outline, what is wrong with it is wrong with the radii."""
    try:
        yield
    except InputError as error:
        if case.outline is not None:
            raise
        raise InputError.of(
            Problem("front_radius", problem.given, problem.expected)
            if problem.where == "outline"
            else problem
            for problem in error.problems
        ) from None


def _each(
    name: str, parts: Sequence[Given] | None, make: Callable[[Given], Made]
) -> tuple[Made, ...]:
    """Every part as calculation takes it; what is wrong with one bears its place in the list."""
    made = []
    for index, part in enumerate(parts or ()):
        try:
            made.append(make(part))
        except InputError as error:
            raise InputError.of(
                problem.within(f"{name}[{index}]") for problem in error.problems
            ) from None
    return tuple(made)


def _flange(part: FlangePart | None) -> Flange | None:
    if part is None:
        return None
    inner = None if part.inner_radius is None else part.inner_radius.mm
    return Flange(
        outer_radius_mm=part.outer_radius.mm,
        thickness_mm=part.thickness.mm,
        inner_radius_mm=inner,
    )


def _ribs(part: RibsPart) -> Ribs:
    return Ribs(
        count=part.count,
        height_mm=part.height.mm,
        width_mm=part.width.mm,
        clock_deg=part.clock_deg,
        from_mm=None if part.start is None else part.start.mm,
        to_mm=None if part.end is None else part.end.mm,
    )


def _opening(part: OpeningPart) -> Opening:
    return Opening(
        clock_deg=part.clock_deg,
        width_mm=part.width.mm,
        from_mm=part.start.mm,
        to_mm=part.end.mm,
    )


def _pad(part: PadPart) -> Pad:
    return Pad(
        thicker_by_mm=part.thicker_by.mm,
        from_mm=part.start.mm,
        to_mm=part.end.mm,
        clock_deg=part.clock_deg,
        width_mm=None if part.width is None else part.width.mm,
    )
