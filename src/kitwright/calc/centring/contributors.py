"""What moves a bore off the crank axis: the kinds of contributor to a radial budget.

Each is an independent random vector in the plane (mm, +x right, +y up, seen from behind) and knows
its mean, its covariance, its characteristic function, its edge in every direction, and how to be
drawn. `through(influence)` is the same contributor after a linear map, such as the one by which a
dowel hole's error reaches the bore. Floats stand in `floats.py`, measured batches in `measured.py`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from typing import Final, Literal, Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import j1, ndtri

from kitwright.calc.centring.circles import (
    disc_bound,
    disc_wave,
    furthest_on_ellipse,
    ring_bound,
    ring_wave,
    share_of_arc,
    share_of_chord,
    share_of_disc,
    share_of_ellipse,
)
from kitwright.calc.centring.clock import clock_vector
from kitwright.calc.checks import Floats, finite, finite_rows, positive

Waves = NDArray[np.float64] | NDArray[np.complex128]

IDENTITY: Final = np.eye(2)
SIGMAS_TO_EDGE: Final = 3.0
"""A zone or a line that is called normal has its edge at three standard deviations."""


def keeps_circles(influence: Floats) -> bool:
    """Whether a linear map makes a circle of every circle."""
    largest, least = np.linalg.svd(influence, compute_uv=False)
    return bool(largest - least <= 1e-14 * largest)


class Contributor(ABC):
    """One independent vector of a radial budget."""

    @property
    @abstractmethod
    def mean_mm(self) -> Floats:
        """Shape (2,)."""

    @property
    @abstractmethod
    def covariance_mm2(self) -> Floats:
        """Shape (2, 2)."""

    @property
    @abstractmethod
    def edge_mm(self) -> float:
        """The largest offset that this contributor makes on its own."""

    @abstractmethod
    def through(self, influence: Floats) -> Contributor:
        """This vector multiplied from the left by `influence`, shape (2, 2)."""

    @abstractmethod
    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        """The mean of exp(i k.x) at each wave vector (1/mm); kx and ky of one shape."""

    def wave_cost(self, k_end: float) -> float:
        """About how many exponentials one wave takes, up to `k_end`."""
        return 1.0

    def ready(self, k_end: float) -> Contributor:
        """The same contributor, made ready to be asked for many waves up to `k_end` (1/mm)."""
        return self

    @abstractmethod
    def extreme(self, towards: Floats) -> Floats:
        """The point on the edge that lies furthest along each of `towards`, both shape (n, 2)."""

    @abstractmethod
    def drawn(self, uniforms: Floats) -> Floats:
        """Vectors, shape (n, 2), from uniforms between 0 and 1, shape (n, `dimensions`)."""

    @property
    def dimensions(self) -> int:
        """How many uniforms one draw takes."""
        return 2

    @property
    def isotropic(self) -> bool:
        """Whether turning it turns nothing."""
        return False

    @property
    def normal(self) -> bool:
        """Whether it is a normal vector, so that it damps the characteristic function."""
        return False

    @property
    def points_mm(self) -> Floats | None:
        """The equally likely vectors, shape (n, 2), of one that can take only these."""
        return None

    def envelope(self, k: Floats) -> Floats:
        """A bound, never rising with k, on the characteristic function in any direction.

        That of a normal contributor is left at one: its covariance tells more.
        """
        return np.ones_like(k)

    def creases(self) -> Floats:
        """Directions, radians counter-clockwise from +x, where the furthest point jumps."""
        return np.empty(0)

    @property
    def near_dimensions(self) -> int | None:
        """Uniforms that `near` takes; None where it has no closed form."""
        return None

    def near(self, centres: Floats, radius_mm: float, uniforms: Floats) -> Floats:
        """The chance of ending within `radius_mm` of the crank axis, starting from each centre.

        Shapes (n, 2), scalar, (n, `near_dimensions`); the mean over the uniforms is the chance.
        """
        raise TypeError(f"{type(self).__name__} has no closed form")


@dataclass(frozen=True, eq=False)
class Fixed(Contributor):
    """The same vector in every car: a line-honed crank, the growth of one temperature rise."""

    vector_mm: Floats

    @classmethod
    def at(cls, clock_deg: float, size_mm: float) -> Self:
        """The vector of `size_mm` toward a clock angle."""
        size = finite(size_mm, where="size")
        return cls(size * clock_vector(finite(clock_deg, where="clock_deg")))

    def __post_init__(self) -> None:
        finite_rows([self.vector_mm], columns=2, least=1, where="vector")

    @property
    def mean_mm(self) -> Floats:
        return np.asarray(self.vector_mm, dtype=float)

    @property
    def covariance_mm2(self) -> Floats:
        return np.zeros((2, 2))

    @property
    def edge_mm(self) -> float:
        return float(np.hypot(*self.mean_mm))

    @property
    def points_mm(self) -> Floats:
        return self.mean_mm[None, :]

    @property
    def dimensions(self) -> int:
        return 0

    def through(self, influence: Floats) -> Fixed:
        return Fixed(influence @ self.mean_mm)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        x, y = self.mean_mm
        return np.asarray(np.exp(1j * (kx * x + ky * y)))

    def extreme(self, towards: Floats) -> Floats:
        return np.broadcast_to(self.mean_mm, towards.shape)

    def drawn(self, uniforms: Floats) -> Floats:
        return np.broadcast_to(self.mean_mm, (len(uniforms), 2))


@dataclass(frozen=True, eq=False, kw_only=True)
class Zone(Contributor):
    """A hole's centre inside a circle of diameter `zone_mm`, after a linear map.

    `spread` is "normal" (the zone is six standard deviations on each axis), "disc" (anywhere
    inside, evenly) or "edge" (always on the circle).
    """

    zone_mm: float
    spread: Literal["normal", "disc", "edge"] = "normal"
    influence: Floats = field(default_factory=lambda: IDENTITY)

    def __post_init__(self) -> None:
        positive(self.zone_mm, where="zone")

    @property
    def shape_mm(self) -> Floats:
        """The matrix that takes the unit circle to the edge."""
        return self.influence * (self.zone_mm / 2)

    @property
    def mean_mm(self) -> Floats:
        return np.zeros(2)

    @property
    def covariance_mm2(self) -> Floats:
        part = {"normal": 1 / SIGMAS_TO_EDGE**2, "disc": 1 / 4, "edge": 1 / 2}[self.spread]
        return np.asarray(part * self.shape_mm @ self.shape_mm.T)

    @property
    def edge_mm(self) -> float:
        return float(np.linalg.norm(self.shape_mm, ord=2))

    @property
    def isotropic(self) -> bool:
        return keeps_circles(self.influence)

    @property
    def normal(self) -> bool:
        return self.spread == "normal"

    @property
    def dimensions(self) -> int:
        return 1 if self.spread == "edge" else 2

    def through(self, influence: Floats) -> Zone:
        return Zone(zone_mm=self.zone_mm, spread=self.spread, influence=influence @ self.influence)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        q = self._phase(kx, ky)
        if self.spread == "normal":
            return np.asarray(np.exp(-0.5 * (q / SIGMAS_TO_EDGE) ** 2))
        return disc_wave(q) if self.spread == "disc" else ring_wave(q)

    def swelling(self, kx: Floats, ky: Floats) -> Floats:
        """The derivative of the characteristic function by the logarithm of the zone's size."""
        q = self._phase(kx, ky)
        if self.spread == "normal":
            variance = (q / SIGMAS_TO_EDGE) ** 2
            return np.asarray(-variance * np.exp(-0.5 * variance))
        if self.spread == "disc":
            return np.asarray(2 * ring_wave(q) - 2 * disc_wave(q))
        return np.asarray(-q * j1(q))

    def _phase(self, kx: Floats, ky: Floats) -> Floats:
        """How far a wave turns from the centre to the edge, radians."""
        (a, b), (c, d) = self.shape_mm
        return np.asarray(np.hypot(a * kx + c * ky, b * kx + d * ky))

    def envelope(self, k: Floats) -> Floats:
        if self.spread == "normal":
            return np.ones_like(k)
        bound = disc_bound if self.spread == "disc" else ring_bound
        return bound(k * np.linalg.svd(self.shape_mm, compute_uv=False)[1])

    def extreme(self, towards: Floats) -> Floats:
        return furthest_on_ellipse(self.shape_mm, towards)

    def drawn(self, uniforms: Floats) -> Floats:
        if self.spread == "normal":
            unit = ndtri(uniforms) / SIGMAS_TO_EDGE
        else:
            turn = 2 * np.pi * uniforms[:, -1]
            out = np.ones(1) if self.spread == "edge" else np.sqrt(uniforms[:, 0])
            unit = np.column_stack([out * np.cos(turn), out * np.sin(turn)])
        return np.asarray(unit @ self.shape_mm.T)

    @property
    def near_dimensions(self) -> int | None:
        if self.isotropic and not self.normal:
            return 0
        return None if self.spread == "edge" else 1

    def near(self, centres: Floats, radius_mm: float, uniforms: Floats) -> Floats:
        if self.isotropic and self.spread == "disc":
            return share_of_disc(centres, self.edge_mm, radius_mm)
        if self.isotropic and self.spread == "edge":
            return share_of_arc(centres, self.edge_mm, radius_mm)
        if self.spread == "edge":
            return super().near(centres, radius_mm, uniforms)
        if self.normal:
            # draw along the first axis; along the second what is left is a line
            first, second = self.shape_mm.T
            start = centres + np.outer(ndtri(uniforms[:, 0]) / SIGMAS_TO_EDGE, first)
            return share_of_chord(start, second, radius_mm, sigmas=SIGMAS_TO_EDGE)
        return share_of_ellipse(centres, self.shape_mm, radius_mm, uniforms[:, 0])


@dataclass(frozen=True, eq=False, kw_only=True)
class Line(Contributor):
    """An error along one line only, to both sides of nominal.

    `half_mm` is the vector to one end. `spread` is "normal" (the end is three standard deviations
    out) or "even".
    """

    half_mm: Floats
    spread: Literal["normal", "even"] = "normal"

    @classmethod
    def at(cls, clock_deg: float, plus_minus_mm: float, spread: Literal["normal", "even"]) -> Self:
        """The line at a clock angle, `plus_minus_mm` to each side."""
        size = positive(plus_minus_mm, where="plus_minus")
        return cls(half_mm=size * clock_vector(finite(clock_deg, where="clock_deg")), spread=spread)

    @property
    def mean_mm(self) -> Floats:
        return np.zeros(2)

    @property
    def covariance_mm2(self) -> Floats:
        part = 1 / SIGMAS_TO_EDGE**2 if self.spread == "normal" else 1 / 3
        return part * np.outer(self.half_mm, self.half_mm)

    @property
    def edge_mm(self) -> float:
        return float(np.hypot(*self.half_mm))

    @property
    def normal(self) -> bool:
        return self.spread == "normal"

    @property
    def dimensions(self) -> int:
        return 1

    def through(self, influence: Floats) -> Line:
        return Line(half_mm=influence @ self.half_mm, spread=self.spread)

    def characteristic(self, kx: Floats, ky: Floats) -> Waves:
        q = self.half_mm[0] * kx + self.half_mm[1] * ky
        if self.spread == "normal":
            return np.asarray(np.exp(-0.5 * (q / SIGMAS_TO_EDGE) ** 2))
        return np.asarray(np.sinc(q / np.pi))

    def extreme(self, towards: Floats) -> Floats:
        return np.where(towards @ self.half_mm < 0, -1.0, 1.0)[:, None] * self.half_mm

    def creases(self) -> Floats:
        return across(self.half_mm)

    def drawn(self, uniforms: Floats) -> Floats:
        along = ndtri(uniforms) / SIGMAS_TO_EDGE if self.normal else 2 * uniforms - 1
        return np.asarray(along * self.half_mm)

    @property
    def near_dimensions(self) -> int:
        return 0

    def near(self, centres: Floats, radius_mm: float, uniforms: Floats) -> Floats:
        sigmas = SIGMAS_TO_EDGE if self.normal else None
        return share_of_chord(centres, self.half_mm, radius_mm, sigmas=sigmas)


def across(vector: Floats) -> Floats:
    """Both directions square to a vector, radians counter-clockwise from +x."""
    turn = np.arctan2(vector[1], vector[0])
    return np.array([turn + np.pi / 2, turn - np.pi / 2])
