"""Lists in a form: a table of plain rows, and blocks whose rows are of several kinds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from kitwright.errors import Problem
from kitwright.web.forms.fields import Entry, Group, Piece
from kitwright.web.forms.views import (
    BlocksView,
    Posted,
    State,
    TableView,
    id_of,
    joined,
    shared,
    too_many,
)

MOST_ROWS: Final = 400
MOST_BLOCKS: Final = 60
SPARE_ROWS: Final = 3
FIRST_ROWS: Final = 4


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of plain inputs; an empty row is no row."""

    key: str
    label: str
    row: Group
    needed: bool = True
    one_or_more: bool = False
    """A list of one stands in the case as that one."""

    def read(self, posted: Posted, old: str, new: str) -> Any:
        rows: list[Any] = []
        for index in posted.rows(old, new, MOST_ROWS):
            here, there = f"{old}[{index}]", f"{new}[{len(rows)}]"
            row = self.row.read(posted, here, there)
            if row is not None:
                posted.taken(here, there)
                rows.append(row)
        if self.one_or_more and len(rows) == 1:
            return rows[0]
        return rows or None

    def write(self, value: Any, name: str, into: dict[str, str]) -> list[Problem]:
        rows = value if isinstance(value, list) else []
        if self.one_or_more and isinstance(value, Mapping):
            rows = [value]
        if len(rows) > MOST_ROWS:
            return [too_many(name, len(rows), MOST_ROWS)]
        for index, row in enumerate(rows):
            self.row.write(row, f"{name}[{index}]", into)
        return []

    def filled(self, values: Mapping[str, str], name: str) -> bool:
        return self.row.filled(values, f"{name}[0]")

    def view(self, state: State, name: str, problems: Sequence[Problem]) -> TableView:
        filled = 0
        while filled < MOST_ROWS and self.row.filled(state.values, f"{name}[{filled}]"):
            filled += 1
        wanted = max(filled + SPARE_ROWS, state.shown.get(name, 0), FIRST_ROWS)
        names = [f"{name}[{index}]" for index in range(min(wanted, MOST_ROWS))]
        each, rest = shared(problems, names)
        messages = state.land(rest, name, self.label)
        state.trail.append(self.label)
        rows = tuple(
            self.row.titled(f"row {index + 1}", state, row, own)
            for index, (row, own) in enumerate(zip(names, each, strict=True))
        )
        state.trail.pop()
        return TableView(
            name=name,
            id=id_of(name),
            label=self.label,
            needed=self.needed,
            messages=messages,
            columns=tuple(_heading(part) for part in self.row.parts),
            rows=rows,
            full=len(names) == MOST_ROWS,
        )


def _heading(part: Piece) -> str:
    unit = part.unit if isinstance(part, Entry) else ""
    label = part.label if len(part.label) == 1 else f"{part.label[:1].upper()}{part.label[1:]}"
    return f"{label}, {unit}" if unit else label


@dataclass(frozen=True, kw_only=True)
class Blocks:
    """A list whose rows are of several kinds, each with inputs of its own."""

    key: str
    label: str
    tag: str
    """The name that says a row's kind; empty where all rows are of one."""
    kinds: Mapping[str, Group]
    needed: bool = True

    def read(self, posted: Posted, old: str, new: str) -> Any:
        rows: list[Any] = []
        for index in posted.rows(old, new, MOST_BLOCKS):
            here, there = f"{old}[{index}]", f"{new}[{len(rows)}]"
            kind = posted.texts.get(joined(here, self.tag), "").strip() if self.tag else ""
            if self.tag and not kind:
                continue
            row = self._kind(kind).read(posted, here, there)
            if self.tag:
                posted.values[joined(there, self.tag)] = kind
                row = {self.tag: kind, **(row or {})}
            if row is not None:
                posted.taken(here, there)
                rows.append(row)
        return rows or None

    def _kind(self, kind: str) -> Group:
        return self.kinds.get(kind) or Group(key="", label=kind, parts=())

    def write(self, value: Any, name: str, into: dict[str, str]) -> list[Problem]:
        rows = value if isinstance(value, list) else []
        if len(rows) > MOST_BLOCKS:
            return [too_many(name, len(rows), MOST_BLOCKS)]
        problems: list[Problem] = []
        for index, row in enumerate(rows):
            kind = row.get(self.tag, "") if isinstance(row, Mapping) else ""
            kind = kind if isinstance(kind, str) else ""
            if kind:
                into[joined(f"{name}[{index}]", self.tag)] = kind
            problems += self._kind(kind).write(row, f"{name}[{index}]", into)
        return problems

    def filled(self, values: Mapping[str, str], name: str) -> bool:
        return self._count(values, name) > 0

    def _count(self, values: Mapping[str, str], name: str) -> int:
        count = 0
        while count < MOST_BLOCKS and (
            joined(f"{name}[{count}]", self.tag) in values
            if self.tag
            else self.kinds[""].filled(values, f"{name}[{count}]")
        ):
            count += 1
        return count

    def add(self, kind: str, values: dict[str, str], shown: dict[str, int]) -> None:
        """One more block of this kind, or one more of the only kind, to be filled in."""
        count = self._count(values, self.key)
        if self.tag and count < MOST_BLOCKS:
            values[joined(f"{self.key}[{count}]", self.tag)] = kind
        shown[self.key] = max(shown.get(self.key, 0), count) + 1

    def view(self, state: State, name: str, problems: Sequence[Problem]) -> BlocksView:
        count = self._count(state.values, name)
        if not self.tag:
            least = 1 if self.needed else 0
            count = min(max(count, state.shown.get(name, 0), least), MOST_BLOCKS)
        names = [f"{name}[{index}]" for index in range(count)]
        each, rest = shared(problems, names)
        messages = state.land(rest, name, self.label)
        blocks = []
        for index, (inner, own) in enumerate(zip(names, each, strict=True)):
            kind = state.values.get(joined(inner, self.tag), "") if self.tag else ""
            label = f"{self.label}, row {index + 1}"
            blocks.append((kind, self._kind(kind).titled(label, state, inner, own)))
        return BlocksView(
            name=name,
            id=id_of(name),
            label=self.label,
            needed=self.needed,
            tag=self.tag,
            kinds=tuple(self.kinds),
            blocks=tuple(blocks),
            full=count == MOST_BLOCKS,
            messages=messages,
        )
