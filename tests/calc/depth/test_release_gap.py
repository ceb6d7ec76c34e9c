"""The release gap: its arithmetic, its uncertainty, and its shims against trying every pile."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.depth.release_gap import Stroke, Wear, release_gap
from kitwright.calc.depth.repeats import Distance, combined
from kitwright.calc.depth.shims import MOST_WAYS, Shim, piles
from kitwright.calc.quality.conformity import OUTSIDE, UNDECIDED, WITHIN
from kitwright.errors import InputError

# JCGM 100:2008, table 1 (example 4.4.3): 20 temperatures, mean 100.145 °C, experimental standard
# deviation 1.489 °C, of the mean 0.333 °C (from memory; mean and deviations recomputed).
TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def known(mm: float, u_mm: float = 0.0) -> Distance:
    return Distance(mm=mm, u_mm=u_mm, count=1)


# ── readings ─────────────────────────────────────────────────────────────────────────────


def test_jcgm_100_4_4_3() -> None:
    found = combined(TEMPERATURES)
    assert found.mm == pytest.approx(100.145, abs=5e-4)
    assert found.u_mm == pytest.approx(0.333, abs=5e-4)
    assert found.u_mm * math.sqrt(20) == pytest.approx(1.489, abs=5e-4)
    assert found.count == 20


def test_a_lone_reading_has_what_is_said_or_what_is_common() -> None:
    assert combined([5.0]).u_mm == 0.05
    assert combined([5.0], reading_u95_mm=0.02).u_mm == 0.01
    assert combined([5.0], reading_u95_mm=0.0).u_mm == 0


def test_repeats_that_agree_are_no_better_than_the_gauge() -> None:
    graduation = 0.01 / math.sqrt(12)
    assert combined([5.0, 5.0, 5.0]).u_mm == pytest.approx(graduation / math.sqrt(3))
    assert combined([5.0, 5.0], reading_u95_mm=0.2).u_mm == pytest.approx(0.1 / math.sqrt(2))
    assert combined([5.0, 5.4], reading_u95_mm=0.2).u_mm == pytest.approx(0.2)


def test_bad_readings_say_what_to_do() -> None:
    with pytest.raises(InputError, match="none given"):
        combined([])
    with pytest.raises(InputError, match="not a number"):
        combined([1.0, math.nan])
    with pytest.raises(InputError, match="negative"):
        combined([1.0], reading_u95_mm=-0.1)


# ── the gap ──────────────────────────────────────────────────────────────────────────────


def test_a_gap_by_hand() -> None:
    """69 - 62.4 = 6.6; 2.0 of shims leave 4.6; worn by 1 at 3 to 1, 1.6; 16 - 9 - 4.6 = 2.4."""
    found = release_gap(
        known(69.0, 0.03),
        known(62.4, 0.04),
        low_mm=4.0,
        high_mm=5.0,
        shims=[Shim(thickness_mm=1.0, count=5), Shim(thickness_mm=0.5, count=2)],
        wear=Wear(disc_wear_mm=1.0, finger_ratio=3.0),
        stroke=Stroke(stroke_mm=16.0, release_travel_mm=9.0),
    )
    assert found.gap_mm == pytest.approx(6.6)
    assert found.u95_mm == pytest.approx(0.1)
    assert found.best.pile.counts == (2, 0)
    assert found.best.gap_mm == pytest.approx(4.6)
    assert found.best.worn_mm == pytest.approx(1.6)
    assert found.best.stroke_left_mm == pytest.approx(2.4)
    assert found.best.code == WITHIN
    assert found.wanted_mm == pytest.approx((1.6, 2.6))
    assert found.bare.gap_mm == found.gap_mm
    assert found.bare.code == OUTSIDE


def test_what_is_surely_within_comes_before_fewer_pieces() -> None:
    """One shim leaves the gap on the limit, where nobody can tell; two leave it in the middle."""
    found = release_gap(
        known(10.0, 0.05),
        known(4.0),
        low_mm=4.0,
        high_mm=5.0,
        shims=[Shim(thickness_mm=1.0, count=1), Shim(thickness_mm=0.5, count=1)],
    )
    assert found.best.pile.counts == (1, 1)
    assert found.best.gap_code == WITHIN
    lone = release_gap(
        known(10.0, 0.05),
        known(4.0),
        low_mm=4.0,
        high_mm=5.0,
        shims=[Shim(thickness_mm=1.0, count=1)],
    )
    assert lone.best.pile.counts == (1,)
    assert lone.best.gap_code == lone.best.code == UNDECIDED


def test_wear_and_stroke_can_ask_for_another_pile() -> None:
    """Two gaps within; the bearing has stroke for the smaller one only."""
    shims = [Shim(thickness_mm=0.5, count=3)]
    stroke = Stroke(stroke_mm=10.0, release_travel_mm=5.5)
    free = release_gap(known(10.0), known(5.0), low_mm=4.0, high_mm=5.0, shims=shims)
    bound = release_gap(
        known(10.0), known(5.0), low_mm=4.0, high_mm=5.0, shims=shims, stroke=stroke
    )
    assert free.best.pile.pieces == 0
    assert bound.best.gap_mm == pytest.approx(4.0)
    assert bound.best.stroke_left_mm == pytest.approx(0.5)
    assert bound.best.code == WITHIN
    assert bound.bare.stroke_code == OUTSIDE


@pytest.mark.parametrize(
    ("worn", "u", "code"),
    [
        (0.0, 0.0, OUTSIDE),
        (0.001, 0.0, WITHIN),
        (-0.001, 0.0, OUTSIDE),
        (0.1, 0.04, WITHIN),
        (0.1, 0.06, UNDECIDED),
        (-0.1, 0.06, UNDECIDED),
        (-0.1, 0.04, OUTSIDE),
    ],
)
def test_nothing_left_is_not_enough(worn: float, u: float, code: int) -> None:
    found = release_gap(
        known(7.0 + worn, u),
        known(2.0),
        low_mm=0.0,
        wear=Wear(disc_wear_mm=2.5, finger_ratio=2.0),
    )
    assert found.best.worn_mm == pytest.approx(worn, abs=1e-12)
    assert found.best.worn_code == code


def test_without_a_pile_that_does_nothing_is_put_in() -> None:
    far = release_gap(
        known(20.0), known(10.0), low_mm=3.0, high_mm=4.0, shims=[Shim(thickness_mm=1.0, count=2)]
    )
    assert far.best == far.bare
    assert far.wanted_mm == pytest.approx((6.0, 7.0))
    near = release_gap(
        known(12.0), known(10.0), low_mm=3.0, shims=[Shim(thickness_mm=1.0, count=2)]
    )
    assert near.best == near.bare
    assert near.best.code == OUTSIDE
    assert near.wanted_mm == (-math.inf, pytest.approx(-1.0))


def test_swapped_limits_are_refused() -> None:
    with pytest.raises(InputError, match="swap"):
        release_gap(known(3.0), known(1.0), low_mm=2.0, high_mm=1.0)
    with pytest.raises(InputError, match="neither"):
        release_gap(known(3.0), known(1.0))


# ── every pile ───────────────────────────────────────────────────────────────────────────

stocks = st.lists(
    st.tuples(st.integers(1, 40), st.integers(0, 3)), min_size=0, max_size=4
)  # thickness in twentieths of a millimetre


def by_trying_all(
    gap: int, u95: int, low: int, high: int, stock: Sequence[tuple[int, int]], rise: int, room: int
) -> tuple[int, int]:
    """Best pile's total and pieces, all in whole twentieths; by every way to lay shims together."""
    tried = []
    for counts in itertools.product(*(range(count + 1) for _, count in stock)):
        total = sum(n * thickness for n, (thickness, _) in zip(counts, stock, strict=True))
        left = gap - total
        if not low <= left <= high:
            continue
        rests = (left - rise, room - left)
        codes = [1 if low + u95 <= left <= high - u95 else 0]
        codes += [1 if rest > u95 else -1 if rest <= -u95 else 0 for rest in rests]
        tried.append((-min(codes), -codes[0], sum(counts), abs(2 * left - low - high), total))
    if not tried:
        return 0, 0
    best = min(tried)
    return best[4], best[2]


@given(
    gap=st.integers(0, 200),
    u95=st.integers(0, 6),
    limits=st.tuples(st.integers(0, 120), st.integers(0, 120)).map(sorted),
    stock=stocks,
    rise=st.integers(0, 80),
    room=st.integers(0, 200),
)
def test_shims_are_those_that_trying_every_pile_finds(
    gap: int,
    u95: int,
    limits: list[int],
    stock: list[tuple[int, int]],
    rise: int,
    room: int,
) -> None:
    low, high = limits
    found = release_gap(
        known(60 + gap / 20, u95 / 40),
        known(60.0),
        low_mm=low / 20,
        high_mm=high / 20,
        shims=[Shim(thickness_mm=thickness / 20, count=count) for thickness, count in stock],
        wear=Wear(disc_wear_mm=rise / 20, finger_ratio=1.0),
        stroke=Stroke(stroke_mm=10 + room / 20, release_travel_mm=10.0),
    )
    total, pieces = by_trying_all(gap, u95, low, high, stock, rise, room)
    assert found.best.pile.total_mm == pytest.approx(total / 20, abs=1e-9)
    assert found.best.pile.pieces == pieces
    laid = zip(found.best.pile.counts, stock, strict=False)
    assert all(used <= count for used, (_, count) in laid)
    assert found.best.gap_mm == pytest.approx(found.gap_mm - found.best.pile.total_mm, abs=1e-12)


@given(stock=stocks)
def test_piles_are_all_totals_by_the_fewest_pieces(stock: list[tuple[int, int]]) -> None:
    fewest: dict[int, int] = {}
    for counts in itertools.product(*(range(count + 1) for _, count in stock)):
        total = sum(n * thickness for n, (thickness, _) in zip(counts, stock, strict=True))
        fewest[total] = min(sum(counts), fewest.get(total, 99))
    laid = piles([Shim(thickness_mm=thickness / 20, count=n) for thickness, n in stock])
    assert {round(20 * pile.total_mm): pile.pieces for pile in laid} == fewest
    assert [pile.total_mm for pile in laid] == sorted(pile.total_mm for pile in laid)
    for pile in laid:
        used = zip(pile.counts, stock, strict=True)
        assert sum(n * thickness for n, (thickness, _) in used) == round(20 * pile.total_mm)
        assert sum(pile.counts) == pile.pieces


def test_too_many_shims_are_refused() -> None:
    many = [Shim(thickness_mm=math.sqrt(n), count=50) for n in (2, 3, 5, 7)]
    with pytest.raises(InputError, match=f"more than {MOST_WAYS} ways"):
        piles(many)
    for how, words in (
        ({"thickness_mm": 0.0, "count": 1}, "above zero"),
        ({"thickness_mm": 1.0, "count": -1}, "negative"),
    ):
        with pytest.raises(InputError, match=words):
            Shim(**how)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wear", "ratio", "words"),
    [(-0.1, 3.0, "disc_wear: -0.1 is negative"), (1.0, 0.0, "finger_ratio: 0 is not above zero")],
)
def test_wear_that_cannot_be_is_refused(wear: float, ratio: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        Wear(disc_wear_mm=wear, finger_ratio=ratio)
