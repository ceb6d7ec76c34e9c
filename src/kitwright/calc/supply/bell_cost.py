"""What one good bell costs landed: casting, freight, duty, machining by the batch, inspection,
what rejects cost, packing. Exact, in the smallest unit of one currency.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from kitwright.errors import InputError

NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True)
class BellCost:
    """One bell's prices in smallest units of money, exact; each for one casting but `set_up`,
    which is for a batch, and `packing`, which is for a bell that is good.

    `good_share` is the mean share of a batch that comes out good; a reject fetches `scrap`.

    Raises
    ------
    InputError
        A share that is none, a batch of nothing, or a price below zero.
    """

    price: Fraction
    freight: Fraction = NOTHING
    duty: Fraction = NOTHING
    set_up: Fraction = NOTHING
    batch: int = 1
    machining: Fraction = NOTHING
    inspection: Fraction = NOTHING
    good_share: Fraction = Fraction(1)
    scrap: Fraction = NOTHING
    packing: Fraction = NOTHING

    def __post_init__(self) -> None:
        if self.batch < 1:
            raise InputError("batch", f"{self.batch}", "give one casting or more")
        if not 0 < self.good_share <= 1:
            raise InputError("yield", f"{float(self.good_share):g}", "give above 0, at most 1")
        prices = (self.price, self.freight, self.duty, self.set_up, self.machining)
        if min(*prices, self.inspection, self.scrap, self.packing) < 0:
            raise InputError("price", "below zero", "give zero or more")

    @property
    def spent(self) -> Fraction:
        """On one casting by the time it is judged, good or not."""
        landed = self.price + self.freight + self.duty
        return landed + self.set_up / self.batch + self.machining + self.inspection

    @property
    def rejects(self) -> Fraction:
        """What the rejects cost each good bell: of many castings a share y is good, so each good
        bell pays for 1/y - 1 rejects, less what they fetch."""
        return (1 / self.good_share - 1) * (self.spent - self.scrap)

    def lines(self) -> list[tuple[str, Fraction]]:
        """What makes the cost of a good bell, each exactly; what costs nothing is left out."""
        listed = [
            ("casting, or as bought", self.price),
            ("freight", self.freight),
            ("duty", self.duty),
            ("set-up, its share of the batch", self.set_up / self.batch),
            ("machining", self.machining),
            ("inspection", self.inspection),
            ("rejects", self.rejects),
            ("packing", self.packing),
        ]
        return [(name, cost) for name, cost in listed if cost]
