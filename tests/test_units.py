"""Reading quantities exactly, and writing numbers no finer than they are known."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.units import (
    decimals_for,
    parse,
    plain,
    say_clock,
    say_length,
    show_length,
    unit_name,
    unit_size,
)

# NIST SP 811 (2008), table B.8: 1 in = 25.4 mm, 1 mil = 0.0254 mm, 1 µin = 2.54e-5 mm; exact.
EXACT = {
    "5 thou": Fraction(127, 1000),
    "5 mil": Fraction(127, 1000),
    "0.005 in": Fraction(127, 1000),
    ".005in": Fraction(127, 1000),
    '0.005"': Fraction(127, 1000),
    "5 tenths": Fraction(127, 10000),
    "1 1/8 in": Fraction(28575, 1000),
    "1-1/8 in": Fraction(28575, 1000),
    "-1 1/8 in": Fraction(-28575, 1000),
    "3/16 in": Fraction(47625, 10000),
    "0.127 mm": Fraction(127, 1000),
    "−0.5 mm": Fraction(-1, 2),
    "+2 cm": Fraction(20),
    "5 microns": Fraction(5, 1000),
    "12 µm": Fraction(12, 1000),
    "1e-3 mm": Fraction(1, 1000),
    "2 ft": Fraction(6096, 10),
    "0 mm": Fraction(0),
}


@pytest.mark.parametrize(("text", "expected"), EXACT.items(), ids=list(EXACT))
def test_lengths_are_read_exactly(text: str, expected: Fraction) -> None:
    assert parse(text) == expected


REFUSED = {
    "5": '"5" has no unit; write "5 thou" or "5 mm"',
    "1,5 mm": '"1,5 mm" has a comma; write a decimal point',
    "1/0 in": '"1/0 in" divides by zero; write the size as a decimal',
    "5 furlongs": '"5 furlongs" has the unknown unit "furlongs"; known are mm, cm, m, µm, in, '
    "thou, tenth, ft",
    "": '"" is not a length; write "5 thou" or "5 mm"',
    "mm": '"mm" is not a length; write "5 thou" or "5 mm"',
    "nan mm": '"nan mm" is not a length; write "5 thou" or "5 mm"',
    "inf mm": '"inf mm" is not a length; write "5 thou" or "5 mm"',
    "5 mm 3": '"5 mm 3" is not a length; write "5 thou" or "5 mm"',
    "1 1 1/8 in": '"1 1 1/8 in" is not a length; write "5 thou" or "5 mm"',
    "1e999 mm": '"1e999 mm" is beyond any length here; check it and its unit',
    "1e-99 in": '"1e-99 in" is beyond any length here; check it and its unit',
    "5  thou mm": '"5  thou mm" is not a length; write "5 thou" or "5 mm"',
}


@pytest.mark.parametrize(("text", "line"), REFUSED.items(), ids=list(REFUSED))
def test_what_is_refused_says_what_to_write(text: str, line: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(text, where="limit")
    assert caught.value.lines == [f"limit: {line}"]


@pytest.mark.parametrize(
    "given_value", [5, 0.127, math.nan, 10**400, True, None, ["5 mm"], b"5 mm"]
)
def test_only_text_is_a_quantity(given_value: object) -> None:
    with pytest.raises(InputError, match="write "):
        parse(given_value, where="limit")


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    try:
        value = parse(text, where="limit")
    except InputError as error:
        assert len(error.lines) == 1
        assert error.lines[0].startswith("limit: ")
    else:
        assert math.isfinite(float(value))


def test_a_long_text_is_cut_in_its_message() -> None:
    with pytest.raises(InputError) as caught:
        parse("9" * 5000 + " mm", where="limit")
    assert len(caught.value.lines[0]) < 200


@given(st.fractions(min_value=-1000, max_value=1000, max_denominator=10_000))
def test_a_decimal_comes_back_as_it_went_in(value: Fraction) -> None:
    decimal = f"{float(value):.6f}"
    assert parse(f"{decimal} mm") == Fraction(decimal)
    assert parse(f"{decimal} in") == Fraction(decimal) * Fraction(254, 10)


def test_temperature_rise() -> None:
    # A rise of 126 °F is one of 70 K (NIST SP 811: 5/9 K a degree Fahrenheit).
    assert parse("126 °F", kind="temperature rise") == 70
    assert parse("70 K", kind="temperature rise") == 70
    with pytest.raises(InputError, match='write "70 K"'):
        parse("70", kind="temperature rise")


def test_unit_of_a_table() -> None:
    assert unit_size("thou") == Fraction(254, 10_000)
    assert unit_name("inches") == "in"
    assert unit_name('"') == "in"
    with pytest.raises(InputError, match='unit: "furlong" is not a unit; known are mm'):
        unit_size("furlong")


@pytest.mark.parametrize(
    ("uncertainty", "decimals"),
    [(0.012, 3), (0.02, 2), (0.0094, 3), (0.2, 1), (0.19, 2), (3, 0), (45, 0), (0, 3), (None, 3)],
)
def test_no_more_decimals_than_the_uncertainty_supports(
    uncertainty: float | None, decimals: int
) -> None:
    assert decimals_for(uncertainty, usual=3) == decimals


def test_numbers_for_people() -> None:
    assert plain(-0.0004, 3) == "0.000"
    assert plain(-0.5, 1) == "−0.5"
    assert str(show_length(0.127)) == "0.127 mm (0.0050 in)"
    assert str(show_length(0.127, lead="in")) == "0.0050 in (0.127 mm)"
    assert str(show_length(0.1234, uncertainty_mm=0.03)) == "0.12 mm (0.0049 in)"
    assert say_length(0.127, lead="in") == "5 thou"
    assert say_length(25.4 * 6, lead="in") == "6.000 in"
    assert say_length(0.127) == "0.127 mm"
    assert say_length(0.1) == "0.10 mm"
    assert say_length(3.175) == "3.17 mm"


@pytest.mark.parametrize(
    ("clock_deg", "said"),
    [
        (0, "12 o'clock"),
        (90, "3 o'clock"),
        (359, "12 o'clock"),
        (14, "half past 12"),
        (-30, "11 o'clock"),
        (200, "half past 6"),
    ],
)
def test_clock_angles_as_hours(clock_deg: float, said: str) -> None:
    assert say_clock(clock_deg) == said
