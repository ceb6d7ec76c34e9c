"""From text or plain data to a case; every fault at once, each in one line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from kitwright.errors import FileError, InputError, Problem

Model = TypeVar("Model", bound=BaseModel)

_LONGEST: Final = 40
_NUMBERS: Final = frozenset(
    {"finite_number", "float_type", "float_parsing", "int_type", "int_from_float", "int_parsing"}
)
_ENDLESS_NAME: Final = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')[ \t]*\.[ \t]*){30}"""
)  # tomllib needs memory by the square of a name's parts


Files = Callable[[str], bytes]
"""From a file's name in a case to its bytes; an `InputError` says why not."""


def read(model: type[Model], data: object, *, files: Files | None = None) -> Model:
    """The case in `data` (what TOML or JSON gave), or an `InputError` that lists every fault.

    `files` opens what the case names; without it, names of files are refused.
    """
    if not isinstance(data, Mapping):
        raise InputError("", "the case is not a table of names and values", "see --example")
    try:
        return model.model_validate_json(json.dumps(data, default=str), context={"files": files})
    except ValidationError as error:
        raise InputError.of(problems_of(error, model)) from None
    except RecursionError:
        raise InputError("", "the case is nested too deeply", "give a plain case") from None


def from_toml(text: str, *, where: str = "case") -> dict[str, Any]:
    """What a TOML text says, or where it cannot be read."""
    if _ENDLESS_NAME.search(text):
        raise FileError(where, "a name of 30 parts or more", "give a plain case")
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a number of more digits than Python reads
        raise FileError(where, f"not TOML: {error}", "see --example") from None
    except RecursionError:
        raise FileError(where, "nested too deeply", "give a plain case") from None


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
    return list(told(error.errors(include_url=False), model))


def told(details: Sequence[ErrorDetails], model: type[BaseModel]) -> Iterator[Problem]:
    """Findings of pydantic, from whichever door they came, as our problems."""
    schema = model.model_json_schema()
    for detail in details:
        where = _where(list(_without_tags(detail["loc"], schema)))
        context = detail.get("ctx", {})
        given = _short(detail["input"])
        kind = detail["type"]
        if kind == "kitwright":
            yield Problem(where, context["given"], context["expected"])
        elif kind == "extra_forbidden":
            names = [field.alias or name for name, field in model.model_fields.items()]
            known = ", ".join(names) if len(detail["loc"]) == 1 else ""
            yield Problem(where, "unknown name", f"known are {known}" if known else "leave it out")
        elif kind == "missing" or detail["input"] is None:
            yield Problem(where, "missing", "it is needed")
        elif kind in ("union_tag_invalid", "union_tag_not_found"):
            expected = (
                f"write one of {context['expected_tags']}" if "expected_tags" in context else ""
            )
            tag = context["discriminator"].strip("'")
            given = _short(context.get("tag", "")) + " is not known" if expected else "missing"
            yield Problem(f"{where}.{tag}" if where else tag, given, expected or "it is needed")
        elif kind == "json_invalid":
            yield Problem("", f"the case cannot be read: {context['error']}", "give a plain case")
        elif kind == "value_error":
            yield Problem(where, str(context["error"]))
        else:
            yield Problem(where, *_refusal(detail, given, context))


def _refusal(detail: ErrorDetails, given: str, context: Mapping[str, Any]) -> tuple[str, str]:
    """What is wrong with a value, and what is expected in its place."""
    kind = detail["type"]
    if kind in _NUMBERS:
        return _not_a_number(given, whole=kind.startswith("int"))
    if kind in ("bool_type", "bool_parsing"):
        return f"{given} is not a yes or a no", "write true or false"
    if kind in ("literal_error", "enum"):
        return f"{given} is not known", f"write {context['expected']}"
    if kind in ("too_short", "too_long"):
        least = context.get("min_length", context.get("max_length"))
        word = "or more" if kind == "too_short" else "at most"
        return f"{context['actual_length']} given", f"give {least} {word}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        bound = next(iter(context.values()))
        word = kind.replace("_", " ").replace("than equal", "than or equal to")
        return f"{given} is out of range", f"give a number {word} {bound}"
    message = detail["msg"]
    return f"{given} cannot be used", message[:1].lower() + message[1:]


def _not_a_number(given: str, *, whole: bool) -> tuple[str, str]:
    if re.search(r"\d,\d", given):
        return f"{given} has a comma", "write a decimal point"
    if whole:
        return f"{given} is not a whole number", "write a whole number"
    return f"{given} is not a number", "write a plain finite number"


def _without_tags(location: Sequence[int | str], schema: Any) -> Iterator[int | str]:
    """A location without the kinds that pydantic puts between a row and its field."""
    known, here = schema.get("$defs", {}), schema
    for part in location:
        branches = [branch for branch in here.get("anyOf", ()) if branch.get("type") != "null"]
        here = branches[0] if len(branches) == 1 else here
        here = known[here["$ref"].rpartition("/")[2]] if "$ref" in here else here
        kinds = here.get("discriminator", {}).get("mapping", {})
        if part in kinds:
            here = {"$ref": kinds[part]}
            continue
        yield part
        here = here.get("properties", {}).get(part) or here.get("items") or {}


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
