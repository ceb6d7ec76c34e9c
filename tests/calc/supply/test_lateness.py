"""Lateness where batches are overdue, against a simulated posterior and the Student law."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from kitwright.calc.supply.lateness import (
    PRIOR_COUNT,
    PRIOR_MEAN,
    PRIOR_SPREAD,
    Lateness,
    LatenessHeld,
    lateness,
    with_overdue,
)
from kitwright.errors import InputError

DAYS = np.array([-10.0, 0.5, 3.5, 9.5, 30.5, 80.5])


@pytest.mark.parametrize(
    ("came", "overdue"),
    [([0, 3, 5, 2], [4]), ([0, 3, 5, 2], [10, 6]), ([], [20]), ([7], [0]), ([4, 9] * 20, [9, 12])],
)
def test_overdue_batches_weigh_as_a_simulated_posterior_does(came, overdue):
    """Spreads and means drawn from the conjugate law (Gelman and others 2013, 3.3), each weighed by
    the chance that it leaves the overdue ones out so long."""
    random = np.random.default_rng(20261125)
    k = PRIOR_COUNT + len(came)
    seen = np.array(came, dtype=float)
    centre = (PRIOR_COUNT * PRIOR_MEAN + seen.sum()) / k
    squares = PRIOR_COUNT * (PRIOR_SPREAD**2 + PRIOR_MEAN**2) + (seen**2).sum() - k * centre**2
    spread = np.sqrt(squares / random.chisquare(k, 2_000_000))
    mean = random.normal(centre, spread / np.sqrt(k))
    weight = np.prod([stats.norm.sf((days - 0.5 - mean) / spread) for days in overdue], axis=0)
    expected = [(weight * stats.norm.cdf((day - mean) / spread)).sum() for day in DAYS]
    law = with_overdue(lateness(came), overdue)
    assert isinstance(law, LatenessHeld)
    assert law.by(DAYS) == pytest.approx(np.array(expected) / weight.sum(), abs=3e-3)


@pytest.mark.parametrize("times", [1, 80])
def test_a_batch_that_had_to_come_later_anyway_teaches_nothing(times):
    """All came 300 days late: one overdue since today says nothing; the Student law stays."""
    came = [300, 302, 298, 301, 299, 300] * times
    plain, held = (with_overdue(lateness(came, prior_mean=300), overdue) for overdue in ([], [0]))
    days = np.array([280.0, 295.0, 300.0, 304.0, 330.0])
    assert isinstance(plain, Lateness)
    assert isinstance(held, LatenessHeld)
    assert held.by(days) == pytest.approx(plain.by(days), abs=1e-6)


def test_longer_overdue_is_later_and_a_return_is_later_still():
    came = [0, 3, 5, 2]
    by = [
        with_overdue(lateness(came), [days]).by(np.array([10.0]))[0] for days in (0, 5, 20, 80, 400)
    ]
    assert (np.diff(by) < 0).all()
    assert by[0] < lateness(came).by(np.array([10.0]))[0]
    # Known to have come on that day: at most as late as one that comes later than it.
    assert with_overdue(lateness(came), [40]).by(DAYS)[-1] < lateness([*came, 40]).by(DAYS)[-1]


def test_weights_are_a_whole_and_the_law_rises_to_one():
    law = with_overdue(lateness([0, 3]), [3, 9, 200])
    assert isinstance(law, LatenessHeld)
    assert law.weights.sum() == pytest.approx(1)
    chances = law.by(np.arange(-200.0, 100_000.0, 500))
    assert (np.diff(chances) >= 0).all()
    assert chances[0] < 0.1
    assert chances[-1] > 0.99


@pytest.mark.parametrize("overdue", [[-1], [float("nan")], [float("inf")]])
def test_days_that_cannot_be_are_refused(overdue):
    with pytest.raises(InputError, match=r"overdue: .*; give days past due"):
        with_overdue(lateness([1, 2]), overdue)
