"""Plans against NIST's e-Handbook, MIL-STD-105E, Kiermeier's values and whole numbers."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, hypergeom

from kitwright.calc.quality.acceptance import Lot, Plan, Stream, at_least, at_most
from kitwright.errors import InputError

# ── published values ─────────────────────────────────────────────────────────────────────

PA_52_3 = [0.998, 0.980, 0.930, 0.845, 0.739, 0.620, 0.502, 0.394, 0.300, 0.223, 0.162, 0.115]


def test_nist_operating_characteristic() -> None:
    """NIST e-Handbook 6.2.3.2, n 52, c 3 (p = .01 to .06 read, the rest from memory)."""
    plan = Plan(n=52, c=3)
    ours = [plan.at(k / 100).accepted for k in range(1, 13)]
    assert ours == pytest.approx(PA_52_3, abs=1.1e-3)


def test_nist_average_outgoing_quality() -> None:
    """NIST 6.2.3.2: the limit printed as .0372 on a grid; exact Pa·p·(N - n)/N .037190 at .05591.

    Its AOQ column is Pa·p and its ATI column truncated; both formulas are tested here instead.
    """
    stream = Plan(n=52, c=3)
    peak = stream.outgoing_limit()
    assert peak.outgoing * (10_000 - 52) / 10_000 == pytest.approx(0.037190, abs=5e-7)
    assert peak.quality == pytest.approx(0.05591, abs=5e-6)
    assert stream.at(0.06).outgoing == pytest.approx(0.0372, abs=1e-4)
    lot = Plan(n=52, c=3, lot=10_000)
    assert lot.outgoing_limit().outgoing == pytest.approx(0.0372, abs=1e-4)


def test_nist_average_total_inspection() -> None:
    """NIST 6.2.3.2: 753 at .03, 5007 at .07 (truncated): n + (1 - Pa)(N - n), binomial there."""
    stream = Plan(n=52, c=3)
    for quality, printed, exact in ((0.03, 753, 752.96), (0.07, 5007, 5007.62)):
        inspected = 52 + (1 - stream.at(quality).accepted) * (10_000 - 52)
        assert inspected == pytest.approx(exact, abs=5e-3)
        in_lot = Plan(n=52, c=3, lot=10_000).at(quality).inspected
        assert in_lot == pytest.approx(printed, abs=15)  # drawn from a lot: a little less


def test_kiermeier_zero_acceptance() -> None:
    """Kiermeier 2008, n 20, c 0: .35848592 at .05, .03875953 at .15."""
    plan = Plan(n=20, c=0)
    assert plan.at(0.05).accepted == pytest.approx(0.35848592, abs=5e-9)
    assert plan.at(0.15).accepted == pytest.approx(0.03875953, abs=5e-9)


SHARES = (0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01)
# MIL-STD-105E Table X-J prints the line for AQL 1.0 (J 80/2) to three figures (from memory); the
# others, and J's to four, are recomputed.
PER_CENT_BAD = {
    (13, 0): [0.077, 0.394, 0.807, 2.189, 5.192, 10.115, 16.232, 20.582, 29.83],
    (20, 1): [0.759, 1.807, 2.691, 4.812, 8.251, 12.905, 18.096, 21.611, 28.88],
    (32, 0): [0.031, 0.160, 0.329, 0.895, 2.143, 4.240, 6.943, 8.937, 13.40],
    (50, 2): [0.886, 1.655, 2.224, 3.464, 5.312, 7.691, 10.30, 12.06, 15.77],
    (80, 1): [0.187, 0.446, 0.667, 1.202, 2.089, 3.330, 4.775, 5.793, 8.011],
    (80, 2): [0.550, 1.030, 1.385, 2.163, 3.329, 4.842, 6.516, 7.661, 10.10],
    (80, 5): [2.278, 3.317, 3.987, 5.301, 7.058, 9.138, 11.29, 12.69, 15.57],
    (125, 3): [0.664, 1.100, 1.403, 2.032, 2.930, 4.053, 5.266, 6.086, 7.813],
}


@pytest.mark.parametrize("plan", PER_CENT_BAD, ids=str)
def test_qualities_at_which_a_plan_accepts(plan: tuple[int, int]) -> None:
    n, c = plan
    ours = [100 * Plan(n=n, c=c).worst_at(share) for share in SHARES]
    assert ours == pytest.approx(PER_CENT_BAD[plan], rel=6e-4, abs=5.1e-4)


def test_mil_std_105e_table_x_j() -> None:
    """MIL-STD-105E Table X-J-1, AQL 1.0 (from memory): printed to three figures."""
    printed = [0.550, 1.03, 1.38, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1]
    ours = [100 * Plan(n=80, c=2).worst_at(share) for share in SHARES]
    assert ours == pytest.approx(printed, rel=5e-3)


@pytest.mark.parametrize(
    ("n", "c", "aql", "chance"),
    [(13, 0, 1.0, 0.8775), (20, 1, 2.5, 0.9118), (80, 2, 1.0, 0.9534), (125, 3, 1.0, 0.9626)],
)
def test_chance_at_the_acceptable_level(n: int, c: int, aql: float, chance: float) -> None:
    """P(accept) at the AQL of the standard's plans (recomputed)."""
    assert Plan(n=n, c=c).at(aql / 100).accepted == pytest.approx(chance, abs=5e-5)


# ── properties ───────────────────────────────────────────────────────────────────────────

lots = st.integers(1, 60).flatmap(
    lambda size: st.tuples(
        st.just(size), st.integers(0, size), st.integers(0, size), st.integers(0, size)
    )
)


@given(lot=lots)
def test_a_lot_in_floats_and_in_whole_numbers(lot: tuple[int, int, int, int]) -> None:
    size, bad, n, c = lot
    parts = Lot(size=size, bad=bad)
    accepted, refused = parts.chances(n, c)
    exact = Fraction(*parts.exactly(n, c))
    ways = sum(comb(bad, k) * comb(size - bad, n - k) for k in range(min(c, n) + 1) if n >= k)
    assert exact == Fraction(ways, comb(size, n))
    assert accepted == pytest.approx(float(exact), rel=1e-12, abs=1e-300)
    assert refused == pytest.approx(float(1 - exact), rel=1e-12, abs=1e-300)
    assert at_most(parts, n, c, exact)
    assert at_least(parts, n, c, exact)
    if 0 < exact < 1:
        near = Fraction(1, 10**30)
        assert not at_most(parts, n, c, exact - near)
        assert not at_least(parts, n, c, exact + near)


def test_a_small_lot_by_listing_every_sample() -> None:
    """Lot of 7, two bad, three taken: every one of the 35 samples counted."""
    found = [sum(part < 2 for part in sample) for sample in combinations(range(7), 3)]
    for c in range(3):
        share = sum(bad <= c for bad in found) / len(found)
        assert Lot(size=7, bad=2).chances(3, c)[0] == pytest.approx(share, rel=1e-14)


@given(
    n=st.integers(1, 40),
    c=st.integers(0, 40),
    p=st.fractions(0, 1, max_denominator=1000),
)
def test_a_stream_in_floats_and_in_whole_numbers(n: int, c: int, p: Fraction) -> None:
    parts = Stream(share=p)
    exact = Fraction(*parts.exactly(n, c))
    summed = sum(
        (comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(min(c, n) + 1)), Fraction(0)
    )
    assert exact == summed
    accepted, refused = parts.chances(n, c)
    assert accepted == pytest.approx(float(exact), rel=1e-10, abs=1e-300)
    assert refused == pytest.approx(float(1 - exact), rel=1e-10, abs=1e-300)


def test_large_lots_against_scipy() -> None:
    for size, bad, n, c in (
        (10_000, 300, 200, 10),
        (1_000_000, 40_000, 2000, 60),
        (1_000_000, 900_000, 5, 1),
        (5000, 4000, 3000, 2350),
        (100_000, 50, 99_000, 47),
    ):
        accepted, refused = Lot(size=size, bad=bad).chances(n, c)
        assert accepted == pytest.approx(hypergeom.cdf(c, size, bad, n), rel=1e-9)
        assert refused == pytest.approx(hypergeom.sf(c, size, bad, n), rel=1e-9)
    assert Stream(share=Fraction(1, 50)).chances(500, 4)[0] == pytest.approx(
        binom.cdf(4, 500, 0.02), rel=1e-12
    )


def test_a_large_lot_is_nearly_a_stream() -> None:
    lot, stream = Plan(n=80, c=2, lot=100_000), Plan(n=80, c=2)
    assert lot.at(0.02).accepted == pytest.approx(stream.at(0.02).accepted, rel=1e-3)
    assert lot.worst_at(0.10) == pytest.approx(stream.worst_at(0.10), abs=2e-5)


@given(
    lot=st.integers(2, 80).flatmap(lambda n: st.tuples(st.just(n), st.integers(1, n))),
    c=st.integers(0, 3),
)
def test_the_outgoing_limit_is_the_highest_of_all_lots(lot: tuple[int, int], c: int) -> None:
    size, n = lot
    if c >= n:
        return
    plan = Plan(n=n, c=c, lot=size)
    every = [plan.at_bad(bad).outgoing for bad in range(size + 1)]
    assert plan.outgoing_limit().outgoing == pytest.approx(max(every), abs=1e-15)
    # Of one lot with known bad ones: the mean over samples, spelt out.
    exact = [
        sum(
            comb(bad, k) * comb(size - bad, n - k) * (bad - k) / size
            for k in range(min(c, n, bad) + 1)
        )
        / comb(size, n)
        for bad in range(size + 1)
    ]
    assert plan.worst_lot() == pytest.approx(max(exact), rel=1e-10, abs=1e-15)
    assert plan.worst_lot() >= plan.outgoing_limit().outgoing - 1e-15


@given(n=st.integers(1, 300), c=st.integers(0, 8))
def test_the_outgoing_limit_of_a_stream_is_a_top(n: int, c: int) -> None:
    if c >= n:
        return
    plan = Plan(n=n, c=c)
    top = plan.outgoing_limit()
    assert top.outgoing >= max(plan.at(float(p)).outgoing for p in np.linspace(0, 1, 301)) - 1e-12
    for step in (-1e-3, 1e-3):
        assert plan.at(top.quality * (1 + step)).outgoing <= top.outgoing


@given(n=st.integers(1, 60), c=st.integers(0, 4), chance=st.sampled_from([0.99, 0.5, 0.1, 0.05]))
def test_the_worst_quality_of_a_lot_is_the_last_accepted(n: int, c: int, chance: float) -> None:
    if c >= n:
        return
    plan = Plan(n=n, c=c, lot=60)
    bad = round(plan.worst_at(chance) * 60)
    assert plan.at_bad(bad).accepted >= chance - 1e-12
    assert bad == 60 or plan.at_bad(bad + 1).accepted < chance


def test_the_curve_falls_from_one() -> None:
    for plan in (Plan(n=13, c=0, lot=60), Plan(n=80, c=2)):
        curve = plan.curve()
        accepted = [point.accepted for point in curve]
        assert accepted[0] == 1
        assert accepted[-1] < 0.0011
        assert accepted == sorted(accepted, reverse=True)
        assert curve[0].outgoing == 0
    assert [point.bad for point in Plan(n=13, c=0, lot=60).curve()][:3] == [0, 1, 2]
    assert Plan(n=13, c=0, lot=60).curve()[0].inspected == 13


@pytest.mark.parametrize(
    ("plan", "line"),
    [
        ({"n": 0, "c": 0}, "plan.n: 0 parts in the sample; give 1 to 100000"),
        ({"n": 9, "c": 0, "lot": 8}, "plan.n: 9 parts in the sample; give 1 to 8, the lot"),
        ({"n": 9, "c": 9}, "plan.c: 9 bad allowed of 9; give 0 to 8"),
        ({"n": 9, "c": -1}, "plan.c: -1 bad allowed of 9; give 0 to 8"),
        ({"n": 9, "c": 1, "lot": 0}, "lot: 0 parts; give 1 to 100000"),
    ],
)
def test_a_plan_that_cannot_be_says_why(plan: dict[str, int], line: str) -> None:
    with pytest.raises(InputError) as caught:
        Plan(**plan)
    assert caught.value.lines == [line]
