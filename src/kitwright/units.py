"""Quantities as text, read exactly, and numbers written for people.

Inside Kitwright every length is millimetres; at the edges it is text with a unit. Reading is
exact (`Fraction`), refuses what it does not know, and never guesses: a bare number, a decimal
comma or two numbers in a row get a line that says what to write instead.

The inch is 25.4 mm exactly, the pound-force 4.4482216152605 N exactly (NIST SP 811, 2008).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final, Literal

from kitwright.errors import InputError

Lead = Literal["mm", "in"]

INCH_MM: Final = Fraction(254, 10)

_LENGTH: Final = {
    **dict.fromkeys(("mm",), Fraction(1)),
    **dict.fromkeys(("cm",), Fraction(10)),
    **dict.fromkeys(("m",), Fraction(1000)),
    **dict.fromkeys(("µm", "μm", "um", "micron", "microns"), Fraction(1, 1000)),
    **dict.fromkeys(("in", "inch", "inches", '"', "″"), INCH_MM),
    **dict.fromkeys(("thou", "mil", "mils"), INCH_MM / 1000),
    **dict.fromkeys(("tenth", "tenths"), INCH_MM / 10_000),
    **dict.fromkeys(("ft", "feet", "foot"), INCH_MM * 12),
}
_TEMPERATURE_RISE: Final = {
    **dict.fromkeys(("K", "°C", "C", "degC"), Fraction(1)),
    **dict.fromkeys(("°F", "F", "degF"), Fraction(5, 9)),
}
_EXPANSION: Final = {
    **dict.fromkeys(("ppm/K", "µm/m/K", "um/m/K", "ppm/°C"), Fraction(1, 10**6)),
    **dict.fromkeys(("ppm/°F", "µin/in/°F", "uin/in/°F"), Fraction(9, 5) / 10**6),
}

UNITS: Final = MappingProxyType(
    {"length": _LENGTH, "temperature rise": _TEMPERATURE_RISE, "expansion": _EXPANSION}
)
"""Kind of quantity → unit → how many of our own unit (mm, K, 1/K) one of it is."""

_EXAMPLES: Final = {
    "length": 'write "{0} thou" or "{0} mm"',
    "temperature rise": 'write "{0} K" or "{0} °F"',
    "expansion": 'write "{0} ppm/K" or "{0} ppm/°F"',
}

_NUMBER: Final = r"(?:\d+(?:\.\d*)?|\.\d+)"
_QUANTITY: Final = re.compile(
    rf"""\s*(?P<sign>[+\-−]?)\s*
    (?: (?:(?P<whole>\d+)[ \-])? \s*(?P<over>\d+)\s*/\s*(?P<under>\d+)
      | (?P<decimal>{_NUMBER}(?:[eE][+\-]?\d{{1,3}})?) )
    \s*(?P<unit>[^\s\d.,/+\-][^\s\d]*)?\s*""",
    re.VERBOSE,
)
_LONGEST: Final = 60
_SMALLEST, _LARGEST = Fraction(1, 10**15), Fraction(10**15)  # in our own unit: no float fails


def parse(text: object, *, kind: str = "length", where: str = "") -> Fraction:
    """Read one quantity exactly, in our own unit (mm for a length).

    >>> parse("5 thou"), parse("1 1/8 in"), parse("0.005 in")
    (Fraction(127, 1000), Fraction(1143, 40), Fraction(127, 1000))

    Raises
    ------
    InputError
        No unit, an unknown unit, a decimal comma, beyond any such quantity, or not one; the line
        names `where`.
    """
    units = UNITS[kind]
    shown = _shown(text)
    if not isinstance(text, str):
        whole = isinstance(text, int) and not isinstance(text, bool)
        if whole or (isinstance(text, float) and math.isfinite(text)):
            raise InputError(where, f"{shown} has no unit", _EXAMPLES[kind].format(text))
        raise InputError(where, f"{shown} is not a {kind}", _EXAMPLES[kind].format(5))
    found = _QUANTITY.fullmatch(text) if len(text) <= _LONGEST else None
    if found is None:
        if re.search(r"\d,\d", text):
            raise InputError(where, f"{shown} has a comma", "write a decimal point")
        raise InputError(where, f"{shown} is not a {kind}", _EXAMPLES[kind].format(5))
    if found["under"] and not int(found["under"]):
        raise InputError(where, f"{shown} divides by zero", "write the size as a decimal")
    unit = found["unit"]
    if unit is None:
        raise InputError(where, f"{shown} has no unit", _EXAMPLES[kind].format(text.strip()))
    if unit not in units:
        known = ", ".join(_first_names(units))
        raise InputError(where, f'{shown} has the unknown unit "{unit}"', f"known are {known}")
    if found["decimal"]:
        size = Fraction(found["decimal"])
    else:
        size = Fraction(int(found["over"]), int(found["under"])) + int(found["whole"] or 0)
    size *= units[unit]
    if size and not _SMALLEST <= size <= _LARGEST:
        raise InputError(where, f"{shown} is beyond any {kind} here", "check it and its unit")
    return -size if found["sign"] in ("-", "−") else size


def unit_size(unit: object, *, kind: str = "length", where: str = "unit") -> Fraction:
    """How many mm (K) one `unit` is, for a table that says its unit once.

    >>> unit_size("thou")
    Fraction(127, 5000)
    """
    units = UNITS[kind]
    if not isinstance(unit, str) or unit not in units:
        known = ", ".join(_first_names(units))
        raise InputError(where, f"{_shown(unit)} is not a unit", f"known are {known}")
    return units[unit]


def unit_name(unit: str) -> str:
    """The one spelling of a length unit that we print: `inches` and `"` are `in`."""
    size = unit_size(unit)
    return next(name for name in _first_names(_LENGTH) if _LENGTH[name] == size)


def _first_names(units: dict[str, Fraction]) -> list[str]:
    firsts: dict[Fraction, str] = {}
    for name, size in units.items():
        firsts.setdefault(size, name)
    return list(firsts.values())


def _shown(text: object) -> str:
    written = str(text)
    return f'"{written[:_LONGEST]}…"' if len(written) > _LONGEST else f'"{written}"'


# ── numbers for people ───────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Shown:
    """A length written both ways, the shop's own first."""

    leading: str
    other: str

    def __str__(self) -> str:
        return f"{self.leading} ({self.other})"


def decimals_for(uncertainty: float | None, *, usual: int) -> int:
    """Decimals that an expanded uncertainty supports: its own second figure at most.

    >>> decimals_for(0.012, usual=3), decimals_for(0.2, usual=3), decimals_for(None, usual=3)
    (3, 1, 3)
    """
    if uncertainty is None or not math.isfinite(uncertainty) or uncertainty <= 0:
        return usual
    magnitude = math.floor(math.log10(uncertainty))
    first_figure = int(uncertainty / 10**magnitude)
    figures = 2 if first_figure < 2 else 1  # a leading 1 deserves a second figure
    return max(0, min(usual, figures - 1 - magnitude))


def plain(value: float, decimals: int) -> str:
    """A number with a true minus sign and never a negative zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = f"{0:.{decimals}f}"
    return text.replace("-", "−")


def show_length(
    mm: float, *, lead: Lead = "mm", uncertainty_mm: float | None = None, usual_mm: int = 3
) -> Shown:
    """A length in mm and inches, no finer than its uncertainty supports.

    >>> print(show_length(0.1194, lead="in"))
    0.0047 in (0.119 mm)
    """
    u_in = None if uncertainty_mm is None else uncertainty_mm / 25.4
    metric = f"{plain(mm, decimals_for(uncertainty_mm, usual=usual_mm))} mm"
    imperial = f"{plain(mm / 25.4, decimals_for(u_in, usual=usual_mm + 1))} in"
    return Shown(metric, imperial) if lead == "mm" else Shown(imperial, metric)


def say_length(mm: float, *, lead: Lead = "mm") -> str:
    """A small length as a person at the bench says it.

    >>> say_length(0.1778, lead="in"), say_length(0.1778), say_length(0.1194, lead="in")
    ('7 thou', '0.178 mm', '4.7 thou')
    """
    if lead == "in" and abs(mm) < INCH_MM / 10:
        text = plain(mm / 0.0254, 1)
        return f"{text.removesuffix('.0')} thou"
    if lead == "in":
        return f"{plain(mm / 25.4, 3)} in"
    if abs(mm) < 1:  # a limit of 0.127 mm must not be said as 0.13
        return f"{plain(mm, 3).removesuffix('0')} mm"
    return f"{plain(mm, 2 if abs(mm) < 100 else 1)} mm"


def say_clock(clock_deg: float) -> str:
    """A clock angle as the hour a fitter would say, to the half hour.

    >>> say_clock(60), say_clock(355), say_clock(45)
    ("2 o'clock", "12 o'clock", 'half past 1')
    """
    halves = round(clock_deg / 15) % 24
    hour = halves // 2 or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"
