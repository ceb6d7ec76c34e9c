"""The chance of a radial budget by inverting its characteristic function.

For an offset with characteristic function phi, the chance of lying within r is

    r ∫₀^∞ J₁(k r) phibar(k) dk,

phibar the mean of phi over all directions of k. Independent contributors multiply before that
mean is taken: the mean of a product is not the product of means. A normal contributor damps the
integrand, and a few dozen to a few hundred nodes reach rounding; without one it falls as a power
of k, and the integral is used only where a bound on what is cut off allows it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Protocol

import numpy as np
from scipy.special import j1

from kitwright.calc.centring.circles import BESSEL_BOUND, wave_terms
from kitwright.calc.centring.contributors import Contributor, Waves, Zone
from kitwright.calc.centring.measured import Rings
from kitwright.calc.centring.radial_law import RadialLaw, sum_of_points
from kitwright.calc.checks import Floats
from kitwright.errors import FaultError

_RULE: Final = np.polynomial.legendre.leggauss(32)
_PHASE_A_PANEL: Final = 40.0  # radians; 32 Gauss points carry 50 to rounding
_CUT_OFF: Final = ((1e-12, 3e7), (5e-10, 3e7), (1e-7, 5e6))
"""What may be cut off, and how many exponentials it may take; the first in reach is used."""
_AGREE: Final = 5e-10
_WAVES_AT_ONCE: Final = 2**17
FAR_SIGMAS: Final = 8.4
"""A normal vector lies further out than this with a chance under 1e-15."""


class Wave(Protocol):
    """What the inversion asks of a contributor."""

    @property
    def normal(self) -> bool: ...
    @property
    def isotropic(self) -> bool: ...
    @property
    def edge_mm(self) -> float: ...
    @property
    def covariance_mm2(self) -> Floats: ...
    def envelope(self, k: Floats) -> Floats: ...
    def characteristic(self, kx: Floats, ky: Floats) -> Waves: ...
    def wave_cost(self, k_end: float) -> float: ...
    def ready(self, k_end: float) -> Wave: ...


@dataclass(frozen=True)
class _Extents:
    """How far the parts of a budget reach, mm: they set how fast its waves turn."""

    far: float
    bounded: float  # everything but normal contributors
    directional: float  # everything whose wave depends on the direction
    least_sigma: float


@dataclass(frozen=True, eq=False, kw_only=True)
class ByInversion(RadialLaw):
    """The law as nodes k with weights times phibar."""

    waves: Sequence[Wave]
    extents: _Extents
    k_end: float
    tail: float  # what is cut off is less than this times the root of r
    far_mm: float

    method = "exact"
    way = (
        "the characteristic functions of all contributors multiplied, the product averaged over "
        "all directions and inverted"
    )

    def chance_within(self, radius_mm: float) -> float:
        if radius_mm >= self.far_mm:
            return 1.0
        return min(1.0, max(0.0, _inverted(self._fine, radius_mm)))

    def error(self, radius_mm: float) -> float:
        """The difference to a coarser sum, plus the bound on what is cut off, plus rounding.

        Raises
        ------
        FaultError
            The two sums disagree: a fault of ours.
        """
        if radius_mm >= self.far_mm:
            return 1e-15
        coarse = _nodes(self.waves, self.extents, self.k_end, 1.0)
        apart = abs(_inverted(self._fine, radius_mm) - _inverted(coarse, radius_mm))
        if apart > _AGREE:
            raise FaultError(f"radial budget: two sums of one integral differ by {apart:.1g}")
        return apart + self.tail * math.sqrt(radius_mm) + 1e-14

    @cached_property
    def _fine(self) -> tuple[Floats, Floats]:
        return _nodes(self.waves, self.extents, self.k_end, 1.3)


def by_inversion(contributors: Sequence[Contributor], far_mm: float) -> ByInversion | None:
    """The law by inversion, or None where the integral would take too many waves."""
    waves = _level(contributors)
    extents = _extents(waves, far_mm)
    cut = _cut_off(waves, extents)
    if cut is None:
        return None
    k_end, tail = cut
    return ByInversion(
        waves=[each.ready(k_end) for each in waves],
        extents=extents,
        k_end=k_end,
        tail=tail,
        far_mm=far_mm,
    )


def _inverted(spectrum: tuple[Floats, Floats], radius_mm: float) -> float:
    k, weighted = spectrum
    return float(radius_mm * (j1(k * radius_mm) @ weighted))


def _extents(waves: Sequence[Wave], far_mm: float) -> _Extents:
    covariance = np.sum(
        [np.zeros((2, 2)), *(each.covariance_mm2 for each in waves if each.normal)], axis=0
    )
    variances = np.maximum(np.linalg.eigvalsh(covariance), 0.0)
    bounded = [each for each in waves if not each.normal]
    turned = [each for each in bounded if not each.isotropic]
    skew = 8 * math.sqrt(variances[1] - variances[0])
    return _Extents(
        far=far_mm,
        bounded=sum(each.edge_mm for each in bounded),
        directional=sum(each.edge_mm for each in turned) + skew,
        least_sigma=math.sqrt(variances[0]) if variances[0] > 1e-13 * variances[1] else 0.0,
    )


def _cut_off(waves: Sequence[Wave], extents: _Extents) -> tuple[float, float] | None:
    """Where the integral may end, and the bound on the rest; None where nowhere in reach.

    r |J1(k r)| <= 0.83 root(r / k), and no envelope rises, so on a geometric grid the rest is less
    than the sum of left-hand values times the steps.
    """
    k = np.geomspace(0.5 / extents.far, 1e14 / extents.far, 361)
    bound = np.exp(-0.5 * (extents.least_sigma * k) ** 2)
    for each in waves:
        bound = bound * each.envelope(k)
    steps = np.diff(k)
    rest = np.cumsum((BESSEL_BOUND * k[:-1] ** -0.5 * bound[:-1] * steps)[::-1])[::-1]
    tails = rest * math.sqrt(extents.far)
    for wanted, most in _CUT_OFF:
        good = np.flatnonzero(tails <= wanted)
        if good.size and _cost(waves, extents, float(k[good[0]])) <= most:
            return float(k[good[0]]), float(rest[good[0]])
    return None


def _directions(extents: _Extents, k: float, resolution: float) -> int:
    """Directions over half a turn; the other half gives the complex conjugates."""
    return math.ceil(resolution * wave_terms(k * extents.directional) / 2)


def _level(contributors: Sequence[Contributor]) -> Sequence[Wave]:
    """The same budget with no directions in it, where only fixed vectors and batches had any."""
    centres, others = sum_of_points(contributors)
    if centres is None or not all(each.isotropic for each in others):
        return contributors
    return [Rings.of(centres), *others]


def _cost(waves: Sequence[Wave], extents: _Extents, k_end: float) -> float:
    """About how many exponentials the sum takes, up to `k_end`."""
    nodes = 32 * k_end * (extents.far + extents.bounded) / _PHASE_A_PANEL
    turned = sum(each.wave_cost(k_end) for each in waves if not each.isotropic)
    level = sum(each.wave_cost(k_end) for each in waves if each.isotropic)
    return nodes * (level + turned * (10 + k_end * extents.directional / 4))


@dataclass(frozen=True)
class _Block:
    """A part of the sum: nodes k with weights, shape (m,), in n directions, shape (m, n)."""

    k: Floats
    weights: Floats
    kx: Floats
    ky: Floats

    def wave(self, of: Wave) -> Waves:
        """Its characteristic function; where directions do not matter, shape (m, 1)."""
        return of.characteristic(*self._at(of))

    def swelling(self, of: Zone) -> Waves:
        """Likewise its derivative by the logarithm of the zone's size."""
        return of.swelling(*self._at(of))

    def mean(self, factors: Sequence[Waves]) -> Floats:
        """The weights times the product, averaged over all directions, shape (m,)."""
        return np.asarray(self.weights * _product(factors).mean(axis=1).real)

    def _at(self, of: Wave) -> tuple[Floats, Floats]:
        if of.isotropic:
            return self.k[:, None], np.zeros((len(self.k), 1))
        return self.kx, self.ky


def _blocks(
    waves: Sequence[Wave], extents: _Extents, k_end: float, resolution: float
) -> Iterator[_Block]:
    at, share = _RULE
    phase = k_end * (extents.far + extents.bounded)
    panels = math.ceil(resolution * (2 + phase / _PHASE_A_PANEL))
    half = k_end / panels / 2
    k = 2 * half * np.arange(panels)[:, None] + half * (at + 1)
    weights = np.broadcast_to(half * share, k.shape)
    if all(each.isotropic for each in waves):
        for rows in np.array_split(np.arange(panels), math.ceil(k.size / _WAVES_AT_ONCE)):
            flat = k[rows].ravel()
            yield _Block(flat, weights[rows].ravel(), flat[:, None], np.zeros((len(flat), 1)))
        return
    for row, weight in zip(k, weights, strict=True):
        turn = np.pi * np.arange(count := _directions(extents, row[-1], resolution)) / count
        for part in np.array_split(
            np.arange(len(row)), math.ceil(len(row) * count / _WAVES_AT_ONCE)
        ):
            kx, ky = np.outer(row[part], np.cos(turn)), np.outer(row[part], np.sin(turn))
            yield _Block(row[part], weight[part], kx, ky)


def _nodes(
    waves: Sequence[Wave], extents: _Extents, k_end: float, resolution: float
) -> tuple[Floats, Floats]:
    """Nodes k, and weights times phibar(k)."""
    nodes, weighted = [], []
    for block in _blocks(waves, extents, k_end, resolution):
        nodes.append(block.k)
        weighted.append(block.mean([block.wave(each) for each in waves]))
    return np.concatenate(nodes), np.concatenate(weighted)


def chance_and_slopes(
    contributors: Sequence[Contributor], zones: Sequence[Zone], radius_mm: float, far_mm: float
) -> tuple[float, Floats] | None:
    """The chance within a radius, and its derivative by the logarithm of each zone's size.

    The budget is `contributors` and `zones`; None where the integral would take too many waves.
    """
    waves = _level([*contributors, *zones])  # the zones stay last
    extents = _extents(waves, far_mm)
    cut = _cut_off(waves, extents)
    if cut is None:
        return None
    count = len(zones)
    ready = [each.ready(cut[0]) for each in waves[: len(waves) - count]]
    chance, slopes = 0.0, np.zeros(count)
    for block in _blocks(waves, extents, cut[0], 1.0):
        rest = _product([block.wave(each) for each in ready])
        own = [block.wave(zone) for zone in zones]
        kernel = radius_mm * j1(block.k * radius_mm)
        chance += float(kernel @ block.mean([rest, *own]))
        for number, zone in enumerate(zones):
            swelled = [*own[:number], block.swelling(zone), *own[number + 1 :]]
            slopes[number] += float(kernel @ block.mean([rest, *swelled]))
    return chance, slopes


def _product(factors: Sequence[Waves]) -> Waves:
    product: Waves = np.ones((1, 1))
    for each in factors:
        product = product * each
    return product
