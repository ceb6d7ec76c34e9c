"""What the lot-plan worksheet takes and what it answers."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, Final

from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    WithJsonSchema,
)

from kitwright.errors import InputError
from kitwright.worksheets.fields import Answer, AnswerPart, Case, Chance, shown
from kitwright.worksheets.money import Money, Price
from kitwright.worksheets.written import refused

MOST_PERIODS: Final = 400
LARGEST: Final = 1_000_000


def exact(number: float) -> Fraction:
    """A number just as it was written."""
    return Fraction(repr(number))


def _to(decimals: int) -> AfterValidator:
    def check(number: float) -> float:
        if (exact(number) * 10**decimals).denominator != 1:
            given = f"{number!r} has more than {decimals} decimals"
            raise refused(InputError("", given, f"give {decimals} at most"))
        return number

    return AfterValidator(check)


Bells = Annotated[float, Field(ge=0, le=LARGEST, allow_inf_nan=False), _to(3)]
Castings = Annotated[float, Field(ge=0, le=LARGEST, allow_inf_nan=False), _to(3)]
Share = Annotated[float, Field(ge=0.01, le=1, allow_inf_nan=False), _to(4)]


def _listed(value: Any) -> Any:
    return value if isinstance(value, list) or value is None else [value]


def _whole(value: Any) -> Any:
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int) and 1 <= value <= LARGEST:
        return value
    given = f'"{str(value)[:40]}" says neither'
    raise refused(InputError("", given, "write true, or how many castings a crate holds"))


Whole = Annotated[
    bool | int,
    PlainValidator(_whole, json_schema_input_type=bool | int),
]


def _one_or_each(one: dict[str, Any]) -> tuple[Any, ...]:
    """What makes a list of one thing alone, and says so to those who ask for the schema."""
    several = {"type": "array", "items": one, "minItems": 1, "maxItems": MOST_PERIODS}
    return (
        Field(min_length=1, max_length=MOST_PERIODS),
        BeforeValidator(_listed),
        WithJsonSchema({"anyOf": [one, several]}),
    )


_MONEY: Final = Money.model_json_schema()
_NUMBER: Final = {"type": "number", "minimum": 0, "maximum": LARGEST}


class LotPlanCase(Case):
    """Demand by period, what a lot and a bell in stock cost, and what lots may be."""

    model_config = ConfigDict(serialize_by_alias=True)

    demand: list[Bells] = Field(
        min_length=1, max_length=MOST_PERIODS, description="Good bells wanted, by period"
    )
    set_up_cost: Annotated[list[Money], *_one_or_each(_MONEY)] = Field(
        description="Cost of one lot; or of each period's"
    )
    holding_cost: Money = Field(description="Cost of one bell left at a period's end")
    capacity: Annotated[list[Castings], *_one_or_each(_NUMBER)] | None = Field(
        default=None, description="Castings in a lot at most; or in each period's"
    )
    minimum_lot: Castings | None = Field(default=None, description="Castings in a lot at least")
    whole: Whole | None = Field(
        default=None, description="Whole castings (true), or crates of so many"
    )
    share_good: Share | None = Field(
        default=None, alias="yield", description="Share of castings that come out good, mean"
    )
    on_hand: Bells | None = Field(default=None, description="Good bells on hand")


class PeriodRow(AnswerPart):
    """One period of the plan."""

    period: int = shown("Period")
    demand: float | int = shown("Wanted")
    send: float | int = shown("Send")
    """Castings."""
    good: float | int = shown("Good, mean")
    left: float | int = shown("Left")
    """Good bells at the period's end, on the mean."""
    chance_short: Chance | None = shown("Fewer good than the mean")
    """null where nothing is sent, or a part of a casting."""
    chance_unmet: Chance | None = shown("Fewer good than needed")
    """Of it until the next lot, lots before it at their mean."""


class RuleRow(AnswerPart):
    """What one of the textbook's rules would do."""

    rule: str = shown("Rule")
    lots: int | None = shown("Lots")
    total_cost: Price | None = shown("Cost")
    """null where its plan cannot be carried out."""
    extra_cost: Price | None = shown("More than the plan")


class LotPlanAnswer(Answer):
    """The plan at least cost, its proof, and the textbook's rules beside it."""

    lots: int = shown("Lots")
    castings: float | int = shown("Castings sent")
    total_cost: Price = shown("Cost")
    set_up_total: Price = shown("Of it, for the lots")
    holding_total: Price = shown("Of it, for bells left")
    proven: bool = shown("Proven the cheapest")
    bound: Price = shown("No plan costs less than")
    gap: Price = shown("Another plan could save at most")
    periods: list[PeriodRow] = shown("Plan")
    rules: list[RuleRow] = shown("The textbook's rules")
