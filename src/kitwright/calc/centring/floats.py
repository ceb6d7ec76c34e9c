"""Contributors that come from a pin loose in its hole."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from kitwright.calc.centring.circles import (
    chord,
    disc_bound,
    disc_wave,
    furthest_on_ellipse,
    share_of_disc,
    share_of_ellipse,
)
from kitwright.calc.centring.clearance import Clearance
from kitwright.calc.centring.contributors import (
    IDENTITY,
    Contributor,
    Waves,
    Zone,
    across,
    keeps_circles,
)
from kitwright.calc.checks import Floats

_NO_PLAY_MM: Final = 1e-12  # stands for none where a chord needs a direction


@dataclass(frozen=True, eq=False, kw_only=True)
class FloatAnywhere(Contributor):
    """A bell loose on its pin: anywhere in the clearance, evenly over the disc."""

    clearance: Clearance
    influence: Floats = field(default_factory=lambda: IDENTITY)

    @property
    def shape_mm(self) -> Floats:
        """The matrix that takes the unit circle to the edge of the largest clearance."""
        return self.influence * (self.clearance.largest_mm / 2)

    @property
    def mean_mm(self) -> Floats:
        return np.zeros(2)

    @property
    def covariance_mm2(self) -> Floats:
        return np.asarray(self.clearance.mean_square_mm2 / 16 * self.influence @ self.influence.T)

    @property
    def edge_mm(self) -> float:
        return float(np.linalg.norm(self.shape_mm, ord=2))

    @property
    def isotropic(self) -> bool:
        return keeps_circles(self.influence)

    @property
    def points_mm(self) -> Floats | None:
        return np.zeros((1, 2)) if self.clearance.largest_mm == 0 else None

    @property
    def dimensions(self) -> int:
        return 4

    def through(self, influence: Floats) -> FloatAnywhere:
        return FloatAnywhere(clearance=self.clearance, influence=influence @ self.influence)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        (a, b), (c, d) = self.influence / 2
        q = np.hypot(a * kx + c * ky, b * kx + d * ky)
        total = np.zeros_like(q)
        for size, weight in zip(*_mixture_for(q, self.clearance), strict=True):
            total += weight * disc_wave(q * size)
        return np.asarray(total)

    def envelope(self, k: Floats) -> Floats:
        least = np.linalg.svd(self.influence / 2, compute_uv=False)[1]
        span = self.clearance.largest_mm - self.clearance.least_mm
        bound = np.ones_like(k)
        for part in (0.0, 0.01, 0.03, 0.1, 0.3):
            size = self.clearance.least_mm + part * span
            below = self.clearance.chance_below(size) if part else 0.0
            bound = np.minimum(bound, below + (1 - below) * disc_bound(k * least * size))
        return bound

    def wave_cost(self, k_end: float) -> float:
        q_end = k_end * float(np.linalg.norm(self.influence / 2, ord=2))
        return 3.0 * _nodes(q_end, self.clearance)

    def extreme(self, towards: Floats) -> Floats:
        return furthest_on_ellipse(self.shape_mm, towards)

    def drawn(self, uniforms: Floats) -> Floats:
        unit = Zone(zone_mm=2, spread="disc", influence=self.influence).drawn(uniforms[:, 2:])
        return self.clearance.drawn(uniforms[:, :2])[:, None] / 2 * unit

    @property
    def near_dimensions(self) -> int | None:
        if not self.isotropic:
            return 3
        return 2 if self.clearance.varies else 0

    def near(self, centres: Floats, radius_mm: float, uniforms: Floats) -> Floats:
        if not self.clearance.varies and self.isotropic:
            return share_of_disc(centres, self.edge_mm, radius_mm)
        halves = self.clearance.drawn(uniforms[:, :2]) / 2
        if self.isotropic:
            scale = np.linalg.norm(self.influence, ord=2)
            return share_of_disc(centres, halves * scale, radius_mm)
        shapes = np.maximum(halves, _NO_PLAY_MM)[:, None, None] * self.influence
        return share_of_ellipse(centres, shapes, radius_mm, uniforms[:, 2])


@dataclass(frozen=True, eq=False, kw_only=True)
class FloatResting(Contributor):
    """A bell that hangs on its pin: always half the clearance to one side, by rights down.

    `towards` is where the bore goes for one mm at the pin.
    """

    clearance: Clearance
    towards: Floats = field(default_factory=lambda: np.array([0.0, -1.0]))

    @property
    def step(self) -> Floats:
        """Where the bore goes for one mm of clearance."""
        return self.towards / 2

    @property
    def mean_mm(self) -> Floats:
        return self.clearance.mean_mm * self.step

    @property
    def covariance_mm2(self) -> Floats:
        variance = self.clearance.mean_square_mm2 - self.clearance.mean_mm**2
        return max(0.0, variance) * np.outer(self.step, self.step)

    @property
    def edge_mm(self) -> float:
        return float(self.clearance.largest_mm * np.hypot(*self.step))

    @property
    def points_mm(self) -> Floats | None:
        return None if self.clearance.varies else self.mean_mm[None, :]

    def through(self, influence: Floats) -> FloatResting:
        return FloatResting(clearance=self.clearance, towards=influence @ self.towards)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        q = self.step[0] * kx + self.step[1] * ky
        total = np.zeros(q.shape, dtype=complex)
        for size, weight in zip(*_mixture_for(q, self.clearance), strict=True):
            total += weight * np.exp(1j * size * q)
        return total

    def wave_cost(self, k_end: float) -> float:
        return 3.0 * _nodes(k_end * float(np.hypot(*self.step)), self.clearance)

    def extreme(self, towards: Floats) -> Floats:
        ahead = (towards @ self.step >= 0)[:, None]
        return np.where(ahead, self.clearance.largest_mm, self.clearance.least_mm) * self.step

    def creases(self) -> Floats:
        return across(self.step)

    def drawn(self, uniforms: Floats) -> Floats:
        return self.clearance.drawn(uniforms)[:, None] * self.step

    @property
    def near_dimensions(self) -> int:
        return 0

    def near(self, centres: Floats, radius_mm: float, uniforms: Floats) -> Floats:
        start, end = chord(centres, self.step, radius_mm)
        below = np.where(start > 0, self.clearance.distribution(start), 0.0)
        return np.maximum(self.clearance.distribution(end) - below, 0.0)


def _nodes(q_end: float, clearance: Clearance) -> int:
    """Nodes a piece that carry waves up to `q_end`, per mm of clearance."""
    return 8 + int(0.75 * q_end * (clearance.largest_mm - clearance.least_mm) / 2)


def _mixture_for(q: Floats, clearance: Clearance) -> tuple[Floats, Floats]:
    return clearance.mixture(_nodes(float(np.max(np.abs(q), initial=0.0)), clearance))
