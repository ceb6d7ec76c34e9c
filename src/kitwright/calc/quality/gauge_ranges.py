"""Gauge studies by averages and ranges: the method for pencil and paper, beside the variances.

References
----------
.. [1] AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III B: average and range method.
.. [2] Duncan, Quality Control and Industrial Statistics, 5th ed. (1986), table D3: the mean range
   of few subgroups, d2*.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.quality.gauge_study import Spread
from kitwright.calc.quality.spread import range_constants
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class RangeStudy:
    """What averages and ranges show."""

    spread: Spread
    """Its `interaction` is None: ranges cannot show it."""
    ranges_by_person: tuple[float, ...]
    """Mean range of each person's repeats."""
    mean_range: float
    persons_range: float
    """Highest less lowest of the persons' means; zero for one person."""
    parts_range: float
    """Highest less lowest of the parts' means."""
    range_limit: float
    """Upper three-sigma limit of a range of repeats."""
    beyond: tuple[tuple[int, int], ...]
    """Places (part, person) of the ranges above it."""


def d2_star(values: int, subgroups: int) -> float:
    """Root mean square of the mean range of `subgroups` of so many standard normal values [2]_.

    >>> round(d2_star(3, 1), 4), round(d2_star(10, 1), 3)
    (1.9115, 3.179)
    """
    d2, d3 = range_constants(values)
    return sqrt(d2**2 + d3**2 / subgroups)


def by_ranges(table: Floats) -> RangeStudy:
    """Analyse a full study by averages and ranges [1]_.

    Parameters
    ----------
    table : array, shape (parts, persons, trials); parts >= 2, persons >= 1, trials >= 2

    Raises
    ------
    InputError
        Too few of them.
    """
    parts, persons, trials = table.shape
    if parts < 2 or trials < 2:
        raise InputError("readings", f"{parts} parts, {trials} trials", "give two of each")
    deviations = table - table.mean()
    ranges = np.ptp(table, axis=2)
    mean_range = float(ranges.mean())
    d2, d3 = range_constants(trials)
    repeatability = mean_range / d2
    persons_range = float(np.ptp(deviations.mean(axis=(0, 2))))
    parts_range = float(np.ptp(deviations.mean(axis=(1, 2))))
    person = None
    if persons > 1:
        between = (persons_range / d2_star(persons, 1)) ** 2
        person = sqrt(max(0.0, between - repeatability**2 / (parts * trials)))
    limit = mean_range * (1 + 3 * d3 / d2)
    slack = 1e-12 * float(np.abs(table).max())
    return RangeStudy(
        spread=Spread(
            repeatability=repeatability,
            person=person,
            interaction=None,
            part=parts_range / d2_star(parts, 1),
        ),
        ranges_by_person=tuple(ranges.mean(axis=0).tolist()),
        mean_range=mean_range,
        persons_range=persons_range,
        parts_range=parts_range,
        range_limit=limit,
        beyond=tuple((int(i), int(j)) for i, j in np.argwhere(ranges > limit + slack)),
    )
