"""What the templates' pieces take, as plain data: title block, figures, tables, cautions."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from kitwright.paper.typesetting import Svg, qr_svg
from kitwright.pictures.lettering import text_width
from kitwright.pictures.picture import Picture
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.showing import Figure, Grid

Rows = Sequence[Sequence[str]]

PAGE_MM: Final = 170.0
"""Width of what stands inside the frame on A4; letter has six more."""

_GRAVITY: Final = ("DANGER", "WARNING", "CAUTION")
_NUMBER: Final = re.compile(r"[+−-]?\d")
_MM_PER_PT: Final = 25.4 / 72
_USUAL: Final = 9.0
_SMALLEST: Final = 8.0
"""Sizes of a table's text in pt, few columns and many; the template's."""
_GUTTER_MM: Final = 5.0
_BETWEEN_MM: Final = 14.0
_LONG_VALUE: Final = 30
_LONG_CELL: Final = 22
_FAIR_CELL: Final = 12
"""Width to which a long cell may be broken, in sizes of its text."""
_ABREAST_FROM: Final = 10
_LINES_ABREAST: Final = 40


@dataclass(frozen=True, kw_only=True)
class TitleBlock:
    """The block at the bottom right of every sheet, and the code at the bottom left.

    `code` is what the QR carries: a link or a serial; without one there is no QR.
    """

    what: str
    name_label: str
    name: str
    revision: str = ""
    content: str = ""
    shop: str = ""
    date: datetime.date | None = None
    code: str = ""

    def data(self) -> dict[str, Any]:
        """As the template takes it."""
        return {
            "what": self.what,
            "name_label": self.name_label,
            "name": self.name,
            "revision": self.revision,
            "content": self.content,
            "shop": self.shop,
            "date": self.date.isoformat() if self.date else None,
            "qr": qr_svg(self.code) if self.code else None,
            "qr_text": self.code,
        }


def picture_data(pictures: Iterable[Picture]) -> list[dict[str, Any]]:
    """Drawings with their captions."""
    return [{"svg": Svg(one.svg), "caption": one.caption} for one in pictures]


def caution_data(cautions: Iterable[Caution]) -> list[dict[str, str]]:
    """Cautions, the gravest first, each text once."""
    once = {caution.text: caution for caution in cautions}
    ordered = sorted(once.values(), key=lambda caution: _GRAVITY.index(caution.word))
    return [{"word": caution.word, "text": caution.text} for caution in ordered]


def figure_data(rows: Iterable[Figure]) -> list[dict[str, Any]]:
    """Single values; one that is a sentence takes the whole width."""
    return [
        {
            "label": row.label,
            "leading": row.leading,
            "other": row.other,
            "uncertainty": row.uncertainty,
            "wide": len(row.leading) > _LONG_VALUE,
        }
        for row in rows
    ]


def table_data(grid: Grid) -> dict[str, Any]:
    """A table, its number columns set right; a long narrow one in several columns abreast.

    One too wide for the sheet keeps its first column and tells the others in words.
    """
    if _row_width(grid.columns, grid.rows, _SMALLEST) > PAGE_MM:
        first, *others = grid.columns
        rows = [
            (
                row[0],
                ", ".join(f"{_lower(a)} {b}" for a, b in zip(others, row[1:], strict=True) if b),
            )
            for row in grid.rows
        ]
        return ruled_data(grid.label, (first, ""), rows)
    return ruled_data(grid.label, grid.columns, grid.rows)


def ruled_data(
    label: str, columns: Sequence[str], rows: Rows, *, room_mm: float = PAGE_MM
) -> dict[str, Any]:
    """A table from its heads and rows of text, in as many columns abreast as the room allows.

    >>> ruled_data("Bolts", ("", "turn"), [("a", "12°"), ("b", "−3°")])["align"]
    ['left', 'right']
    """
    abreast = 1
    if len(rows) >= _ABREAST_FROM:
        width = _row_width(columns, rows, _USUAL)
        abreast = max(1, int((room_mm + _BETWEEN_MM) / (width + _BETWEEN_MM)))
    each = len(columns)
    align = ["right" if _is_numeric(rows, column) else "left" for column in range(each)]
    wide = [
        align[column] == "left" and any(len(row[column]) > _LONG_CELL for row in rows)
        for column in range(each)
    ]
    return {
        "label": label,
        "columns": list(columns) * abreast,
        "align": align * abreast,
        "wide": wide * abreast,
        "abreast": abreast,
        "parts": list(_parts(rows, abreast, each)),
    }


def _is_numeric(rows: Rows, column: int) -> bool:
    cells = [row[column] for row in rows if row[column]]
    return bool(cells) and all(_NUMBER.match(cell) and len(cell) < _LONG_CELL for cell in cells)


def _row_width(columns: Sequence[str], rows: Rows, size_pt: float) -> float:
    """Width in mm of a table set in one line a row; a long cell may be broken to a fair width."""
    width = _GUTTER_MM * (len(columns) - 1)
    for column, name in enumerate(columns):
        head = max((text_width(word, size_pt) for word in name.split()), default=0.0)
        cells = max((text_width(row[column], size_pt) for row in rows), default=0.0)
        width += max(head, min(cells, _FAIR_CELL * size_pt)) * _MM_PER_PT
    return width


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]


def _parts(rows: Rows, abreast: int, each: int) -> Iterable[list[list[str]]]:
    """Rows in reading order down each of the columns abreast, a page's worth at a time."""
    if abreast == 1:
        yield [list(row) for row in rows]
        return
    for start in range(0, len(rows), abreast * _LINES_ABREAST):
        part = rows[start : start + abreast * _LINES_ABREAST]
        lines = -(-len(part) // abreast)
        yield [
            [
                cell
                for index in range(line, lines * abreast, lines)
                for cell in (part[index] if index < len(part) else [""] * each)
            ]
            for line in range(lines)
        ]
