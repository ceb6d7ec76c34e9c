"""Why is a certified shell not a matter of taste?"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final

from kitwright.calc.shell.fragments import THIRD, Disc, Fragment, fragments, own_piece
from kitwright.calc.shell.perforation import (
    Impact,
    Limit,
    Wall,
    limits,
    plug_mass_kg,
    speed_left_m_s,
)
from kitwright.errors import InputError, Problem
from kitwright.units import say_length
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Length
from kitwright.worksheets.shell.containment_case import (
    DISC_DENSITY,
    WALL_STOCK,
    ContainmentAnswer,
    ContainmentCase,
    FragmentRow,
    ModelRow,
    WallPart,
    WallRow,
)
from kitwright.worksheets.shell.containment_said import (
    CAUTIONS,
    EXAMPLE,
    HOW,
    READ_AS,
    SOURCES,
    say,
)


@dataclass(frozen=True)
class _Met:
    """One piece at one wall by one model: edge first, and by its mean shadow."""

    piece: Fragment
    wall: Wall
    edge: Limit
    flat: Limit

    @property
    def ratio(self) -> float | None:
        return None if self.edge.energy_j is None else self.piece.energy_j / self.edge.energy_j

    @property
    def left_j(self) -> float:
        """Of piece and plug behind the wall, edge first; no model, nothing told."""
        if self.edge.speed_m_s is None:
            return 0.0
        plug = plug_mass_kg(_impact(self.piece, self.piece.edge_area_mm2), self.wall)
        left = speed_left_m_s(
            self.piece.speed_m_s,
            self.edge.speed_m_s,
            mass_kg=self.piece.mass_kg,
            plug_kg=plug,
        )
        return (self.piece.mass_kg + plug) * left**2 / 2


def solve(case: ContainmentCase) -> ContainmentAnswer:
    """Reckon the pieces, then every wall by every model."""
    _check(case)
    disc, assumed = _disc(case)
    usual = fragments(disc)
    _refuse_usual(case, {each.name for each in usual})
    pieces = [
        *usual,
        *(
            own_piece(
                disc,
                name=each.name,
                mass_kg=each.mass_kg,
                radius_mm=each.radius.mm,
                across_mm=each.across.mm,
            )
            for each in case.pieces
        ),
    ]
    walls, comparisons = [], []
    for part in case.walls:
        wall = _wall(part)
        met = [each for piece in pieces for each in _meet(piece, wall)]
        walls.append(_row(part, met))
        comparisons += [_compared(part, each) for each in met]
    return ContainmentAnswer(
        fragment_energy_j=next(each.energy_j for each in pieces if each.name == THIRD),
        disc_energy_j=disc.energy_j,
        rim_speed_m_s=disc.omega_rad_s * disc.outer_radius_mm * 1e-3,
        largest_ratio=max(row.worst_ratio for row in walls),
        fragments=[_piece_row(each) for each in pieces],
        walls=walls,
        comparisons=comparisons,
        read_as=list(READ_AS),
        assumed=[*assumed, *_assumed(case)],
        how=HOW,
    )


_REACH_MM: Final = {
    "outer_radius": (10, 2000),
    "thickness": (0.1, 1000),
    "wall": (0.1, 200),
    "span": (1, 5000),
    "radius": (1, 2000),
    "across": (0.5, 2000),
}


def _check(case: ContainmentCase) -> None:
    problems = [*_out_of_reach("outer_radius", case.outer_radius)]
    if case.inner_radius is not None and case.inner_radius.exact >= case.outer_radius.exact:
        given = f'"{case.inner_radius.text}" is not below "{case.outer_radius.text}"'
        problems.append(Problem("inner_radius", given, "give less than outer_radius"))
    problems += _out_of_reach("thickness", case.thickness)
    for number, piece in enumerate(case.pieces):
        problems += _out_of_reach("radius", piece.radius, f"pieces[{number}].radius")
        problems += _out_of_reach("across", piece.across, f"pieces[{number}].across")
    for number, wall in enumerate(case.walls):
        problems += _out_of_reach("wall", wall.thickness, f"walls[{number}].thickness")
        problems += _out_of_reach("span", wall.span, f"walls[{number}].span")
    for where, names in (
        ("pieces", [piece.name for piece in case.pieces]),
        ("walls", [wall.name for wall in case.walls]),
    ):
        problems += [
            Problem(f"{where}[{number}].name", f'"{name}" is used twice', "name each once")
            for number, name in enumerate(names)
            if name in names[:number]
        ]
    if problems:
        raise InputError.of(problems)


def _refuse_usual(case: ContainmentCase, names: Collection[str]) -> None:
    """A piece of one's own is not called as one that is reckoned anyway: rows go by names."""
    if problems := [
        Problem(
            f"pieces[{number}].name",
            f'"{piece.name}" is a piece that is reckoned anyway',
            "name yours otherwise",
        )
        for number, piece in enumerate(case.pieces)
        if piece.name in names
    ]:
        raise InputError.of(problems)


def _out_of_reach(kind: str, length: Length | None, where: str = "") -> Iterator[Problem]:
    low, high = _REACH_MM[kind]
    if length is not None and not low <= length.mm <= high:
        given = f'"{length.text}" is beyond any here'
        yield Problem(where or kind, given, f"give {low:g} to {high:g} mm")


def _disc(case: ContainmentCase) -> tuple[Disc, list[str]]:
    outer = case.outer_radius.mm
    inner = 0.0 if case.inner_radius is None else case.inner_radius.mm
    assumed = []
    if case.thickness is None:
        density = DISC_DENSITY[case.material]
        thickness = case.mass_kg / density / (math.pi * (outer**2 - inner**2)) * 1e9
        low, high = _REACH_MM["thickness"]
        if not low <= thickness <= high:
            given = f"{case.mass_kg:g} kg of {case.material} would be {thickness:.3g} mm thick"
            raise InputError("mass_kg", given, "check mass and radii, or give the thickness")
        assumed.append(
            f"The disc is {say_length(thickness)} thick all over, by its mass and the "
            f"{density:g} kg/m³ of {case.material}."
        )
    else:
        thickness = case.thickness.mm
    disc = Disc(
        mass_kg=case.mass_kg,
        outer_radius_mm=outer,
        inner_radius_mm=inner,
        thickness_mm=thickness,
        speed_rpm=case.speed_rpm,
    )
    return disc, assumed


def _wall(part: WallPart) -> Wall:
    stock = WALL_STOCK[part.material]
    span = {} if part.span is None else {"span_mm": part.span.mm}
    return Wall(
        metal=stock.metal,
        thickness_mm=part.thickness.mm,
        strength_mpa=stock.strength_mpa if part.strength_mpa is None else part.strength_mpa,
        density_kg_m3=stock.density_kg_m3,
        **span,
    )


def _impact(piece: Fragment, area_mm2: float) -> Impact:
    return Impact(
        mass_kg=piece.mass_kg,
        speed_m_s=piece.speed_m_s,
        area_mm2=area_mm2,
        length_mm=piece.length_mm,
    )


def _meet(piece: Fragment, wall: Wall) -> Iterator[_Met]:
    edge = limits(_impact(piece, piece.edge_area_mm2), wall)
    flat = limits(_impact(piece, piece.mean_area_mm2), wall)
    for one, other in zip(edge, flat, strict=True):
        yield _Met(piece, wall, one, other)


def _row(part: WallPart, met: list[_Met]) -> WallRow:
    """The plug is never out of use: every wall has at least its figure."""
    known = [(each.ratio, each) for each in met if each.ratio is not None]
    third = [each.edge.energy_j for _, each in known if each.piece.name == THIRD]
    joules = [energy for energy in third if energy is not None]
    energy = next(each.piece.energy_j for _, each in known if each.piece.name == THIRD)
    worst_ratio, worst = max(known, key=lambda pair: pair[0])
    return WallRow(
        name=part.name,
        material=part.material,
        thickness_mm=part.thickness.mm,
        wall_energy_j=min(joules),
        wall_energy_high_j=max(joules),
        ratio=energy / min(joules),
        ratio_low=energy / max(joules),
        worst_piece=worst.piece.name,
        worst_ratio=worst_ratio,
        left_energy_j=max(each.left_j for _, each in known),
        models=", ".join(dict.fromkeys(each.edge.model for _, each in known)),
    )


def _compared(part: WallPart, met: _Met) -> ModelRow:
    outside = "; ".join(met.edge.outside)
    if met.edge.energy_j is None:
        outside = f"not used: {outside}"
    return ModelRow(
        wall=part.name,
        piece=met.piece.name,
        model=met.edge.model,
        wall_energy_j=met.edge.energy_j,
        wall_energy_flat_j=met.flat.energy_j,
        ratio=met.ratio,
        outside=outside or "nothing known to us",
    )


def _piece_row(piece: Fragment) -> FragmentRow:
    return FragmentRow(
        name=piece.name,
        mass_kg=piece.mass_kg,
        speed_m_s=piece.speed_m_s,
        fragment_energy_j=piece.energy_j,
        length_mm=piece.length_mm,
        edge_mm=math.sqrt(4 * piece.edge_area_mm2 / math.pi),
        spread_deg=piece.spread_deg,
    )


def _assumed(case: ContainmentCase) -> Iterator[str]:
    yield "The disc is of even thickness, so that its mass lies evenly over its face."
    for wall in case.walls:
        if wall.strength_mpa is None:
            stock = WALL_STOCK[wall.material]
            yield (
                f"{wall.name}: tensile strength {stock.strength_mpa:g} MPa, {wall.material} "
                f"({stock.source})."
            )
        if wall.span is None and WALL_STOCK[wall.material].metal != "iron":
            yield f"{wall.name}: 4 in free between its supports, the models' standard width."


WORKSHEET = Worksheet(
    heading=heading("containment"),
    case=ContainmentCase,
    answer=ContainmentAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
