"""Which of several is best, by figures that count by their ratios.

The weighted product: one design beats another where the product of the ratios of their figures,
each to the power of its weight, is above one. It asks for no common unit, and a design that is
taken from the list or added to it changes nothing between the others.

References
----------
.. [1] P. W. Bridgman, Dimensional Analysis (1922); D. W. Miller, M. K. Starr, Executive Decisions
   and Operations Research (1969): from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from kitwright.calc.checks import Floats, not_negative, positive
from kitwright.errors import InputError

_SAME: Final = 1e-12


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One figure of every design, all above zero, what it weighs, and which way is better."""

    name: str
    weight: float
    better: Literal["less", "more"]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        not_negative(self.weight, where=f"{self.name} weight")
        for value in self.values:
            positive(value, where=self.name)

    @property
    def gains(self) -> Floats:
        """ln of how good each is, up to one constant: the more the better."""
        logs: Floats = np.log(np.asarray(self.values, dtype=float))
        return -logs if self.better == "less" else logs


@dataclass(frozen=True, kw_only=True)
class Turn:
    """Where another weight of one figure, the others as they are, changes who comes first."""

    figure: str
    weight: float
    below: float | None
    """The weight below which another comes first; None: no weight does it."""
    below_first: int | None
    above: float | None
    above_first: int | None


@dataclass(frozen=True, kw_only=True)
class Ranking:
    """Designs in order, best first.

    `scores` are 1 for a design that is best in every figure that counts; `times_best` (designs,
    figures) is by how many times each figure falls short of the best; `room` is by what part every
    weight may move at once, each in its worst direction, before another can come first: 1 where no
    weights at all put another first, None where there is no other.
    """

    order: tuple[int, ...]
    scores: Floats
    times_best: Floats
    shares: Floats
    room: float | None
    turns: tuple[Turn, ...]


def rank(criteria: Sequence[Criterion]) -> Ranking:
    """Order the designs; of equals the first named comes first.

    Raises
    ------
    InputError
        No figure, no design, figures of unequal length, or weights that are all zero.
    """
    counts = {len(each.values) for each in criteria}
    if len(counts) != 1 or not counts - {0}:
        raise InputError("figures", f"for {sorted(counts)} designs", "give one for each design")
    weights = np.array([each.weight for each in criteria])
    if not weights.sum() > 0:
        raise InputError("weights", "all are zero", "give one above zero")
    shares = weights / weights.sum()
    gains = np.column_stack([each.gains for each in criteria])
    short = gains.max(axis=0) - gains
    totals = short @ shares
    order = tuple(int(i) for i in np.lexsort((np.arange(len(totals)), np.round(totals, 12))))
    first, others = order[0], order[1:]
    ahead = gains[first] - gains[list(others)]  # (others, figures)
    return Ranking(
        order=order,
        scores=np.exp(-totals),
        times_best=np.exp(short),
        shares=shares,
        room=_room(ahead, shares),
        turns=tuple(
            _turn(each, column, ahead, weights, others) for column, each in enumerate(criteria)
        ),
    )


def _room(ahead: Floats, shares: Floats) -> float | None:
    """The least p at which sum w x = p sum w |x| for some rival."""
    if not len(ahead):
        return None
    lead, whole = ahead @ shares, np.abs(ahead) @ shares
    parts = [
        1.0 if size <= _SAME else max(0.0, float(part / size))
        for part, size in zip(lead, whole, strict=True)
    ]
    return min(parts)


def _turn(
    each: Criterion, column: int, ahead: Floats, weights: Floats, others: Sequence[int]
) -> Turn:
    """sum w x is linear in one weight: where it is zero, the rival draws level."""
    lead = ahead @ weights
    below: tuple[float, int | None] = (-math.inf, None)
    above: tuple[float, int | None] = (math.inf, None)
    for rival, margin, x in zip(others, lead, ahead[:, column], strict=True):
        if abs(x) <= _SAME:
            continue
        level = float(weights[column] - margin / x)
        if x > 0 and level > max(below[0], 0.0):
            below = level, rival
        if x < 0 and level < above[0]:
            above = level, rival
    return Turn(
        figure=each.name,
        weight=each.weight,
        below=None if below[1] is None else below[0],
        below_first=below[1],
        above=None if above[1] is None else above[0],
        above_first=above[1],
    )
