"""An axial budget of ten links, exact, against plain simulation that has the same error.

The exact chance is good to some 1e-13; the simulation gets to stop at a standard error of 1e-4. It
is written as anyone would: numpy, all links of a block at once.
"""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.calc.depth.axial_budget import Term, axial_budget
from kitwright.calc.depth.links import Link, Spread
from kitwright.calc.depth.stack_law import StackLaw

STANDARD_ERROR = 1e-4
TARGET = 0.01
TARGET_WHOLE = 0.25
_SPREADS: tuple[Spread, ...] = ("normal", "even", "triangle")
CHAIN = {
    f"link {number}": Term(
        link=Link(
            nominal=20 + number,
            plus=0.1 + 0.03 * number,
            minus=0.1 + 0.02 * number,
            spread=_SPREADS[number % 3],
        ),
        sense=1 if number % 2 else -1,
    )
    for number in range(10)
}


def simulated(low: float, high: float, draws: int) -> float:
    rng = np.random.default_rng(1)
    inside, block = 0, 2**16
    for start in range(0, draws, block):
        count = min(block, draws - start)
        closing = np.zeros(count)
        for term in CHAIN.values():
            link = term.link
            if link.spread == "normal":
                length = rng.normal(link.mean, link.sigma, count)
            elif link.spread == "even":
                length = rng.uniform(link.low, link.high, count)
            else:
                length = rng.triangular(link.low, link.mean, link.high, count)
            closing += term.sense * length
        inside += int(((closing >= low) & (closing <= high)).sum())
    return inside / draws


def test_exact_chances_cost_a_fraction_of_a_simulation() -> None:
    free = axial_budget(CHAIN, low=0)
    low, high = free.mean - 1.8 * free.sigma, free.mean + 2.2 * free.sigma
    exact = axial_budget(CHAIN, low=low, high=high)
    assert exact.error < 1e-12
    draws = math.ceil(exact.chance_within * exact.chance_outside / STANDARD_ERROR**2)
    assert abs(simulated(low, high, draws) - exact.chance_within) < 5 * STANDARD_ERROR

    def chance() -> object:
        law = StackLaw(term.link for term in CHAIN.values())
        return law.above(free.mean - low), law.above(high - free.mean)

    drawn = partial(simulated, low, high, draws)
    found = ratio(chance, drawn, rounds=3)
    what = f"over {draws} stacks drawn to a standard error of 1e-4"
    report(f"exact chance {what}", found, f"at most {TARGET:g}")
    whole = ratio(lambda: axial_budget(CHAIN, low=low, high=high), drawn, rounds=3)
    report(
        f"whole budget, with percentiles and each link left out, {what}",
        whole,
        f"at most {TARGET_WHOLE:g}",
    )
    assert found <= TARGET
    assert whole <= TARGET_WHOLE
