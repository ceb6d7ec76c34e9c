"""A distance in a case: one length, or a list of them where it was measured again."""

from __future__ import annotations

from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field, WithJsonSchema

from kitwright.worksheets.fields import Length

MOST_READINGS: Final = 50

_ONE: Final = {"type": "string", "format": Length.kind, "examples": [Length.example]}


def _listed(value: Any) -> Any:
    return value if isinstance(value, list) or value is None else [value]


Repeats = Annotated[
    list[Length],
    Field(min_length=1, max_length=MOST_READINGS),
    BeforeValidator(_listed),
    WithJsonSchema(
        {
            "anyOf": [
                _ONE,
                {"type": "array", "items": _ONE, "minItems": 1, "maxItems": MOST_READINGS},
            ]
        }
    ),
]
"""One length with its unit, or a list of the same one measured again."""
