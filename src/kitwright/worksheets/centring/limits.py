"""Limits on TIR: a length, or the one that a standard gives for a flywheel housing's size."""

from __future__ import annotations

import re
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from kitwright.errors import InputError
from kitwright.units import INCH_MM
from kitwright.worksheets.fields import PositiveSize

HOUSINGS: Final = MappingProxyType(
    {
        "6": ("10.500", ".007"),
        "5": ("12.375", ".008"),
        "4": ("14.250", ".009"),
        "3": ("16.125", ".010"),
        "2": ("17.625", ".011"),
        "1": ("20.125", ".012"),
        "1/2": ("23.000", ".014"),
        "0": ("25.500", ".016"),
        "00": ("31.000", ".019"),
    }
)
"""SAE J617: number of the housing → its bore, and the largest TIR of bore and of face, in inches.

The limits are full indicator movement as SAE J1033 measures it; read in a clutch maker's copy.
"""

_STANDARD: Final = re.compile(r"\s*SAE\s+J617\s+(?:No\.?\s*)?(?P<number>\S+)\s*", re.IGNORECASE)


class TirLimit(PositiveSize):
    """A limit on TIR as text: "5 thou", "0.127 mm", or by standard: "SAE J617 No. 4"."""

    __slots__ = ()

    @classmethod
    def measure(cls, text: object) -> Fraction:
        found = _STANDARD.fullmatch(text) if isinstance(text, str) else None
        if found is None:
            return super().measure(text)
        number = found["number"]
        if number not in HOUSINGS:
            known = ", ".join(HOUSINGS)
            raise InputError("", f'SAE J617 has no housing "{number[:20]}"', f"known are {known}")
        return Fraction(HOUSINGS[number][1]) * INCH_MM
