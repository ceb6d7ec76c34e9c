"""Links of a chain of lengths: their limits, and how they spread between them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.calc.checks import finite, not_negative, positive
from kitwright.errors import InputError

Spread = Literal["normal", "even", "triangle"]

SIGMAS_TO_LIMIT: Final = 3.0
"""A normal link whose process is not known reaches its limits at this many sigmas."""
_VARIANCE_OF_HALF: Final[dict[Spread, float]] = {"even": 1 / 3, "triangle": 1 / 6}


@dataclass(frozen=True, kw_only=True)
class Link:
    """One length of a chain, in any one length unit.

    `plus` and `minus` are how far its limits lie above and below `nominal`, both without a sign.
    """

    nominal: float
    plus: float
    minus: float
    spread: Spread = "normal"
    cpk: float | None = None
    """Of the process that makes a normal link: mean to the nearer limit, over 3 sigma."""
    process_mean: float | None = None
    """Mean of the process that makes a normal link; the middle of the limits if not given."""

    def __post_init__(self) -> None:
        finite(self.nominal, where="nominal")
        not_negative(self.plus, where="plus")
        not_negative(self.minus, where="minus")
        if self.spread not in ("normal", *_VARIANCE_OF_HALF):
            expected = "write normal, even or triangle"
            raise InputError("spread", f'"{self.spread}" is not known', expected)
        for where, given in (("cpk", self.cpk), ("mean", self.process_mean)):
            if given is not None and self.spread != "normal":
                said = f"given for a spread that is {self.spread}"
                raise InputError(where, said, "a normal link takes it; leave it out")
        if self.cpk is not None:
            positive(self.cpk, where="cpk")
        if self.process_mean is not None:
            finite(self.process_mean, where="mean")
            if not self.low <= self.process_mean <= self.high:
                raise InputError(
                    "mean", "outside the link's limits", "check it; a process must lie inside them"
                )
        if self.cpk is not None and self._to_nearer_limit <= 0:
            raise InputError(
                "cpk", "the mean lies on a limit", "a cpk needs it inside, and limits apart"
            )

    @property
    def low(self) -> float:
        return self.nominal - self.minus

    @property
    def high(self) -> float:
        return self.nominal + self.plus

    @property
    def middle(self) -> float:
        """Half way between the limits."""
        return self.nominal + (self.plus - self.minus) / 2

    @property
    def half(self) -> float:
        """Half the distance between the limits."""
        return (self.plus + self.minus) / 2

    @property
    def mean(self) -> float:
        return self.middle if self.process_mean is None else self.process_mean

    @property
    def normal_sigma(self) -> float:
        """Standard deviation of a normal link; 0 for the others, which have none."""
        if self.spread != "normal":
            return 0.0
        if self.cpk is None:
            return self.half / SIGMAS_TO_LIMIT
        return self._to_nearer_limit / (3 * self.cpk)

    @property
    def _to_nearer_limit(self) -> float:
        if self.process_mean is None:
            return self.half
        return min(self.process_mean - self.low, self.high - self.process_mean)

    @property
    def sigma(self) -> float:
        """Standard deviation, whatever the spread."""
        if self.spread == "normal":
            return self.normal_sigma
        return self.half * math.sqrt(_VARIANCE_OF_HALF[self.spread])

    def even_halves(self) -> Iterator[float]:
        """Half-widths of the even spreads that this link is the sum of.

        A triangle is the sum of two even spreads of half its width.
        """
        if self.half > 0 and self.spread == "even":
            yield self.half
        elif self.half > 0 and self.spread == "triangle":
            yield self.half / 2
            yield self.half / 2
