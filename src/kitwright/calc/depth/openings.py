"""Openings in a flat wall: which upright rectangles lie inside an outline. Any one length unit."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats, finite_rows
from kitwright.errors import InputError

Interval = tuple[float, float]

MOST_CORNERS: Final = 400
_TOUCHING: Final = 1e-9


class Outline:
    """A closed outline of straight sides that do not cross; it need not be convex.

    Parameters
    ----------
    corners : array_like, shape (n, 2), n >= 3, in order round the outline, either way

    Raises
    ------
    InputError
        Too few corners or too many, no area, sides that cross.
    """

    def __init__(self, corners: ArrayLike) -> None:
        self.corners = finite_rows(corners, columns=2, least=3, where="outline")
        if len(self.corners) > MOST_CORNERS:
            expected = f"give {MOST_CORNERS} at most"
            raise InputError("outline", f"{len(self.corners)} corners", expected)
        nexts = np.roll(self.corners, -1, axis=0)
        twice = self.corners[:, 0] * nexts[:, 1] - nexts[:, 0] * self.corners[:, 1]
        self.area = abs(float(twice.sum())) / 2
        self._sides = np.stack([self.corners, nexts], axis=1)
        if self.area <= _TOUCHING * float(np.ptp(self.corners, axis=0).max()) ** 2:
            raise InputError("outline", "it has no area", "give its corners in order")
        if _crosses(self._sides):
            raise InputError("outline", "its sides cross", "give its corners in order")

    def turned(self) -> Outline:
        """The same with its axes exchanged."""
        return Outline(self.corners[:, ::-1])

    def free(self, low: float, high: float) -> list[Interval]:
        """The stretches of x over which the whole strip y = low to high lies inside.

        An upright rectangle as high as the strip is inside just when it lies over one of them.
        A strip without height is a line.
        """
        edges = sorted(self._shadows(low, high))
        if not edges:
            return []
        found: list[Interval] = []
        reached = edges[0][1]
        middle = (low + high) / 2
        for start, end in edges[1:]:
            if start > reached and self.holds((reached + start) / 2, middle):
                found.append((reached, start))
            reached = max(reached, end)
        return found

    def _shadows(self, low: float, high: float) -> Iterator[Interval]:
        """Where in x each side runs through the strip; a side along its edge does not."""
        thin = high - low <= 2 * _TOUCHING
        inner_low, inner_high = (low, high) if thin else (low + _TOUCHING, high - _TOUCHING)
        for (x1, y1), (x2, y2) in self._sides.tolist():
            if max(y1, y2) < inner_low or min(y1, y2) > inner_high:
                continue
            if y1 == y2:
                yield min(x1, x2), max(x1, x2)
                continue
            cut = [
                x1 + (x2 - x1) * (min(max(y, min(y1, y2)), max(y1, y2)) - y1) / (y2 - y1)
                for y in (inner_low, inner_high)
            ]
            yield min(cut), max(cut)

    def holds(self, x: float, y: float) -> bool:
        """Whether a point that is not on the outline lies inside it."""
        inside = False
        for (x1, y1), (x2, y2) in self._sides.tolist():
            if (y1 > y) != (y2 > y) and x < x1 + (x2 - x1) * (y - y1) / (y2 - y1):
                inside = not inside
        return inside


def _crosses(sides: Floats) -> bool:
    """Whether two sides that are not neighbours meet."""
    count = len(sides)
    for i, j in itertools.combinations(range(count), 2):
        if j - i in (1, count - 1):
            continue
        (a, b), (c, d) = sides[i], sides[j]
        turns = [_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)]
        if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
            return True
    return False


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
