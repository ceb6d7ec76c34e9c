"""From a case's plain data back to TOML text, and from an answer to plain data."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
_WIDEST: Final = 88


def to_toml(data: Mapping[str, Any]) -> str:
    """TOML text that `reading.from_toml` reads back as the same data.

    Names whose value is None are left out, as TOML has no word for them.

    >>> print(to_toml({"limit": "10 thou", "limits": {"low": "1 mm"}, "readings": [[0, 1.5]]}))
    limit = "10 thou"
    limits = {low = "1 mm"}
    readings = [[0, 1.5]]
    <BLANKLINE>
    """
    plain = [(name, value) for name, value in data.items() if value is not None]
    lines = [
        _setting(name, value) for name, value in plain if not _is_list_of_tables(value)
    ]  # a table's header would swallow every plain name after it
    for name, rows in plain:
        if _is_list_of_tables(rows):
            for row in rows:
                lines += ["", f"[[{_name(name)}]]"]
                lines += [_setting(key, value) for key, value in row.items() if value is not None]
    return "\n".join(lines).lstrip("\n") + "\n"


def _is_list_of_tables(value: Any) -> bool:
    return (
        isinstance(value, Sequence)
        and not isinstance(value, str)
        and len(value) > 0
        and all(isinstance(row, Mapping) for row in value)
    )


def _setting(name: str, value: Any) -> str:
    line = f"{_name(name)} = {toml_value(value)}"
    if len(line) <= _WIDEST or isinstance(value, str | Mapping) or not isinstance(value, Sequence):
        return line
    rows = "".join(f"  {toml_value(item)},\n" for item in value)
    return f"{_name(name)} = [\n{rows}]"


def _name(name: str) -> str:
    return name if _BARE.fullmatch(name) else _string(name)


def toml_value(value: Any) -> str:
    """One value as TOML writes it on a line; None, which only a list may hold, as empty text."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Mapping):
        inner = ", ".join(
            f"{_name(name)} = {toml_value(item)}"
            for name, item in value.items()
            if item is not None
        )
        return f"{{{inner}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(toml_value, value))}]"
    return _string("" if value is None else str(value))


def _string(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def flat(worksheet: Worksheet, answer: Answer) -> dict[str, Any]:
    """The answer for a program: its fields, and the worksheet's sources and cautions."""
    return {
        **answer.model_dump(mode="json"),
        "sources": list(worksheet.sources),
        "cautions": [f"{caution.word}: {caution.text}" for caution in worksheet.cautions],
    }
