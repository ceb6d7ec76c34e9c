"""How wide a line of text will be, before anything draws it; shortening and wrapping.

Widths are Source Sans 3's advances in thousandths of the size, rounded up to the next twenty.
Where a phone draws with its own face lines run wider; `ROOM` allows for that.
"""

from __future__ import annotations

import unicodedata
from typing import Final

FAMILY: Final = "'Source Sans 3', Helvetica, Arial, sans-serif"

ASCENT: Final = 0.74
"""Height of capitals and strokes above the baseline, per size."""
DESCENT: Final = 0.22
"""Depth of tails below the baseline, per size."""
ROOM: Final = 1.08
"""A stand-in face's widths over Source Sans's."""
SEMIBOLD: Final = 1.1
"""The widest that a semibold character is over the regular one's entry here."""

_ADVANCES: Final = {
    200: " \u2009\u00a0",
    260: "',.:;ijl|’·′‘",
    280: "I",
    300: "!f",
    320: "()-[]{}",
    340: "t°",
    360: "/\\r",
    420: "*s",
    440: '"?z“”″',
    460: "cx",
    480: "JYvy–",
    500: "#$+0123456789<=>FL^_ek~−±×≤≥",
    520: "VXag",
    540: "ESTZ",
    560: "A`bdhnopqu√σ",
    580: "CKPRµμ",
    600: "B",
    620: "&DG",
    660: "HNU",
    680: "OQØ",
    720: "w",
    740: "M",
    800: "W—¼¾",
    820: "½",
    840: "%m",
    860: "@",
    960: "…",
}
_WIDTHS: Final = {char: width for width, chars in _ADVANCES.items() for char in chars}
_UNKNOWN: Final = 860
_SQUARE: Final = 1040


def _advance(char: str) -> int:
    known = _WIDTHS.get(char)
    if known is not None:
        return known
    if unicodedata.combining(char):
        return 0
    plain = unicodedata.normalize("NFD", char)[0]
    if plain in _WIDTHS:
        return _WIDTHS[plain]
    return _SQUARE if unicodedata.east_asian_width(char) in "WF" else _UNKNOWN


def text_width(text: str, size: float, *, semibold: bool = False) -> float:
    """The most room that a line takes, in the unit of `size`.

    >>> text_width("10 thou", 10) < text_width("10 thou", 10, semibold=True)
    True
    """
    bold = SEMIBOLD if semibold else 1.0
    return sum(map(_advance, text)) * size * ROOM * bold / 1000


def shorten(text: str, size: float, room: float, *, semibold: bool = False) -> str:
    """The text, or as much of its beginning as fits with "…" after it.

    >>> shorten("Gearbox face", 10, 50)
    'Gearbox…'
    """
    text = " ".join(text.split())
    if text_width(text, size, semibold=semibold) <= room:
        return text
    while text and text_width(f"{text}…", size, semibold=semibold) > room:
        text = text[:-1].rstrip()
    return f"{text}…"


def wrap(text: str, size: float, room: float, *, lines: int, semibold: bool = False) -> list[str]:
    """The text in at most so many lines; what does not fit on the last is shortened.

    A word too long for a line is cut there.
    """
    words = text.split()
    done: list[str] = []
    while words and len(done) < lines - 1:
        count = 1
        while (
            count < len(words)
            and text_width(" ".join(words[: count + 1]), size, semibold=semibold) <= room
        ):
            count += 1
        row = " ".join(words[:count])
        if text_width(row, size, semibold=semibold) > room:
            kept = shorten(row, size, room, semibold=semibold).removesuffix("…") or row[0]
            done.append(kept)
            words[0] = row[len(kept) :]
            continue
        done.append(row)
        words = words[count:]
    if words:
        done.append(shorten(" ".join(words), size, room, semibold=semibold))
    return done
