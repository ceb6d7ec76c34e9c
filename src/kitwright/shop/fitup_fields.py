"""What a fitter typed at a stage, read by the stage's fields; every fault at its field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from kitwright.books.entries import one_of, words
from kitwright.errors import InputError, Problem
from kitwright.shop.fitup_stage import LONGEST_FIELD, Field, Stage
from kitwright.units import parse

UNITS: Final = ("mm", "thou")
"""What a dial reads in; the unit of longer lengths follows: mm, or inches."""

_COARSE: Final = {"mm": "mm", "thou": "in"}
_READING: Final = re.compile(r"[+-]?(\d{1,6}(\.\d{0,6})?|\.\d{1,6})")
_UNIT_WRITTEN: Final = re.compile(r"[^\d\s.,/+−-]")


def unit_of(values: Mapping[str, Any]) -> str:
    """The unit of the fitter's dial, which every item says."""
    return one_of(str(values.get("unit", "")), UNITS, where="unit")


def read_fields(stage: Stage, values: Mapping[str, Any]) -> dict[str, Any]:
    """Field → what it says: a length as text with its unit, a list of them, a tick, a text.

    What was left empty is left out.

    Raises
    ------
    InputError
        Every fault: a name that is no field's, one that is missing, one that cannot be read.
    """
    unit = unit_of(values)
    known = {field.name for field in stage.fields} | {"unit"}
    faults = [
        Problem(str(name)[:40], "unknown name", "load the page again")
        for name in values
        if name not in known
    ]
    read: dict[str, Any] = {}
    for field in stage.fields:
        try:
            found = _READERS[field.kind](field, values.get(field.name), unit)
        except InputError as error:
            faults += error.problems
            continue
        if found is not None:
            read[field.name] = found
        elif field.needed:
            faults.append(Problem(field.name, "missing", "fill it in"))
    if faults:
        raise InputError.of(faults)
    return read


def _check(field: Field, value: Any, unit: str) -> bool | None:
    if value not in (True, False, None):
        raise InputError(field.name, "not a tick", "load the page again")
    if field.needed and value is not True:
        raise InputError(field.name, "not ticked", "do it first, or stop and call the shop")
    return value or None


def _choice(field: Field, value: Any, unit: str) -> str | None:
    if value in (None, ""):
        return None
    return one_of(value, [key for key, _ in field.options], where=field.name)


def _text(field: Field, value: Any, unit: str) -> str | None:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    return words(value, where=field.name, most=LONGEST_FIELD)


def _fine(field: Field, value: Any, unit: str) -> str | None:
    return _with_unit(field.name, value, unit)


def _length(field: Field, value: Any, unit: str) -> str | None:
    return _with_unit(field.name, value, _COARSE[unit])


def _lengths(field: Field, value: Any, unit: str) -> list[str] | None:
    if not isinstance(value, list | None) or len(value or ()) > field.most:
        raise InputError(field.name, "not a list of lengths", "load the page again")
    found = [_with_unit(field.name, each, _COARSE[unit]) for each in value or ()]
    return [each for each in found if each is not None] or None


def _with_unit(where: str, value: Any, unit: str) -> str | None:
    """A number with the unit it is in, or with the one that was typed behind it."""
    text = _text(Field(name=where, label="", kind="text"), value, unit)
    if text is None:
        return None
    text = text if _UNIT_WRITTEN.search(text) else f"{text} {unit}"
    parse(text, where=where)
    return text


_READERS: Final = {
    "check": _check,
    "choice": _choice,
    "text": _text,
    "fine": _fine,
    "length": _length,
    "lengths": _lengths,
}


def read_readings(value: Any) -> list[list[float]]:
    """Clock angle and reading of each place, from pairs of an angle and what was typed there.

    Raises
    ------
    InputError
        Every reading that is no number, at `reading_45` for the place at 45 degrees.
    """
    faults: list[Problem] = []
    read: list[list[float]] = []
    if not isinstance(value, list):
        raise InputError("readings", "missing", "read the dial at three places or more")
    for pair in value:
        clock, typed = pair if isinstance(pair, list) and len(pair) == 2 else (None, "")
        if isinstance(clock, bool) or not isinstance(clock, int | float) or not 0 <= clock <= 360:
            raise InputError("readings", "a place is not on the clock", "load the page again")
        plain = str(typed).strip().replace("−", "-")
        if _READING.fullmatch(plain):
            read.append([float(clock), float(plain)])
            continue
        expected = "write a decimal point" if "," in plain else "write a plain number, as −2.5"
        faults.append(
            Problem(f"reading_{clock:g}", f'"{str(typed)[:40]}" is not a reading', expected)
        )
    if faults:
        raise InputError.of(faults)
    return read
