"""How heat moves a bore when bell and block grow differently."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats, finite, finite_rows

EXPANSION_PER_K: Final[Mapping[str, float]] = MappingProxyType(
    {
        "aluminium": 21.8e-6,
        "aluminium A380": 21.8e-6,
        "aluminium 380": 22.0e-6,
        "aluminium A356": 21.4e-6,
        "aluminium A356-T6": 21.5e-6,
        "aluminium 6061-T6": 23.6e-6,
        "steel": 11.7e-6,
        "grey iron": 11.0e-6,
    }
)
"""Material → linear expansion per kelvin, near room temperature to about 100 °C.

A380 and 380: NADCA Product Specification Standards, table A-3-2. A356: materials data sheet.
A356-T6: castings to ASTM B108. 6061-T6: MIL-HDBK-5. Steel (1020; carbon steels 10.8 to 12) and grey
iron (the middle of 10 to 12): Shigley, Mechanical Engineering Design, tables A-5 and A-24.
"aluminium" alone is A380.
"""


@dataclass(frozen=True, kw_only=True)
class Growth:
    """The bore's offset by growth alone, mm; x right, y up."""

    free_mm: Floats
    """(2,) both dowels slip alike: the bell grows about the middle between them."""
    held_mm: Floats | None
    """(2, 2) dowel a holds and b slips, then b holds and a slips; None without dowels."""


def growth(
    *,
    temperature_rise_k: float,
    bell_per_k: float,
    block_per_k: float,
    bore_mm: Floats,
    half_span_mm: Floats | None = None,
) -> Growth:
    """The offset that a temperature rise common to bell and block makes at the bore.

    Both parts grow from the dowels; what they grow differently moves the bore off the crank axis.

    Parameters
    ----------
    temperature_rise_k : above the temperature at which the bell was located; below zero cools
    bell_per_k, block_per_k : linear expansions, 1/K
    bore_mm : (2,) the bore from the middle between the dowels
    half_span_mm : (2,) dowel a from that middle, for the bounds where one dowel holds

    Raises
    ------
    InputError
        A number that is not finite.

    Examples
    --------
    A bell of A380 on steel, 70 K warmer, dowels 400 mm apart: midway between the dowels nothing
    moves while both slip; where one holds, the bore moves by half of 0.2828 mm.

    >>> warm = growth(temperature_rise_k=70, bell_per_k=21.8e-6, block_per_k=11.7e-6,
    ...               bore_mm=np.zeros(2), half_span_mm=np.array([-200.0, 0.0]))
    >>> warm.free_mm.tolist(), warm.held_mm.round(4).tolist()
    ([0.0, 0.0], [[0.1414, 0.0], [-0.1414, 0.0]])
    """
    bore = finite_rows([bore_mm], columns=2, least=1, where="bore")[0]
    strain = finite(temperature_rise_k, where="temperature_rise") * (
        finite(bell_per_k, where="bell_expansion") - finite(block_per_k, where="block_expansion")
    )
    held = None
    if half_span_mm is not None:
        span = finite_rows([half_span_mm], columns=2, least=1, where="dowel_a")[0]
        held = strain * np.array([bore - span, bore + span])
    return Growth(free_mm=strain * bore, held_mm=held)
