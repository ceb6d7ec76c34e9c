"""300 bells to 300 engines, proven, against SciPy's bare assignment on the same costs."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linear_sum_assignment

from benchmarks.ratios import ratio, report
from kitwright.calc.centring.match import Odds, best_match, odds_of_pairs

COUNT = 300
TARGET = 3.0


def shelf() -> Odds:
    """Bells of one batch; engines new and line-honed, each with its own uncertainty."""
    rng = np.random.default_rng(300)
    honed = np.where(rng.random(COUNT) < 0.4, -0.06, 0.0)
    return odds_of_pairs(
        rng.normal(0, 0.012, (COUNT, 2)),
        rng.normal(0, 0.02, (COUNT, 2)) + np.column_stack([np.zeros(COUNT), honed]),
        limit_tir_mm=0.127,
        bells_u95_mm=0.004,
        engines_u95_mm=rng.uniform(0.008, 0.02, COUNT),
    )


def test_the_best_match_and_its_proof_in_three_bare_assignments() -> None:
    odds = shelf()
    found = best_match(odds)
    rows, columns = linear_sum_assignment(odds.chance_outside)
    assert abs(found.outside - odds.chance_outside[rows, columns].sum()) <= COUNT * 2e-12
    taken = ratio(
        lambda: best_match(odds),
        lambda: linear_sum_assignment(odds.chance_outside),
        rounds=15,
    )
    report("300 x 300 matched, ties and proof, over linear_sum_assignment", taken, "at most 3")
    assert taken <= TARGET


def test_what_the_chances_of_all_pairs_add() -> None:
    """Reckoning 90 000 chances to 13 figures takes longer than choosing among them."""
    odds = shelf()
    taken = ratio(shelf, lambda: linear_sum_assignment(odds.chance_outside), rounds=3)
    report("the chances of 90 000 pairs over linear_sum_assignment", taken, "at most 150")
    assert taken <= 150
