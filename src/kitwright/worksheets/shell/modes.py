"""At what pitches does this bell ring?"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.shell.bell_lines import Spacing, lines_of
from kitwright.calc.shell.bell_modes import (
    MOST_MODES,
    USUAL,
    Modes,
    Support,
    bell_modes,
)
from kitwright.calc.shell.bell_shape import BellShape
from kitwright.calc.shell.bell_skin import skin
from kitwright.calc.shell.bricks import Isotropic
from kitwright.calc.shell.mode_errors import frequency_errors
from kitwright.calc.shell.mode_pairs import pair_modes
from kitwright.errors import InputError, Problem
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.shell.bell_case import material_of, shape_of
from kitwright.worksheets.shell.modes_case import (
    ChangedAnswer,
    ChangedRow,
    ChangePart,
    Mesh,
    MeshAnswer,
    ModeRow,
    ModesAnswer,
    ModesCase,
    ViewAnswer,
)
from kitwright.worksheets.shell.modes_said import CAUTIONS, EXAMPLE, HOW, SOURCES, say
from kitwright.worksheets.showing import label_of

SPACINGS: Final[dict[Mesh, Spacing]] = {
    "coarse": USUAL.finer(0.45),
    "usual": USUAL,
    "fine": USUAL.finer(1.5),
}
_FINER_BY: Final = 1.6
_MORE: Final = 6
"""So many modes more of the changed bell, and on the coarser mesh, among which to look for those
that the case asks for."""
_SHOWN: Final = 8
_TWIN: Final = 0.05
"""Modes of one look nearer than this share are the two of one wave; one of them is drawn."""

_ADDED: Final = {"add_ribs": "ribs", "add_opening": "openings", "add_pad": "pads"}
_REPLACED: Final = tuple(
    name for name in ChangePart.model_fields if name not in (*_ADDED, "leave_out")
)


def looked_among(case: ModesCase) -> int:
    """How many modes of a bell nearly alike are solved for, to find those of the case among."""
    return min(case.count + _MORE, MOST_MODES)


def solve(case: ModesCase) -> ModesAnswer:
    """The bell's lowest modes, and those of the changed one beside them."""
    shape = shape_of(case)
    material, source = material_of(case)
    changed = None if case.change is None else _changed_bell(case, case.change)
    share: tuple[BellShape, ...] = (shape,)
    if changed is not None and np.array_equal(changed[0].wall.corners, shape.wall.corners):
        share = (shape, changed[0])
    spacing = SPACINGS[case.mesh]
    more = looked_among(case)
    found = _modes(_Task(shape, share, material, case.count, case.support, spacing))
    coarser = _modes(
        _Task(shape, share, material, more, case.support, spacing.finer(1 / _FINER_BY))
    )
    errors = frequency_errors(coarser, found)
    rows = [_row(found, number, abs(float(errors[number]))) for number in range(case.count)]
    answer = ModesAnswer(
        support=case.support,
        first_hz=rows[0].frequency_hz,
        first_error_hz=rows[0].frequency_error_hz,
        mass_kg=found.mass_kg,
        cost=_cost(found.mass_kg, case.price_per_kg),
        mesh=MeshAnswer(
            elements=len(found.mesh.elements),
            nodes=len(found.mesh.points_mm),
            unknowns=found.unknowns,
            elements_coarser=len(coarser.mesh.elements),
            largest_error_share=float(abs(errors).max()),
        ),
        modes=rows,
        view=_view(found),
        assumed=list(_assumed(case, source)),
        how=HOW,
    )
    if case.change is None or changed is None:
        return answer
    share = share if len(share) > 1 else (changed[0],)
    with _of_change(case):
        after = _modes(_Task(changed[0], share, changed[1], more, case.support, spacing))
    return answer.model_copy(update=_compared(case, case.change, found, after))


@dataclass(frozen=True)
class _Task:
    """What a solution depends on; `share` are the bells that have one grid, itself among them."""

    shape: BellShape
    share: tuple[BellShape, ...]
    material: Isotropic
    count: int
    support: Support
    spacing: Spacing


@lru_cache(maxsize=6)
def _modes(task: _Task) -> Modes:
    """One solution; page, paper and what-if ask for the same one again and again."""
    return bell_modes(
        task.shape,
        task.material,
        count=task.count,
        support=task.support,
        lines=lines_of(task.share, task.spacing),
    )


def _changed_bell(case: ModesCase, change: ChangePart) -> tuple[BellShape, Isotropic]:
    """The bell after the change."""
    with _of_change(case):
        other = case.model_copy(update=_given(case, change))
        return shape_of(other), material_of(other)[0]


@contextmanager
def _of_change(case: ModesCase) -> Iterator[None]:
    """What is wrong with the changed bell is wrong with the change."""
    try:
        yield
    except InputError as error:
        raise InputError.of(_renamed(case, problem) for problem in error.problems) from None


def _renamed(case: ModesCase, problem: Problem) -> Problem:
    where = problem.where
    for name, field in _ADDED.items():
        last = f"{field}[{len(getattr(case, field) or ())}]"
        where = where.replace(last, name) if where.startswith(last) else where
    return Problem(where, problem.given, problem.expected).within("change")


def _given(case: ModesCase, change: ChangePart) -> dict[str, Any]:
    """The fields of the case that a change replaces, with what it puts there."""
    given: dict[str, Any] = {name: value for name in _REPLACED if (value := getattr(change, name))}
    for name, field in _ADDED.items():
        added = getattr(change, name)
        if added is not None:
            given[field] = [*(getattr(case, field) or ()), added]
    for name in change.leave_out:
        if name in given:
            raise InputError("leave_out", f"{name} is left out and given", "do one of the two")
        if not getattr(case, name):
            words = name.replace("_", " ")
            raise InputError("leave_out", f"the bell has no {words}", "take it off this list")
        given[name] = None
    if not given:
        raise InputError("", "nothing is changed", "say what is to be other, or leave it out")
    return {"elastic": None, **given} if "material" in given else given


def _row(found: Modes, number: int, error: float) -> ModeRow:
    kind = found.kinds[number]
    hz = float(found.frequencies_hz[number])
    along = found.effective_masses_kg[number].tolist() or [None] * 3
    return ModeRow(
        number=number + 1,
        frequency_hz=hz,
        frequency_error_hz=hz * error,
        kind=kind.kind,
        nodal_diameters=kind.nodal_diameters,
        nodal_circles=kind.nodal_circles,
        wave_share=kind.share,
        modal_mass_kg=float(found.modal_masses_kg[number]),
        effective_mass_x_kg=along[0],
        effective_mass_y_kg=along[1],
        effective_mass_z_kg=along[2],
    )


def _cost(mass_kg: float, price: Money | None) -> Price | None:
    if price is None:
        return None
    return Price.of(mass_kg * float(price.amount.exact), price.currency)


def _compared(
    case: ModesCase, change: ChangePart, before: Modes, after: Modes
) -> dict[str, ChangedAnswer | tuple[ChangedRow, ...]]:
    pairing = pair_modes(before, after)
    rows = []
    for number, (column, likeness) in enumerate(zip(pairing.after, pairing.alike, strict=True)):
        hz = float(before.frequencies_hz[number])
        there = None if column is None else float(after.frequencies_hz[column])
        rows.append(
            ChangedRow(
                number=number + 1,
                kind=before.kinds[number].kind,
                nodal_diameters=before.kinds[number].nodal_diameters,
                frequency_before_hz=hz,
                frequency_after_hz=there,
                change_hz=None if there is None else there - hz,
                change_share=None if there is None else there / hz - 1,
                number_after=None if column is None else column + 1,
                alike_share=likeness,
            )
        )
    fields = type(change).model_fields
    names = [name for name in (*_REPLACED, *_ADDED) if getattr(change, name) is not None]
    whole = ChangedAnswer(
        what=[label_of(name, fields[name]) for name in names]
        + [f"Without {name.replace('_', ' ')}" for name in change.leave_out],
        mass_kg=after.mass_kg,
        mass_change_kg=after.mass_kg - before.mass_kg,
        cost=_cost(after.mass_kg, case.price_per_kg),
        paired_by="kind" if pairing.alike[0] is None else "shape",
    )
    return {"changed": whole, "changes": tuple(rows)}


def _view(found: Modes) -> ViewAnswer:
    """The surface and the lowest modes on it, one of each pair of a round bell."""
    surface = skin(found)
    chosen: list[int] = []
    for number, kind in enumerate(found.kinds):
        twin = any(
            kind.look == found.kinds[other].look
            and found.frequencies_hz[number] < found.frequencies_hz[other] * (1 + _TWIN)
            for other in chosen
        )
        if not twin:
            chosen.append(number)
    chosen = chosen[:_SHOWN]
    return ViewAnswer(
        points=_packed(np.rint(surface.points_mm * 10), "<i4"),
        faces=_packed(surface.faces, "<u2"),
        moves=[_packed(np.rint(surface.moves[number] * 127), "i1") for number in chosen],
        modes=[number + 1 for number in chosen],
    )


def _packed(values: NDArray[Any], kind: str) -> str:
    return base64.b64encode(values.astype(kind).tobytes()).decode("ascii")


def _assumed(case: ModesCase, source: str) -> Iterator[str]:
    material, _ = material_of(case)
    name = case.material or "The material"
    yield (
        f"{name[:1].upper()}{name[1:]}: {material.e_gpa:g} GPa, Poisson's ratio {material.nu:g}, "
        f"{material.density_kg_m3:g} kg/m³ ({source}). A casting's modulus differs by a few per "
        "cent, its pitch by half as many."
    )
    yield "Bolt holes, dowel holes, fillets, bosses and all that hangs on the bell are left out."
    if case.radii_to == "middle of the wall" and "radii_to" not in case.model_fields_set:
        yield "Radii are to the middle of the wall, whose thickness is square to it."
    if case.ribs or case.openings:
        yield (
            "Ribs and openings are bounded by lines through the crank axis; their width is met "
            "half way along."
        )
    if "support" not in case.model_fields_set:
        yield "The bell hangs free."
    if case.support == "block face held":
        yield "The block face cannot move at all; a real block gives, and the pitches are lower."
    yield "No damping, no clutch, no gearbox: a bare shell in air that does not load it."


WORKSHEET = Worksheet(
    heading=heading("modes"),
    case=ModesCase,
    answer=ModesAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
