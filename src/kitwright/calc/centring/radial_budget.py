"""How often a bore lies within a TIR limit, and what each contributor has to do with it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from kitwright.calc.centring.contributors import Contributor
from kitwright.calc.centring.radial_exact import FAR_SIGMAS, by_inversion
from kitwright.calc.centring.radial_law import RadialLaw, by_counting, merged
from kitwright.calc.centring.radial_simulation import GOOD_ENOUGH, by_simulation
from kitwright.calc.centring.worst_case import (
    largest_offset_mm,
    mean_and_covariance,
    root_sum_square_mm,
)
from kitwright.calc.checks import positive
from kitwright.errors import InputError

PERCENTILES: Final = ("50", "90", "95", "99", "99.9")
SEED: Final = 286
_CHECK_POWER: Final = 12
_FOR_COMPARISON: Final = 1e-4


@dataclass(frozen=True, kw_only=True)
class Contribution:
    """One contributor's part in the whole."""

    name: str
    share: float
    """Of the mean square offset: its variance plus its mean along the total mean, over the total;
    below zero for a shift against the others."""
    chance_outside_without: float


@dataclass(frozen=True, kw_only=True)
class RadialBudget:
    """What a radial budget comes to. TIR is twice the offset."""

    worst_case_tir_mm: float
    rss_tir_mm: float
    chance_within: float
    chance_outside: float
    tir_percentiles_mm: Mapping[str, float]
    """Per cent of bells, as text ("50" to "99.9") → the TIR that they stay within."""
    contributions: tuple[Contribution, ...]
    mean_mm: tuple[float, float]
    """Mean offset, x right and y up."""
    method: Literal["exact", "simulated"]
    way: str
    """How the chance was reached, in words."""
    standard_error: float
    """Of the chance; for an exact one, a bound on its error."""
    seed: int | None
    """Of the simulation, where there was one."""


def radial_budget(
    contributors: Mapping[str, Contributor], *, limit_tir_mm: float, seed: int = SEED
) -> RadialBudget:
    """Add up independent contributors to a bore's offset, and compare with a limit on its TIR.

    Parameters
    ----------
    contributors : name → contributor, each the bore's offset relative to the crank
    limit_tir_mm : twice the offset allowed; an offset that is just allowed counts as within
    seed : of the simulation, where no exact way is in reach

    Raises
    ------
    InputError
        No contributor, or a limit that is not above zero.

    Notes
    -----
    The worst case takes a normal zone or line at its edge, three standard deviations out, so a
    normal budget can exceed it.

    Examples
    --------
    >>> from kitwright.calc.centring.contributors import Zone
    >>> found = radial_budget({"bore": Zone(zone_mm=0.06)}, limit_tir_mm=0.06)
    >>> round(found.chance_outside, 6)  # exp(-9/2): beyond 3 sigma in the plane, not 0.27 %
    0.011109
    """
    if not contributors:
        raise InputError("contributors", "none given", "give one or more")
    radius = positive(limit_tir_mm, where="limit") / 2
    listed = list(contributors.values())
    law = law_of(listed, radius_mm=radius, seed=seed)
    within = law.chance_within(radius)
    mean, _ = mean_and_covariance(listed)
    return RadialBudget(
        worst_case_tir_mm=2 * largest_offset_mm(listed),
        rss_tir_mm=2 * root_sum_square_mm(listed),
        chance_within=within,
        chance_outside=1 - within,
        tir_percentiles_mm=_percentiles(law),
        contributions=tuple(_contributions(contributors, radius, seed)),
        mean_mm=(float(mean[0]), float(mean[1])),
        method=law.method,
        way=law.way,
        standard_error=law.error(radius),
        seed=seed if law.method == "simulated" else None,
    )


def chance_outside(
    contributors: Sequence[Contributor],
    *,
    limit_tir_mm: float,
    seed: int = SEED,
    power: int | None = None,
) -> float:
    """The chance alone, as `radial_budget` finds it; `power` as in `law_of`."""
    radius = positive(limit_tir_mm, where="limit") / 2
    return 1 - law_of(contributors, radius_mm=radius, seed=seed, power=power).chance_within(radius)


@dataclass(frozen=True, kw_only=True)
class Simulated:
    """A chance as a simulation finds it, with its standard error and its seed."""

    chance_outside: float
    standard_error: float
    seed: int


def simulated(
    contributors: Sequence[Contributor], *, limit_tir_mm: float, seed: int = SEED
) -> Simulated:
    """The chance outside by drawing every contributor: a check that shares nothing with the exact
    ways but the contributors themselves. Scrambled Sobol points, 16 times 2**12 of them.
    """
    radius = positive(limit_tir_mm, where="limit") / 2
    parts = list(contributors)
    law = by_simulation(parts, radius, far_mm(parts), seed, closed_forms=False, power=_CHECK_POWER)
    return Simulated(
        chance_outside=1 - law.chance_within(radius), standard_error=law.error(radius), seed=seed
    )


def law_of(
    contributors: Sequence[Contributor],
    *,
    radius_mm: float,
    seed: int = SEED,
    good_enough: float = GOOD_ENOUGH,
    power: int | None = None,
) -> RadialLaw:
    """The law of the offset, by the first way that will do: counting, inversion, simulation.

    A simulation is carried on until its standard error at `radius_mm` is `good_enough`, or has
    2**power points a scramble whatever its error.
    """
    parts = merged(contributors)
    far = far_mm(parts)
    law = by_counting(parts, far) or by_inversion(parts, far)
    return law or by_simulation(parts, radius_mm, far, seed, good_enough=good_enough, power=power)


def far_mm(contributors: Sequence[Contributor]) -> float:
    """An offset that none exceeds, but for a chance under 1e-15.

    Where nothing is normal it is the worst case itself, so that what cannot be outside never is.
    """
    bounded = [each for each in contributors if not each.normal]
    if len(bounded) == len(contributors):
        return largest_offset_mm(bounded) if bounded else 0.0
    covariance = np.sum([each.covariance_mm2 for each in contributors if each.normal], axis=0)
    sigma = math.sqrt(max(0.0, float(np.linalg.eigvalsh(covariance)[1])))
    return sum(each.edge_mm for each in bounded) + FAR_SIGMAS * sigma


def _percentiles(law: RadialLaw) -> dict[str, float]:
    radii = [law.radius_mm(float(percent) / 100) for percent in PERCENTILES]
    # equal ones, at a jump, may differ by rounding
    return dict(zip(PERCENTILES, (2 * np.maximum.accumulate(radii)).tolist(), strict=True))


def _contributions(
    contributors: Mapping[str, Contributor], radius_mm: float, seed: int
) -> list[Contribution]:
    total_mean, covariance = mean_and_covariance(list(contributors.values()))
    mean_square = float(np.trace(covariance) + total_mean @ total_mean)
    found = []
    for name, each in contributors.items():
        others = [other for key, other in contributors.items() if key != name]
        own = float(np.trace(each.covariance_mm2) + each.mean_mm @ total_mean)
        law = law_of(others, radius_mm=radius_mm, seed=seed, good_enough=_FOR_COMPARISON)
        found.append(
            Contribution(
                name=name,
                share=own / mean_square if mean_square > 0 else 0.0,
                chance_outside_without=1 - law.chance_within(radius_mm),
            )
        )
    return found
