"""The least plan against every plan there is, the standard's tables, and drawn samples."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, comb, floor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.calc.quality.acceptance import Plan
from kitwright.calc.quality.plan_design import design, zero_acceptance
from kitwright.calc.quality.random_sample import draw
from kitwright.calc.quality.standard_plans import AQLS, LETTERS, SIZES, entry_at, standard_plan
from kitwright.errors import InputError


def share(size: int, bad: int, n: int, c: int) -> Fraction:
    """Chance of c or fewer bad among n of a lot, by counting."""
    ways = sum(comb(bad, k) * comb(size - bad, n - k) for k in range(min(c, n) + 1))
    return Fraction(ways, comb(size, n))


def every_plan(size: int, good: int, poor: int, alpha: Fraction, beta: Fraction) -> tuple[int, int]:
    """The least n, then the least c, by trying all."""
    for n in range(1, size + 1):
        for c in range(n):
            if share(size, good, n, c) >= 1 - alpha and share(size, poor, n, c) <= beta:
                return n, c
    raise AssertionError


# ── the least plan ───────────────────────────────────────────────────────────────────────

risks = st.sampled_from([Fraction(1, 100), Fraction(1, 20), Fraction(1, 10), Fraction(3, 10)])


@settings(max_examples=60, deadline=None)
@given(
    size=st.integers(2, 36),
    qualities=st.tuples(st.integers(0, 99), st.integers(1, 100)).filter(lambda q: q[0] < q[1]),
    alpha=risks,
    beta=risks,
)
def test_no_smaller_plan_keeps_both_risks(
    size: int, qualities: tuple[int, int], alpha: Fraction, beta: Fraction
) -> None:
    good, poor = (Fraction(q, 100) for q in qualities)
    plan = design(
        accept_quality=float(good),
        producers_risk=float(alpha),
        reject_quality=float(poor),
        consumers_risk=float(beta),
        lot=size,
    )
    tried = every_plan(size, floor(good * size), ceil(poor * size), alpha, beta)
    assert (plan.n, plan.c) == tried


@settings(max_examples=40, deadline=None)
@given(
    qualities=st.tuples(st.integers(0, 30), st.integers(15, 90)).filter(
        lambda q: q[1] - q[0] >= 14
    ),
    alpha=risks,
    beta=risks,
)
def test_no_smaller_plan_for_a_stream(
    qualities: tuple[int, int], alpha: Fraction, beta: Fraction
) -> None:
    good, poor = qualities[0] / 100, qualities[1] / 100
    plan = design(
        accept_quality=good,
        producers_risk=float(alpha),
        reject_quality=poor,
        consumers_risk=float(beta),
    )

    def keeps(n: int, c: int) -> bool:
        def accepted(p: Fraction) -> Fraction:
            return sum((comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(c + 1)), Fraction(0))

        return (
            accepted(Fraction(qualities[0], 100)) >= 1 - alpha
            and accepted(Fraction(qualities[1], 100)) <= beta
        )

    assert keeps(plan.n, plan.c)
    assert not any(keeps(plan.n, c) for c in range(plan.c))
    for n in range(max(1, plan.n - 12), plan.n):
        assert not any(keeps(n, c) for c in range(min(n, plan.c + 3)))


def test_both_neighbours_of_a_large_plan_fail() -> None:
    """110, 3: neither 109 nor c 2 keeps both (P summed by hand from the binomial)."""
    plan = design(
        accept_quality=0.01, producers_risk=0.05, reject_quality=0.06, consumers_risk=0.10
    )
    assert (plan.n, plan.c) == (110, 3)
    assert plan.at(0.06).accepted <= 0.10 < Plan(n=109, c=3).at(0.06).accepted
    assert Plan(n=110, c=2).at(0.01).accepted < 0.95 <= plan.at(0.01).accepted


def test_a_tie_is_decided_in_whole_numbers() -> None:
    """One of two bad of 10, five taken: P(none) is 2/9; n 5 keeps just that risk, to the bit."""
    nine = zero_acceptance(reject_quality=0.1, consumers_risk=0.1, lot=10)
    assert nine.n == 9  # P(none of 9) with one bad in ten is 0.1 exactly
    assert zero_acceptance(reject_quality=0.1, consumers_risk=0.0999999999999, lot=10).n == 10
    half = zero_acceptance(reject_quality=0.5, consumers_risk=0.125)
    assert half.n == 3


def test_qualities_of_a_lot_are_whole_parts() -> None:
    """0.07 of 100 is 7, though 0.07 * 100 is 7.000000000000001 in binary."""
    plan = zero_acceptance(reject_quality=0.07, consumers_risk=0.10, lot=100)
    assert share(100, 7, plan.n, 0) <= Fraction(1, 10) < share(100, 7, plan.n - 1, 0)


@pytest.mark.parametrize(
    ("reject", "risk", "n"),
    [(0.10, 0.10, 22), (0.05, 0.10, 45), (0.05, 0.05, 59), (0.01, 0.05, 299)],
)
def test_zero_acceptance_of_a_stream(reject: float, risk: float, n: int) -> None:
    """The least n with (1 - p)^n <= risk; 22, 59 and 299 are quoted everywhere (from memory)."""
    assert zero_acceptance(reject_quality=reject, consumers_risk=risk).n == n
    assert (1 - reject) ** n <= risk < (1 - reject) ** (n - 1)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"accept_quality": 0.06}, "reject_quality: 0.06 is not above accept_quality, 0.06"),
        ({"accept_quality": -0.1}, "accept_quality: -0.1 is no share; give 0 to 1"),
        ({"reject_quality": 1.5}, "reject_quality: 1.5 is no share; give more than 0 to 1"),
        ({"producers_risk": 0.0}, "producers_risk: 0 is no risk"),
        ({"consumers_risk": 1.0}, "consumers_risk: 1 is no risk"),
        ({"lot": 0}, "lot: 0 parts; give 1 to 100000"),
        ({"reject_quality": 0.010001}, "reject_quality: 0.010001 is too near"),
    ],
)
def test_what_cannot_be_planned_says_why(changes: dict[str, float], words: str) -> None:
    case = {"accept_quality": 0.01, "producers_risk": 0.05, "reject_quality": 0.06}
    with pytest.raises(InputError) as caught:
        design(**{**case, "consumers_risk": 0.1, **changes})  # type: ignore[arg-type]
    assert caught.value.lines[0].startswith(words)


def test_zero_acceptance_of_the_nearly_perfect_is_refused() -> None:
    with pytest.raises(InputError, match="more than 50000 parts"):
        zero_acceptance(reject_quality=1e-6, consumers_risk=0.1)


# ── the standard's tables ────────────────────────────────────────────────────────────────

# MIL-STD-105E (1989), Table II-A, ISO 2859-1:1999, Table 2-A (from memory; F/2.5, H/2.5, H/4.0,
# J/1.0, J/2.5, J/4.0 and L/2.5 read). v: first plan below, ^: first plan above.
TABLE_2A = """
A v v v v v v v v v v
B v v v v v v v v v 0
C v v v v v v v v 0 ^
D v v v v v v v 0 ^ v
E v v v v v v 0 ^ v 1
F v v v v v 0 ^ v 1 2
G v v v v 0 ^ v 1 2 3
H v v v 0 ^ v 1 2 3 5
J v v 0 ^ v 1 2 3 5 7
K v 0 ^ v 1 2 3 5 7 10
L 0 ^ v 1 2 3 5 7 10 14
"""


def test_every_entry_of_the_table() -> None:
    rows = [row.split() for row in TABLE_2A.strip().splitlines()]
    assert "".join(row[0] for row in rows) + "M" == LETTERS
    for place, row in enumerate(rows):
        for aql, printed in zip(AQLS, row[1:], strict=True):
            entry = entry_at(place, aql)
            told = {"down": "v", "up": "^"}.get(str(entry), str(entry))
            assert told == printed, f"{row[0]} at {aql}"


def test_the_structure_of_the_table() -> None:
    """Letter and level by their places on one ladder: only the sum counts (105E, Table II-A)."""
    ladder = (0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0)
    accept = dict(zip(range(17, 25), (1, 2, 3, 5, 7, 10, 14, 21), strict=True)) | {14: 0}
    for i in range(len(LETTERS) - 1):
        for aql in AQLS:
            s = i + ladder.index(aql)
            entry = entry_at(i, aql)
            assert entry == accept.get(s, "up" if s == 15 else "down")
            if isinstance(entry, int):
                # The standard's own aim: accepted with 0.87 to 0.99 at the level itself.
                assert 0.87 < Plan(n=SIZES[i], c=entry).at(aql / 100).accepted < 0.995


@pytest.mark.parametrize(
    ("lot", "aql", "letters", "n", "accept", "every_part"),
    [
        (1000, 1.0, "J", 80, 2, False),
        (400, 0.65, "HJ", 80, 1, False),
        (400, 0.40, "HG", 32, 0, False),
        (60, 2.5, "EF", 20, 1, False),
        (30, 0.10, "DEFGHJK", 30, 0, True),
        (2, 4.0, "AB", 2, 0, True),
        (10_000, 2.5, "L", 200, 10, False),
        (10_000, 0.15, "LM", 315, 1, False),
    ],
)
def test_plans_read_off(
    lot: int, aql: float, letters: str, n: int, accept: int, every_part: bool
) -> None:
    """Examples by ISO 2859-1:1999, Tables 1 and 2-A (from memory)."""
    plan = standard_plan(lot, aql)
    assert "".join(plan.letters) == letters
    assert (plan.n, plan.accept, plan.reject) == (n, accept, accept + 1)
    assert plan.every_part is every_part


def test_code_letters_at_level_2() -> None:
    """ISO 2859-1:1999, Table 1, general level II (from memory; F, H, J and L read)."""
    starts = (2, 9, 16, 26, 51, 91, 151, 281, 501, 1201, 3201)
    ends = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000)
    for letter, start, end in zip(LETTERS[:-1], starts, ends, strict=True):
        assert standard_plan(start, 1.0).letter == standard_plan(end, 1.0).letter == letter


def test_sample_sizes_are_the_standards() -> None:
    """ISO 2859-1:1999, Table 2-A (from memory): of the letters A to M."""
    sizes = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315)
    assert dict(zip(LETTERS, SIZES, strict=True)) == dict(zip("ABCDEFGHJKLM", sizes, strict=True))


def test_every_arrow_leads_to_a_plan() -> None:
    for lot in (2, 9, 16, 26, 51, 91, 151, 281, 501, 1201, 3201):
        for aql in AQLS:
            plan = standard_plan(lot, aql)
            assert len(set(plan.letters)) == len(plan.letters)
            assert plan.n == min(lot, SIZES[LETTERS.index(plan.letters[-1])])


def test_what_the_tables_do_not_hold() -> None:
    with pytest.raises(InputError, match="lots of 2 to 10000"):
        standard_plan(10_001, 1.0)
    with pytest.raises(InputError, match=r"aql: 0.5 is not in the tables; write one of 0.065, 0.1"):
        standard_plan(100, 0.5)


# ── the sample drawn ─────────────────────────────────────────────────────────────────────

SERIALS = [f"B-{number:02}" for number in range(1, 21)]


def test_the_same_seed_draws_the_same_sample() -> None:
    first = draw(SERIALS, 5, seed=42)
    assert first == draw(SERIALS, 5, seed=42) == ["B-05", "B-09", "B-11", "B-16", "B-18"]
    assert first != draw(SERIALS, 5, seed=43)


@given(n=st.integers(0, 20), seed=st.integers(0, 2**53 - 1))
def test_a_sample_is_a_part_of_the_lot_in_its_order(n: int, seed: int) -> None:
    sample = draw(SERIALS, n, seed=seed)
    assert len(sample) == n
    assert sample == sorted(set(sample))
    assert set(sample) <= set(draw(SERIALS, min(20, n + 1), seed=seed))


def test_every_pair_is_as_likely() -> None:
    """All 10 pairs of 5, 4000 seeds: chi-square with 9 degrees, 99.99 % point 33.7."""
    counts: dict[tuple[str, ...], int] = {}
    for seed in range(4000):
        pair = tuple(draw(SERIALS[:5], 2, seed=seed))
        counts[pair] = counts.get(pair, 0) + 1
    assert len(counts) == 10
    found = np.array(list(counts.values()))
    assert ((found - 400) ** 2 / 400).sum() < 33.7


def test_serials_that_cannot_be_drawn_from() -> None:
    with pytest.raises(InputError, match=r'serials\[2\]: "a" stands at serials\[0\] too'):
        draw(["a", "b", "a"], 1, seed=1)
    with pytest.raises(InputError, match="serials: 1 given; the sample needs 2"):
        draw(["a"], 2, seed=1)
    with pytest.raises(InputError, match="seed: -1"):
        draw(["a"], 1, seed=-1)
    # 2^53 - 1 is the last of the whole numbers that every reader of JSON agrees on (RFC 8259, 6)
    assert draw(["a"], 1, seed=2**53 - 1) == ["a"]
    with pytest.raises(InputError, match=f"seed: {2**53}"):
        draw(["a"], 1, seed=2**53)
