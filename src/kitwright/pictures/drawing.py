"""A small writer of SVG: elements, escaped text, short numbers, the same bytes every time.

Only plain attributes are written, no style sheet, no script and no identifier: a drawing may stand
several times in one page and goes to the PDF maker as it is.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from kitwright.errors import FaultError
from kitwright.pictures.lettering import FAMILY
from kitwright.pictures.palette import Palette

Point = tuple[float, float]
Value = str | float | None

_NOT_XML: Final = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_AS_WRITTEN: Final = frozenset({"viewBox"})


def number(value: float) -> str:
    """A number in at most two decimals, nothing trailing, never a negative zero.

    >>> number(3.14159), number(-0.001), number(120.0)
    ('3.14', '0', '120')
    """
    if not math.isfinite(value):
        raise FaultError(f"a drawing was given {value} for a number")
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@dataclass(frozen=True)
class Element:
    """One SVG element; children are elements, or text that is escaped when written."""

    tag: str
    attributes: tuple[tuple[str, str], ...]
    children: tuple[Element | str, ...]

    def parts(self) -> Iterator[str]:
        """The element as it is written, in pieces."""
        written = "".join(f' {name}="{_safe(text)}"' for name, text in self.attributes)
        if not self.children:
            yield f"<{self.tag}{written}/>"
            return
        yield f"<{self.tag}{written}>"
        for child in self.children:
            if isinstance(child, str):
                yield _safe(child)
            else:
                yield from child.parts()
        yield f"</{self.tag}>"

    def __str__(self) -> str:
        return "".join(self.parts())


def _safe(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text), {'"': "&quot;"})


def element(tag: str, *children: Element | str, **attributes: Value) -> Element:
    """An element; `stroke_width=2` becomes `stroke-width="2"`, a value of None is left out.

    >>> print(element("text", "a < b", x=1.5, font_size=14))
    <text x="1.5" font-size="14">a &lt; b</text>
    """
    written = tuple(
        (name if name in _AS_WRITTEN else name.replace("_", "-"), _attribute(value))
        for name, value in attributes.items()
        if value is not None
    )
    return Element(tag, written, children)


def _attribute(value: str | float) -> str:
    return value if isinstance(value, str) else number(value)


def line(a: Point, b: Point, **attributes: Value) -> Element:
    """A straight line from `a` to `b`."""
    return element("line", x1=a[0], y1=a[1], x2=b[0], y2=b[1], **attributes)


def circle(centre: Point, radius: float, **attributes: Value) -> Element:
    """A circle about `centre`."""
    return element("circle", cx=centre[0], cy=centre[1], r=radius, **attributes)


def path(runs: Iterable[Sequence[Point]], **attributes: Value) -> Element:
    """Open runs of straight lines in one element."""
    data = "".join(
        f"M{' '.join(number(v) for v in run[0])}"
        + "".join(f"L{number(x)} {number(y)}" for x, y in run[1:])
        for run in runs
    )
    return element("path", d=data, **attributes)


def polygon(points: Sequence[Point], **attributes: Value) -> Element:
    """A closed shape with straight sides."""
    written = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return element("polygon", points=written, **attributes)


def text(
    words: str,
    at: Point,
    size: float,
    fill: str,
    *,
    anchor: str = "start",
    semibold: bool = False,
) -> Element:
    """One line of text whose baseline starts, is centred or ends at `at`."""
    return element(
        "text",
        words,
        x=at[0],
        y=at[1],
        font_size=size,
        fill=fill,
        stroke="none",
        text_anchor=None if anchor == "start" else anchor,
        font_weight=600.0 if semibold else None,
    )


def _barb(length: float, width: float) -> float:
    return min(4.4 * width, 0.7 * length)


def arrow_width(length: float, *, width: float = 2.6) -> float:
    """The width over the barbs of an arrow of this length."""
    return 0.84 * _barb(length, width)


def arrow(tail: Point, head: Point, colour: str, *, width: float = 2.6) -> list[Element]:
    """A shaft from `tail` with a solid head whose tip is at `head`; a short one shrinks."""
    length = math.dist(tail, head)
    if length == 0:
        return []
    ux, uy = (head[0] - tail[0]) / length, (head[1] - tail[1]) / length
    barb = _barb(length, width)
    base = (head[0] - barb * ux, head[1] - barb * uy)
    half = arrow_width(length, width=width) / 2
    return [
        line(tail, base, stroke=colour, stroke_width=min(width, half)),
        polygon(
            [head, (base[0] - half * uy, base[1] + half * ux),
             (base[0] + half * uy, base[1] - half * ux)],
            fill=colour,
            stroke="none",
        ),
    ]  # fmt: skip


def hatching_of_disc(centre: Point, radius: float, *, gap: float) -> list[tuple[Point, Point]]:
    """Strokes at 45° that fill a disc, cut at its edge, one through the centre."""
    strokes = []
    steps = int(radius / gap)
    for step in range(-steps, steps + 1):
        away = step * gap
        half = math.sqrt(max(0.0, radius * radius - away * away))
        if half < 0.5:
            continue
        slant = math.sqrt(0.5)
        x, y = centre[0] + away * slant, centre[1] + away * slant
        strokes.append(((x - half * slant, y + half * slant), (x + half * slant, y - half * slant)))
    return strokes


def hatching_of_box(
    left: float, top: float, right: float, bottom: float, *, gap: float
) -> list[tuple[Point, Point]]:
    """Strokes at 45° that fill an upright box, cut at its edges."""
    strokes = []
    height = bottom - top
    count = int((right - left + height) / gap)
    for step in range(1, count + 1):
        start = left + step * gap  # where the stroke meets the level of the top edge
        upper = (min(start, right), top + max(0.0, start - right))
        lower = (max(start - height, left), bottom - max(0.0, left - (start - height)))
        if upper[0] > lower[0]:
            strokes.append((lower, upper))
    return strokes


def document(
    width: float,
    height: float,
    children: Iterable[Element],
    *,
    title: str,
    description: str,
    palette: Palette,
) -> str:
    """The whole drawing as text, on its ground, with its title and description for those
    who listen to it."""
    root = element(
        "svg",
        element("title", title),
        element("desc", description),
        element("rect", width=width, height=height, fill=palette.ground, stroke="none"),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        font_family=FAMILY,
        fill="none",
        stroke=palette.ink,
    )
    return str(root)
