"""A case and an answer as labelled text: what terminal, page and paper all print.

Names carry their unit (`offset_mm`, `chance_within`), so the ending of a name says how its number
is written. An uncertainty is written beside the number it belongs to, never as a row of its own.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from kitwright.units import Lead, Shown, decimals_for, plain, say_clock, show_length

_APART: Final = frozenset({"assumed", "how"})
_KEY: Final = re.compile(r"[a-z]+(?:_[a-z0-9]+)+")
"""A key of a case within a line: two words or more, tied together."""
NOT_KNOWN: Final = "not known"


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One labelled value: the leading form, the other unit beneath it, the uncertainty beside."""

    name: str
    label: str
    leading: str
    other: str = ""
    uncertainty: str = ""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A ruled table of an answer or a case: columns, and rows of text."""

    name: str
    label: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def figures(model: BaseModel, *, lead: Lead, unit: str = "") -> list[Figure]:
    """The single values of an answer, in the order in which it declares them.

    A field that is `in_unit` is written in the unit that the answer says once.
    """
    unit = getattr(model, "unit", unit)
    partners = set(_partners(model).values())
    found: list[Figure] = []
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if name in _APART or name in partners or _is_grid(value) or _hidden(field):
            continue
        if value in (None, []) and _extra(field).get("optional"):
            continue
        if isinstance(value, BaseModel) and not hasattr(value, "text"):
            found += [
                Figure(
                    name=f"{name}.{inner.name}",
                    label=f"{label_of(name, field)}, {_inside(inner.label)}",
                    leading=inner.leading,
                    other=inner.other,
                    uncertainty=inner.uncertainty,
                )
                for inner in figures(value, lead=lead, unit=unit)
            ]
            continue
        if _extra(field).get("in_unit") and value is not None:
            written = _in_unit(value, unit)
            found.append(Figure(name=name, label=label_of(name, field), leading=written))
            continue
        uncertainty = getattr(model, _partners(model).get(name, ""), None)
        found.append(_figure(name, label_of(name, field), value, uncertainty, lead))
    return found


def _inside(label: str) -> str:
    """A label within a sentence: "TIR left" stays as it is."""
    return label if label[:2].isupper() else f"{label[:1].lower()}{label[1:]}"


def grids(model: BaseModel, *, lead: Lead) -> list[Grid]:
    """The tables of an answer or a case: lists of rows, and named values."""
    found = []
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if name in _APART or not _is_grid(value) or not value or _hidden(field):
            continue
        found.append(_grid(name, label_of(name, field), value, lead))
    return found


def label_of(name: str, field: FieldInfo | None = None) -> str:
    """What a person reads for a field: its description, or its name without the unit."""
    if field is not None and field.description:
        return field.description
    words = name.split("_")
    while len(words) > 1 and words[-1] in _BY_ENDING:
        words.pop()
    return " ".join(words).capitalize().replace("Tir", "TIR").replace(" tir", " TIR")


def assumptions(case: type[BaseModel], answer: BaseModel) -> list[str]:
    """What an answer assumed, for a page or paper: a field of the case by its label, not its key.

    At the terminal a case is written by its keys, and an answer's own lines name those.
    """
    labels = _labels(case)

    def name(key: re.Match[str]) -> str:
        return _inside(labels[key[0]]) if key[0] in labels else key[0]

    lines: list[str] = getattr(answer, "assumed", [])
    found = []
    for line in lines:
        key, colon, rest = line.partition(": ")
        if colon and key in labels:
            found.append(f"{labels[key]}: {_KEY.sub(name, rest)}")
        else:
            found.append(_KEY.sub(name, line))
    return found


def _labels(model: type[BaseModel]) -> dict[str, str]:
    """The label of every field of a case and of what it holds; the outer one of two alike."""
    found: dict[str, str] = {}
    for name, field in model.model_fields.items():
        for inner in _models_in(field.annotation):
            found = {**_labels(inner), **found}
        found[name] = label_of(name, field)
    return found


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)


def say_chance(chance: float) -> str:
    """A chance in per cent, with figures enough to tell it from none and from all.

    >>> say_chance(0.9731), say_chance(0.00002), say_chance(1 - 3e-6), say_chance(1.0)
    ('97.3 %', '0.002 %', '99.9997 %', '100 %')
    >>> say_chance(1e-14), say_chance(1 - 1e-14)
    ('under 0.0000001 %', 'over 99.9999999 %')
    """
    if chance in (0, 1):
        return f"{100 * chance:.0f} %"
    if 0 < chance < 1e-9:
        return "under 0.0000001 %"
    if 0 < 1 - chance < 1e-9:
        return "over 99.9999999 %"
    distance = min(abs(chance), abs(1 - chance))  # a share may lie beyond both
    # rounding error of a chance near one must not ask for more figures than a double holds
    decimals = 1 if distance >= 0.001 else min(10, -math.floor(math.log10(distance)) - 2)
    return f"{plain(100 * chance, decimals)} %"


def say_energy(joules: float) -> str:
    """An energy in J or kJ, to three figures.

    >>> say_energy(5512.5), say_energy(683.94), say_energy(4.2), say_energy(0)
    ('5.51 kJ', '684 J', '4.20 J', '0 J')
    """
    if joules == 0:
        return "0 J"
    value, unit = (joules, "J") if abs(joules) < 999.5 else (joules / 1000, "kJ")
    decimals = min(6, max(0, 2 - math.floor(math.log10(abs(value)))))
    return f"{plain(value, decimals)} {unit}"


# ── how a number is written, by the ending of its name ───────────────────────────────────


def _millimetres(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    return show_length(value, lead=lead, uncertainty_mm=uncertainty)


def _degrees(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    return Shown(f"{plain(value, decimals_for(uncertainty, usual=1))}°", "")


def _clock(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    turned = value % 360
    return Shown(f"{plain(turned, decimals_for(uncertainty, usual=1))}°", say_clock(turned))


def _chance(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    return Shown(say_chance(value), "")


def _energy(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    return Shown(say_energy(value), "")


def _mass(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    return Shown(f"{value:.4g} kg", "")


def _with_unit(
    unit: str, usual: int, *, finest: int = 0
) -> Callable[[float, float | None, Lead], Shown]:
    """As a plain number; `finest` decimals at most where an uncertainty asks for them."""

    def write(value: float, uncertainty: float | None, lead: Lead) -> Shown:
        most = usual if uncertainty is None else max(usual, finest)
        return Shown(f"{plain(value, decimals_for(uncertainty, usual=most))} {unit}", "")

    return write


_BY_ENDING: Final[dict[str, Callable[[float, float | None, Lead], Shown]]] = {
    "mm": _millimetres,
    "deg": _degrees,
    "mrad": _with_unit("mrad", 2),
    "hz": _with_unit("Hz", 1, finest=4),
    "db": _with_unit("dB", 1),
    "gpa": _with_unit("GPa", 1),
    "s": _with_unit("s", 2, finest=4),
    "j": _energy,
    "kg": _mass,
}
_SPEED: Final = _with_unit("m/s", 1)


def _writer(name: str) -> Callable[[float, float | None, Lead], Shown]:
    if name.startswith(("chance", "share")) or name.endswith(("_share", "_chance")):
        return _chance
    if name.endswith("_m_s"):
        return _SPEED
    if name.endswith("clock_deg"):
        return _clock
    return _BY_ENDING.get(name.rsplit("_", 1)[-1], _bare)


def _bare(value: float, uncertainty: float | None, lead: Lead) -> Shown:
    if isinstance(value, int):
        return Shown(plain(value, 0), "")
    if uncertainty is None:
        return Shown(f"{value:.4g}".replace("-", "−"), "")
    return Shown(plain(value, decimals_for(uncertainty, usual=6)), "")


def _in_unit(value: float | Sequence[float], unit: str) -> str:
    """Numbers of a table: seven figures, four of what is less than one, and the table's unit."""
    numbers = value if isinstance(value, Sequence) else [value]
    written = ", ".join(f"{each:.{7 if abs(each) >= 1 else 4}g}" for each in numbers)
    return f"{written} {unit}".replace("-", "−")


def _figure(name: str, label: str, value: Any, uncertainty: float | None, lead: Lead) -> Figure:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return Figure(name=name, label=label, leading=_text(name, value, lead))
    written = _writer(name)(value, uncertainty, lead)
    beside = ""
    if uncertainty is not None:
        own = _writer(name)(uncertainty, uncertainty, lead)
        beside = f"± {_not_nothing(own.leading) if uncertainty > 0 else own.leading}"
    return Figure(
        name=name, label=label, leading=written.leading, other=written.other, uncertainty=beside
    )


def _not_nothing(written: str) -> str:
    """An uncertainty that rounds to nothing is written as the last decimal's one.

    >>> _not_nothing("0.0000 Hz"), _not_nothing("0.012 mm")
    ('0.0001 Hz', '0.012 mm')
    """
    return written if re.search("[1-9]", written) else re.sub(r"0(?=\D*$)", "1", written)


def _text(name: str, value: Any, lead: Lead) -> str:
    """Any value as one cell of text."""
    if value is None:
        return NOT_KNOWN
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _writer(name)(value, None, lead).leading
    if isinstance(value, BaseModel) and not hasattr(value, "text"):
        return ", ".join(
            f"{_inside(inner.label)} {inner.leading}" for inner in figures(value, lead=lead)
        )
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_text(name, item, lead) for item in value)
    return str(getattr(value, "text", getattr(value, "name", value)))


# ── tables ───────────────────────────────────────────────────────────────────────────────


def _is_grid(value: Any) -> bool:
    if isinstance(value, Mapping):
        return True
    rows = isinstance(value, Sequence) and not isinstance(value, str) and len(value) > 0
    return rows and (isinstance(value[0], BaseModel | list | tuple) or _is_sentence(value[0]))


def _is_sentence(value: Any) -> bool:
    """A list of sentences is a table of one column; a list of names is one figure."""
    return isinstance(value, str) and value.endswith(".")


def _grid(name: str, label: str, value: Any, lead: Lead) -> Grid:
    if isinstance(value, Mapping):
        rows = [(str(key), _text(name, item, lead)) for key, item in value.items()]
        return Grid(name=name, label=label, columns=("", ""), rows=tuple(rows))
    if _is_sentence(value[0]):
        return Grid(name=name, label=label, columns=("",), rows=tuple((line,) for line in value))
    if not isinstance(value[0], BaseModel):
        cells = tuple(tuple(_text("", item, lead) for item in row) for row in value)
        return Grid(name=name, label=label, columns=("",) * len(cells[0]), rows=cells)
    columns = list(_columns(value))
    filled = tuple(tuple(_cell(column, row, lead) for column, _ in columns) for row in value)
    return Grid(name=name, label=label, columns=tuple(text for _, text in columns), rows=filled)


def _cell(name: str, row: BaseModel, lead: Lead) -> str:
    """A value with its uncertainty in one unit; nothing, in a column that this row does not use."""
    value = getattr(row, name, None)
    if value is None:
        return ""
    uncertainty = getattr(row, _partners(row).get(name, ""), None)
    if uncertainty is None:
        return _text(name, value, lead)
    figure = _figure(name, "", value, uncertainty, lead)
    number, space, unit = figure.leading.rpartition(" ")
    shared = space and figure.uncertainty.endswith(f" {unit}")
    return f"{number if shared else figure.leading} {figure.uncertainty}"


def _columns(rows: Sequence[BaseModel]) -> Iterator[tuple[str, str]]:
    """Columns that at least one row fills, in the order of declaration."""
    seen: dict[str, str] = {}
    for row in rows:
        beside = set(_partners(row).values())
        for name, field in type(row).model_fields.items():
            if getattr(row, name) is not None and not _hidden(field) and name not in beside:
                seen.setdefault(name, label_of(name, field))
    return iter(seen.items())


def _extra(field: FieldInfo) -> Mapping[str, Any]:
    return field.json_schema_extra if isinstance(field.json_schema_extra, Mapping) else {}


def _hidden(field: FieldInfo) -> bool:
    return bool(_extra(field).get("hidden"))


def _partners(model: BaseModel) -> dict[str, str]:
    """Field → the field that holds its expanded uncertainty."""
    return {
        name: str(_extra(field)["u95"])
        for name, field in type(model).model_fields.items()
        if _extra(field).get("u95")
    }
