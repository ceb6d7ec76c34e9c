"""The pieces a form is made of: an entry, and a group of pieces.

Each piece reads what was posted (`read`), writes what a case says into texts (`write`), and shows
itself for a template (`view`). A piece asks for the names it knows and looks at no other: what
else was posted is never walked.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final, Protocol

from kitwright.errors import Problem
from kitwright.web.forms.views import (
    EntryView,
    GroupView,
    Posted,
    State,
    View,
    id_of,
    joined,
    shared,
)
from kitwright.worksheets.writing import to_toml, toml_value

_WHOLE: Final = re.compile(r"[+-]?[0-9]{1,300}")
_DECIMAL: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
YES_NO: Final[Mapping[str, Any]] = MappingProxyType({"yes": True, "no": False})


class Piece(Protocol):
    """What every piece of a form has and can do; a value of None is one that was not given."""

    @property
    def key(self) -> str: ...

    @property
    def label(self) -> str: ...

    def read(self, posted: Posted, old: str, new: str) -> Any:
        """The plain value of what was posted under `old`; its texts are kept under `new`."""
        ...

    def write(self, value: Any, name: str, into: dict[str, str]) -> list[Problem]:
        """The texts that a case's value fills in, and what of it the form cannot hold."""
        ...

    def filled(self, values: Mapping[str, str], name: str) -> bool:
        """Whether any text of it was given."""
        ...

    def view(self, state: State, name: str, problems: Sequence[Problem]) -> View:
        """The piece as it stands, with the messages that belong to it."""
        ...


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One input. `kind` is quantity, number, text, choice, list, numbers, words, file or free.

    A file's text is a reference to what was handed in (`web.held`).
    """

    key: str
    label: str
    kind: str
    needed: bool = True
    hint: str = ""
    """An example of what to write."""
    default: str = ""
    """What holds where it stays empty."""
    unit: str = ""
    options: Mapping[str, Any] = field(default_factory=dict)
    one_or_more: bool = False
    """A list of one stands in the case as that one."""

    def read(self, posted: Posted, old: str, new: str) -> Any:
        text = posted.texts.get(old, "")
        if not text.strip():
            return None
        posted.values[new] = text
        return self._value(text.strip())

    def _value(self, text: str) -> Any:
        if self.kind == "choice":
            return self.options.get(text, text)
        if self.kind == "number":
            return _number(text)
        if self.kind == "free":
            return _free(text)
        if self.kind not in ("list", "numbers"):
            return text
        if self.kind == "numbers":
            items: list[Any] = [_number(item) for item in re.split(r"[\s;]+", text) if item]
        else:
            items = [item.strip() for item in text.split(",") if item.strip()]
        return items[0] if self.one_or_more and len(items) == 1 else items

    def write(self, value: Any, name: str, into: dict[str, str]) -> list[Problem]:
        if value is None:
            return []
        if self.kind == "free":
            table = isinstance(value, Mapping) and value
            into[name] = to_toml(value).rstrip("\n") if table else toml_value(value)
        elif self.kind in ("list", "numbers") and isinstance(value, list):
            into[name] = (" " if self.kind == "numbers" else ", ").join(map(as_text, value))
        else:
            into[name] = as_text(value)
        return []

    def filled(self, values: Mapping[str, str], name: str) -> bool:
        return name in values

    def view(self, state: State, name: str, problems: Sequence[Problem]) -> EntryView:
        value = state.values.get(name, "")
        options = [(text, text) for text in self.options]
        if self.kind == "choice" and value and value not in self.options:
            options.append((value, value))  # what was typed comes back, with its message
        return EntryView(
            name=name,
            id=id_of(name),
            label=self.label,
            kind=self.kind,
            needed=self.needed,
            hint=self.hint,
            default=self.default,
            unit=self.unit,
            value=value,
            options=tuple(options),
            messages=state.land(problems, name, self.label),
        )


def _number(text: str) -> float | str:
    """The number, or the text as it is, for the case to refuse in its own words."""
    plain = text.replace("−", "-")
    if _WHOLE.fullmatch(plain):
        return int(plain)
    return float(plain) if _DECIMAL.fullmatch(plain) else text


def _free(text: str) -> Any:
    """A value as TOML writes it, or a table as TOML writes it: a name and its value a line."""
    try:
        found = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        try:
            return tomllib.loads(text) or text
        except (ValueError, RecursionError):
            return text
    return found["value"] if len(found) == 1 else text


def as_text(value: Any) -> str:
    """One plain value as it stands in an input."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else toml_value(value)


@dataclass(frozen=True, kw_only=True)
class Group:
    """Pieces side by side: a table of names, or with `tuple_like` a list of fixed length."""

    key: str
    label: str
    parts: tuple[Piece, ...]
    needed: bool = True
    tuple_like: bool = False
    alone: bool = False
    """A wrapping of one piece without a key, such as a table that is a row of a list."""

    @property
    def inline(self) -> bool:
        """Whether the pieces fit on one line: two or three plain inputs."""
        return 1 < len(self.parts) <= 3 and all(isinstance(part, Entry) for part in self.parts)

    def read(self, posted: Posted, old: str, new: str) -> Any:
        found = {
            part.key: part.read(posted, joined(old, part.key), joined(new, part.key))
            for part in self.parts
        }
        if self.alone:
            return found[""]
        if all(value is None for value in found.values()):
            return None
        if self.tuple_like:
            return list(found.values())
        return {key: value for key, value in found.items() if value is not None}

    def write(self, value: Any, name: str, into: dict[str, str]) -> list[Problem]:
        problems: list[Problem] = []
        for index, part in enumerate(self.parts):
            inner = value if self.alone else None
            if self.tuple_like and isinstance(value, list) and index < len(value):
                inner = value[index]
            elif not self.tuple_like and isinstance(value, Mapping) and not self.alone:
                inner = value.get(part.key)
            problems += part.write(inner, joined(name, part.key), into)
        return problems

    def filled(self, values: Mapping[str, str], name: str) -> bool:
        return any(part.filled(values, joined(name, part.key)) for part in self.parts)

    def view(self, state: State, name: str, problems: Sequence[Problem]) -> GroupView:
        return self.titled(self.label, state, name, problems)

    def titled(self, label: str, state: State, name: str, problems: Sequence[Problem]) -> GroupView:
        """The group under a label of its own, as a row or a block has."""
        names = [joined(name, part.key) for part in self.parts]
        each, rest = shared(problems, names)
        messages = state.land(rest, name, label)
        state.trail.append(label)
        parts = tuple(
            part.view(state, inner, own)
            for part, inner, own in zip(self.parts, names, each, strict=True)
        )
        state.trail.pop()
        return GroupView(
            name=name,
            id=f"{id_of(name)}-block" if self.alone else id_of(name),
            label=label,
            needed=self.needed,
            messages=messages,
            parts=parts,
            inline=self.inline,
        )
