"""The clearance of a pin in its hole, both even between their limits of size."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats, finite
from kitwright.errors import InputError

_NO_WIDTH_MM: Final = 1e-9  # narrower limits than a picometre: one size


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Least and largest diameter, mm."""

    low_mm: float
    high_mm: float

    def checked(self, where: str) -> Limits:
        """The limits, refused where they are not sizes or stand the wrong way round."""
        for size, end in ((self.low_mm, "low"), (self.high_mm, "high")):
            if finite(size, where=f"{where}.{end}") <= 0:
                raise InputError(f"{where}.{end}", f"{size:g} mm", "give more than zero")
        if self.low_mm > self.high_mm:
            raise InputError(
                f"{where}.low", f"{self.low_mm:g} mm is above high", "swap low and high"
            )
        return self


@dataclass(frozen=True)
class Clearance:
    """Hole less pin, never below zero: a pin larger than its hole is pressed in and has no play.

    Hole and pin are independent, each even between its limits, so hole less pin has a trapezium
    for its density; what of it lies below zero is gathered at zero.

    Raises
    ------
    InputError
        A limit that is not above zero, or low above high.

    Examples
    --------
    >>> fit = Clearance(hole=Limits(low_mm=16, high_mm=16.018), pin=Limits(low_mm=16, high_mm=16))
    >>> round(fit.largest_mm, 3), round(fit.chance_below(0.009), 6)
    (0.018, 0.5)
    """

    hole: Limits
    pin: Limits

    def __post_init__(self) -> None:
        self.hole.checked("hole")
        self.pin.checked("pin")

    @property
    def least_mm(self) -> float:
        return max(0.0, self.hole.low_mm - self.pin.high_mm)

    @property
    def largest_mm(self) -> float:
        return max(0.0, self.hole.high_mm - self.pin.low_mm)

    @property
    def varies(self) -> bool:
        return self.least_mm < self.largest_mm

    @property
    def mean_mm(self) -> float:
        """First moment, mm."""
        sizes, weights = self.mixture(4)
        return float(weights @ sizes)

    @property
    def mean_square_mm2(self) -> float:
        """Second moment, mm²."""
        sizes, weights = self.mixture(4)
        return float(weights @ sizes**2)

    def chance_below(self, size_mm: float) -> float:
        """The chance of a clearance of at most `size_mm`."""
        return float(self.distribution(np.array([size_mm]))[0])

    def distribution(self, size_mm: Floats) -> Floats:
        """The chance of a clearance of at most each of `size_mm`, an array of any shape."""
        narrow, wide, corners = self._shape()
        x = np.asarray(size_mm, dtype=float)
        if wide == 0:
            below = np.where(x >= corners[0], 1.0, 0.0)
        elif narrow == 0:
            below = np.clip((x - corners[0]) / wide, 0.0, 1.0)
        else:
            inside = np.clip(x, corners[0], corners[3])
            steps = [np.maximum(inside - corner, 0.0) ** 2 for corner in corners]
            below = (steps[0] - steps[1] - steps[2] + steps[3]) / (2 * narrow * wide)
            below = np.where(x >= corners[3], 1.0, np.clip(below, 0.0, 1.0))
        return np.where(x < 0, 0.0, below)

    def mixture(self, nodes: int) -> tuple[Floats, Floats]:
        """Clearances and weights that stand for the distribution under smooth functions.

        `nodes` Gauss-Legendre points on each straight piece of the trapezium, and zero with the
        chance of no play; exact for polynomials of degree 2 `nodes` - 2.
        """
        narrow, wide, corners = self._shape()
        if wide == 0:
            return np.array([max(0.0, corners[0])]), np.array([1.0])
        at, share = np.polynomial.legendre.leggauss(nodes)
        sizes, weights = [np.zeros(1)], [np.array([self.chance_below(0.0)])]
        ends = np.maximum(corners, 0.0)
        for start, end in pairwise(ends):
            if end > start:
                half = (end - start) / 2
                x = start + half * (at + 1)
                sizes.append(x)
                weights.append(half * share * self._density(x, narrow, wide, corners))
        return np.concatenate(sizes), np.concatenate(weights)

    def drawn(self, uniforms: Floats) -> Floats:
        """Clearances from uniforms, shape (n, 2): one for the hole, one for the pin."""
        hole = self.hole.low_mm + (self.hole.high_mm - self.hole.low_mm) * uniforms[:, 0]
        pin = self.pin.low_mm + (self.pin.high_mm - self.pin.low_mm) * uniforms[:, 1]
        return np.maximum(hole - pin, 0.0)

    def _shape(self) -> tuple[float, float, Floats]:
        """Widths of the two even distributions, the narrow one first, and the four corners."""
        widths = sorted(
            0.0 if size.high_mm - size.low_mm < _NO_WIDTH_MM else size.high_mm - size.low_mm
            for size in (self.hole, self.pin)
        )
        low = self.hole.low_mm - self.pin.high_mm
        corners = low + np.array([0.0, widths[0], widths[1], widths[0] + widths[1]])
        return widths[0], widths[1], corners

    @staticmethod
    def _density(x: Floats, narrow: float, wide: float, corners: Floats) -> Floats:
        if narrow == 0:
            return np.full_like(x, 1 / wide)
        ramps = [np.maximum(x - corner, 0.0) for corner in corners]
        return np.asarray((ramps[0] - ramps[1] - ramps[2] + ramps[3]) / (narrow * wide))
