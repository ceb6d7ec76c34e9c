"""The templates' environment: escaping on, nothing undefined, numbers set on their decimal."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import jinja2

from kitwright.web.assets import static

_NUMBER: Final = re.compile(r"([+−±-]?\s?\d[\d\u202f]*)((?:\.\d+)?(?:\s[^\s\d]{1,9}|°|%)?)")
_LONGEST_TAIL: Final = 14
_FEW: Final = 26  # characters


@dataclass(frozen=True, kw_only=True)
class Aligned:
    """A number up to its point, what follows (fraction and unit), and how many characters the
    longest of its column has there."""

    whole: str
    tail: str
    longest: int = 0


def aligned(texts: Iterable[str]) -> list[Aligned | None]:
    """Each text that is a number, split so that a column of them lines up; else None.

    >>> [(a.whole, a.tail, a.longest) for a in aligned(["0.0047 in", "12 in"]) if a]
    [('0', '.0047 in', 8), ('12', ' in', 8)]
    """
    cells = [_split(text) for text in texts]
    longest = max((len(cell.tail) for cell in cells if cell is not None), default=0)
    return [cell and replace(cell, longest=min(longest, _LONGEST_TAIL)) for cell in cells]


def _split(text: str) -> Aligned | None:
    found = _NUMBER.fullmatch(text)
    return None if found is None else Aligned(whole=found[1], tail=found[2])


def columns_aligned(
    rows: Sequence[Sequence[str]], across: int
) -> list[list[Aligned | None] | None]:
    """For each column its numbers split, or None for a column that holds other text.

    Empty cells are allowed among numbers.
    """
    columns: list[list[Aligned | None] | None] = []
    for index in range(across):
        texts = [str(row[index]) for row in rows]
        cells = aligned(texts)
        filled = [cell is not None for cell, text in zip(cells, texts, strict=True) if text]
        columns.append(cells if filled and all(filled) else None)
    return columns


def measured(rows: Sequence[Sequence[object]], index: int) -> bool:
    """Whether a column holds values with their uncertainty: it is set right, as numbers are."""
    cells = [str(row[index]) for row in rows]
    return any("±" in text for text in cells) and not any(map(wordy, cells))


def wordy(text: object) -> bool:
    """Whether a cell says more than fits on one line of a table on a phone.

    >>> wordy("14.6445 in to 14.6469 in"), wordy("the shop's guess until enough are swept")
    (False, True)
    """
    return len(str(text)) > _FEW


def mostly_words(rows: Sequence[Sequence[object]]) -> bool:
    """Whether two columns or more hold words at length; a phone shows such a table row by row."""
    columns = zip(*rows, strict=False)
    return sum(any(wordy(text) for text in column) for column in columns) > 1


def environment() -> jinja2.Environment:
    """The environment that every page is made in.

    A template that names what it was not given fails at once. `aligned`, `columns_aligned`,
    `measured`, `mostly_words` and `wordy` are filters; parts.html uses them.
    """
    env = jinja2.Environment(
        loader=jinja2.PackageLoader("kitwright.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    env.filters.update(
        aligned=aligned,
        columns_aligned=columns_aligned,
        measured=measured,
        mostly_words=mostly_words,
        wordy=wordy,
    )
    env.globals.update(light=None, footer="", page="", static=static)
    return env
