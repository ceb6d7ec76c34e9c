"""From text or plain data to a case; every fault at once, each in one line."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from kitwright.errors import FileError, InputError, Problem

Model = TypeVar("Model", bound=BaseModel)

_LONGEST: Final = 40


def read(model: type[Model], data: object) -> Model:
    """The case in `data` (what TOML or JSON gave), or an `InputError` that lists every fault."""
    if not isinstance(data, Mapping):
        raise InputError("", "the case is not a table of names and values", "see --example")
    try:
        return model.model_validate_json(json.dumps(data, default=str))
    except ValidationError as error:
        raise InputError.of(problems_of(error, model)) from None


def from_toml(text: str, *, where: str = "case") -> dict[str, Any]:
    """What a TOML text says, or where it cannot be read."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileError(where, f"not TOML: {error}", "see --example") from None


def from_json(text: str, *, where: str = "case") -> Any:
    """What a JSON text says, or where it cannot be read."""
    try:
        return json.loads(text)
    except ValueError as error:
        raise FileError(where, f"not JSON: {error}") from None
    except RecursionError:
        raise FileError(where, "nested too deeply", "give a plain case") from None


def problems_of(error: ValidationError, model: type[BaseModel]) -> list[Problem]:
    """Pydantic's findings in our words, a line each."""
    return list(_told(error.errors(include_url=False), model))


def _told(details: Sequence[ErrorDetails], model: type[BaseModel]) -> Iterator[Problem]:
    for detail in details:
        where = _where(detail["loc"])
        context = detail.get("ctx", {})
        given = _short(detail["input"])
        kind = detail["type"]
        if kind == "kitwright":
            yield Problem(where, context["given"], context["expected"])
        elif kind == "missing":
            yield Problem(where, "missing", "it is needed")
        elif kind == "extra_forbidden":
            known = ", ".join(model.model_fields) if len(detail["loc"]) == 1 else ""
            yield Problem(where, "unknown name", f"known are {known}" if known else "leave it out")
        elif kind in ("finite_number", "float_type", "float_parsing"):
            yield Problem(where, f"{given} is not a number", "write a plain finite number")
        elif kind in ("int_type", "int_from_float", "int_parsing"):
            yield Problem(where, f"{given} is not a whole number", "write a whole number")
        elif kind in ("literal_error", "enum"):
            yield Problem(where, f"{given} is not known", f"write {context['expected']}")
        elif kind in ("union_tag_invalid", "union_tag_not_found"):
            expected = (
                f"write one of {context['expected_tags']}" if "expected_tags" in context else ""
            )
            tag = context["discriminator"].strip("'")
            given = _short(context.get("tag", "")) + " is not known" if expected else "missing"
            yield Problem(f"{where}.{tag}" if where else tag, given, expected or "it is needed")
        elif kind in ("too_short", "too_long"):
            least = context.get("min_length", context.get("max_length"))
            word = "or more" if kind == "too_short" else "at most"
            yield Problem(where, f"{context['actual_length']} given", f"give {least} {word}")
        elif kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
            bound = next(iter(context.values()))
            word = kind.replace("_", " ").replace("than equal", "than or equal to")
            yield Problem(where, f"{given} is out of range", f"give a number {word} {bound}")
        elif kind == "value_error":
            yield Problem(where, str(context["error"]))
        else:
            message = detail["msg"]
            yield Problem(where, f"{given} cannot be used", message[:1].lower() + message[1:])


def _where(location: Sequence[int | str]) -> str:
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part}]"
        elif "[" not in part and "(" not in part:  # pydantic's own names of types and branches
            text += f".{part}" if text else part
    return text


def _short(value: object) -> str:
    text = str(value)
    return f'"{text[:_LONGEST]}…"' if len(text) > _LONGEST else f'"{text}"'
