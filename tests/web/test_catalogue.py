"""Money as pages write it."""

from __future__ import annotations

import pytest

from kitwright.books.entries import Money
from kitwright.web.catalogue import money


@pytest.mark.parametrize(
    ("minor", "currency", "written"),
    [
        # ISO 4217, minor units: two for most, none for yen, won and CFA francs, three for dinars.
        (329500, "USD", "3\u202f295.00 USD"),
        (5, "EUR", "0.05 EUR"),
        (329500, "JPY", "329\u202f500 JPY"),
        (0, "KRW", "0 KRW"),
        (1200, "XOF", "1\u202f200 XOF"),
        (329500, "KWD", "329.500 KWD"),
        (1, "TND", "0.001 TND"),
        (10**15, "USD", "10\u202f000\u202f000\u202f000\u202f000.00 USD"),
    ],
)
def test_money_has_its_currencys_decimals(minor: int, currency: str, written: str) -> None:
    assert money(Money(minor, currency)) == written


@pytest.mark.parametrize("currency", ["USD", "JPY", "KWD"])
@pytest.mark.parametrize("minor", [0, 1, 999, 1000, 123456789, 10**15])
def test_what_is_written_is_the_amount_exactly(minor: int, currency: str) -> None:
    amount = Money(minor, currency).amount
    digits = money(Money(minor, currency)).split(" ")[0].replace("\u202f", "")
    assert digits == str(amount)
    assert int(digits.replace(".", "")) == minor
