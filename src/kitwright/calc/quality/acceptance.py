"""Acceptance by samples: how often a plan accepts parts of a quality, and what it lets through.

A plan takes n parts and accepts when at most c of them are bad. The bad ones in the sample are
hypergeometric where the parts are one lot, binomial where they are a stream without end. Each
chance comes as a pair, accepted and refused, the lesser one summed on its own side.

References
----------
.. [1] Johnson, Kemp, Kotz, Univariate Discrete Distributions (2005), ch. 3 and 6.
.. [2] Schilling and Neubauer, Acceptance Sampling in Quality Control (2009), ch. 5 and 11: OC, AOQ
   and ATI curves of single plans.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, comb, floor, log
from typing import Final

import numpy as np
from scipy.special import betainc, betaincc, betainccinv

from kitwright.errors import FaultError, InputError

LARGEST_LOT: Final = 100_000
_NEAR: Final = 1e-9  # a chance this near its bound (relative) is compared in whole numbers


@dataclass(frozen=True, kw_only=True)
class Stream:
    """Parts without end, a share of them bad."""

    share: Fraction

    def chances(self, n: int, c: int) -> tuple[float, float]:
        """Chances that at most c of n are bad, and that more are."""
        if c >= n:
            return 1.0, 0.0
        p = float(self.share)
        return float(betaincc(c + 1, n - c, p)), float(betainc(c + 1, n - c, p))

    def exactly(self, n: int, c: int) -> tuple[int, int]:
        """The first of the chances, as a numerator and a denominator."""
        a, b = self.share.numerator, self.share.denominator
        if c >= n or a == 0:
            return 1, 1
        if a == b:
            return 0, 1
        term = total = (b - a) ** n
        for k in range(c):
            term = term * (n - k) * a // ((k + 1) * (b - a))
            total += term
        return total, b**n


@dataclass(frozen=True, kw_only=True)
class Lot:
    """`size` parts, `bad` of them bad."""

    size: int
    bad: int

    def chances(self, n: int, c: int) -> tuple[float, float]:
        """Chances that at most c of n are bad, and that more are."""
        return _split(self.size, self.bad, n, c)

    def exactly(self, n: int, c: int) -> tuple[int, int]:
        """The first of the chances, as a numerator and a denominator."""
        good = self.size - self.bad
        least, most = max(0, n - good), min(n, self.bad)
        if c < least:
            return 0, 1
        term = total = comb(self.bad, least) * comb(good, n - least)
        for k in range(least, min(c, most)):
            term = term * (self.bad - k) * (n - k) // ((k + 1) * (good - n + k + 1))
            total += term
        return total, comb(self.size, n)


Parts = Stream | Lot


def at_most(parts: Parts, n: int, c: int, bound: Fraction) -> bool:
    """Whether the chance of accepting is `bound` or less; in whole numbers where it is near."""
    chance = parts.chances(n, c)[0]
    if abs(chance - float(bound)) > _NEAR * float(bound):
        return chance < bound
    above, below = parts.exactly(n, c)
    return above * bound.denominator <= bound.numerator * below


def at_least(parts: Parts, n: int, c: int, bound: Fraction) -> bool:
    """Whether the chance of accepting is `bound` or more; in whole numbers where it is near."""
    refused = parts.chances(n, c)[1]
    over = 1 - bound  # compared as the chance of refusing, which keeps its figures
    if abs(refused - float(over)) > _NEAR * float(over):
        return refused < over
    above, below = parts.exactly(n, c)
    return above * bound.denominator >= bound.numerator * below


def written(share: float) -> Fraction:
    """A share exactly as it is written: 0.07 is 7/100, so that 7 of 100 parts are it."""
    return Fraction(repr(float(share)))


def parts_at(quality: float, lot: int | None, *, up: bool = False) -> Parts:
    """Parts of this share bad; of a lot the whole number below it, or `up` the one above."""
    share = written(quality)
    if lot is None:
        return Stream(share=share)
    return Lot(size=lot, bad=ceil(share * lot) if up else floor(share * lot))


@dataclass(frozen=True, kw_only=True)
class CurvePoint:
    """What a plan does at one quality."""

    quality: float
    """Share bad among the parts that come."""
    bad: int | None
    """Bad parts in the lot; None without one."""
    accepted: float
    """Chance of accepting (OC)."""
    outgoing: float
    """Share bad among the parts that go on (AOQ)."""
    inspected: float | None
    """Mean number of parts looked at in a lot (ATI); None without one."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Take n, accept when at most c are bad. `lot` is None for a stream.

    Where refused lots are looked at part by part and every bad one found is replaced, the share
    bad that goes on is P(accept) · quality · (lot - n)/lot, and lot - n parts more are looked at
    in the share of lots refused [2]_; without a lot (lot - n)/lot is 1.

    Raises
    ------
    InputError
        A plan that cannot be: n below 1 or above the lot, c below 0 or not below n.

    Examples
    --------
    >>> plan = Plan(n=52, c=3)
    >>> round(plan.at(0.03).accepted, 4)
    0.9295
    """

    n: int
    c: int
    lot: int | None = None

    def __post_init__(self) -> None:
        if self.lot is not None and not 1 <= self.lot <= LARGEST_LOT:
            raise InputError("lot", f"{self.lot} parts", f"give 1 to {LARGEST_LOT}")
        most = LARGEST_LOT if self.lot is None else self.lot
        if not 1 <= self.n <= most:
            of = "" if self.lot is None else ", the lot"
            raise InputError("plan.n", f"{self.n} parts in the sample", f"give 1 to {most}{of}")
        if self.c < 0 or (self.c >= self.n and self.n != self.lot):
            raise InputError(
                "plan.c", f"{self.c} bad allowed of {self.n}", f"give 0 to {self.n - 1}"
            )

    def at(self, quality: float) -> CurvePoint:
        """What the plan does at this share bad; in a lot, at the whole number nearest to it."""
        if self.lot is None:
            return self._point(Stream(share=written(quality)), quality)
        return self.at_bad(round(written(quality) * self.lot))

    def at_bad(self, bad: int) -> CurvePoint:
        """What the plan does with a lot of so many bad."""
        assert self.lot is not None
        return self._point(Lot(size=self.lot, bad=bad), bad / self.lot)

    def _point(self, parts: Parts, quality: float) -> CurvePoint:
        accepted, refused = parts.chances(self.n, self.c)
        if self.lot is None:
            outgoing, inspected, bad = accepted * quality, None, None
        else:
            rest = self.lot - self.n
            outgoing = accepted * quality * rest / self.lot
            inspected = self.n + refused * rest
            bad = parts.bad if isinstance(parts, Lot) else None
        return CurvePoint(
            quality=quality, bad=bad, accepted=accepted, outgoing=outgoing, inspected=inspected
        )

    def worst_at(self, chance: float, *, c: int | None = None) -> float:
        """The greatest share bad that is accepted with this chance or more.

        With `c`, as though so many bad were allowed: at 0.05 and the number found, the upper
        95 % confidence limit of the quality (Clopper and Pearson, Biometrika 26 (1934) 404).
        """
        allowed = self.c if c is None else c
        if self.lot is None:
            if allowed >= self.n:
                return 1.0
            return float(betainccinv(allowed + 1, self.n - allowed, chance))
        low, high = 0, self.lot + 1  # accepted at low, not at high
        least = chance * (1 - 1e-12)  # a tie is accepted, whatever its last binary figures
        while high - low > 1:
            middle = (low + high) // 2
            kept = Lot(size=self.lot, bad=middle).chances(self.n, allowed)[0] >= least
            low, high = (middle, high) if kept else (low, middle)
        return low / self.lot

    def outgoing_limit(self) -> CurvePoint:
        """The quality at which most bad parts go on: the average outgoing quality limit.

        P(accept) is log-concave in the share bad (a beta's tail) and in the number bad (the tail
        of a log-concave law), and so is its product with either: one hill, climbed by halving.
        """
        if self.lot is not None:
            low, high = 0, self.lot
            while low < high:
                middle = (low + high) // 2
                rises = self.at_bad(middle + 1).outgoing > self.at_bad(middle).outgoing
                low, high = (middle + 1, high) if rises else (low, middle)
            return self.at_bad(low)
        below, above = 0.0, 1.0
        for _ in range(60):
            share = (below + above) / 2
            below, above = (share, above) if self._slope(share) > 0 else (below, share)
        return self.at(above)

    def worst_lot(self) -> float:
        """The greatest mean share bad that goes on from lots with one number of bad parts.

        In an accepted lot of known bad, few bad in the sample mean more in the rest:
        the mean over accepted samples is (bad/lot) · (lot - n)/lot · P(accept), with P taken for
        one part and one bad fewer. `outgoing_limit` leaves that out, as the standards' formula
        does: it is for lots from a stream.
        """
        assert self.lot is not None
        size, rest = self.lot, self.lot - self.n

        def outgoing(bad: int) -> float:
            if bad == 0 or rest == 0:
                return 0.0
            accepted = Lot(size=size - 1, bad=bad - 1).chances(self.n, self.c)[0]
            return bad / size * rest / size * accepted

        low, high = 0, size
        while low < high:
            middle = (low + high) // 2
            rises = outgoing(middle + 1) > outgoing(middle)
            low, high = (middle + 1, high) if rises else (low, middle)
        return outgoing(low)

    def _slope(self, p: float) -> float:
        """Sign of the derivative of p · P(accept) for a stream: log of its two terms' ratio."""
        accepted = Stream(share=Fraction(p)).chances(self.n, self.c)[0]
        if accepted <= 0:
            return -1.0
        lost = log(self.n) + _log_comb(self.n - 1, self.c)
        lost += (self.c + 1) * log(p) + (self.n - self.c - 1) * log(1 - p)
        return log(accepted) - lost

    def curve(self, points: int = 61) -> list[CurvePoint]:
        """The plan at qualities from none bad to where it accepts one in a thousand."""
        last = self.worst_at(0.001)
        if self.lot is None:
            return [self.at(float(share)) for share in np.linspace(0, last, points)]
        most = min(self.lot, round(last * self.lot) + 1)
        steps = np.linspace(0, most, min(points, most + 1))
        return [self.at_bad(bad) for bad in dict.fromkeys(np.rint(steps).astype(int).tolist())]


def _log_comb(n: int, k: int) -> float:
    return float(np.log((n - np.arange(k)) / (1 + np.arange(k))).sum())


def _split(size: int, bad: int, n: int, c: int) -> tuple[float, float]:
    """Chances of c or fewer bad among n of a lot, and of more, each summed on its own side."""
    good = size - bad
    least, most = max(0, n - good), min(n, bad)
    if c < least:
        return 0.0, 1.0
    if c >= most:
        return 1.0, 0.0
    k = np.arange(least, most, dtype=float)
    ratios = np.log((bad - k) * (n - k)) - np.log((k + 1) * (good - n + k + 1))
    mode = int(np.count_nonzero(ratios > 0))  # they fall as k grows
    up, down = np.cumsum(ratios[mode:]), -np.cumsum(ratios[:mode][::-1])[::-1]
    weights = np.exp(np.concatenate((down, [0.0], up)))  # of the most likely number: no overflow
    accepted, refused = weights[: c + 1 - least].sum(), weights[c + 1 - least :].sum()
    total = accepted + refused
    mean = float(np.arange(least, most + 1) @ weights / total)
    if not abs(mean - n * bad / size) <= 1e-9 * (1 + mean):
        raise FaultError(f"{n} of {size} parts, {bad} bad: a mean of {mean!r} bad in the sample")
    return float(accepted / total), float(refused / total)
