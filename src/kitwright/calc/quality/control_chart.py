"""Control charts: individuals with moving ranges, means with ranges, means with sigmas.

The first points, phase 1, set centre and limits; what follows, phase 2, is judged by them. Limits
stand three sigma of a point from the centre, sigma being estimated within subgroups or from one
value to the next, never from all values.

References
----------
.. [1] ISO 7870-2:2013, Control charts: Shewhart control charts.
.. [2] Shewhart, Economic Control of Quality of Manufactured Product (1931).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats
from kitwright.calc.quality.capability import check_varying
from kitwright.calc.quality.run_rules import SETS, Rule, Signal, signals
from kitwright.calc.quality.spread import (
    Sigma,
    c4,
    from_moving_ranges,
    from_ranges,
    from_sigmas,
    range_constants,
)
from kitwright.errors import InputError

Kind = Literal["individuals", "mean-range", "mean-sigma"]

LEAST_POINTS: Final = 2
"""Points that must set the limits; twenty-five are wanted (common practice)."""


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One chart: what is plotted, its centre and limits, what is seen."""

    points: Floats
    first: int
    """Number of the first point: a moving range belongs to the later of its two values."""
    centre: float
    low: float
    high: float
    signals: Sequence[Signal]


@dataclass(frozen=True, kw_only=True)
class ControlChart(Chart):
    """The chart of location, and beside it that of spread."""

    dispersion: Chart
    sigma: Sigma
    """Of single values, within."""
    phase_1: int
    """How many of the points set the limits."""


def individuals(
    values: Floats, *, phase_1: int | None = None, rules: Sequence[Rule] | None = None
) -> ControlChart:
    """The chart of single values in the order made, with moving ranges of two.

    Parameters
    ----------
    values : shape (n,), finite
    phase_1 : how many first values set the limits; all of them by default
    rules : the run rules looked for; those of Western Electric by default

    Raises
    ------
    InputError
        Too few values, values that do not vary in phase 1, a phase 1 longer than the chart.

    Notes
    -----
    Runs are counted within a phase, not across. On the chart of spread only a point beyond the
    limits signals: moving ranges follow from one another and no range is normal.

    Examples
    --------
    >>> chart = individuals(np.array([10.0, 12, 11, 13, 12, 10, 11, 12, 30]), phase_1=8)
    >>> [signal.where for signal in chart.signals]
    [9]
    """
    base = _phase_1(len(values), phase_1, "values")
    check_varying(values[:base], "values")
    moving = np.abs(np.diff(values))
    sigma = from_moving_ranges(values[:base])
    d2, d3 = range_constants(2)
    spread = _dispersion(moving, 2, base - 1, sigma.value * d2, sigma.value * d3, base)
    return _chart(values, float(values[:base].mean()), sigma.value, sigma, spread, base, rules)


def of_subgroups(
    subgroups: ArrayLike,
    *,
    kind: Literal["mean-range", "mean-sigma"],
    phase_1: int | None = None,
    rules: Sequence[Rule] | None = None,
) -> ControlChart:
    """The chart of subgroups' means, with their ranges or their standard deviations.

    Parameters
    ----------
    subgroups : shape (k, n), n >= 2; rows in the order made
    kind, phase_1, rules : as in `individuals`; phase 1 counts subgroups

    Raises
    ------
    InputError
        As in `individuals`; subgroups of one, or in none of which anything varies.
    """
    table = np.asarray(subgroups, dtype=float)
    size = table.shape[1]
    if size < 2:
        raise InputError(
            "subgroups", "a subgroup of one has no spread", "chart the values as individuals"
        )
    base = _phase_1(len(table), phase_1, "subgroups")
    first = table[:base]
    check_varying((first - first.mean(axis=1, keepdims=True)).ravel(), "subgroups")
    if kind == "mean-range":
        d2, d3 = range_constants(size)
        sigma, plotted = from_ranges(first), np.ptp(table, axis=1)
        centre, deviation = sigma.value * d2, sigma.value * d3
    else:
        unbias = c4(size)
        sigma, plotted = from_sigmas(first), table.std(axis=1, ddof=1)
        centre, deviation = sigma.value * unbias, sigma.value * sqrt(1 - unbias**2)
    spread = _dispersion(plotted, 1, base, centre, deviation, base)
    means = table.mean(axis=1)
    middle = float(first.mean())
    return _chart(means, middle, sigma.value / sqrt(size), sigma, spread, base, rules)


def _phase_1(count: int, asked: int | None, where: str) -> int:
    if count < LEAST_POINTS:
        raise InputError(where, f"{count} given", f"a chart needs {LEAST_POINTS} or more")
    if asked is None:
        return count
    if not LEAST_POINTS <= asked <= count:
        expected = f"give {LEAST_POINTS} to {count}, the number of points"
        raise InputError("phase_1", f"{asked} is out of range", expected)
    return asked


def _dispersion(
    points: Floats, first: int, in_base: int, centre: float, deviation: float, base: int
) -> Chart:
    low, high = max(0.0, centre - 3 * deviation), centre + 3 * deviation
    scores = (points - centre) / deviation
    found = [
        *signals(scores[:in_base], ["beyond limits"], first=first),
        *signals(scores[in_base:], ["beyond limits"], first=base + 1),
    ]
    return Chart(points=points, first=first, centre=centre, low=low, high=high, signals=found)


def _chart(
    points: Floats,
    centre: float,
    deviation: float,
    sigma: Sigma,
    spread: Chart,
    base: int,
    rules: Sequence[Rule] | None,
) -> ControlChart:
    wanted = SETS["Western Electric 1956"] if rules is None else rules
    scores = (points - centre) / deviation
    return ControlChart(
        points=points,
        first=1,
        centre=centre,
        low=centre - 3 * deviation,
        high=centre + 3 * deviation,
        signals=[
            *signals(scores[:base], wanted),
            *signals(scores[base:], wanted, first=base + 1),
        ],
        dispersion=spread,
        sigma=sigma,
        phase_1=base,
    )
