"""A value of a case that is kept as it was written, beside what it means exactly."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Hashable
from typing import Any, Self

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from kitwright.errors import InputError


def refused(error: InputError) -> PydanticCustomError:
    """Our error in the form that pydantic collects; `reading.problems_of` turns it back."""
    problem = error.problems[0]
    return PydanticCustomError(
        "kitwright", "{given}; {expected}", {"given": problem.given, "expected": problem.expected}
    )


class Written(ABC):
    """What somebody wrote, and what it means: two are equal where they mean the same.

    A subclass sets `text`, refuses what it cannot read with `InputError`, and says its `meaning`.
    """

    __slots__ = ("text",)
    text: str

    @abstractmethod
    def __init__(self, text: Any) -> None: ...

    @classmethod
    @abstractmethod
    def json_schema(cls) -> JsonSchemaValue:
        """How it is told to a program that writes cases."""

    @property
    @abstractmethod
    def meaning(self) -> Hashable:
        """What is compared: its kind and its exact value."""

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.text!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Written) and self.meaning == other.meaning

    def __hash__(self) -> int:
        return hash(self.meaning)

    @classmethod
    def _read(cls, value: Any) -> Self:
        if isinstance(value, cls):
            return value
        if value is None:
            raise refused(InputError("", "missing", "it is needed"))
        try:
            return cls(value.text if isinstance(value, Written) else value)
        except InputError as error:
            raise refused(error) from None

    @classmethod
    def __get_pydantic_core_schema__(
        cls, source: type[Any], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            cls._read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda written: written.text
            ),
        )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return cls.json_schema()
