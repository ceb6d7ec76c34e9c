"""A face's bolts with the order in which they are tightened, seen from behind the engine."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.calc.centring.crosswise import crosswise
from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, circle, document, path, text
from kitwright.pictures.foot import Key, foot
from kitwright.pictures.lettering import ASCENT, DESCENT
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_HEIGHT: Final = 300.0
_BOLT: Final = 21.0
_NUMERAL: Final = 24.0
_LEAST: Final = 9.0
_DOWEL: Final = 7.0
_MARGIN: Final = 30.0


@dataclass(frozen=True, kw_only=True)
class Bolt:
    """A hole of a face: x right, y up, from the crank axis, in mm. A dowel is not tightened."""

    x_mm: float
    y_mm: float
    dowel: bool = False


def bolt_order(holes: Sequence[Bolt], *, title: str, palette: Palette = PAGE) -> str:
    """The holes as SVG text, each bolt with its number in the order of tightening.

    Raises
    ------
    InputError
        No bolt, or a place that is not finite.
    """
    bolts = [hole for hole in holes if not hole.dowel]
    if not bolts:
        raise InputError("holes", "no bolt among them", "write the pattern down first")
    order = crosswise([(bolt.x_mm, bolt.y_mm) for bolt in bolts])
    everything = [(0.0, 0.0), *((hole.x_mm, hole.y_mm) for hole in holes)]
    left, right = (side(x for x, _ in everything) for side in (min, max))
    low, high = (side(y for _, y in everything) for side in (min, max))
    per_mm = min(
        (WIDTH - 2 * _MARGIN) / max(right - left, 1e-6),
        (_HEIGHT - 2 * _MARGIN) / max(high - low, 1e-6),
    )
    tall = (high - low) * per_mm + 2 * _MARGIN

    def at(x_mm: float, y_mm: float) -> Point:
        return (
            WIDTH / 2 + (x_mm - (left + right) / 2) * per_mm,
            tall / 2 - (y_mm - (low + high) / 2) * per_mm,
        )

    places = [at(bolt.x_mm, bolt.y_mm) for bolt in bolts]
    nearest = min((math.dist(*pair) for pair in itertools.combinations(places, 2)), default=_BOLT)
    radius = max(min(_BOLT, 0.46 * nearest), _LEAST)
    size = _NUMERAL * radius / _BOLT
    x, y = at(0.0, 0.0)
    drawn: list[Element] = [
        path([((x - 9, y), (x + 9, y)), ((x, y - 9), (x, y + 9))], stroke_width=1),
        *(
            circle(at(hole.x_mm, hole.y_mm), _DOWEL, fill=palette.ink, stroke="none")
            for hole in holes
            if hole.dowel
        ),
    ]
    for number, index in enumerate(order, 1):
        place = places[index]
        baseline = (place[0], place[1] + (ASCENT - DESCENT) * size / 2)
        drawn += [
            circle(place, radius, fill=palette.ground, stroke_width=1.8),
            text(str(number), baseline, size, palette.ink, anchor="middle", semibold=True),
        ]
    keys = [Key(lambda at: [path([((at[0] - 6, at[1]), (at[0] + 6, at[1]))])], "crank axis")]
    if any(hole.dowel for hole in holes):
        keys.append(Key(lambda at: [circle(at, 5, fill=palette.ink, stroke="none")], "dowel"))
    below, bottom = foot(
        tall, WIDTH, palette, note="", keys=keys, seen="seen from behind the engine", bar=None
    )
    told = ", ".join(
        f"{number} at {bolts[index].x_mm:.0f}, {bolts[index].y_mm:.0f} mm"
        for number, index in enumerate(order, 1)
    )
    return document(
        WIDTH,
        bottom,
        [*drawn, *below],
        title=title,
        description=f"Bolts in the order of tightening, from the crank axis: {told}.",
        palette=palette,
    )
