"""What the three ways to a chance have in common, and the way that counts.

A radial law answers how often the offset lies within a radius. It is reached by inversion
(`radial_exact.py`), by counting (here) or by simulation (`radial_simulation.py`).
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np

from kitwright.calc.centring.circles import AT_LIMIT
from kitwright.calc.centring.contributors import SIGMAS_TO_EDGE, Contributor, Fixed, Line, Zone
from kitwright.calc.checks import Floats

_MOST_CENTRES: Final = 2**17
_MOST_POINTS: Final = 2**23  # where nothing else spreads


class RadialLaw(ABC):
    """How the offset is distributed about the crank axis."""

    method: Literal["exact", "simulated"]
    way: str
    """In words, for a person."""
    far_mm: float
    """No offset lies beyond it, but for a chance under 1e-15."""

    @abstractmethod
    def chance_within(self, radius_mm: float) -> float:
        """The chance of an offset of at most `radius_mm`."""

    @abstractmethod
    def error(self, radius_mm: float) -> float:
        """A bound on the error of an exact chance; the standard error of a simulated one."""

    def radius_mm(self, chance: float) -> float:
        """The least radius within which the offset lies with at least this chance.

        False position with the lagging end's value halved (Illinois), and a bisection whenever
        three steps have not halved the bracket, so that a jump cannot hold it up. Where the chance
        stands still at the one asked for, the search goes on to the nearer end.
        """
        low, high = 0.0, self.far_mm
        below, above = self.chance_within(low) - chance, self.chance_within(high) - chance
        if below >= 0 or high == 0:
            return low
        width, kept = high, 0
        for step in range(1, 400):
            if high - low <= 1e-13 * self.far_mm:
                break
            stalled = step % 3 == 0 and high - low > width / 2
            middle = (low + high) / 2 if stalled else high - above * (high - low) / (above - below)
            if step % 3 == 0:
                width = high - low
            found = self.chance_within(middle) - chance
            if abs(found) < 1e-14 and self.chance_within(middle * (1 - 1e-9)) < chance - 1e-14:
                return middle
            if found >= 0:
                high, above = middle, found
                below = below / 2 if kept > 0 else below
                kept = 1
            else:
                low, below = middle, found
                above = above / 2 if kept < 0 else above
                kept = -1
        return high


@dataclass(frozen=True, eq=False, kw_only=True)
class ByCounting(RadialLaw):
    """Equally likely centres, and at most one contributor with a closed form on top of them."""

    centres: Floats
    last: Contributor | None
    far_mm: float

    method = "exact"
    way = "counted over the vectors that can occur, with a closed form for the one that spreads"

    def chance_within(self, radius_mm: float) -> float:
        if self.last is None:
            inside = np.searchsorted(self._offsets, radius_mm * (1 + AT_LIMIT), side="right")
            return float(inside / len(self._offsets))
        none = np.empty((len(self.centres), 0))
        return float(np.mean(self.last.near(self.centres, radius_mm, none)))

    def error(self, radius_mm: float) -> float:
        return 1e-12

    def radius_mm(self, chance: float) -> float:
        if self.last is not None:
            return super().radius_mm(chance)
        count = math.ceil(chance * len(self._offsets) - 1e-9)
        return float(self._offsets[max(0, count - 1)])

    @cached_property
    def _offsets(self) -> Floats:
        return np.sort(np.hypot(self.centres[:, 0], self.centres[:, 1]))


def by_counting(contributors: Sequence[Contributor], far_mm: float) -> ByCounting | None:
    """The law by counting, or None where more than one contributor spreads."""
    only_points = all(each.points_mm is not None for each in contributors)
    most = _MOST_POINTS if only_points else _MOST_CENTRES
    centres, spread = sum_of_points(contributors, most)
    if centres is None or len(spread) > 1 or any(each.near_dimensions != 0 for each in spread):
        return None
    return ByCounting(centres=centres, last=spread[0] if spread else None, far_mm=far_mm)


def sum_of_points(
    contributors: Sequence[Contributor], most: int = _MOST_CENTRES
) -> tuple[Floats | None, list[Contributor]]:
    """Every sum of the vectors of those that take only some, shape (n, 2), and the others.

    None for the sums where they would be more than `most`.
    """
    centres: Floats | None = np.zeros((1, 2))
    others = []
    for each in contributors:
        points = each.points_mm
        if points is None:
            others.append(each)
        elif centres is not None and (len(centres) == 1 or len(centres) * len(points) <= most):
            centres = (centres[:, None, :] + points[None, :, :]).reshape(-1, 2)
        else:
            centres = None
    return centres, others


def merged(contributors: Sequence[Contributor]) -> list[Contributor]:
    """The same budget with all fixed vectors as one and all normal contributors as one."""
    fixed = np.zeros(2)
    covariance = np.zeros((2, 2))
    others: list[Contributor] = []
    for each in contributors:
        points = each.points_mm
        if each.normal:
            covariance = covariance + each.covariance_mm2
        elif points is not None and len(points) == 1:
            fixed = fixed + points[0]
        else:
            others.append(each)
    gathered: list[Contributor] = []
    if np.any(fixed):
        gathered.append(Fixed(fixed))
    if np.any(covariance):
        gathered.append(normal_of(covariance))
    return gathered + others


def normal_of(covariance_mm2: Floats) -> Zone | Line:
    """The normal contributor of this covariance: a line where it has no width."""
    variances, axes = np.linalg.eigh(covariance_mm2)
    if variances[0] <= 1e-13 * variances[1]:
        return Line(half_mm=SIGMAS_TO_EDGE * np.sqrt(variances[1]) * axes[:, 1])
    if variances[1] - variances[0] <= 1e-13 * variances[1]:
        return Zone(zone_mm=2 * SIGMAS_TO_EDGE * float(np.sqrt(variances[1])))
    return Zone(zone_mm=2 * SIGMAS_TO_EDGE, influence=axes * np.sqrt(variances))
