"""The chance of a radial budget by quasi-random simulation: the check, and the last resort.

Scrambled Sobol points (Owen 1997), several independent scrambles; the spread between them gives
the standard error. Where a contributor has a closed form, it is not drawn: given the others, its
chance of ending within the radius is known, and that takes most of the noise away.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from kitwright.calc.centring.circles import AT_LIMIT
from kitwright.calc.centring.contributors import Contributor
from kitwright.calc.centring.radial_law import RadialLaw
from kitwright.calc.checks import Floats

SCRAMBLES: Final = 16
_FIRST_POWER: Final = 12
_LAST_POWER: Final = 20
_FEW_POWER: Final = 11
GOOD_ENOUGH: Final = 1e-5
"""The standard error at which a simulation of the chance asked for stops."""


@dataclass(frozen=True, eq=False, kw_only=True)
class BySimulation(RadialLaw):
    """Drawn centres, shape (scrambles, n, 2), and the contributor that is not drawn."""

    centres: Floats
    last: Contributor | None
    uniforms: Floats  # (scrambles, n, d) for the last
    far_mm: float

    method = "simulated"

    @property
    def way(self) -> str:  # type: ignore[override]
        scrambles, draws, _ = self.centres.shape
        left = ", one contributor in closed form" if self.last else ""
        return f"{scrambles} scrambles of {draws} Sobol points{left}"

    def chance_within(self, radius_mm: float) -> float:
        if radius_mm >= self.far_mm:
            return 1.0
        return float(min(1.0, max(0.0, self._means(radius_mm).mean())))

    def error(self, radius_mm: float) -> float:
        means = self._means(radius_mm)
        return float(means.std(ddof=1) / math.sqrt(len(means)))

    def _means(self, radius_mm: float) -> Floats:
        """The chance by each scramble."""
        if self.last is None:
            offsets = np.hypot(self.centres[..., 0], self.centres[..., 1])
            return np.asarray((offsets <= radius_mm * (1 + AT_LIMIT)).mean(axis=1))
        pairs = zip(self.centres, self.uniforms, strict=True)
        return np.array([self.last.near(at, radius_mm, u).mean() for at, u in pairs])


def by_simulation(
    contributors: Sequence[Contributor],
    radius_mm: float,
    far_mm: float,
    seed: int,
    *,
    good_enough: float = GOOD_ENOUGH,
    closed_forms: bool = True,
    power: int | None = None,
) -> BySimulation:
    """Simulate until the chance within `radius_mm` has a standard error under `good_enough`.

    Parameters
    ----------
    closed_forms : leave the widest contributor that has a closed form undrawn
    power : 2**power points a scramble instead, whatever the error

    Notes
    -----
    16 times 2**20 points are the most; the standard error is then what it is, and is told.
    """
    drawn = list(contributors)
    last = _widest(contributors) if closed_forms else None
    if last is not None:
        drawn.remove(last)
    if power is not None:
        return _simulated(drawn, last, far_mm, seed, power)
    # scrambles that agree by luck at few points must not end it early
    for power_now in range(_FIRST_POWER, _LAST_POWER):
        law = _simulated(drawn, last, far_mm, seed, power_now)
        if law.error(radius_mm) < good_enough:
            return law
    return _simulated(drawn, last, far_mm, seed, _LAST_POWER)


def _widest(contributors: Sequence[Contributor]) -> Contributor | None:
    known = [each for each in contributors if each.near_dimensions is not None]
    return max(known, key=lambda each: float(np.trace(each.covariance_mm2)), default=None)


def _simulated(
    drawn: Sequence[Contributor],
    last: Contributor | None,
    far_mm: float,
    seed: int,
    power: int,
) -> BySimulation:
    left = (last.near_dimensions or 0) if last is not None else 0
    dimensions = sum(each.dimensions for each in drawn) + left
    centres = np.zeros((SCRAMBLES, 2**power, 2))
    uniforms = np.empty((SCRAMBLES, 2**power, left))
    points_of = _few_points if power <= _FEW_POWER else _points
    for scramble, points in enumerate(points_of(max(1, dimensions), power, seed)):
        uniforms[scramble] = points[:, :left]
        at = left
        for each in drawn:
            centres[scramble] += each.drawn(points[:, at : at + each.dimensions])
            at += each.dimensions
    return BySimulation(centres=centres, last=last, uniforms=uniforms, far_mm=far_mm)


def _points(dimensions: int, power: int, seed: int) -> Iterator[Floats]:
    """Scrambled Sobol points, shape (2**power, dimensions), one scramble after another."""
    from scipy.stats import qmc  # noqa: PLC0415 (0.7 s to import, and seldom needed)

    for child in np.random.SeedSequence(seed).spawn(SCRAMBLES):
        sobol = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(child))
        # scrambled points can be exactly 0, where a normal vector would be infinitely far
        yield np.clip(sobol.random_base2(power), 2.0**-54, 1 - 2.0**-53)


@lru_cache(maxsize=4)
def _few_points(dimensions: int, power: int, seed: int) -> tuple[Floats, ...]:
    """The same, kept: a search asks for them again and again."""
    return tuple(_points(dimensions, power, seed))
