"""Marks that say a verdict by their shape: filled within, open outside, hatched undecided."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

from kitwright.pictures.drawing import (
    Element,
    Point,
    circle,
    element,
    hatching_of_disc,
    path,
    polygon,
)
from kitwright.pictures.palette import Palette

Verdict = Literal["within", "outside", "too close to call"]

VERDICTS: Final[Sequence[Verdict]] = ("within", "too close to call", "outside")
"""In the order in which marks are drawn: what needs a person's eye comes last, on top."""

_DASH: Final = 6.0


def disc(
    at: Point, radius: float, verdict: Verdict | None, palette: Palette, title: str = ""
) -> Element:
    """A round mark; without a verdict it is filled. `title` is shown on demand."""
    named = [element("title", title)] if title else []
    if verdict in (None, "within"):
        return element("g", *named, circle(at, radius, fill=palette.ink, stroke="none"))
    width = min(1.8, 0.36 * radius)
    rim = circle(at, radius - width / 2, fill=palette.ground, stroke_width=width)
    if verdict == "outside":
        return element("g", *named, rim)
    strokes = hatching_of_disc(at, radius - width / 2, gap=max(1.9, radius / 2.4))
    return element("g", *named, rim, path(strokes, stroke_width=max(0.7, 0.6 * width)))


def pointer(
    at: Point,
    radius: float,
    clock_deg: float,
    verdict: Verdict | None,
    palette: Palette,
    title: str,
) -> Element:
    """A mark that lies beyond the picture: a triangle at the rim that points to it."""
    angle = math.radians(clock_deg)
    ux, uy = math.sin(angle), -math.cos(angle)
    corners = [
        (at[0] + radius * ux, at[1] + radius * uy),
        (at[0] - radius * (0.6 * ux - 0.8 * uy), at[1] - radius * (0.6 * uy + 0.8 * ux)),
        (at[0] - radius * (0.6 * ux + 0.8 * uy), at[1] - radius * (0.6 * uy - 0.8 * ux)),
    ]
    named = [element("title", title)] if title else []
    if verdict in (None, "within"):
        return element("g", *named, polygon(corners, fill=palette.ink, stroke="none"))
    shape = polygon(corners, fill=palette.ground, stroke_width=1.4, stroke_linejoin="round")
    if verdict == "outside":
        return element("g", *named, shape)
    strokes = hatching_of_disc(at, 0.5 * radius, gap=2.2)
    return element("g", *named, shape, path(strokes, stroke_width=0.9))


def level_line(y: float, left: float, right: float, palette: Palette) -> Element:
    """A level that is wanted, dashed across the picture."""
    count = int((right - left) // (2 * _DASH))
    starts = [left + 2 * _DASH * place for place in range(count)]
    runs = [[(x, y), (x + _DASH, y)] for x in starts]
    return path(runs, stroke=palette.soft, stroke_width=1)


def level_key(at: Point, *, palette: Palette) -> list[Element]:
    """The same in a legend."""
    x, y = at
    ends = [[(x - 7, y), (x - 2, y)], [(x + 2, y), (x + 7, y)]]
    return [path(ends, stroke=palette.soft, stroke_width=1)]
