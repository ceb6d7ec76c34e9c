"""Which totals the shims at hand can make, each by the fewest pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.calc.checks import positive
from kitwright.errors import InputError

MOST_WAYS: Final = 20_000
_SAME_MM: Final = 1e-9


@dataclass(frozen=True, kw_only=True)
class Shim:
    """Shims of one thickness, and how many of them there are."""

    thickness_mm: float
    count: int

    def __post_init__(self) -> None:
        positive(self.thickness_mm, where="thickness")
        if self.count < 0:
            raise InputError("count", f"{self.count} is negative", "give zero or more")


@dataclass(frozen=True, kw_only=True)
class Pile:
    """Shims laid together."""

    total_mm: float
    pieces: int
    counts: tuple[int, ...]
    """Of each shim at hand, in their order."""


def piles(at_hand: Sequence[Shim]) -> list[Pile]:
    """Every total that the shims at hand can make, none first, each by the fewest pieces.

    Of piles with as many pieces for one total, that with more of the shims named first.

    Raises
    ------
    InputError
        More ways to lay them together than `MOST_WAYS`.

    Examples
    --------
    >>> at_hand = [Shim(thickness_mm=0.8, count=2), Shim(thickness_mm=1.6, count=1)]
    >>> [(round(pile.total_mm, 3), pile.counts) for pile in piles(at_hand)]
    [(0.0, (0, 0)), (0.8, (1, 0)), (1.6, (0, 1)), (2.4, (1, 1)), (3.2, (2, 1))]
    """
    found = {0: Pile(total_mm=0.0, pieces=0, counts=())}
    for shim in at_hand:
        if len(found) * (shim.count + 1) > MOST_WAYS:
            raise InputError(
                "shims", f"more than {MOST_WAYS} ways to lay them together", "list fewer of them"
            )
        laid: dict[int, Pile] = {}
        for pile in found.values():
            for taken in range(shim.count + 1):
                total = pile.total_mm + taken * shim.thickness_mm
                new = Pile(total_mm=total, pieces=pile.pieces + taken, counts=(*pile.counts, taken))
                known = laid.setdefault(round(total / _SAME_MM), new)
                if (new.pieces, [-n for n in new.counts]) < (
                    known.pieces,
                    [-n for n in known.counts],
                ):
                    laid[round(total / _SAME_MM)] = new
        found = laid
    return sorted(found.values(), key=lambda pile: pile.total_mm)
