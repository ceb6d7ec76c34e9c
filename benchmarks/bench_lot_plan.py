"""52 weeks of castings, proven, against the bare solver on the same programme built beforehand."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.calc.supply.lot_plan import NODES, cheapest_plan
from kitwright.calc.supply.lot_programme import programme_of, solve
from kitwright.calc.supply.lots import LotCase

WEEKS = 52


def weeks(share: str, *, most: int, step: int | None = None) -> LotCase:
    """A season of demand for a machinist who takes so many castings a week; money in cents."""
    rng = np.random.default_rng(52)
    demand = rng.poisson(9 * (1 + 0.5 * np.sin(np.arange(WEEKS) / 8)))
    return LotCase(
        demand=tuple(Fraction(int(each)) for each in demand),
        set_up=(Fraction(42000),) * WEEKS,
        holding=Fraction(160),
        good_share=Fraction(share),
        on_hand=Fraction(14),
        capacity=(Fraction(most),) * WEEKS,
        step=step,
    )


def test_52_weeks_by_the_programme_within_five_bare_solutions() -> None:
    """So fine a share that only the programme proves it."""
    case = weeks("0.9137", most=20)
    answer = cheapest_plan(case)
    assert answer.method == "mixed-integer programme"
    assert abs(float(answer.plan.total_cost - answer.bound)) < 0.5  # half a cent
    built = programme_of(case)
    taken = ratio(lambda: cheapest_plan(case), lambda: solve(built, nodes=NODES), rounds=2)
    report("52 weeks proven by the programme, over the bare solver", taken, "at most 5")
    assert taken <= 5


def test_52_weeks_of_whole_castings_far_under_one_bare_solution() -> None:
    case = weeks("0.92", most=60, step=1)
    answer = cheapest_plan(case)
    assert answer.method == "every sum sent"
    built = programme_of(case)
    bare = solve(built, nodes=NODES)
    fixed = float(case.holding * sum(case.fixed_left))
    assert abs(float(answer.plan.total_cost) - bare.fun - fixed) < 0.5
    taken = ratio(lambda: cheapest_plan(case), lambda: solve(built, nodes=NODES), rounds=2)
    report("52 weeks of whole castings proven, over the bare solver", taken, "at most 0.2")
    assert taken <= 0.2
