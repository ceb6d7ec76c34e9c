"""The inks of our drawings: by day, by night, on paper, and by name for a page's stylesheet.

A picture takes a `Palette` and writes its values as plain attributes. `DAY`, `NIGHT` and `PRINT`
hold plain colours, for files and for the PDF maker, which draws variables black. `PAGE` holds the
names of the stylesheet's variables, so that a picture inside a page follows the page's light.

Text reaches a contrast of 4.5 to 1 on the ground, lines that carry meaning 3 to 1 (WCAG 2.2,
success criteria 1.4.3 and 1.4.11). No state is told by colour: marks differ in shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, kw_only=True)
class Palette:
    """Colours by what they are for, as an SVG attribute takes them."""

    ground: str
    """The paper."""
    ink: str
    """What is drawn and written."""
    soft: str
    """Lesser text and lines that carry meaning."""
    line: str
    """Edges of fields and tables that must be seen."""
    rule: str
    """Thin rules that only divide."""
    wash: str
    """A faint tint of the ground, under text."""
    brass: str
    """Do this: arrows, the next action."""
    brass_text: str
    """Words that go with brass."""


DAY: Final = Palette(
    ground="#faf7f0",
    ink="#16243a",
    soft="#566072",
    line="#857f70",
    rule="#d9d2c2",
    wash="#f1ecdf",
    brass="#b07a1e",
    brass_text="#835708",
)
NIGHT: Final = Palette(
    ground="#12161c",
    ink="#ece6d8",
    soft="#a9aeb6",
    line="#79828e",
    rule="#343b46",
    wash="#1b2129",
    brass="#d8a445",
    brass_text="#e6b862",
)
PRINT: Final = Palette(
    ground="#ffffff",
    ink="#000000",
    soft="#333333",
    line="#666666",
    rule="#999999",
    wash="#f2f2f2",
    brass="#6b4a0a",
    brass_text="#000000",
)
PAGE: Final = Palette(
    ground="var(--ground)",
    ink="var(--ink)",
    soft="var(--soft)",
    line="var(--line)",
    rule="var(--rule)",
    wash="var(--wash)",
    brass="var(--brass)",
    brass_text="var(--brass-text)",
)
