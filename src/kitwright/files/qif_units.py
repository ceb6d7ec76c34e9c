"""The linear units that a QIF file declares, as mm; without a declaration it is metres."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lxml import etree

from kitwright.errors import FileError, InputError
from kitwright.units import unit_size

_NAMESPACE: Final = "{http://qifstandards.org/xsd/qif3}"
_DECIMAL: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_METRE: Final = frozenset({"m", "metre", "meter", "metres", "meters"})
_KNOWN: Final = {
    "millimeter": "mm",
    "millimetre": "mm",
    "millimeters": "mm",
    "millimetres": "mm",
    "inch": "in",
    "inches": "in",
    "foot": "ft",
    "feet": "ft",
    "micrometer": "µm",
    "micrometre": "µm",
    "micron": "µm",
    **dict.fromkeys(_METRE, "m"),
}
_CLOSE: Final = 1e-6


@dataclass(frozen=True, kw_only=True)
class Units:
    """Name → mm of each linear unit declared; `primary` is meant where a value names none."""

    primary: str
    sizes_mm: Mapping[str, float]


def number_of(text: str) -> float | None:
    """A plain finite number, or nothing.

    >>> number_of(" 158.012 "), number_of("NaN"), number_of("1,5")
    (158.012, None, None)
    """
    stripped = text.strip()
    if not stripped.isascii() or not _DECIMAL.fullmatch(stripped):
        return None
    value = float(stripped)
    return value if math.isfinite(value) else None


def units_of(root: etree._Element, name: str) -> Units:
    """The linear units in a document's FileUnits.

    Raises
    ------
    FileError
        A unit whose conversion to metres is missing, is no number, or is not that of its name.
    """
    declared = root.find(f"{_NAMESPACE}FileUnits")
    if declared is None:
        return Units(primary="metre", sizes_mm={"metre": 1000.0})
    primary = declared.find(f"{_NAMESPACE}PrimaryUnits/{_NAMESPACE}LinearUnit")
    others = declared.findall(f"{_NAMESPACE}OtherUnits//{_NAMESPACE}LinearUnit")
    sizes = dict(_declared(unit, name) for unit in others)
    if primary is None:
        return Units(primary="metre", sizes_mm={**sizes, "metre": 1000.0})
    first, size = _declared(primary, name)
    return Units(primary=first, sizes_mm={**sizes, first: size})


def _declared(unit: etree._Element, name: str) -> tuple[str, float]:
    called = " ".join((unit.findtext(f"{_NAMESPACE}UnitName") or "").split())
    where = f"{name}, FileUnits"
    if not called:
        raise FileError(where, "a linear unit has no UnitName", "name it: mm, inch")
    conversion = unit.find(f"{_NAMESPACE}UnitConversion")
    if conversion is None:
        if called.casefold() in _METRE:
            return called, 1000.0
        given = f'"{called[:40]}" has no UnitConversion'
        raise FileError(where, given, "give its Factor to metres: 0.001 for mm, 0.0254 for inch")
    factor = number_of(conversion.findtext(f"{_NAMESPACE}Factor") or "")
    offset = number_of(conversion.findtext(f"{_NAMESPACE}Offset") or "0")
    if factor is None or factor <= 0:
        raise FileError(where, f'the Factor of "{called[:40]}" is no number above zero', "mend it")
    if offset != 0:
        raise FileError(where, f'"{called[:40]}" has an Offset', "a length starts at zero")
    size = round(factor * 1000, 12)
    known = _size_by_name(called)
    if known is not None and abs(size - known) > _CLOSE * known:
        given = f'the Factor of "{called[:40]}" makes it {size:g} mm'
        raise FileError(where, given, f"it is {known:g} mm: mend the name or the factor")
    return called, size if known is None else known


def _size_by_name(called: str) -> float | None:
    """mm of a unit whose name is known everywhere; None of another's own name."""
    try:
        return float(unit_size(_KNOWN.get(called.casefold(), called)))
    except InputError:
        return None
