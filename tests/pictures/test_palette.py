"""Contrast of every ink on its ground (WCAG 2.2)."""

from __future__ import annotations

import pytest

from kitwright.pictures.palette import DAY, NIGHT, PAGE, PRINT, Palette


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_ratio_itself() -> None:
    """Black on white is 21 to 1 by definition; #767676 is the lightest grey that holds 4.54
    (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("palette", [DAY, NIGHT, PRINT], ids=["day", "night", "print"])
def test_contrast(palette: Palette) -> None:
    # 1.4.3: text 4.5 to 1, also on the faint wash and as light letters on a filled button
    for ground in (palette.ground, palette.wash):
        for text in (palette.ink, palette.soft, palette.brass_text):
            assert contrast(text, ground) >= 4.5
    # 1.4.11: what carries meaning 3 to 1
    for drawn in (palette.brass, palette.line):
        assert contrast(drawn, palette.ground) >= 3


def test_ink_is_much_darker_than_brass() -> None:
    """In black and white the arrow is told by its shape; the ink stays the ink."""
    assert contrast(DAY.ink, DAY.ground) > 12
    assert contrast(NIGHT.ink, NIGHT.ground) > 12


def test_a_page_names_a_variable_for_every_colour() -> None:
    for name in DAY.__dataclass_fields__:
        assert getattr(PAGE, name) == f"var(--{name.replace('_', '-')})"
