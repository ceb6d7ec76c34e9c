"""From a case model's JSON schema to the pieces of a form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from kitwright.web.forms.fields import YES_NO, Entry, Group, Piece, as_text
from kitwright.web.forms.lists import Blocks, Table
from kitwright.worksheets.showing import label_of

_DEEPEST: Final = 6
_WIDEST: Final = 8
"""A row of more fields than this is written as a block of its own."""
_UNITS_ON_OFFER: Final = ("thou", "mm", "in", "µm", "tenth", "cm", "m", "ft")
_SAID_ONCE: Final = "in the unit above"
_UNIT_OF_ENDING: Final = {
    "deg": "°",
    "mrad": "mrad",
    "hz": "Hz",
    "s": "s",
    "kg": "kg",
    "rpm": "rev/min",
    "percent": "%",
    "gpa": "GPa",
}


@dataclass(frozen=True)
class Planner:
    """From a JSON schema to the pieces of a form."""

    defs: Mapping[str, Any]

    def piece(
        self, schema: Mapping[str, Any], key: str, example: Any, *, needed: bool, depth: int
    ) -> Piece:
        """The piece for one field; what no plain input can hold is written as TOML.

        `example` is what the worksheet's own example says there, or None.
        """
        plain = self._resolved(schema)
        label = _label(schema, key)
        about: dict[str, Any] = {"key": key, "label": label, "needed": needed}
        if plain.get("as_text"):
            return Entry(kind="free", **about)
        if "prefixItems" in plain:
            return self._tuple(plain["prefixItems"], about, example, depth)
        if "properties" in plain and depth < _DEEPEST:
            return self.group(plain, key, example, label=label, needed=needed, depth=depth)
        branches = plain.get("anyOf", ())
        if len(branches) == 2 and branches[1].get("items") == branches[0]:
            return self._list(branches[1], about, example, depth, one_or_more=True)
        if plain.get("type") == "array":
            return self._list(plain, about, example, depth)
        return _entry(plain, example, about)

    def group(
        self,
        schema: Mapping[str, Any],
        key: str,
        example: Any,
        *,
        label: str,
        needed: bool,
        depth: int,
    ) -> Group:
        """The fields of an object, in the order in which its model declares them."""
        asked = schema.get("required", ())
        said = example if isinstance(example, Mapping) else {}
        parts = tuple(
            self.piece(inner, name, said.get(name), needed=name in asked, depth=depth + 1)
            for name, inner in schema["properties"].items()
        )
        if "unit" in schema["properties"]:
            parts = tuple(map(_in_unit, parts))
        return Group(key=key, label=label, parts=parts, needed=needed)

    def _tuple(
        self, items: Sequence[Mapping[str, Any]], about: dict[str, Any], example: Any, depth: int
    ) -> Group:
        """Items side by side, named by the end of the whole's label: `Dowel hole a: x, y`."""
        label, _, listed = about["label"].rpartition(": ")
        words = listed.split(", ")
        named = len(words) == len(items)
        said = example if isinstance(example, list) and len(example) == len(items) else None
        parts = tuple(
            self.piece(
                {"description": words[index], **item} if named else item,
                f"[{index}]",
                said and said[index],
                needed=True,
                depth=depth + 1,
            )
            for index, item in enumerate(items)
        )
        about = {**about, "label": label if named else about["label"]}
        return Group(parts=parts, tuple_like=True, **about)

    def _list(
        self,
        schema: Mapping[str, Any],
        about: dict[str, Any],
        example: Any,
        depth: int,
        *,
        one_or_more: bool = False,
    ) -> Piece:
        item = self._resolved(schema.get("items", {}))
        rows = example if isinstance(example, list) else []
        if "discriminator" in item and depth < _DEEPEST:
            return self._blocks(item, about, rows, depth)
        if "prefixItems" in item or "properties" in item:
            whole = {**item, "description": about["label"]}
            row = self.piece(whole, "", rows[0] if rows else None, needed=True, depth=depth + 1)
            plain = isinstance(row, Group) and all(isinstance(part, Entry) for part in row.parts)
            if isinstance(row, Group) and plain and len(row.parts) <= _WIDEST:
                return Table(row=row, one_or_more=one_or_more, **{**about, "label": row.label})
            if isinstance(row, Group):
                return Blocks(tag="", kinds={"": row}, **about)
        if item.get("type") == "array":
            whole = {**item, "description": about["label"]}
            row = self.piece(whole, "", rows[0] if rows else None, needed=True, depth=depth + 1)
            if isinstance(row, Table):
                group = Group(key="", label="", parts=(replace(row, label=""),), alone=True)
                return Blocks(tag="", kinds={"": group}, **{**about, "label": row.label})
        kind = "free"
        if _is_quantity(item):
            kind = "list"
        elif item.get("type") in ("number", "integer"):
            kind = "numbers"
        hint = _hint(schema, example)
        return Entry(kind=kind, hint=hint, one_or_more=one_or_more and kind != "free", **about)

    def _blocks(
        self, choice: Mapping[str, Any], about: dict[str, Any], rows: Sequence[Any], depth: int
    ) -> Blocks:
        """Rows of several kinds, in the order in which the union names them."""
        tag = choice["discriminator"]["propertyName"]
        kind_of = {link: kind for kind, link in choice["discriminator"]["mapping"].items()}
        kinds = {}
        for branch in choice["oneOf"]:
            kind, whole = kind_of[branch["$ref"]], self._resolved(branch)
            fields = {name: inner for name, inner in whole["properties"].items() if name != tag}
            alike = [row for row in rows if isinstance(row, Mapping) and row.get(tag) == kind]
            kinds[kind] = self.group(
                {**whole, "properties": fields},
                "",
                alike[0] if alike else None,
                label=kind,
                needed=True,
                depth=depth + 1,
            )
        return Blocks(tag=tag, kinds=kinds, **about)

    def _resolved(self, schema: Mapping[str, Any]) -> Mapping[str, Any]:
        """The schema itself: links followed, `or nothing` taken off."""
        for _ in range(_DEEPEST):
            branches = [b for b in schema.get("anyOf", ()) if b.get("type") != "null"]
            rest = {name: value for name, value in schema.items() if name != "anyOf"}
            if "$ref" in schema:
                linked = self.defs[schema["$ref"].rpartition("/")[2]]
                schema = {**linked, **{k: v for k, v in rest.items() if k != "$ref"}}
            elif len(branches) == 1:
                schema = {**branches[0], **rest}
            elif branches:
                return {**rest, "anyOf": branches}
            else:
                break
        return schema


def _in_unit(piece: Piece) -> Piece:
    """Bare numbers of a table stand in the unit that the table says once."""
    if isinstance(piece, Table):
        cells = tuple(map(_cell_in_unit, piece.row.parts))
        return replace(piece, row=replace(piece.row, parts=cells))
    if isinstance(piece, Blocks) and not piece.tag:
        kinds = {
            kind: replace(row, parts=tuple(map(_in_unit, row.parts)))
            for kind, row in piece.kinds.items()
        }
        return replace(piece, kinds=kinds)
    return _cell_in_unit(piece) if isinstance(piece, Entry) and piece.kind == "numbers" else piece


def _cell_in_unit(piece: Piece) -> Piece:
    bare = isinstance(piece, Entry) and piece.kind in ("number", "numbers") and not piece.unit
    return replace(piece, unit=_SAID_ONCE) if isinstance(piece, Entry) and bare else piece


def _is_quantity(schema: Mapping[str, Any]) -> bool:
    kind = schema.get("format") if schema.get("type") == "string" else None
    return kind is not None and kind not in ("unit", "date", "recording")


def _entry(schema: Mapping[str, Any], example: Any, about: dict[str, Any]) -> Entry:
    options: dict[str, Any] = {}
    if "enum" in schema or "const" in schema:
        kind = "choice"
        options = {str(value): value for value in schema.get("enum", [schema.get("const")])}
    elif schema.get("format") == "unit":
        kind, options = "choice", {unit: unit for unit in _UNITS_ON_OFFER}
    elif schema.get("type") == "boolean":
        kind, options = "choice", dict(YES_NO)
    elif schema.get("format") == "recording":
        kind = "file"
    elif _is_quantity(schema):
        kind = "quantity"
    elif schema.get("type") in ("number", "integer"):
        kind = "number"
    elif schema.get("type") == "string":
        kind = "text"
    else:
        kind = "free"
    ending = about["key"].rsplit("_", 1)[-1]
    if about["label"].endswith("angle"):
        ending = "deg"
    unit = _UNIT_OF_ENDING.get(ending, "") if kind == "number" else ""
    return Entry(
        kind=kind,
        options=options,
        unit=unit,
        default=_default(schema),
        hint=_hint(schema, example),
        **about,
    )


def _label(schema: Mapping[str, Any], key: str) -> str:
    """The field's own description; an item of a tuple may have a title instead."""
    if schema.get("description"):
        return str(schema["description"])
    if key.startswith("["):
        return str(schema.get("title", f"{int(key[1:-1]) + 1}"))
    return label_of(key) if key else ""


def _default(schema: Mapping[str, Any]) -> str:
    """What holds where an input stays empty."""
    default = schema.get("default")
    return "" if default in (None, [], {}, "") else as_text(default)


def _hint(schema: Mapping[str, Any], example: Any) -> str:
    """What the worksheet's own example says there."""
    if "enum" in schema or "const" in schema or schema.get("format") in ("unit", "recording"):
        return ""
    if isinstance(example, list):
        return ", ".join(map(as_text, example[:3]))
    return as_text(example) if isinstance(example, str | int | float) else ""
