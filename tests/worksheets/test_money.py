"""Money at the edge: decimal, with its currency, never a float."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.money import decimals_of, to_minor
from kitwright.worksheets.fields import Case
from kitwright.worksheets.money import Money, Price, one_currency
from kitwright.worksheets.reading import read

LETTERS = "write its three letters, as EUR"


class Bill(Case):
    price: Money


def bill(**price: Any) -> Money:
    return read(Bill, {"price": price}).price


@given(st.integers(0, 10**14 - 1))
def test_every_amount_goes_through_unchanged(hundredths: int) -> None:
    written = f"{hundredths // 100}.{hundredths % 100:02d}"
    money = bill(amount=written, currency="USD")
    assert money.amount.exact == Fraction(hundredths, 100)
    assert Bill(price=money).model_dump(mode="json") == {
        "price": {"amount": written, "currency": "USD"}
    }
    assert Price.of(money.amount.exact, "USD").amount == written
    assert money.text == f"{written} USD"


@pytest.mark.parametrize(
    ("amount", "written"),
    [
        *((0.1 + 0.2, "0.30"), (2.675, "2.68"), (0.125, "0.12"), (-3.456, "-3.46")),
        *((-0.001, "0.00"), (1e21, "1000000000000000000000.00")),
    ],
)
def test_a_price_is_rounded_once_to_a_hundredth(amount: float, written: str) -> None:
    """The float's shortest decimal is what is rounded, halves to even: 2.675 is 2.68."""
    price = Price.of(amount, "EUR")
    assert price.text == f"{written} EUR"
    assert price.exact == Fraction(written)


@pytest.mark.parametrize(
    ("price", "line"),
    [
        ({"amount": 12.5}, 'price.amount: "12.5" is not text; write it as "12.50"'),
        ({"amount": "12,50"}, 'price.amount: "12,50" is not an amount; write it as "12.50"'),
        ({"amount": "-1"}, 'price.amount: "-1" is not an amount; write it as "12.50"'),
        ({"amount": "1e3"}, 'price.amount: "1e3" is not an amount; write it as "12.50"'),
        ({"amount": "nan"}, 'price.amount: "nan" is not an amount; write it as "12.50"'),
        (
            {"amount": "1.005"},
            'price.amount: "1.005" has 3 decimals; give USD with 2, as "12.50"',
        ),
        (
            {"amount": "12.5", "currency": "JPY"},
            'price.amount: "12.5" has 1 decimal; give JPY with none, as "1250"',
        ),
        (
            {"amount": "1.0005", "currency": "KWD"},
            'price.amount: "1.0005" is not an amount; write it as "12.50"',
        ),
        ({"amount": "$5"}, 'price.amount: "$5" is not an amount; write it as "12.50"'),
        ({"currency": "usd"}, f'price.currency: "usd" is not a currency; {LETTERS}'),
        ({"currency": "dollars"}, f'price.currency: "dollars" is not a currency; {LETTERS}'),
    ],
)
def test_what_is_no_money(price: dict[str, Any], line: str) -> None:
    with pytest.raises(InputError) as caught:
        bill(**{"amount": "1.00", "currency": "USD", **price})
    assert caught.value.lines == [line]


# ISO 4217, list one: JPY has no minor unit in use, KWD has three decimals, and most have two.
@pytest.mark.parametrize(
    ("currency", "given", "written"),
    [("JPY", "1250", "1250"), ("KWD", "12.505", "12.505"), ("EUR", "12.5", "12.50")],
)
def test_an_amount_has_its_currencys_decimals(currency: str, given: str, written: str) -> None:
    money = bill(amount=given, currency=currency)
    assert money.text == f"{given} {currency}"
    price = Price.of(money.amount.exact, currency)
    assert price.text == f"{written} {currency}"
    assert price.exact == money.amount.exact


# ISO 4217, list one (from memory): the money in use whose minor unit is not two decimals.
NO_DECIMALS = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
THREE_DECIMALS = "BHD IQD JOD KWD LYD OMR TND"
TWO_DECIMALS = "AUD CAD CHF CNY CZK DKK EUR GBP HUF INR MXN NOK NZD PLN SEK TRY USD ZAR"


@pytest.mark.parametrize(
    ("decimals", "listed"), [(0, NO_DECIMALS), (2, TWO_DECIMALS), (3, THREE_DECIMALS)]
)
def test_every_currency_has_the_standards_decimals(decimals: int, listed: str) -> None:
    assert {each: decimals_of(each) for each in listed.split()} == dict.fromkeys(
        listed.split(), decimals
    )


@given(st.integers(-(10**12), 10**12), st.sampled_from(["JPY", "USD", "KWD"]))
def test_minor_units_go_through_unchanged(minor: int, currency: str) -> None:
    price = Price.of_minor(minor, currency)
    assert Price.of(price.exact, currency) == price
    assert to_minor(price.exact, currency) == minor


def test_one_currency_only() -> None:
    euro, dollar = bill(amount="1", currency="EUR"), bill(amount="2", currency="USD")
    assert one_currency(euro, None, euro) == "EUR"
    with pytest.raises(InputError, match="b: currencies EUR and USD; give every"):
        one_currency(euro, dollar, where="b")
