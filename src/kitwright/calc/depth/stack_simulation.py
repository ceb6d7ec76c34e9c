"""Drawing stacks at random: the check on exact chances, and several requirements at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.depth.links import Link
from kitwright.errors import InputError

_AT_ONCE: Final = 2**16
MOST_DRAWS: Final = 10_000_000


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A closing dimension: sense of each link that takes part, and its limits."""

    senses: Mapping[str, int]
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """How many of the stacks drawn met each requirement, and all of them."""

    draws: int
    within: tuple[float, ...]
    within_all: float
    seed: int

    def standard_error(self, chance: float) -> float:
        """Of a share of the draws, where the chance is this one."""
        return math.sqrt(chance * (1 - chance) / self.draws)


def simulate(
    links: Mapping[str, Link], wanted: Sequence[Wanted], *, draws: int, seed: int
) -> Drawn:
    """Draw stacks of independent links and count.

    Parameters
    ----------
    links : name → link; all requirements look at the same drawn links
    wanted : the requirements
    draws, seed : how many stacks; the same seed draws the same stacks

    Raises
    ------
    InputError
        No draws, or too many.
    """
    if not 1 <= draws <= MOST_DRAWS:
        raise InputError("draws", f"{draws} is out of range", f"give 1 to {MOST_DRAWS}")
    names = list(links)
    senses = np.array([[each.senses.get(name, 0) for name in names] for each in wanted])
    low = np.array([[each.low] for each in wanted])
    high = np.array([[each.high] for each in wanted])
    rng = np.random.default_rng(seed)
    counts, together = np.zeros(len(wanted), dtype=np.int64), 0
    for start in range(0, draws, _AT_ONCE):
        count = min(_AT_ONCE, draws - start)
        lengths = np.array([_lengths(links[name], count, rng) for name in names])
        closing = senses @ lengths
        met = (closing >= low) & (closing <= high)
        counts += met.sum(axis=1)
        together += int(met.all(axis=0).sum())
    return Drawn(
        draws=draws,
        within=tuple((counts / draws).tolist()),
        within_all=together / draws,
        seed=seed,
    )


def _lengths(link: Link, count: int, rng: np.random.Generator) -> Floats:
    if link.spread == "normal":
        return rng.normal(link.mean, link.normal_sigma, count)
    if link.spread == "even":
        return rng.uniform(link.low, link.high, count)
    return link.middle + (rng.random(count) - rng.random(count)) * link.half
