"""How well a value must be known: checked against the decision itself, and against the GUM's mean.

The rule of the guard is ISO 14253-1's; u/sqrt(n) is JCGM 100:2008, 4.2.3 (from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.quality.conformity import GUARD_IN_U95, decide_length, decide_position
from kitwright.calc.quality.sharper import sharper
from kitwright.errors import InputError

RULES = sorted(GUARD_IN_U95)
SIZE = st.floats(0.001, 1.0)


@given(SIZE, st.floats(-1.0, 2.0), st.sampled_from(RULES), st.booleans())
def test_a_little_better_decides_and_a_little_worse_does_not(u95, value, rule, two_sided):
    low, high = (0.0 if two_sided else -np.inf), 1.0
    clearance = min(value - low, high - value)
    if abs(clearance) < 1e-4:
        return
    found = sharper(clearance, u95=u95, rule=rule)
    needed = float(found.u95_needed)
    better = decide_length(value, u95=0.999 * needed, low=low, high=high, rule=rule)
    assert better.verdicts.tolist() == ["within" if found.inside else "outside"]
    worse = decide_length(value, u95=1.001 * needed, low=low, high=high, rule=rule)
    assert worse.verdicts.tolist() == ["too close to call"]


@given(SIZE, st.floats(0.0, 1.0), st.sampled_from(RULES))
def test_a_position_is_decided_by_the_same_distance(u95, offset, rule):
    zone = 0.8
    clearance = zone / 2 - offset
    if abs(clearance) < 1e-4:
        return
    needed = float(sharper(clearance, u95=u95, rule=rule).u95_needed)
    for share, words in ((0.999, {"within", "outside"}), (1.001, {"too close to call"})):
        told = decide_position(offset, 0.0, u95=share * needed, zone=zone, rule=rule)
        assert set(told.verdicts.tolist()) <= words


@given(SIZE, st.floats(-0.9, 0.9), st.sampled_from(RULES))
def test_the_mean_of_so_many_decides_and_of_one_fewer_does_not(u95, share, rule):
    clearance = share * u95
    if abs(share) < 0.02:
        return
    found = sharper(clearance, u95=u95, rule=rule)
    n = int(found.repeats)
    decided = decide_length(-clearance, u95=u95 / math.sqrt(n), high=0.0, rule=rule)
    assert decided.codes.tolist() != [0]
    if n > 1:
        fewer = decide_length(-clearance, u95=u95 / math.sqrt(n - 1), high=0.0, rule=rule)
        assert fewer.codes.tolist() == [0]


def test_whole_numbers_of_readings_by_hand():
    """U = 6 µm: 3 µm inside needs 4 readings, 3 µm beyond needs more than 4; on the limit none."""
    found = sharper([0.003, -0.003, 0.0], u95=0.006)
    assert found.repeats.tolist() == [4.0, 5.0, np.inf]
    assert found.u95_needed.tolist() == [0.003, 0.003, 0.0]
    assert found.inside.tolist() == [True, False, True]


@pytest.mark.parametrize(
    ("clearance", "u95", "rule", "words"),
    [
        (np.nan, 0.1, "guard by U", "clearance: not finite"),
        (0.1, 0.0, "guard by U", "u95: not above zero"),
        (0.1, np.inf, "guard by U", "u95: not above zero"),
        (0.1, [0.2, -0.1, 0.3], "guard by U", "u95: not above zero"),
        ([0.1, np.inf], 0.2, "guard by U", "clearance: not finite"),
        (0.1, 0.1, "none", 'rule: "none" is not known'),
    ],
)
def test_what_cannot_be_is_refused(clearance, u95, rule, words):
    with pytest.raises(InputError, match=words):
        sharper(clearance, u95=u95, rule=rule)
