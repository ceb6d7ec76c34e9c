"""A batch of measured bells as one contributor: its vectors, each as likely as the next."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import ClassVar, Self

import numpy as np
from numpy.polynomial import chebyshev

from kitwright.calc.centring.circles import ring_wave, wave_terms
from kitwright.calc.centring.contributors import Contributor, Waves
from kitwright.calc.checks import Floats, finite_rows


@dataclass(frozen=True, eq=False)
class Measured(Contributor):
    """Vectors of bells that were measured, drawn evenly.

    Parameters
    ----------
    vectors_mm : shape (n, 2), n >= 1

    Raises
    ------
    InputError
        No vector, or one that is not finite.
    """

    vectors_mm: Floats

    def __post_init__(self) -> None:
        finite_rows(self.vectors_mm, columns=2, least=1, where="vectors")

    @property
    def points_mm(self) -> Floats:
        return np.asarray(self.vectors_mm, dtype=float)

    @property
    def mean_mm(self) -> Floats:
        return np.asarray(self.points_mm.mean(axis=0))

    @property
    def covariance_mm2(self) -> Floats:
        return np.cov(self.points_mm.T, bias=True)

    @property
    def edge_mm(self) -> float:
        return float(np.hypot(*self.points_mm.T).max())

    @property
    def dimensions(self) -> int:
        return 1

    def through(self, influence: Floats) -> Measured:
        return Measured(self.points_mm @ influence.T)

    def drawn(self, uniforms: Floats) -> Floats:
        count = len(self.points_mm)
        return np.asarray(
            self.points_mm[np.minimum((uniforms[:, 0] * count).astype(int), count - 1)]
        )

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        total = np.zeros(kx.shape, dtype=complex)
        for x, y in self.points_mm:
            total += np.exp(1j * (kx * x + ky * y))
        return total / len(self.points_mm)

    def wave_cost(self, k_end: float) -> float:
        across, up = self._terms(k_end)
        return min(len(self.points_mm), across + up + across * up / 16)

    def ready(self, k_end: float) -> Contributor:
        sizes = self._terms(k_end)
        if len(self.points_mm) <= self.wave_cost(k_end):
            return self
        low, high, half = self._box
        middle = (low + high) / 2
        unit = (self.points_mm - middle) / half
        across, up = (
            chebyshev.chebvander(unit[:, axis], size - 1) for axis, size in enumerate(sizes)
        )
        return _Gathered(
            self.points_mm,
            middle=middle,
            half=half,
            moments=across.T @ up / len(self.points_mm),
        )

    def _terms(self, k_end: float) -> tuple[int, int]:
        """Chebyshev terms across and up that carry waves up to `k_end` over the batch."""
        half = self._box[2]
        return wave_terms(k_end * float(half[0])), wave_terms(k_end * float(half[1]))

    @cached_property
    def _box(self) -> tuple[Floats, Floats, Floats]:
        """Lower left and upper right corner of the batch, and half its width and height."""
        low, high = self.points_mm.min(axis=0), self.points_mm.max(axis=0)
        return low, high, np.maximum((high - low) / 2, 1e-12 * self.edge_mm + 1e-300)

    def extreme(self, towards: Floats) -> Floats:
        return np.asarray(self._hull[np.argmax(towards @ self._hull.T, axis=1)])

    def creases(self) -> Floats:
        sides = np.roll(self._hull, -1, axis=0) - self._hull
        sides = sides[np.hypot(*sides.T) > 0]
        return np.asarray(np.arctan2(-sides[:, 0], sides[:, 1]))

    @cached_property
    def _hull(self) -> Floats:
        """Corners of the convex hull, counter-clockwise (Andrew's monotone chain)."""
        points = np.unique(self.points_mm, axis=0)
        if len(points) < 3:
            return points
        return np.array(_chain(points)[:-1] + _chain(points[::-1])[:-1])


@dataclass(frozen=True, eq=False)
class _Gathered(Measured):
    """A large batch through its Chebyshev moments, for waves up to those it was made for.

    Inside a box a plane wave is a polynomial to rounding (see `wave_terms`), so the batch may
    stand on Chebyshev points, with the weights that interpolation gives them, and its wave is a
    product of two short sums.
    """

    middle: Floats = field(kw_only=True)
    half: Floats = field(kw_only=True)
    moments: Floats = field(kw_only=True)  # mean of T_a(x) T_b(y) over the batch

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        sides = []
        for axis, k in enumerate((kx.ravel(), ky.ravel())):
            turn = self.half[axis] * float(np.abs(k).max(initial=0.0))
            at = chebyshev.chebpts1(min(wave_terms(turn), self.moments.shape[axis]))
            waves = np.exp(1j * np.outer(k, self.middle[axis] + self.half[axis] * at))
            sides.append((waves, _interpolation(at)))
        (waves_x, basis_x), (waves_y, basis_y) = sides
        moments = self.moments[: basis_x.shape[1], : basis_y.shape[1]]
        weights = basis_x @ moments @ basis_y.T
        return np.asarray(np.einsum("ij,ij->i", waves_x @ weights, waves_y).reshape(kx.shape))


@dataclass(frozen=True, eq=False, kw_only=True)
class Rings:
    """Offsets known in size but turned by every angle alike: `radii_mm` with `weights`.

    Beside isotropic contributors, all that counts of a set of vectors is how long they are.
    """

    radii_mm: Floats
    weights: Floats

    normal: ClassVar[bool] = False
    isotropic: ClassVar[bool] = True

    @classmethod
    def of(cls, points_mm: Floats) -> Self:
        """The rings on which equally likely points lie, shape (n, 2)."""
        radii = np.hypot(points_mm[:, 0], points_mm[:, 1])
        return cls(radii_mm=radii, weights=np.full(len(radii), 1 / len(radii)))

    @property
    def edge_mm(self) -> float:
        return float(self.radii_mm.max())

    @property
    def covariance_mm2(self) -> Floats:
        return np.asarray(self.weights @ self.radii_mm**2 / 2 * np.eye(2))

    def envelope(self, k: Floats) -> Floats:
        return np.ones_like(k)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        q = np.hypot(kx, ky)
        total = np.zeros_like(q)
        for radius, weight in zip(self.radii_mm, self.weights, strict=True):
            total += weight * ring_wave(q * radius)
        return total

    def wave_cost(self, k_end: float) -> float:
        return min(len(self.radii_mm), wave_terms(k_end * self._half))

    def ready(self, k_end: float) -> Rings:
        size = wave_terms(k_end * self._half)
        if len(self.radii_mm) <= size:
            return self
        middle = (self.radii_mm.max() + self.radii_mm.min()) / 2
        unit = (self.radii_mm - middle) / self._half
        moments = np.zeros(size)
        for part in np.array_split(np.arange(len(unit)), 1 + len(unit) * size // 2**22):
            moments += self.weights[part] @ chebyshev.chebvander(unit[part], size - 1)
        at = chebyshev.chebpts1(size)
        return Rings(radii_mm=middle + self._half * at, weights=_interpolation(at) @ moments)

    @property
    def _half(self) -> float:
        return max(float(self.radii_mm.max() - self.radii_mm.min()) / 2, 1e-300)


def _interpolation(at: Floats) -> Floats:
    """From Chebyshev moments to weights on the Chebyshev points `at`."""
    basis = chebyshev.chebvander(at, len(at) - 1) * (2 / len(at))
    basis[:, 0] /= 2
    return np.asarray(basis, dtype=float)


def _chain(points: Floats) -> list[Floats]:
    kept: list[Floats] = []
    for point in points:
        while len(kept) > 1 and _turn(kept[-2], kept[-1], point) <= 0:
            kept.pop()
        kept.append(point)
    return kept


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
