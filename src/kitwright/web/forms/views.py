"""Names of fields, what was posted in them, and what a template is given to show.

Names are the dotted names of the case (`contributors[2].zone`, `readings[0][1]`), the same that a
`Problem` has in its `where`, so a message finds its field.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from kitwright.errors import Problem


def joined(parent: str, key: str) -> str:
    """The name of a piece inside another.

    >>> joined("readings", "[0]"), joined("limits", "low"), joined("", "limit")
    ('readings[0]', 'limits.low', 'limit')
    """
    return f"{parent}.{key}" if parent and key and not key.startswith("[") else f"{parent}{key}"


def id_of(name: str) -> str:
    """The identifier of a field in its page."""
    return "f-" + re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-")


def within(name: str, where: str) -> bool:
    """Whether a place lies in the piece of this name, or is it."""
    return where == name or where.startswith((f"{name}.", f"{name}["))


def shared(
    problems: Sequence[Problem], names: Sequence[str]
) -> tuple[list[list[Problem]], list[Problem]]:
    """Problems by the first of `names` that each lies in, and those that lie in none."""
    each: list[list[Problem]] = [[] for _ in names]
    rest = []
    for problem in problems:
        for index, name in enumerate(names):
            if within(name, problem.where):
                each[index].append(problem)
                break
        else:
            rest.append(problem)
    return each, rest


@dataclass
class Posted:
    """What a browser sent, and what reading it left: texts with empty rows closed up."""

    texts: Mapping[str, str]
    extents: Mapping[str, int]
    """List → how many rows of it were sent."""
    values: dict[str, str] = field(default_factory=dict)
    shown: dict[str, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    moved: dict[str, str] = field(default_factory=dict)
    """Row as it is read → the same row as it was sent, where empty rows before it closed up."""

    def taken(self, old: str, new: str) -> None:
        """A row sent as `old` is one of the case's, and stands there as `new`."""
        if old != new:
            self.moved[new] = old

    def rows(self, old: str, new: str, most: int) -> range:
        """The rows sent of a list, and a problem where they are more than a form can hold."""
        sent = self.extents.get(old, 0)
        if sent > most:
            self.problems.append(too_many(new, sent, most))
        self.shown[new] = min(sent, most)
        return range(min(sent, most))


def too_many(where: str, count: int, most: int) -> Problem:
    """The refusal of a list longer than a form shows."""
    return Problem(where, f"{count} rows", f"a form takes {most}; give the case as text")


@dataclass(frozen=True, kw_only=True)
class Fault:
    """A line above the form that leads to the field it speaks of."""

    label: str
    text: str
    id: str
    name: str
    """The field or the group that it belongs to."""


@dataclass
class State:
    """What is shown: the texts, how many rows of each list, and where messages landed."""

    values: Mapping[str, str]
    shown: Mapping[str, int]
    faults: list[Fault] = field(default_factory=list)
    trail: list[str] = field(default_factory=list)
    """Labels of the groups around the piece that is being shown."""

    def land(self, problems: Iterable[Problem], name: str, label: str) -> tuple[str, ...]:
        """Messages that belong to the field `name`; a deeper place is named in its line."""
        texts = []
        for problem in problems:
            own = problem.where == name
            text = str(Problem("", problem.given, problem.expected) if own else problem)
            texts.append(text)
            whole = ", ".join(filter(None, [*self.trail, label]))
            self.faults.append(Fault(label=whole, text=text, id=id_of(name), name=name))
        return tuple(texts)


@dataclass(frozen=True, kw_only=True)
class EntryView:
    shape: ClassVar[str] = "entry"
    name: str
    id: str
    label: str
    kind: str
    needed: bool
    hint: str
    default: str
    unit: str
    value: str
    options: tuple[tuple[str, str], ...]
    messages: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class GroupView:
    shape: ClassVar[str] = "group"
    name: str
    id: str
    label: str
    needed: bool
    parts: tuple[View, ...]
    messages: tuple[str, ...]
    inline: bool = False


@dataclass(frozen=True, kw_only=True)
class TableView:
    shape: ClassVar[str] = "table"
    name: str
    id: str
    label: str
    needed: bool
    columns: tuple[str, ...]
    rows: tuple[GroupView, ...]
    full: bool
    messages: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BlocksView:
    shape: ClassVar[str] = "blocks"
    name: str
    id: str
    label: str
    needed: bool
    tag: str
    kinds: tuple[str, ...]
    blocks: tuple[tuple[str, GroupView], ...]
    full: bool
    messages: tuple[str, ...]


View = EntryView | GroupView | TableView | BlocksView
