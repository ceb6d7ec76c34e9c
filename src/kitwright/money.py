"""What every layer knows of money: how many decimals a currency has, and how one rounds to them.

Amounts are exact everywhere (whole minor units, or fractions of them), never a float.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from kitwright.errors import InputError

ROUNDING: Final = "Money is rounded to the currency's smallest unit, halves to the even one."

_CODE: Final = re.compile(r"[A-Z]{3}")
RATE: Final = re.compile(r"\d{1,9}(?:\.\d{1,9})?")
"""How a rate between currencies is written."""

_DECIMALS: Final = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG"), 0),
    **dict.fromkeys(("RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
"""Decimals of the minor unit where they are not two: ISO 4217, the money in use."""

MOST_DECIMALS: Final = 3
"""No currency in use has more."""


def check_currency(code: object, *, where: str = "currency") -> str:
    """A currency's code (ISO 4217): three capital letters.

    Raises
    ------
    InputError
        It is anything else.
    """
    if not isinstance(code, str) or not _CODE.fullmatch(code):
        given = f'"{str(code)[:20]}" is not a currency'
        raise InputError(where, given, "write its three letters, as EUR")
    return code


def read_rate(text: object, *, where: str = "") -> Fraction:
    """A rate as written, "1.0842", exactly; above zero and never a float.

    Raises
    ------
    InputError
        It is anything else.
    """
    shown = f'"{str(text)[:40]}"'
    if not isinstance(text, str):
        raise InputError(where, f"{shown} is not text", 'write it as "1.0842"')
    if not RATE.fullmatch(text) or not Fraction(text):
        raise InputError(where, f"{shown} is not a rate", 'write it above zero, as "1.0842"')
    return Fraction(text)


def decimals_of(currency: str) -> int:
    """How many decimals an amount of it has.

    >>> [decimals_of(each) for each in ("EUR", "JPY", "KWD")]
    [2, 0, 3]
    """
    return _DECIMALS.get(currency, 2)


def to_minor(amount: Fraction, currency: str) -> int:
    """The nearest whole number of minor units, halves to the even one.

    >>> to_minor(Fraction("12.345"), "EUR"), to_minor(Fraction("12.5"), "JPY")
    (1234, 12)
    """
    scale: int = 10 ** decimals_of(currency)
    return round(amount * scale)


def from_minor(minor: int, currency: str) -> Decimal:
    """Whole minor units as an amount with all its currency's decimals.

    >>> [str(from_minor(129900, each)) for each in ("EUR", "JPY", "KWD")]
    ['1299.00', '129900', '129.900']
    """
    return Decimal(minor).scaleb(-decimals_of(currency))
