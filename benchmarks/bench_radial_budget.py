"""The chance of a correction near 1 in 10 000: exact, against plain NumPy draws at equal error.

Equal error: 1 % of the chance. Of n plain draws the count outside has a relative standard error
of root((1 - p) / (p n)), so p = 1e-4 takes n = (1 - p) / (p 0.01²), about 1e8 draws. They are not
made: the time of one draw is measured over blocks of 2**17, in turn with the exact sum, and
multiplied. The exact sum is off by less than 1e-9, which is 0.001 % of the chance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.calc.centring.clearance import Clearance, Limits
from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.floats import FloatAnywhere
from kitwright.calc.centring.radial_budget import law_of
from kitwright.calc.centring.rigid import bore_influence

CHANCE = 1e-4
ERROR = 0.01
DRAWS = (1 - CHANCE) / (CHANCE * ERROR**2)
BLOCK = 2**17
RNG = np.random.default_rng(6)
DOWELS = bore_influence([-170, -20], [170, -20])

PLAY = Clearance(hole=Limits(low_mm=16, high_mm=16.018), pin=Limits(low_mm=15.983, high_mm=15.994))
LEVEL: list[Contributor] = [
    Zone(zone_mm=0.1),
    Zone(zone_mm=0.06, spread="disc"),
    Fixed.at(180, 0.0254),
]
TURNED: list[Contributor] = [
    Zone(zone_mm=0.1),
    Zone(zone_mm=0.08).through(DOWELS.of_a),
    Zone(zone_mm=0.08).through(DOWELS.of_b),
    Line.at(90, 0.02, "even"),
    FloatAnywhere(clearance=PLAY),
    Fixed.at(180, 0.0254),
]


def disc(count: int) -> np.ndarray:
    out, turn = np.sqrt(RNG.random(count)), 2 * np.pi * RNG.random(count)
    return np.stack([out * np.cos(turn), out * np.sin(turn)])


def level_draws(limit: float) -> int:
    """How many of a block lie outside: one normal vector, one of a disc, a shift."""
    x, y = RNG.normal(0, 0.1 / 6, (2, BLOCK)) + 0.03 * disc(BLOCK)
    y -= 0.0254
    return int(np.count_nonzero(x * x + y * y > limit**2))


def turned_draws(limit: float) -> int:
    offset = RNG.normal(0, 0.1 / 6, (2, BLOCK))
    offset += DOWELS.of_a @ RNG.normal(0, 0.08 / 6, (2, BLOCK))
    offset += DOWELS.of_b @ RNG.normal(0, 0.08 / 6, (2, BLOCK))
    play = RNG.uniform(16, 16.018, BLOCK) - RNG.uniform(15.983, 15.994, BLOCK)
    offset += play / 2 * disc(BLOCK)
    offset[0] += RNG.uniform(-0.02, 0.02, BLOCK)
    offset[1] -= 0.0254
    return int(np.count_nonzero(offset[0] ** 2 + offset[1] ** 2 > limit**2))


def times_faster(
    contributors: Sequence[Contributor], draws: Callable[[float], int], what: str
) -> float:
    limit = law_of(contributors, radius_mm=0.1).radius_mm(1 - CHANCE)

    def exact() -> float:
        law = law_of(contributors, radius_mm=limit)
        assert law.error(limit) < 1e-9
        return 1 - law.chance_within(limit)

    assert abs(exact() / CHANCE - 1) < 1e-5
    counted = sum(draws(limit) for _ in range(20)) / (20 * BLOCK)
    assert abs(counted / CHANCE - 1) < 0.4, "both sides must compute the same chance"
    blocks = DRAWS / BLOCK
    faster = blocks / ratio(exact, lambda: draws(limit), rounds=15)
    report(f"{what}: {DRAWS:.3g} plain draws over the exact chance", faster, "at least 1000")
    return faster


def test_level_budget() -> None:
    assert times_faster(LEVEL, level_draws, "zones and a shift") >= 1000


def test_budget_with_directions() -> None:
    assert times_faster(TURNED, turned_draws, "dowels, a line and a float") >= 1000
