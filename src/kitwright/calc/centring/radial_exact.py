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
from kitwright.calc.centring.contributors import Contributor, Waves
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


def _nodes(
    waves: Sequence[Wave], extents: _Extents, k_end: float, resolution: float
) -> tuple[Floats, Floats]:
    """Nodes k, and weights times phibar(k)."""
    at, share = _RULE
    phase = k_end * (extents.far + extents.bounded)
    panels = math.ceil(resolution * (2 + phase / _PHASE_A_PANEL))
    half = k_end / panels / 2
    starts = 2 * half * np.arange(panels)
    k = starts[:, None] + half * (at + 1)
    means = np.concatenate(list(_means(waves, extents, k, resolution)))
    return k.ravel(), np.tile(half * share, panels) * means


def _means(
    waves: Sequence[Wave], extents: _Extents, k: Floats, resolution: float
) -> Iterator[Floats]:
    """phibar, panel by panel; `k` has shape (panels, 32)."""
    level = [each for each in waves if each.isotropic]
    turned = [each for each in waves if not each.isotropic]
    if not turned:
        for block in np.array_split(k, math.ceil(k.size / _WAVES_AT_ONCE)):
            yield _product(level, block, np.zeros_like(block)).ravel()
        return
    for row in k:
        turn = np.pi * np.arange(count := _directions(extents, row[-1], resolution)) / count
        for part in np.array_split(row, math.ceil(row.size * count / _WAVES_AT_ONCE)):
            product = _product(turned, np.outer(part, np.cos(turn)), np.outer(part, np.sin(turn)))
            yield _product(level, part, np.zeros_like(part)) * product.mean(axis=1)


def _product(waves: Sequence[Wave], kx: Floats, ky: Floats) -> Floats:
    """The real part of the product of their characteristic functions."""
    product = np.ones(kx.shape, dtype=complex)
    for each in waves:
        product = product * each.characteristic(kx, ky)
    return product.real
