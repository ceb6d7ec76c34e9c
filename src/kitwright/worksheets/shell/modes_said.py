"""The modes worksheet in words: its sentence, its cautions, its sources, its example."""

from __future__ import annotations

from typing import Final

from kitwright.units import Lead, plain
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.shell.modes_case import ModeRow, ModesAnswer

HOW: Final = (
    "By finite elements: 20-node bricks with 2 x 2 x 2 points of integration on one grid along, "
    "round and through the wall; the lowest modes by Lanczos' method. A second, coarser mesh gives "
    "the error of each frequency, as if it fell with the square of the spacing; it stands behind "
    "the ± sign and knows nothing of casting and alloy. Modes on both meshes, and before and after "
    "a change, are paired by their shapes on the wall, or by kind where the wall's own line is "
    "another. Mass is the volume of the same elements times the density."
)

SOURCES: Final = (
    "Zienkiewicz, Taylor, Too, reduced integration: Int. J. Numer. Meth. Eng. 3 (1971) 275-290",
    "Allemang, Brown, modal assurance: Proc. 1st Int. Modal Analysis Conf. (1982) 110-116",
    "Richardson, the approach to the limit: Phil. Trans. R. Soc. A 210 (1911) 307-357",
)

CAUTIONS: Final = (
    Caution(
        "WARNING",
        "Nothing here speaks of strength. No pitch, mass or price tells whether a bell bears its "
        "load, and none that it would hold the pieces of a clutch or flywheel that bursts.",
    ),
    Caution(
        "WARNING",
        "Do not cut, thin or drill a bell for the sake of its sound. For one that must hold "
        "fragments, the shell's maker and your sanctioning body's current rule book say what is "
        "allowed.",
    ),
)

EXAMPLE: Final = """
# At what pitches does this bell ring? z runs from the block face rearward, along the crank; clock
# angles are seen from behind.
front_radius = "205 mm"              # of the wall; or give an outline = [[z, radius], ...]
rear_radius = "120 mm"
length = "170 mm"                    # face to face
wall = "6 mm"
front_flange = {outer_radius = "222 mm", thickness = "12 mm"}
rear_flange = {outer_radius = "150 mm", thickness = "14 mm", inner_radius = "85 mm"}

material = "aluminium A356"          # or elastic = {e_gpa = 72.4, nu = 0.33, density_kg_m3 = 2680}
support = "free"                     # hung on a string; or "block face held"
count = 6
mesh = "coarse"                      # quick; "usual" and "fine" are nearer to the truth
price_per_kg = {amount = "14.50", currency = "USD"}

# What would six ribs do?
change = {add_ribs = {count = 6, height = "10 mm", width = "8 mm"}}

[[openings]]                         # for the clutch fork
clock_deg = 90
width = "70 mm"
from = "45 mm"
to = "105 mm"
"""

_TOO_COARSE: Final = 0.1

LOOKS: Final = {
    2: "an oval",
    3: "a three-cornered wave",
    4: "a four-cornered wave",
}


def say(answer: ModesAnswer, lead: Lead) -> str:
    """The lowest pitch and its look, the next ones, and what the change does to the first."""
    first = answer.modes[0]
    said = f"It rings first at {_pitch(first.frequency_hz)}, {_look(first)}"
    following = _distinct(answer.modes)[1:3]
    if following:
        said += f", then at {' and '.join(_pitch(row.frequency_hz) for row in following)}"
    said += f"; it weighs {answer.mass_kg:.3g} kg."
    if answer.changed is not None:
        said += f" {_changed(answer)}"
    if answer.mesh.largest_error_share > _TOO_COARSE:
        worst = 100 * answer.mesh.largest_error_share
        said += f" A pitch may be {worst:.0f} % off on this mesh: take a finer one."
    return said


def _changed(answer: ModesAnswer) -> str:
    row = answer.changes[0]
    weight = answer.changed.mass_change_kg if answer.changed else 0.0
    heavier = f"{abs(weight):.2g} kg {'heavier' if weight >= 0 else 'lighter'}"
    if row.frequency_after_hz is None:
        return f"The change makes it {heavier} and leaves no mode like the first."
    return (
        f"The change makes it {heavier} and takes the first pitch to "
        f"{_pitch(row.frequency_after_hz)}."
    )


def _pitch(hz: float) -> str:
    return f"{plain(hz, 1 if hz < 100 else 0)} Hz"


def _look(row: ModeRow) -> str:
    if row.kind == "wall":
        return LOOKS.get(row.nodal_diameters, f"a wave with {row.nodal_diameters} nodal diameters")
    return {
        "bending": "bending to and fro",
        "breathing": "breathing",
        "axial": "moving along the crank",
        "torsion": "twisting",
        "mixed": "in a mixed shape",
    }[row.kind]


def _distinct(rows: list[ModeRow]) -> list[ModeRow]:
    """One of each pair: the second of two modes of one look that lie within a fiftieth."""
    found: list[ModeRow] = []
    for row in rows:
        last = found[-1] if found else None
        if (
            last is None
            or row.frequency_hz > 1.02 * last.frequency_hz
            or (row.kind, row.nodal_diameters) != (last.kind, last.nodal_diameters)
        ):
            found.append(row)
    return found
