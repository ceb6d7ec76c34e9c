"""What many simulated years come to: means with their errors, and bands day by day."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.year import Counts, Policy, ShopNow, Years, simulate

BAND: Final = (5.0, 50.0, 95.0)


@dataclass(frozen=True, kw_only=True)
class Told:
    """Sums over the runs of one or more blocks under one policy, small enough to send about.

    `kits`, `at_once`, `waited` and the rest are sums; `squares` holds the sums of squares and of
    the product that the error of the share served at once needs.
    """

    runs: int
    kits: int
    at_once: int
    waited: int
    days_short: int
    loose: int
    loose_asked: int
    batches: int
    crates: int
    castings: float
    peak: float
    squares: tuple[int, int, int]
    """Of kits, of kits served at once, and of their product."""

    def __add__(self, other: Told) -> Told:
        sums = {
            name: getattr(self, name) + getattr(other, name)
            for name in Told.__dataclass_fields__
            if name != "squares"
        }
        squares = tuple(a + b for a, b in zip(self.squares, other.squares, strict=True))
        return Told(**sums, squares=(squares[0], squares[1], squares[2]))

    @property
    def share_at_once(self) -> float:
        """Kits that found a bell on the day they were asked for, of all."""
        return self.at_once / self.kits if self.kits else 1.0

    @property
    def share_error(self) -> float:
        """Standard error of that share, by the runs (a ratio of means; Cochran 1977, 2.11)."""
        if self.runs < 2 or not self.kits:
            return 0.0
        share = self.share_at_once
        kits2, served2, product = self.squares
        spread = (served2 - 2 * share * product + share**2 * kits2) / (self.runs - 1)
        return sqrt(max(spread, 0.0) / self.runs) / (self.kits / self.runs)

    def mean(self, name: str) -> float:
        """A sum by the run."""
        return float(getattr(self, name)) / self.runs


def told(years: Years) -> Told:
    """The sums of one block."""
    kits, served = years.asked.astype(np.int64), years.at_once.astype(np.int64)
    return Told(
        runs=len(kits),
        kits=int(kits.sum()),
        at_once=int(served.sum()),
        waited=int(years.waited.sum()),
        days_short=int(years.days_short.sum()),
        loose=int(years.loose.sum()),
        loose_asked=int(years.loose_asked.sum()),
        batches=int(years.batches.sum()),
        crates=int(years.crates.sum()),
        castings=float(years.castings_mean.sum()),
        peak=float(years.castings_peak.sum()),
        squares=(int((kits**2).sum()), int((served**2).sum()), int((kits * served).sum())),
    )


def tried(job: tuple[ShopNow, Policy, int, int, int]) -> Told:
    """One block of one policy: shop, policy, seed, block, runs. What a worker is sent."""
    shop, policy, seed, block, runs = job
    return told(simulate(shop, policy, seed=seed, block=block, runs=runs))


def bands(by_day: Counts) -> Floats:
    """The 5th, 50th and 95th percentile of the runs, (3, days), of what is (runs, days)."""
    return np.asarray(np.percentile(by_day, BAND, axis=0))
