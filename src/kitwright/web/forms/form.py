"""The form of a worksheet, made from its case model. Pure: texts in, plain data and views out.

A browser's fields are named as the case names its places, so a problem finds its field by its
`where`. What was typed comes back as it was typed; an empty field was not given.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Self

from pydantic import BaseModel

from kitwright.errors import InputError, Problem
from kitwright.web.forms.fields import Entry, Group
from kitwright.web.forms.lists import FIRST_ROWS, SPARE_ROWS, Blocks
from kitwright.web.forms.planning import Planner
from kitwright.web.forms.views import Fault, Posted, State, View, within
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.reading import from_toml

ACTIONS: Final = ("more", "add", "remove", "text")
"""Names of the buttons and the text box beside the fields; no case may use them."""
WHAT_IF: Final = "what-if"
"""Beside the fields of a case that is only tried: the text of the case it is compared with."""

_ROW: Final = re.compile(r"\[([0-9]{1,6})\]")
_LONGEST_NAME: Final = 200


@dataclass(frozen=True, kw_only=True)
class Filled:
    """A form as it was sent: plain data for `reading.read`, and the texts to show again."""

    data: dict[str, Any]
    values: dict[str, str]
    shown: dict[str, int] = field(default_factory=dict)
    """List → how many rows the page had."""
    problems: tuple[Problem, ...] = ()
    """What the form itself cannot take: more rows than it holds."""
    moved: dict[str, str] = field(default_factory=dict)
    """Row → the same row as it was sent, where empty rows before it closed up."""

    def as_sent(self, name: str) -> str:
        """The name that a field of the case had in the page that sent it."""
        for cut in range(len(name), 0, -1):
            if name[:cut] in self.moved:
                return self.moved[name[:cut]] + name[cut:]
        return name


@dataclass(frozen=True, kw_only=True)
class FormView:
    """The form for a template."""

    parts: tuple[View, ...]
    faults: tuple[Fault, ...]
    """Every message in the order of the page, with the field that it leads to."""
    messages: tuple[str, ...]
    """Messages that belong to no single field."""


@dataclass(frozen=True)
class Form:
    """The form of one case model."""

    root: Group

    @classmethod
    def of(cls, worksheet: Worksheet) -> Self:
        """The form of a worksheet's case."""
        return cls.of_model(worksheet.case, example=from_toml(worksheet.example))

    @classmethod
    def of_model(cls, model: type[BaseModel], example: object = None) -> Self:
        """The form of any model made of the house's fields; its hints quote the example."""
        schema = model.model_json_schema()
        clash = set(ACTIONS) & set(schema.get("properties", {}))
        if clash:
            msg = f"a case cannot name a field {sorted(clash)}: a form's buttons bear it"
            raise ValueError(msg)
        planner = Planner(schema.get("$defs", {}))
        return cls(planner.group(schema, "", example, label="", needed=True, depth=0))

    @property
    def files(self) -> frozenset[str]:
        """The fields that take a file."""
        return frozenset(
            part.key for part in self.root.parts if isinstance(part, Entry) and part.kind == "file"
        )

    def read(self, sent: Iterable[tuple[str, str]]) -> Filled:
        """What was sent, as plain data, its empty rows closed up.

        Fields that the form does not have are not looked at.
        """
        texts: dict[str, str] = {}
        extents: dict[str, int] = {}
        for name, text in sent:
            if len(name) > _LONGEST_NAME:
                continue
            texts.setdefault(name, text)
            for row in _ROW.finditer(name):
                listed = name[: row.start()]
                extents[listed] = max(extents.get(listed, 0), int(row[1]) + 1)
        posted = Posted(texts=texts, extents=extents)
        data = self.root.read(posted, "", "") or {}
        return Filled(
            data=data,
            values=posted.values,
            shown=posted.shown,
            problems=tuple(posted.problems),
            moved=posted.moved,
        )

    def written(self, data: object) -> dict[str, str]:
        """The texts that a case's plain data fills in.

        Raises
        ------
        InputError
            More rows than a form holds; nothing is cut off in silence.
        """
        values: dict[str, str] = {}
        problems = self.root.write(data, "", values)
        if problems:
            raise InputError.of(problems)
        return values

    def filled(
        self,
        values: Mapping[str, str],
        problems: Sequence[Problem] = (),
        shown: Mapping[str, int] | None = None,
    ) -> FormView:
        """The form with these texts in it and each message beside its field."""
        state = State(values=values, shown=shown or {})
        view = self.root.view(state, "", problems)
        return FormView(parts=view.parts, faults=tuple(state.faults), messages=view.messages)

    def changed(
        self, sent: Sequence[tuple[str, str]], *, more: str = "", add: str = "", remove: str = ""
    ) -> Filled:
        """The form after a button that changes its rows: nothing is solved.

        `more` names a table that needs more rows, `add` a list and the kind of its new block
        (`contributors:zone`), `remove` a block that goes (`contributors[1]`).
        """
        if remove:
            sent = [pair for pair in sent if not within(remove, pair[0])]
        filled = self.read(sent)
        shown, values = dict(filled.shown), dict(filled.values)
        if more:
            shown[more] = shown.get(more, FIRST_ROWS) + SPARE_ROWS
        name, _, kind = add.partition(":")
        for part in self.root.parts:
            if isinstance(part, Blocks) and part.key == name and kind in part.kinds:
                part.add(kind, values, shown)
        return replace(filled, values=values, shown=shown)
