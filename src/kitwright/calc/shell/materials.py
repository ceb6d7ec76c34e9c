"""The metals that bells are made of, by name, and where their figures come from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from kitwright.calc.shell.bricks import Isotropic


@dataclass(frozen=True, kw_only=True)
class Metal:
    """A material of the table, with its source."""

    elastic: Isotropic
    source: str


_SHIGLEY: Final = "Shigley's Mechanical Engineering Design, table A-5 (from memory)"
_DIE_CAST: Final = "NADCA Product Specification Standards, table A-3-2"


def _metal(e_gpa: float, nu: float, density_kg_m3: float, source: str) -> Metal:
    elastic = Isotropic(e_gpa=e_gpa, nu=nu, density_kg_m3=density_kg_m3)
    return Metal(elastic=elastic, source=source)


METALS: Final = {
    "aluminium A356": _metal(72.4, 0.33, 2680, "materials data sheet of A356.0"),
    "aluminium A380": _metal(71, 0.33, 2710, _DIE_CAST),
    "aluminium 380": _metal(71, 0.33, 2740, _DIE_CAST),
    "aluminium 6061": _metal(68.9, 0.33, 2700, "MIL-HDBK-5 (from memory)"),
    "steel": _metal(207, 0.292, 7800, _SHIGLEY),
    "grey iron": _metal(100, 0.211, 7200, f"{_SHIGLEY}; by grade 90 to 113 GPa"),
}
"""Name → metal. Of grey iron the modulus varies with the grade: give your own where it matters."""
