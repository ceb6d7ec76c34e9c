"""Money at the edge: a decimal amount as text, with its currency; never a float.

Inside a calculation a price may be a float; it comes back to the edge rounded to the currency's
smallest unit.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Final, Self

from pydantic import (
    AfterValidator,
    ValidationError,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import InitErrorDetails

from kitwright.errors import InputError
from kitwright.money import MOST_DECIMALS, check_currency, decimals_of, from_minor, to_minor
from kitwright.worksheets.fields import AnswerPart, Part
from kitwright.worksheets.written import Written, refused

_AMOUNT: Final = re.compile(rf"\d{{1,12}}(?:\.\d{{1,{MOST_DECIMALS}}})?")


class Amount(Written):
    """An amount of money as written, zero or more: "12.50"; its currency says how many decimals."""

    __slots__ = ("exact",)

    def __init__(self, text: object) -> None:
        if not isinstance(text, str):
            raise InputError("", f'"{text}" is not text', 'write it as "12.50"')
        if not _AMOUNT.fullmatch(text):
            raise InputError("", f'"{text[:40]}" is not an amount', 'write it as "12.50"')
        self.text = text
        self.exact = Fraction(text)

    @property
    def meaning(self) -> tuple[str, Fraction]:
        return "amount", self.exact

    @classmethod
    def json_schema(cls) -> JsonSchemaValue:
        pattern = f"^(?:{_AMOUNT.pattern})$"
        return {"type": "string", "pattern": pattern, "examples": ["12.50"]}


def _known(currency: str) -> str:
    try:
        return check_currency(currency)
    except InputError as error:
        raise refused(error) from None


Currency = Annotated[str, AfterValidator(_known)]
"""Three capital letters (ISO 4217)."""


class Money(Part):
    """An amount and its currency, in a case."""

    amount: Amount
    currency: Currency

    @model_validator(mode="after")
    def _as_fine_as_its_currency(self) -> Self:
        most, given = decimals_of(self.currency), len(self.amount.text.partition(".")[2])
        if given > most:
            example = f"{from_minor(1250, self.currency)}"
            expected = f'give {self.currency} with {most or "none"}, as "{example}"'
            found = f'"{self.amount.text}" has {given} decimal{"s" if given > 1 else ""}'
            detail = InitErrorDetails(
                type=refused(InputError("", found, expected)),
                loc=("amount",),
                input=self.amount.text,
            )
            raise ValidationError.from_exception_data("Money", [detail])
        return self

    @property
    def text(self) -> str:
        """As a person writes it."""
        return f"{self.amount.text} {self.currency}"


class Price(AnswerPart):
    """An amount and its currency, in an answer."""

    amount: str
    currency: str

    @classmethod
    def of(cls, amount: float | Fraction, currency: str) -> Self:
        """The amount to its currency's smallest unit, halves to the even one.

        >>> Price.of(12.345, "USD").text, Price.of(-0.001, "USD").text
        ('12.34 USD', '0.00 USD')
        """
        exact = amount if isinstance(amount, Fraction) else Fraction(repr(amount))
        return cls.of_minor(to_minor(exact, currency), currency)

    @classmethod
    def of_minor(cls, minor: int, currency: str) -> Self:
        """So many of its currency's smallest unit.

        >>> Price.of_minor(129900, "JPY").text
        '129900 JPY'
        """
        return cls(amount=f"{from_minor(minor, currency):f}", currency=currency)

    @property
    def exact(self) -> Fraction:
        return Fraction(self.amount)

    @property
    def text(self) -> str:
        """As a person writes it."""
        return f"{self.amount} {self.currency}"


def one_currency(*given: Money | None, where: str = "") -> str:
    """The currency of all that is given.

    Raises
    ------
    InputError
        More than one currency, or none given.
    """
    currencies = sorted({money.currency for money in given if money is not None})
    if len(currencies) != 1:
        listed = " and ".join(currencies) or "none"
        raise InputError(where, f"currencies {listed}", "give every amount in one currency")
    return currencies[0]
