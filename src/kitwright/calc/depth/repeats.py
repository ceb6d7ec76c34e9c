"""A distance from readings taken again: their mean, and how well it is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import finite, not_negative
from kitwright.errors import InputError

GRADUATION_MM: Final = 0.01
"""What a gauge is taken to show at its finest, where repeats agree and nothing is said."""
LONE_READING_U95_MM: Final = 0.1
"""Expanded uncertainty of a distance that was read once: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Distance:
    """A distance, mm, and its standard uncertainty."""

    mm: float
    u_mm: float
    count: int
    """How many readings it is the mean of."""


def combined(
    readings_mm: Sequence[float], *, reading_u95_mm: float | None = None, where: str = "readings"
) -> Distance:
    """The mean of repeated readings; its uncertainty from their spread (JCGM 100:2008, 4.2).

    The standard deviation of one reading is that of the repeats (n - 1), but never less than half
    of `reading_u95_mm`; without one, than a gauge's graduation over root 12. A lone reading has
    no spread: it has `reading_u95_mm`, or what is common for one read by hand.

    Raises
    ------
    InputError
        No reading, one that is not finite, a negative uncertainty.

    Examples
    --------
    >>> found = combined([69.0, 69.2])
    >>> round(found.mm, 3), round(found.u_mm, 3)
    (69.1, 0.1)
    """
    if not len(readings_mm):
        raise InputError(where, "none given", "give one or more")
    for reading in readings_mm:
        finite(reading, where=where)
    count = len(readings_mm)
    if reading_u95_mm is not None:
        least = not_negative(reading_u95_mm, where="reading_u95") / 2
    else:
        least = GRADUATION_MM / math.sqrt(12) if count > 1 else LONE_READING_U95_MM / 2
    spread = float(np.std(readings_mm, ddof=1)) if count > 1 else 0.0
    return Distance(
        mm=math.fsum(readings_mm) / count,
        u_mm=max(spread, least) / math.sqrt(count),
        count=count,
    )
