"""Widths of text, against the font files that pages and papers are set in."""

from __future__ import annotations

import string
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.pictures.lettering import ROOM, SEMIBOLD, shorten, text_width, wrap

OURS = string.ascii_letters + string.digits + string.punctuation + " −±×µ°’“”–—…Ø≤≥·′″½¼¾√éüñŠ"


# Advances of Source Sans 3 (SIL Open Font License), read from the files shipped with the package.
@pytest.mark.parametrize("char", OURS)
def test_a_character_is_never_wider_than_we_think(font_advances: Any, char: str) -> None:
    ours = text_width(char, 1000) / ROOM + 1e-9
    assert (
        font_advances["Regular"][char] * 1000 <= ours <= font_advances["Regular"][char] * 1000 + 20
    )
    assert font_advances["Semibold"][char] * 1000 <= ours * SEMIBOLD


def test_figures_are_tabular(font_advances: Any) -> None:
    for name in ("Regular", "Semibold"):
        assert len({font_advances[name][digit] for digit in "0123456789"}) == 1


def test_what_the_font_lacks_is_given_room(font_advances: Any) -> None:
    """A character that another face must draw: a square ideograph, an emblem, a combining mark."""
    assert not {"螺", "⌀"} & set(font_advances["Regular"])
    assert text_width("螺", 1000) >= 1000
    assert text_width("⌀", 1000) >= 800
    assert text_width("e\u0301", 10) == text_width("e", 10)


@given(text=st.text(max_size=80), room=st.floats(40, 300))
def test_shortened_text_fits_and_is_a_beginning(text: str, room: float) -> None:
    short = shorten(text, 14, room)
    assert text_width(short, 14) <= room
    whole = " ".join(text.split())
    assert short == whole or (short.endswith("…") and whole.startswith(short[:-1]))


@given(text=st.text(max_size=200), room=st.floats(40, 300), lines=st.integers(1, 4))
def test_wrapped_text_fits_and_loses_nothing_before_its_end(
    text: str, room: float, lines: int
) -> None:
    rows = wrap(text, 14, room, lines=lines)
    assert len(rows) <= lines
    assert all(text_width(row, 14) <= room for row in rows)
    written, given_ = "".join("".join(rows).split()), "".join(text.split())
    assert written == given_ or (written.endswith("…") and given_.startswith(written[:-1]))


def test_wrapping_breaks_at_spaces() -> None:
    assert wrap("one two three", 10, text_width("one two", 10), lines=3) == ["one two", "three"]
    assert wrap("", 10, 100, lines=2) == []
