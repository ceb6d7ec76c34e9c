"""Which zones are worth paying for: least cost for a wanted chance, or against corrections.

A zone's price is a + b / zone, as two quotes for the same hole give it. What is sought are the
zones at which their prices, and the price of correcting what lands outside, add up to least.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.optimize import minimize

from kitwright.calc.centring.contributors import Contributor, Zone
from kitwright.calc.centring.radial_budget import SEED, chance_outside, far_mm
from kitwright.calc.centring.radial_exact import chance_and_slopes
from kitwright.calc.centring.radial_law import merged
from kitwright.calc.checks import Floats, finite, not_negative, positive
from kitwright.errors import InputError

LEAST_CHANCE: Final = 1e-7
"""A wanted chance must be well above the error of an exact one."""

_STEP: Final = 1e-3  # of the logarithm of a zone, where slopes have no closed form
_POWER: Final = 10  # points a scramble while zones are sought: always the same ones
_AT_BOUND: Final = 1e-7


@dataclass(frozen=True, kw_only=True)
class ZonePrice:
    """The price of one hole's zone: `fixed` + `per_inverse_mm` / zone, in any one currency."""

    fixed: float
    per_inverse_mm: float

    @classmethod
    def through(cls, quotes: Sequence[tuple[float, float]]) -> ZonePrice:
        """The price through two quotes, each (zone in mm, price).

        Raises
        ------
        InputError
            Not two quotes, of one zone, or a tighter zone that is not dearer.

        Examples
        --------
        >>> ZonePrice.through([(0.2, 40.0), (0.1, 60.0)])
        ZonePrice(fixed=20.0, per_inverse_mm=4.0)
        """
        if len(quotes) != 2:
            raise InputError("quotes", f"{len(quotes)} given", "give two, of different zones")
        (wide, cheap), (tight, dear) = sorted(quotes, reverse=True)
        if wide == tight:
            raise InputError("quotes", "both are for the same zone", "ask for two zones")
        if dear <= cheap:
            raise InputError("quotes", "the tighter zone is not dearer", "check them")
        per_inverse = (dear - cheap) / (1 / tight - 1 / wide)
        return cls(fixed=cheap - per_inverse / wide, per_inverse_mm=per_inverse)

    def at(self, zone_mm: float) -> float:
        """The price of a zone."""
        return self.fixed + self.per_inverse_mm / zone_mm


@dataclass(frozen=True, kw_only=True)
class PricedZone:
    """A zone that may be changed: as it is today, its price, and how far it may go."""

    today: Zone
    price: ZonePrice
    low_mm: float
    high_mm: float

    def __post_init__(self) -> None:
        positive(self.price.per_inverse_mm, where="cost")
        finite(self.price.fixed, where="cost")
        positive(self.low_mm, where="zone_limits.low")
        if not self.low_mm <= finite(self.high_mm, where="zone_limits.high"):
            raise InputError("zone_limits", "low is above high", "swap them")


@dataclass(frozen=True, kw_only=True)
class CheapestZones:
    """The zones found. Prices are for one bell, in the currency given."""

    zones_mm: tuple[float, ...]
    zones_price: float
    chance_outside: float
    total_price: float
    """The zones', and corrections as often as they are needed."""
    marginal_price: float | None
    """What the last correction avoided costs: the price of one correction for which just these
    zones are right; None where every zone is at a bound."""
    imbalance: float
    """How far the zones are from that balance, as a part of it; 0 at the optimum."""


def cheapest_zones(
    priced: Sequence[PricedZone],
    others: Sequence[Contributor],
    *,
    limit_tir_mm: float,
    correction_price: float = 0.0,
    wanted_outside: float | None = None,
    seed: int = SEED,
) -> CheapestZones:
    """The zones of least total price: theirs, plus `correction_price` times the chance outside.

    Parameters
    ----------
    priced : zones to choose, with their prices and bounds
    others : the rest of the budget
    limit_tir_mm : twice the offset allowed
    correction_price : of one correction in the field
    wanted_outside : the chance outside must not exceed it

    Raises
    ------
    InputError
        No zone to choose, nothing to aim at, a wanted chance out of reach.

    Notes
    -----
    Sequential quadratic programming on the logarithms of the zones, with the chance's exact slopes,
    from several starts: with a price on corrections there can be two valleys, one that pays for
    accuracy and one that pays for corrections.
    """
    if not priced:
        raise InputError("contributors", "no zone has a cost", "give one cost or quotes")
    if correction_price == 0 and wanted_outside is None:
        raise InputError("chance_outside", "missing", "give it, or the price of a correction")
    not_negative(correction_price, where="correction")
    if wanted_outside is not None and not LEAST_CHANCE <= wanted_outside < 1:
        raise InputError(
            "chance_outside", f"{wanted_outside:g}", f"give {LEAST_CHANCE:g} or more, and below 1"
        )
    search = _Search(priced, merged(others), positive(limit_tir_mm, where="limit") / 2, seed)
    found = [
        search.descend(start, correction_price, wanted_outside)
        for start in search.starts(correction_price, wanted_outside)
    ]
    good = [zones for zones in found if search.reaches(zones, wanted_outside)]
    if not good:
        least = min(search.outside(zones)[0] for zones in found)
        raise InputError(
            "chance_outside",
            f"{wanted_outside:g} cannot be reached; the least found is {least:.3g}",
            "allow tighter zones, or more outside",
        )
    best = min(good, key=lambda zones: search.total(zones, correction_price))
    return search.told(best, correction_price)


def price_of(priced: Sequence[PricedZone], zones_mm: Sequence[float]) -> float:
    """What these zones cost, for one bell."""
    return math.fsum(each.price.at(zone) for each, zone in zip(priced, zones_mm, strict=True))


class _Search:
    """The prices and chances of one budget, by the logarithms of its zones in mm."""

    def __init__(
        self, priced: Sequence[PricedZone], others: Sequence[Contributor], radius: float, seed: int
    ) -> None:
        self.priced = priced
        self.others = others
        self.radius = radius
        self.seed = seed
        self.low = np.log([each.low_mm for each in priced])
        self.high = np.log([each.high_mm for each in priced])
        self.per_inverse = np.array([each.price.per_inverse_mm for each in priced])
        self.scale = float(np.sum(self.per_inverse * np.exp(-self.high)))
        self.rough = False
        """Whether some chance had to be simulated."""
        self._known: dict[bytes, tuple[float, Floats]] = {}

    def outside(self, log_zones: Floats) -> tuple[float, Floats]:
        """The chance outside, and its slopes by the logarithms."""
        key = log_zones.tobytes()
        if key not in self._known:
            self._known[key] = self._outside(log_zones)
        return self._known[key]

    def _outside(self, log_zones: Floats) -> tuple[float, Floats]:
        zones = self._zones(log_zones)
        known = chance_and_slopes(self.others, zones, self.radius, far_mm([*self.others, *zones]))
        if known is not None:
            return max(0.0, 1 - known[0]), -known[1]
        self.rough = True
        slopes = np.empty(len(zones))
        for number in range(len(zones)):
            step = np.zeros(len(zones))
            step[number] = _STEP
            above, below = self._simulated(log_zones + step), self._simulated(log_zones - step)
            slopes[number] = (above - below) / (2 * _STEP)
        return self._simulated(log_zones), slopes

    def _simulated(self, log_zones: Floats) -> float:
        parts = [*self.others, *self._zones(log_zones)]
        return chance_outside(parts, limit_tir_mm=2 * self.radius, seed=self.seed, power=_POWER)

    def _zones(self, log_zones: Floats) -> list[Zone]:
        sizes = np.exp(log_zones)
        return [
            replace(each.today, zone_mm=float(size))
            for each, size in zip(self.priced, sizes, strict=True)
        ]

    def variable(self, log_zones: Floats) -> float:
        """The part of the zones' price that depends on them."""
        return float(self.per_inverse @ np.exp(-log_zones))

    def total(self, log_zones: Floats, correction: float) -> float:
        return self.variable(log_zones) + (
            correction * self.outside(log_zones)[0] if correction else 0.0
        )

    def reaches(self, log_zones: Floats, wanted: float | None) -> bool:
        return wanted is None or self.outside(log_zones)[0] <= wanted * (1 + 1e-6)

    def starts(self, correction: float, wanted: float | None) -> list[Floats]:
        """Today's zones, and the best of a family from all tight to all loose.

        Where only normal zones at the bore count, the cheapest are as the cube roots of their
        prices (Lagrange): b / zone² in proportion to zone.
        """
        today = np.log([each.today.zone_mm for each in self.priced])
        shape = np.log(np.cbrt(self.per_inverse))
        span = np.linspace((self.low - shape).min(), (self.high - shape).max(), 13)
        family = [np.clip(shape + size, self.low, self.high) for size in span]
        kept = [zones for zones in family if self.reaches(zones, wanted)]
        best = sorted(kept, key=lambda zones: self.total(zones, correction))[:2]
        return [np.clip(today, self.low, self.high), *best, family[0]]

    def descend(self, start: Floats, correction: float, wanted: float | None) -> Floats:
        """The nearest valley from a start, inside the bounds."""
        scale = self.scale + correction

        def price(x: Floats) -> tuple[float, Floats]:
            chance, slopes = self.outside(x) if correction else (0.0, np.zeros_like(x))
            each = self.per_inverse * np.exp(-x)
            return (each.sum() + correction * chance) / scale, (correction * slopes - each) / scale

        def room(x: Floats) -> float:
            assert wanted is not None
            return math.log(wanted / max(self.outside(x)[0], 1e-15))

        def room_slopes(x: Floats) -> Floats:
            chance, slopes = self.outside(x)
            return -slopes / max(chance, 1e-15)

        limit = {"type": "ineq", "fun": room, "jac": room_slopes}
        found = minimize(
            price,
            start,
            jac=True,
            method="SLSQP",
            bounds=np.column_stack([self.low, self.high]),
            constraints=[] if wanted is None else [limit],
            # a simulated chance is smooth only so far
            options={"ftol": 1e-8, "maxiter": 30}
            if self.rough
            else {"ftol": 1e-15, "maxiter": 200},
        )
        end = found.x if np.isfinite(found.x).all() else start
        return np.asarray(np.clip(end, self.low, self.high))

    def told(self, log_zones: Floats, correction: float) -> CheapestZones:
        zones = [float(size) for size in np.exp(log_zones)]
        chance = chance_outside(
            [*self.others, *self._zones(log_zones)], limit_tir_mm=2 * self.radius, seed=self.seed
        )
        price = price_of(self.priced, zones)
        marginal, imbalance = self._balance(log_zones)
        return CheapestZones(
            zones_mm=tuple(zones),
            zones_price=price,
            chance_outside=chance,
            total_price=price + correction * chance,
            marginal_price=marginal,
            imbalance=imbalance,
        )

    def _balance(self, log_zones: Floats) -> tuple[float | None, float]:
        """For zones off their bounds, price given up per chance taken must be one number."""
        free = (log_zones > self.low + _AT_BOUND) & (log_zones < self.high - _AT_BOUND)
        gains = (self.per_inverse * np.exp(-log_zones))[free]
        slopes = self.outside(log_zones)[1][free]
        if not free.any() or not slopes @ slopes > 0:
            return None, 0.0
        marginal = float(gains @ slopes / (slopes @ slopes))
        return marginal, float(np.abs(gains - marginal * slopes).max() / gains.max())
