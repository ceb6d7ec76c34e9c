"""Labels: a name in the largest type that fits, its code, and a few lines beneath."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final
from urllib.parse import quote

from kitwright.errors import InputError
from kitwright.paper.label_layout import Layout
from kitwright.paper.typesetting import one_line, qr_side, qr_svg, typeset
from kitwright.pictures.lettering import text_width, wrap
from kitwright.shop.labelled import LabelledBell, LabelledCrate, LabelledPart

MODULE_MM: Final = 0.33
"""No module of a code is printed smaller: about what a shop printer prints and a phone reads at
arm's length; common practice, no source."""
EDGE_MM: Final = 1.5
"""Kept clear inside a label's edge, since printers wander; common practice, no source."""
MOST_LABELS: Final = 5000

LINE: Final = 1.26
"""Height of a line per size: the face's ascent and descent."""
_MM_PER_PT: Final = 25.4 / 72
_BESIDE_MM: Final = 1.0
_CODE_SHARE: Final = 0.42
_CODE_MOST_MM: Final = 40.0
_LINES_SHARE: Final = 0.45
_NAME_LARGEST: Final = 72.0
_NAME_LEAST: Final = 6.0
_LINE_SIZES: Final = (18.0, 16.0, 14.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5, 5.0)
_WHOLE_FROM: Final = 7.0
"""Lines larger than this are not broken; a smaller one that is too long goes on beneath."""
_NAME_LINES: Final = 6
_TURN_GAIN: Final = 1.5
_ROW_GAIN: Final = 1.15
_SPLITS: Final = re.compile(r"[-–./_:\s]")


@dataclass(frozen=True, kw_only=True)
class Label:
    """One label: `name` in large type, `lines` beneath, and what the code carries."""

    name: str
    lines: tuple[str, ...] = ()
    code: str

    def __post_init__(self) -> None:
        if not one_line(self.name):
            raise InputError("label", "has no name", "write what is to stand on it")


@dataclass(frozen=True)
class Line:
    """A line of a label as it is set: its text, its size, and where its upper left corner is."""

    text: str
    size_pt: float
    bold: bool
    x_mm: float
    y_mm: float


@dataclass(frozen=True, kw_only=True)
class Placed:
    """What stands where on one label, in mm from its upper left corner."""

    code_x_mm: float
    code_y_mm: float
    code_side_mm: float
    lines: tuple[Line, ...]

    @property
    def size_pt(self) -> float:
        """Of the name."""
        return self.lines[0].size_pt


# ── of what the shop keeps ───────────────────────────────────────────────────────────────


def bell_address(serial: str, address: str | None) -> str:
    """What a bell's code carries: the address of its page, or its serial and nothing else.

    >>> bell_address("HC 7", "http://garage.test:8711"), bell_address("HC 7", None)
    ('http://garage.test:8711/bells/HC%207', 'HC 7')
    """
    return f"{address}/bells/{quote(serial, safe='')}" if address else serial


def bell_label(bell: LabelledBell, *, address: str | None) -> Label:
    """A bell's label."""
    return Label(
        name=bell.serial,
        lines=(bell.design, f"Revision {bell.revision}, batch {bell.batch}"),
        code=bell_address(bell.serial, address),
    )


def crate_label(crate: LabelledCrate) -> Label:
    """A crate's label; its code carries its number and nothing else."""
    castings = f"{crate.count} casting{'' if crate.count == 1 else 's'}"
    return Label(
        name=crate.label,
        lines=(crate.design, f"{castings}, received {crate.received.isoformat()}"),
        code=crate.label,
    )


def part_label(part: LabelledPart) -> Label:
    """The label of a part's bin; its code carries its short name."""
    return Label(name=part.label, lines=(part.name,), code=part.label)


def shelf_labels(text: str) -> list[Label]:
    """Labels for shelves and drawers: one a line, its name first, more after each semicolon.

    >>> [(each.name, each.lines) for each in shelf_labels("A3; dowels, 7 thou")]
    [('A3', ('dowels, 7 thou',))]
    """
    found = []
    for row in filter(None, (one_line(line) for line in text.splitlines())):
        name, *lines = (part.strip() for part in row.split(";"))
        found.append(Label(name=name, lines=tuple(filter(None, lines)), code=name))
    if not found:
        raise InputError("shelf", "missing", "write a label a line, as A3; dowels, 7 thou")
    return found


# ── printed ──────────────────────────────────────────────────────────────────────────────


def labels_pdf(
    labels: Sequence[Label], layout: Layout, *, bare: bool = False, outline: bool = False
) -> bytes:
    """The labels as a PDF, to be printed at actual size.

    Parameters
    ----------
    labels : one or more, in the order in which they are printed
    layout : a grid on sheets, or a roll
    bare : name and code only, for labels that hold no more
    outline : a thin line round each label, to cut along on plain paper

    Raises
    ------
    InputError
        None or too many; a label is too small for its code, name or lines.
    """
    if not 1 <= len(labels) <= MOST_LABELS:
        raise InputError("labels", f"{len(labels)}", f"print 1 to {MOST_LABELS} at once")
    pages: list[list[dict[str, Any]]] = []
    for number, label in enumerate(labels):
        page, left, top = layout.place(number)
        while len(pages) <= page:
            pages.append([])
        pages[page].append(_label_data(label, layout, left, top, bare=bare))
    width, height = layout.page_mm
    data = {
        "width": width,
        "height": height,
        "label_width": layout.width_mm,
        "label_height": layout.height_mm,
        "outline": outline,
        "pages": pages,
    }
    first, last = one_line(labels[0].name), one_line(labels[-1].name)
    title = f"Label {first}" if len(labels) == 1 else f"{len(labels)} labels, {first} to {last}"
    return typeset("labels", data, title=title, date=None)


def _label_data(
    label: Label, layout: Layout, left: float, top: float, *, bare: bool
) -> dict[str, Any]:
    code = qr_svg(label.code, where="label")
    placed = arranged(label, layout, qr_side(code), bare=bare)
    return {
        "x": left,
        "y": top,
        "qr": code,
        "qr_text": label.code,
        "qr_x": left + placed.code_x_mm,
        "qr_y": top + placed.code_y_mm,
        "qr_side": placed.code_side_mm,
        "lines": [
            {
                "text": line.text,
                "size": line.size_pt,
                "bold": line.bold,
                "x": left + line.x_mm,
                "y": top + line.y_mm,
            }
            for line in placed.lines
        ],
    }


def arranged(label: Label, layout: Layout, modules: int, *, bare: bool = False) -> Placed:
    """Code and text of one label, side by side where it is wide and one above the other where not.

    The other way round where the name is half as large again so.

    Parameters
    ----------
    modules : of the code's side, with its quiet zone

    Raises
    ------
    InputError
        The label is too small for its code at `MODULE_MM`, or for its name and lines.
    """
    width, height = layout.width_mm - 2 * EDGE_MM, layout.height_mm - 2 * EDGE_MM
    least = modules * MODULE_MM
    said = f"{layout.width_mm:.1f} x {layout.height_mm:.1f} mm"
    larger = "take fewer columns or rows, or a larger label"
    if least > min(width, height):
        raise InputError(
            "label",
            f"{said} is too small for the code of {one_line(label.name)}",
            f"it needs {least + 2 * EDGE_MM:.1f} mm each way, {MODULE_MM:g} mm a module; {larger}",
        )
    beside, beneath = _ways(label, width, height, least, bare=bare)
    usual, other = (beside, beneath) if width >= height else (beneath, beside)
    if usual is None or (other is not None and other.size_pt > _TURN_GAIN * usual.size_pt):
        usual = other
    if usual is None:
        what = "the name" if bare or not label.lines else f"the name and {len(label.lines)} lines"
        hint = larger if bare or not label.lines else f"{larger}, or print name and code only"
        raise InputError("label", f"{said} is too small for {what} of {one_line(label.name)}", hint)
    return usual


def _ways(
    label: Label, width: float, height: float, least: float, *, bare: bool
) -> tuple[Placed | None, Placed | None]:
    """Side by side, and one above the other; None where there is no room so."""
    lines = () if bare else label.lines
    beside: Placed | None = None
    side = max(least, min(height, width * _CODE_SHARE, _CODE_MOST_MM))
    text = _set(label.name, lines, width - side - _BESIDE_MM, height)
    if text:
        left = EDGE_MM + side + _BESIDE_MM
        beside = Placed(
            code_x_mm=EDGE_MM,
            code_y_mm=EDGE_MM + (height - side) / 2,
            code_side_mm=side,
            lines=_moved(text, left, EDGE_MM + (height - _tall(text)) / 2),
        )
    beneath: Placed | None = None
    side = max(least, min(width, height * (1 - _LINES_SHARE), _CODE_MOST_MM))
    text = _set(label.name, lines, width, height - side)
    if text:
        top = EDGE_MM + (height - side - _tall(text)) / 2
        beneath = Placed(
            code_x_mm=EDGE_MM,
            code_y_mm=top,
            code_side_mm=side,
            lines=_moved(text, EDGE_MM, top + side),
        )
    return beside, beneath


def _tall(lines: Sequence[Line]) -> float:
    """How much height in mm the lines take."""
    return lines[-1].y_mm + lines[-1].size_pt * LINE * _MM_PER_PT


def _moved(lines: Sequence[Line], left: float, top: float) -> tuple[Line, ...]:
    return tuple(replace(line, x_mm=left + line.x_mm, y_mm=top + line.y_mm) for line in lines)


def _set(name: str, lines: Sequence[str], width: float, height: float) -> list[Line] | None:
    """Name and lines at the largest sizes that this room takes; None where it takes none.

    The lines may take less than half of it and stay well smaller than the name; only at their
    least size may they have more.
    """
    if width <= 0 or height <= 0:
        return None
    for size in _LINE_SIZES if lines else (0.0,):
        small = [
            row for line in lines for row in wrap(one_line(line), size, width / _MM_PER_PT, lines=2)
        ]
        if size > _WHOLE_FROM and len(small) > len(lines):
            continue
        taken = len(small) * size * LINE * _MM_PER_PT
        last = size <= _LINE_SIZES[-1]
        if taken > height * _LINES_SHARE and not last:
            continue
        large = _name(one_line(name), width / _MM_PER_PT, (height - taken) / _MM_PER_PT)
        if large is None or (large[0] < 1.4 * size and not last):
            continue
        name_size, rows = large
        return list(
            _stacked(
                [(row, name_size, True) for row in rows] + [(row, size, False) for row in small]
            )
        )
    return None


def _stacked(rows: Sequence[tuple[str, float, bool]]) -> Iterator[Line]:
    y = 0.0
    for text, size, bold in rows:
        yield Line(text, size, bold, 0.0, y)
        y += size * LINE * _MM_PER_PT


def _name(text: str, width: float, height: float) -> tuple[float, list[str]] | None:
    """The largest size in pt at which the name fits, and its rows; None where none is legible.

    One row, unless several are set half as large again; no more rows than that needs, and none
    torn between two letters unless that gains as much.
    """
    one = min(_NAME_LARGEST, height / LINE, width / text_width(text, 1.0, semibold=True))
    best: tuple[float, list[str]] | None = (one, [text]) if one >= _NAME_LEAST else None
    whole = best is not None
    for count in range(2, _NAME_LINES + 1):
        found = _in_rows(text, width, height, count)
        if found is None:
            continue
        size, rows, torn = found
        dear = whole and (torn or best == (one, [text]))
        gain = _TURN_GAIN if dear else _ROW_GAIN
        if best is None or size > gain * best[0]:
            best, whole = (size, rows), not torn
    return best


def _in_rows(
    text: str, width: float, height: float, count: int
) -> tuple[float, list[str], bool] | None:
    """The largest legible size at which so many rows do, the rows, and is a word torn by them."""
    size = min(_NAME_LARGEST, height / LINE / count)
    while size >= _NAME_LEAST:
        rows, torn = _broken(text, size, width)
        if len(rows) <= count:
            return size, rows, torn
        size *= 0.96
    return None


def _broken(text: str, size: float, width: float) -> tuple[list[str], bool]:
    """The text in rows that fit, broken after a mark where one is near, else torn anywhere."""
    rows, torn = [], False
    while text:
        end = 1
        while end < len(text) and text_width(text[: end + 1], size, semibold=True) <= width:
            end += 1
        while 1 < end < len(text) and unicodedata.combining(text[end]):
            end -= 1
        if end < len(text):
            marks = [found.end() for found in _SPLITS.finditer(text, end // 2, end)]
            end = marks[-1] if marks else end
            torn = torn or not marks
        rows.append(text[:end].strip())
        text = text[end:].strip()
    return rows, torn
