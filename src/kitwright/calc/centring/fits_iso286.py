"""Fits by name: limits of size of holes and shafts by ISO 286-1:2010.

The standard's tables are used, not the formulas behind them: grades IT5 to IT11, sizes to 500 mm,
the letters that fits of dowels, pins and registers use. Every value here agrees between at least
two public reproductions of the tables.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from typing import Final

from kitwright.calc.centring.clearance import Clearance, Limits
from kitwright.errors import InputError

_STEPS: Final = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
_GRADES: Final = {  # µm, by step; table 1
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
}
_BELOW: Final = {  # shafts d to h: upper deviation, µm below nominal, by step
    "d": (20, 30, 40, 50, 65, 80, 100, 120, 145, 170, 190, 210, 230),
    "e": (14, 20, 25, 32, 40, 50, 60, 72, 85, 100, 110, 125, 135),
    "f": (6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68),
    "g": (2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20),
    "h": (0,) * 13,
}
_ABOVE: Final = {  # shafts k to p: lower deviation, µm above nominal, by step
    "k": (0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5),
    "m": (2, 4, 6, 7, 8, 9, 11, 13, 15, 17, 20, 21, 23),
    "n": (4, 8, 10, 12, 15, 17, 20, 23, 27, 31, 34, 37, 40),
    "p": (6, 12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68),
}
_FINE_STEPS: Final = (
    *(3, 6, 10, 18, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250),
    *(280, 315, 355, 400, 450, 500),
)
_FINE: Final = {  # shafts c (upper, below nominal), r and s (lower, above), whose steps are finer
    "c": (
        *(60, 70, 80, 95, 110, 120, 130, 140, 150, 170, 180, 200, 210, 230, 240, 260, 280),
        *(300, 330, 360, 400, 440, 480),
    ),
    "r": (
        *(10, 15, 19, 23, 28, 34, 34, 41, 43, 51, 54, 63, 65, 68, 77, 80, 84),
        *(94, 98, 108, 114, 126, 132),
    ),
    "s": (
        *(14, 19, 23, 28, 35, 43, 43, 53, 59, 71, 79, 92, 100, 108, 122, 130, 140),
        *(158, 170, 190, 208, 232, 252),
    ),
}
_LETTERS: Final = ("c", "d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "r", "s")
_LOOSE: Final = frozenset("cdefgh")  # shafts that never exceed nominal
_CLASS: Final = re.compile(r"([A-Za-z]{1,2})(\d{1,2})")
_FIT: Final = re.compile(
    r"\s*(?P<size>\d{1,3}(?:\.\d{1,4})?)\s*(?:mm)?\s*(?P<hole>[A-Z]{1,2}\d{1,2})\s*/\s*"
    r"(?P<pin>[a-z]{1,2}\d{1,2})\s*"
)


@dataclass(frozen=True, kw_only=True)
class Deviations:
    """Lower and upper deviation from the nominal size, µm."""

    lower_um: float
    upper_um: float


def deviations(size_mm: float, tolerance_class: str) -> Deviations:
    """The deviations of a tolerance class: capitals for a hole, small letters for a shaft.

    Raises
    ------
    InputError
        A size above 500 mm, or a letter or grade that the tables here do not hold.

    Examples
    --------
    >>> deviations(16, "H7"), deviations(16, "m6")
    (Deviations(lower_um=0, upper_um=18), Deviations(lower_um=7, upper_um=18))
    """
    found = _CLASS.fullmatch(tolerance_class)
    letter = found[1].lower() if found else ""
    if found is None or letter not in _LETTERS or found[1] not in (letter, letter.upper()):
        raise InputError(
            "fit", f'"{tolerance_class}" is not a class known here', f"letters are {_known()}"
        )
    grade = int(found[2])
    if grade not in _GRADES:
        raise InputError("fit", f'"{tolerance_class}" has grade {grade}', "give a grade of 5 to 11")
    if not 0 < size_mm <= _STEPS[-1]:
        raise InputError("fit", f"{size_mm:g} mm is out of the tables", "give 500 mm or less")
    if found[1] == letter:
        return _shaft(size_mm, letter, grade)
    return _hole(size_mm, letter, grade)


def fit(name: str) -> Clearance:
    """The clearance of a fit by its name, sizes even between their limits.

    Raises
    ------
    InputError
        Not a name such as "16 H7/m6", or a class that the tables here do not hold.

    Examples
    --------
    >>> round(fit("16 H7/m6").largest_mm, 6), fit("16 H7/m6").least_mm
    (0.011, 0.0)
    """
    found = _FIT.fullmatch(name)
    if found is None:
        raise InputError("fit", f'"{name}" is not a fit', 'write it as "16 H7/m6", size in mm')
    size = float(found["size"])
    return Clearance(
        hole=_limits(size, deviations(size, found["hole"])),
        pin=_limits(size, deviations(size, found["pin"])),
    )


def _limits(size_mm: float, found: Deviations) -> Limits:
    # one rounding only, so that 16.018 is the number that a person would write
    return Limits(
        low_mm=round(size_mm + found.lower_um / 1000, 9),
        high_mm=round(size_mm + found.upper_um / 1000, 9),
    )


def _known() -> str:
    return ", ".join(_LETTERS) + " (capitals for a hole)"


def _grade(size_mm: float, grade: int) -> int:
    return _GRADES[grade][bisect_left(_STEPS, size_mm)]


def _shaft(size_mm: float, letter: str, grade: int) -> Deviations:
    width = _grade(size_mm, grade)
    if letter == "js":
        return Deviations(lower_um=-width / 2, upper_um=width / 2)
    apart = _apart(size_mm, letter)
    if letter in _LOOSE:
        return Deviations(lower_um=-apart - width, upper_um=-apart)
    if letter == "k" and grade > 7:
        apart = 0
    return Deviations(lower_um=apart, upper_um=apart + width)


def _apart(size_mm: float, letter: str) -> int:
    """The fundamental deviation's size: how far the near limit stands from nominal, µm."""
    if letter in _FINE:
        return _FINE[letter][bisect_left(_FINE_STEPS, size_mm)]
    return (_BELOW | _ABOVE)[letter][bisect_left(_STEPS, size_mm)]


def _hole(size_mm: float, letter: str, grade: int) -> Deviations:
    width = _grade(size_mm, grade)
    if letter == "js":
        return Deviations(lower_um=-width / 2, upper_um=width / 2)
    if letter in _LOOSE:
        apart = _apart(size_mm, letter)
        return Deviations(lower_um=apart, upper_um=apart + width)
    upper = _hole_upper(size_mm, letter, grade)
    return Deviations(lower_um=upper - width, upper_um=upper)


def _hole_upper(size_mm: float, letter: str, grade: int) -> int:
    """The upper deviation of holes K to S: the shaft's, turned over, plus a step of the grade.

    The step is that grade's width less the next finer one's (K, M, N to IT8, P to S to IT7).
    """
    if letter == "m" and grade == 6 and 250 < size_mm <= 315:
        return -9  # the standard's own exception
    if letter == "k" and grade > 8:
        raise InputError("fit", f'"K{grade}" is not in the standard', "give K8 or finer")
    if letter == "n" and grade > 8:
        return 0 if size_mm > 3 else -4
    lower = _apart(size_mm, letter)
    finest = 8 if letter in ("k", "m", "n") else 7
    if size_mm <= 3 or grade > finest:
        return -lower
    if grade == 5:
        raise InputError("fit", f'"{letter.upper()}5" is not in the tables here', "give grade 6 up")
    return -lower + _grade(size_mm, grade) - _grade(size_mm, grade - 1)
