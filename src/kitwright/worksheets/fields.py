"""The types that cases and answers are made of, and how a case says what is wrong with it.

A case keeps each length as it was written (`Length.text`) beside its exact value, so that a form
comes back as it was filled and a kept case can be read by a person.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from datetime import date
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    AllowInfNan,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from kitwright.days import read_day
from kitwright.errors import InputError
from kitwright.units import parse, unit_name, unit_size
from kitwright.worksheets.written import Written, refused

Number = Annotated[float, AllowInfNan(False)]
"""A finite number."""

Angle = Annotated[float, AllowInfNan(False), Field(ge=-3600, le=3600)]
"""A clock angle in degrees; any turn is the same place."""

Chance = Annotated[float, Field(ge=0, le=1)]
"""A probability, 0 to 1."""


def day_like(example: str) -> BeforeValidator:
    """What reads a day of a case; a refusal says to write it like the example."""

    def read(value: Any) -> Any:
        if value is None or isinstance(value, date):
            return value
        try:
            return read_day(str(value), where="", expected=f"write it as {example}")
        except InputError as error:
            raise refused(error) from None

    return BeforeValidator(read)


Day = Annotated[date, day_like("2026-05-04")]
"""A day as ISO 8601 writes it, and nothing else."""


class Quantity(Written):
    """A quantity as written, with its exact value. Subclasses say the kind and the example."""

    kind: ClassVar[str] = "length"
    example: ClassVar[str] = "0.127 mm"
    __slots__ = ("exact",)

    def __init__(self, text: object) -> None:
        self.exact: Fraction = self.measure(text)
        self.text = str(text)
        self.check()

    @classmethod
    def measure(cls, text: object) -> Fraction:
        """What a text says, exactly, in our own unit."""
        return parse(text, kind=cls.kind)

    def check(self) -> None:
        """Refuse a value that this kind of quantity cannot have."""

    @property
    def meaning(self) -> tuple[str, Fraction]:
        return self.kind, self.exact

    @classmethod
    def json_schema(cls) -> JsonSchemaValue:
        return {"type": "string", "format": cls.kind, "examples": [cls.example]}


class Length(Quantity):
    """A length as text with its unit: "5 thou", "0.127 mm", "1 1/8 in"."""

    __slots__ = ()

    @property
    def mm(self) -> float:
        return float(self.exact)


Place = tuple[Length, Length]
"""A place x (right), y (up), seen from behind."""


class Size(Length):
    """A length of zero or more."""

    __slots__ = ()

    def check(self) -> None:
        if self.exact < 0:
            raise InputError("", f'"{self.text}" is negative', "give zero or more")


class PositiveSize(Length):
    """A length above zero."""

    __slots__ = ()

    def check(self) -> None:
        if self.exact <= 0:
            raise InputError("", f'"{self.text}" is not above zero', "give more than zero")


class TemperatureRise(Quantity):
    """A temperature rise as text: "70 K", "126 °F"."""

    kind = "temperature rise"
    example = "70 K"
    __slots__ = ()

    @property
    def kelvin(self) -> float:
        return float(self.exact)


class Expansion(Quantity):
    """A linear expansion as text: "21.8 ppm/K", "12.1 ppm/°F"."""

    kind = "expansion"
    example = "21.8 ppm/K"
    __slots__ = ()

    def check(self) -> None:
        if not 0 <= self.exact <= Fraction(1, 1000):
            raise InputError("", f'"{self.text}" is no metal\'s', "give 0 to 1000 ppm/K")

    @property
    def per_kelvin(self) -> float:
        return float(self.exact)


class TableUnit(Written):
    """The unit that a table of bare numbers says once: "mm", "thou", "in"."""

    __slots__ = ()

    def __init__(self, name: str) -> None:
        self.text = unit_name(name)

    @property
    def name(self) -> str:
        """The one spelling of it that we print."""
        return self.text

    @property
    def meaning(self) -> tuple[str, str]:
        return "unit", self.name

    @property
    def mm(self) -> float:
        """Millimetres in one of the unit."""
        return float(unit_size(self.name))

    def to_mm(self, value: float) -> float:
        """A number of the table in mm, rounded once: 5 thou are 0.127, not 0.12699999999999997."""
        return float(Fraction(repr(float(value))) * unit_size(self.name))

    @classmethod
    def json_schema(cls) -> JsonSchemaValue:
        return {"type": "string", "format": "unit", "examples": ["thou"]}


class Recording:
    """A recording that a case names: where it was found, and its bytes.

    A case may be read by a face that knows files (`reading.read(..., files=)`): the terminal knows
    paths, a page what was handed in at it. The recording itself may stand in the case as a data
    URL (RFC 2397): `data:audio/wav;base64,...`. The word `example` stands for a recording that the
    worksheet makes by itself.
    """

    kind: ClassVar[str] = "recording"
    EXAMPLE: ClassVar[str] = "example"
    __slots__ = ("data", "written")

    def __init__(self, written: str, data: bytes) -> None:
        self.written = written
        self.data = data

    @property
    def is_example(self) -> bool:
        """Whether the worksheet makes it."""
        return self.written == self.EXAMPLE

    @property
    def text(self) -> str:
        """What a person calls it."""
        if self.written.startswith("data:"):
            return f"sent with the case, {len(self.data) / 1000:.0f} kB"
        return self.written.rpartition("/")[2]

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.text!r})"

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Recording):
            return False
        return (self.written, self.data) == (other.written, other.data)

    def __hash__(self) -> int:
        return hash((self.written, self.data))

    @classmethod
    def _read(cls, value: Any, info: core_schema.ValidationInfo) -> Self:
        if isinstance(value, cls):
            return value
        try:
            return cls._found(value, info.context or {})
        except InputError as error:
            raise refused(error) from None

    @classmethod
    def _found(cls, value: object, context: Mapping[str, Any]) -> Self:
        if value is None:
            raise InputError("", "missing", "it is needed")
        if not isinstance(value, str) or not value.strip():
            raise InputError("", "no recording is named", "name a WAV file")
        if value == cls.EXAMPLE:
            return cls(value, b"")
        if value.startswith("data:"):
            return cls(value, _from_data_url(value))
        files = context.get("files")
        if files is None:
            raise InputError(
                "", "no path is read here", "send the recording: data:audio/wav;base64,..."
            )
        return cls(value, files(value))

    @classmethod
    def __get_pydantic_core_schema__(
        cls, source: type[Any], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            cls._read,
            serialization=core_schema.plain_serializer_function_ser_schema(lambda r: r.written),
        )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"type": "string", "format": cls.kind, "examples": [cls.EXAMPLE]}


def _from_data_url(text: str) -> bytes:
    """The bytes in a data URL, whatever kind it says they are of."""
    head, comma, body = text.partition(",")
    if not comma or not head.endswith(";base64"):
        raise InputError("", "a data URL that is not base64", "write data:audio/wav;base64,...")
    try:
        return base64.b64decode(body, validate=True)
    except ValueError:
        raise InputError("", "base64 that cannot be read", "send it again") from None


class Case(BaseModel):
    """What a worksheet takes. Unknown names are refused; numbers are never coerced from text."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Part(Case):
    """One row of a list inside a case."""


class Answer(BaseModel):
    """What a worksheet answers. Numbers carry their unit in their name and are not rounded.

    A field's `description` is its label on page and paper. `shown(u95="name")` in
    `json_schema_extra` names the field that holds its expanded uncertainty.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    assumed: list[str] = Field(default_factory=list, description="Assumed")
    """Each default that was used, in words."""
    how: str = Field(default="", description="How it was reached")
    """The method, in a sentence."""


class AnswerPart(BaseModel):
    """One row of a list inside an answer."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def shown(label: str, *, u95: str | None = None, default: Any = ..., **extra: Any) -> Any:
    """A field of an answer: its label, and the field that holds its expanded uncertainty."""
    about = {"u95": u95, **extra} if u95 else extra
    return Field(default, description=label, json_schema_extra=about or None)
