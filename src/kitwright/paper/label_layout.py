"""Where labels stand: in a grid on sheets of A4 or letter, or one to a page from a roll."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError, Problem
from kitwright.paper.typesetting import Paper
from kitwright.units import parse

PAPERS: Final[Mapping[Paper, tuple[float, float]]] = {
    "a4": (210.0, 297.0),
    "us-letter": (215.9, 279.4),
}
"""Width and height in mm: ISO 216; 8 1/2 x 11 in (ANSI/ASME Y14.1, size A)."""

MOST_ACROSS: Final = 50
"""Labels in a row, or in a column."""
ROLL_MM: Final = (5.0, 300.0)
"""Least and greatest side of a label from a roll; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A grid of equal labels on a sheet, filled row by row; lengths in mm.

    The margins are from the paper's edges to the outermost labels, the gaps between labels.
    `skip` labels of the first sheet are used already.

    Raises
    ------
    InputError
        No such paper or grid, or the grid leaves its labels no room; a line each fault.
    """

    paper: Paper = "a4"
    columns: int = 3
    rows: int = 8
    top_mm: float = 10.0
    bottom_mm: float = 10.0
    left_mm: float = 10.0
    right_mm: float = 10.0
    gap_across_mm: float = 0.0
    gap_down_mm: float = 0.0
    skip: int = 0

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise InputError(
                "paper", f'"{self.paper}" is not known', f"write {' or '.join(PAPERS)}"
            )
        problems = [
            Problem(name, f"{getattr(self, name)}", f"give 1 to {MOST_ACROSS}")
            for name in ("columns", "rows")
            if not 1 <= getattr(self, name) <= MOST_ACROSS
        ]
        problems += [
            Problem(name, f"{getattr(self, f'{name}_mm'):g} mm", "give nothing or more")
            for name in ("top", "bottom", "left", "right", "gap_across", "gap_down")
            if getattr(self, f"{name}_mm") < 0
        ]
        problems = problems or list(self._crowded())
        if problems:
            raise InputError.of(problems)

    def _crowded(self) -> Iterator[Problem]:
        less = "take fewer, or smaller margins and gaps"
        if self.width_mm <= 0:
            yield Problem("columns", f"{self.columns} across leave a label no width", less)
        if self.height_mm <= 0:
            yield Problem("rows", f"{self.rows} down leave a label no height", less)
        if not 0 <= self.skip < self.each:
            yield Problem(
                "skip", f"{self.skip}", f"a sheet has {self.each}; give 0 to {self.each - 1}"
            )

    @property
    def each(self) -> int:
        """How many labels a sheet holds."""
        return self.columns * self.rows

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return PAPERS[self.paper]

    @property
    def width_mm(self) -> float:
        """Of a label."""
        across = self.page_mm[0] - self.left_mm - self.right_mm
        return (across - (self.columns - 1) * self.gap_across_mm) / self.columns

    @property
    def height_mm(self) -> float:
        """Of a label."""
        down = self.page_mm[1] - self.top_mm - self.bottom_mm
        return (down - (self.rows - 1) * self.gap_down_mm) / self.rows

    def place(self, number: int) -> tuple[int, float, float]:
        """Page, and left and upper edge in mm, of the label of this number; all count from 0.

        >>> Sheet(columns=2, rows=2, skip=1).place(3)
        (1, 10.0, 10.0)
        """
        page, on_page = divmod(number + self.skip, self.each)
        row, column = divmod(on_page, self.columns)
        return (
            page,
            self.left_mm + column * (self.width_mm + self.gap_across_mm),
            self.top_mm + row * (self.height_mm + self.gap_down_mm),
        )


@dataclass(frozen=True, kw_only=True)
class Roll:
    """One label to a page, of this width and height in mm, for a printer with a roll.

    Raises
    ------
    InputError
        A side is out of range.
    """

    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        least, most = ROLL_MM
        problems = [
            Problem(name, f"{side:g} mm", f"give {least:g} to {most:g} mm")
            for name, side in (("width", self.width_mm), ("height", self.height_mm))
            if not least <= side <= most
        ]
        if problems:
            raise InputError.of(problems)

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of a page, which is one label."""
        return self.width_mm, self.height_mm

    def place(self, number: int) -> tuple[int, float, float]:
        """Page, and left and upper edge in mm, of the label of this number."""
        return number, 0.0, 0.0


Layout = Sheet | Roll

FIELDS: Final[Mapping[str, str]] = {
    "paper": "a4",
    "columns": "3",
    "rows": "8",
    "top": "10 mm",
    "bottom": "10 mm",
    "left": "10 mm",
    "right": "10 mm",
    "gap_across": "0 mm",
    "gap_down": "0 mm",
    "skip": "0",
    "width": "",
    "height": "",
}
"""What a person says of a layout, as text, and what holds where he does not."""


def read_layout(given: Mapping[str, str]) -> Layout:
    """The layout that these texts say: a roll where a width or a height is given.

    Lengths carry their unit. What is missing or empty is as in `FIELDS`.

    Raises
    ------
    InputError
        A line each text that cannot be used, named as in `FIELDS`.

    Examples
    --------
    >>> read_layout({"width": "62 mm", "height": "1 in"})
    Roll(width_mm=62.0, height_mm=25.4)
    """
    texts = {name: given.get(name, "").strip() or usual for name, usual in FIELDS.items()}
    problems: list[Problem] = []

    def length(name: str) -> float:
        try:
            return float(parse(texts[name], where=name))
        except InputError as error:
            problems.extend(error.problems)
            return 0.0

    def count(name: str) -> int:
        text = texts[name]
        if text.isascii() and text.isdigit() and len(text) < 10:
            return int(text)
        problems.append(Problem(name, f'"{text[:40]}" is not a whole number', "count labels"))
        return 1

    layout: Layout | None = None
    if texts["width"] or texts["height"]:
        missing = [name for name in ("width", "height") if not texts[name]]
        if missing:
            raise InputError(missing[0], "missing", "a label from a roll has a width and a height")
        width, height = length("width"), length("height")
        if not problems:
            layout = Roll(width_mm=width, height_mm=height)
    else:
        lengths = {
            f"{name}_mm": length(name)
            for name in ("top", "bottom", "left", "right", "gap_across", "gap_down")
        }
        counts = {name: count(name) for name in ("columns", "rows", "skip")}
        paper: Paper | None = next((each for each in PAPERS if each == texts["paper"]), None)
        if paper is None:
            expected = f"write {' or '.join(PAPERS)}"
            problems.append(Problem("paper", f'"{texts["paper"][:40]}" is not known', expected))
        elif not problems:
            layout = Sheet(
                paper=paper,
                columns=counts["columns"],
                rows=counts["rows"],
                skip=counts["skip"],
                top_mm=lengths["top_mm"],
                bottom_mm=lengths["bottom_mm"],
                left_mm=lengths["left_mm"],
                right_mm=lengths["right_mm"],
                gap_across_mm=lengths["gap_across_mm"],
                gap_down_mm=lengths["gap_down_mm"],
            )
    if layout is None:
        raise InputError.of(problems)
    return layout
