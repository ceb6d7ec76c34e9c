"""The order in which the bolts of a face are drawn up: crosswise, each far from the one before."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import finite_rows


def crosswise(bolts_mm: ArrayLike) -> tuple[int, ...]:
    """The bolts' rows in the order of tightening.

    From the bolt nearest to 12 o'clock to the one whose direction from the middle lies most nearly
    opposite; then to the one farthest from all that are tight, and to its opposite; and so on. Of
    bolts that are equally far, the one more nearly opposite to the last comes first, then the one
    that comes first clockwise. On an even circle this is the star that is common practice (no
    source): 1, 4, 2, 5, 3, 6 of six, 1, 3, 5, 2, 4 of five.

    Parameters
    ----------
    bolts_mm : array_like, shape (n, 2), n >= 1
        x right, y up, seen from behind.

    Raises
    ------
    InputError
        Not such an array, or not finite.

    Examples
    --------
    >>> crosswise([[1, 1], [1, -1], [-1, -1], [-1, 1]])
    (0, 2, 1, 3)
    """
    points = finite_rows(bolts_mm, columns=2, least=1, where="bolts_mm")
    away = points - points.mean(axis=0)
    clock = np.degrees(np.arctan2(away[:, 0], away[:, 1])) % 360
    left = set(range(len(points)))
    first = min(left, key=lambda bolt: (_apart(clock[bolt], 0.0), clock[bolt]))
    order = [first]
    left.remove(first)
    while left:
        last = order[-1]

        def choice(bolt: int, last: int = last) -> tuple[float, ...]:
            off = round(_apart(clock[bolt], clock[last] + 180), 6)
            near = round(min(_apart(clock[bolt], clock[tight]) for tight in order), 6)
            after = float((clock[bolt] - clock[first]) % 360)
            return (off, -near, after) if len(order) % 2 else (-near, off, after)

        best = min(left, key=choice)
        order.append(best)
        left.remove(best)
    return tuple(order)


def _apart(a_deg: float, b_deg: float) -> float:
    """The angle between two directions, 0 to 180."""
    turned = math.fmod(abs(a_deg - b_deg), 360.0)
    return min(turned, 360.0 - turned)
