"""The containment worksheet in words: its sentence, its cautions, its sources, its example.

No line here may promise anything of a wall; a test reads them all.
"""

from __future__ import annotations

from typing import Final

from kitwright.units import Lead
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.shell.containment_case import ContainmentAnswer, WallRow
from kitwright.worksheets.showing import say_energy

CAUTIONS: Final = (
    Caution(
        "DANGER",
        "A clutch or flywheel that bursts kills: the driver's feet lie in its plane, and so do "
        "spectators. Nobody stands in that plane while it is driven, whatever bell is on.",
    ),
    Caution(
        "DANGER",
        "No number here permits anything. Whether a car may run is decided by the sanctioning "
        "body's current rule book, the certificate on the shell itself and its last day, and the "
        "makers of shell, clutch and flywheel.",
    ),
    Caution(
        "WARNING",
        "The models are fits to small hard pieces shot square at flat plates. A bell is curved, "
        "bolted, pierced and hot, and large pieces tumble into it one after another. A ratio below "
        "one is no permission; a ratio above one is a reason to stop.",
    ),
    Caution(
        "WARNING",
        "Never open, weld, thin or heat a certified shell: its certificate is of the shell as its "
        "maker left it.",
    ),
)

HOW: Final = (
    "Each piece flies off along a tangent with the speed that its centre had; only that flight "
    "counts. A piece hits edge first, the worst way, with the circle of the same area as its "
    "shadow. What a wall takes is the energy at which a piece just comes through, by each "
    "published model that knows the wall's metal, and by the slow work of shearing a plug out; a "
    "model that misses its own range by more than ten times is named and not used. What is left "
    "behind the wall follows Recht and Ipson, the plug of wall metal going along."
)

_NAMED: Final = 4

READ_AS: Final = (
    "A ratio is the energy of a piece over what a model gives the wall.",
    (
        "On the one measured shot we hold, the models used here lie between 0.4 and 2.6 times the "
        "measured energy: take no ratio as better than that."
    ),
    (
        "Energy goes with the square of speed: a missed shift at 1.3 times the speed brings 1.7 "
        "times the energy."
    ),
    "Pieces were seen further from the disc's plane than the table says, and many at once.",
    "What a certified shell took, it took in its maker's test; nothing here stands in for that.",
)

SOURCES: Final = (
    (
        "FAA AC 20-128A (1997), section 9: pieces of a disc, their spread, translational energy "
        "alone; the intermediate piece's mass from memory"
    ),
    "DOT/FAA/AR-99/11 (1999): pieces seen further from the plane, and many at once",
    "A. Cauchy (1841): the mean shadow of a convex body is a quarter of its surface",
    "BC-TOP-9A (1974), steel plate formula of the Ballistic Research Laboratories: from memory",
    "NSIC-5 (1965), formula of the Stanford Research Institute and its range: from memory",
    "A. J. Neilson, Int. J. Impact Eng. 3 (1985) 137-142, and its range: from memory",
    "Project THOR, technical report 47 (1961), coefficients and ranges: from memory",
    "R. F. Recht, T. W. Ipson, J. Appl. Mech. 30 (1963) 384-390",
    "T. Børvik et al., Int. J. Impact Eng. 22 (1999) 855 and 27 (2002) 19-35: the measured shot",
    "The plug: mechanics alone, no source",
)

EXAMPLE: Final = """
# What does a bursting disc bring, and what do published models give a wall?
# A disc, or a ring where inner_radius is given, of even thickness.
mass_kg = 9.0
outer_radius = "150 mm"
# inner_radius = "30 mm"
material = "steel"                   # for its thickness, where that is not measured
speed_rpm = 7000                     # the highest it can see: think of a missed shift

# Pieces of your own, beside half, third, thirtieth and a narrow one of the rim.
[[pieces]]
name = "cover's strap and rivets"
mass_kg = 0.03
radius = "120 mm"
across = "10 mm"

[[walls]]
name = "cast bell"
material = "cast A356-T6"
thickness = "8 mm"                   # where it is thinnest

[[walls]]
name = "iron bell"
material = "grey iron"
thickness = "8 mm"

[[walls]]
name = "steel plate"
material = "mild steel"
thickness = "1/4 in"
span = "100 mm"                      # free width between ribs or flanges
"""


def say(answer: ContainmentAnswer, lead: Lead) -> str:
    """What comes, what the models give each wall, and that nothing follows from it."""
    third = answer.fragments[1]
    told = [f"{_times(wall)} {wall.name}" for wall in answer.walls[:_NAMED]]
    if len(answer.walls) > _NAMED:
        told.append(f"and so on for {len(answer.walls) - _NAMED} more")
    return (
        f"A third of this disc leaves at {third.speed_m_s:.0f} m/s with "
        f"{say_energy(answer.fragment_energy_j)}: {', '.join(told)}. Ratios of models that differ "
        "permit nothing."
    )


def _times(wall: WallRow) -> str:
    low, high = f"{wall.ratio_low:.2g}", f"{wall.ratio:.2g}"
    times = high if low == high else f"{low} to {high}"
    by = "shear mechanics gives" if wall.models == "plug" else "models give"
    return f"{times} times what {by}"
