"""How well one reading of a dial indicator is known.

References
----------
.. [1] JIS B 7503:2011, Mechanical dial gauges: repeatability, and indication error in one turn
       and over the whole range, for bezels of 50 mm and more.
.. [2] JCGM 100:2008 (GUM), 4.3.7 and F.2.2.1: a bound of which nothing else is known has the
       standard uncertainty of an even spread, bound/√3; a graduation g has g/√12.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import not_negative

USUAL_GRADUATION_MM: Final = 0.01


@dataclass(frozen=True, kw_only=True)
class Dial:
    """What limits a reading; all in mm, all zero or more."""

    repeatability_mm: float
    """Standard uncertainty of reading the same place again."""
    graduation_mm: float
    error_mm: float
    """Maximum permissible error of the dial."""

    def __post_init__(self) -> None:
        not_negative(self.repeatability_mm, where="repeatability")
        not_negative(self.graduation_mm, where="graduation")
        not_negative(self.error_mm, where="dial_error")

    @property
    def lasting_u_mm(self) -> float:
        """The part that does not average out when the same place is read again [2]_."""
        return float(np.hypot(self.graduation_mm / np.sqrt(12), self.error_mm / np.sqrt(3)))

    @property
    def quiet_u_mm(self) -> float:
        """The part that differs when the same place is read again."""
        return float(np.hypot(self.repeatability_mm, self.graduation_mm / np.sqrt(12)))

    @property
    def reading_u_mm(self) -> float:
        """Standard uncertainty of one reading."""
        return float(np.hypot(self.repeatability_mm, self.lasting_u_mm))


@dataclass(frozen=True)
class _Row:
    graduation_mm: float
    repeatability_mm: float
    error_in_a_turn_mm: float
    error_mm: float


_JIS: Final = (  # [1]_, each graduation's column of the longest range up to 10 mm
    _Row(0.001, 0.001, 0.006, 0.010),
    _Row(0.005, 0.003, 0.010, 0.012),
    _Row(0.01, 0.003, 0.010, 0.015),
)
_GRADUATIONS_A_TURN: Final = 100  # the fewest usual; a turn of more is judged as one of 100


def jis_dial(graduation_mm: float, *, span_mm: float) -> Dial:
    """The errors that JIS B 7503:2011 allows a dial of this graduation [1]_.

    Readings that span a turn or less have the error of one turn, others that of the whole
    range. A graduation between those of the standard takes the next coarser one's; one coarser
    than 0.01 mm (a dial in thou) takes those of 0.01 mm in proportion.

    >>> jis_dial(0.01, span_mm=0.2)
    Dial(repeatability_mm=0.003, graduation_mm=0.01, error_mm=0.01)
    """
    coarser = [row for row in _JIS if graduation_mm <= row.graduation_mm * (1 + 1e-9)]
    row = coarser[0] if coarser else _JIS[-1]
    scale = 1.0 if coarser else graduation_mm / row.graduation_mm
    in_a_turn = span_mm <= _GRADUATIONS_A_TURN * row.graduation_mm * scale
    return Dial(
        repeatability_mm=row.repeatability_mm * scale,
        graduation_mm=graduation_mm,
        error_mm=(row.error_in_a_turn_mm if in_a_turn else row.error_mm) * scale,
    )
