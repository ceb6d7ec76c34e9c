"""How a stack spreads: against published distributions, closed forms, a library, and simulation."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import log_ndtr, ndtr
from scipy.stats import irwinhall, norm, trapezoid, triang

from kitwright.calc.depth.corner_sum import chance_above, corners
from kitwright.calc.depth.links import Link, Spread
from kitwright.calc.depth.stack_law import StackLaw
from kitwright.calc.depth.tilted_line import NormalAndEven, Tail

# Eulerian numbers A(n, k): of n values even on [0, 1], the sum lies in [k, k + 1] with the chance
# A(n, k) / n! (Laplace 1820; R. P. Stanley, Eulerian partitions of a unit hypercube, 1977).
EULERIAN = {
    1: (1,),
    2: (1, 1),
    3: (1, 4, 1),
    4: (1, 11, 11, 1),
    5: (1, 26, 66, 26, 1),
    6: (1, 57, 302, 302, 57, 1),
    8: (1, 247, 4293, 15619, 15619, 4293, 247, 1),
}

spreads = st.sampled_from(["normal", "even", "triangle"])
rows = st.lists(st.tuples(st.floats(1e-3, 1), spreads), min_size=1, max_size=8)


def links(rows: Sequence[tuple[float, Spread]]) -> list[Link]:
    return [Link(nominal=0, plus=half, minus=half, spread=spread) for half, spread in rows]


def inverted(sigma: float, halves: Sequence[float], x: float, order: int = 0) -> Tail:
    found = NormalAndEven(sigma, halves).tail(x, order=order)
    assert found is not None
    return found


# ── published values, closed forms, a library ────────────────────────────────────────────


@pytest.mark.parametrize("count", EULERIAN)
def test_even_sums_have_eulerian_chances(count: int) -> None:
    law = StackLaw(links([(0.5, "even")] * count))
    for k in range(math.ceil(count / 2), count):  # the upper half; the lower mirrors it
        above = sum(EULERIAN[count][k:]) / math.factorial(count)
        assert law.above(k - count / 2)[0] == pytest.approx(above, rel=1e-15)
        assert law.above(count / 2 - k)[0] == pytest.approx(1 - above, rel=1e-15)


@pytest.mark.parametrize("count", [2, 3, 5, 8, 12])
def test_the_inverted_line_gives_eulerian_chances_too(count: int) -> None:
    """Without the exact sum over corners: the same by inversion, within the bound it tells."""
    numbers = EULERIAN.get(count) or _eulerian(count)
    exact = [sum(numbers[k:]) / math.factorial(count) for k in range(count)]
    for k in range(math.ceil(count / 2), count):
        # without many factors the integrand falls slowly; one in 10^9 will do there
        wanted = 1e-9 if count < 5 else 0.0
        found = NormalAndEven(0.0, [0.5] * count).tail(k - count / 2, wanted=wanted)
        assert found is not None
        assert abs(found.value - exact[k]) <= found.error
        assert found.error <= (1e-9 if count < 5 else 1e-12 * exact[k])


def _eulerian(count: int) -> list[int]:
    """Eulerian numbers by their recurrence A(n, k) = (k + 1) A(n-1, k) + (n - k) A(n-1, k-1)."""
    row = [1]
    for n in range(2, count + 1):
        padded = [0, *row, 0]
        row = [(k + 1) * padded[k + 1] + (n - k) * padded[k] for k in range(n)]
    return row


def test_irwin_hall_by_a_library() -> None:
    law = StackLaw(links([(0.5, "even")] * 7))
    for x in (-2.9, -1.3, 0.0, 0.7, 2.2, 3.3):
        assert law.above(x)[0] == pytest.approx(irwinhall(7).sf(x + 3.5), rel=1e-9)


def test_two_evens_make_a_trapezoid_and_one_triangle_is_itself() -> None:
    law = StackLaw(links([(0.3, "even"), (0.1, "even")]))
    reference = trapezoid(0.25, 0.75, loc=-0.4, scale=0.8)
    lone = StackLaw(links([(0.4, "triangle")]))
    peak = triang(0.5, loc=-0.4, scale=0.8)
    for x in np.linspace(-0.39, 0.39, 27):
        assert law.above(x)[0] == pytest.approx(reference.sf(x), abs=1e-13)
        assert lone.above(x)[0] == pytest.approx(peak.sf(x), abs=1e-13)


def test_jcgm_101_9_2_2_four_normals() -> None:
    """JCGM 101:2008, 9.2.2: u 2.00, 95 % within ±3.92 (from memory, exact)."""
    law = StackLaw(links([(3.0, "normal")] * 4))
    assert law.sigma == pytest.approx(2.00, abs=1e-14)
    assert law.upper(0.025) == pytest.approx(3.92, abs=0.005)
    assert law.upper(0.025) == pytest.approx(2 * norm.isf(0.025), rel=1e-12)


def test_jcgm_101_9_2_3_four_even() -> None:
    """JCGM 101:2008, 9.2.3: ±3.88; analytically ±2 root 3 (2 - (3/5)^(1/4)) (from memory)."""
    law = StackLaw(links([(math.sqrt(3), "even")] * 4))
    assert law.sigma == pytest.approx(2.00, abs=1e-14)
    assert law.upper(0.025) == pytest.approx(3.88, abs=0.005)
    assert law.upper(0.025) == pytest.approx(2 * math.sqrt(3) * (2 - 0.6**0.25), rel=1e-11)


def test_jcgm_101_9_2_4_one_even_dominates() -> None:
    """JCGM 101:2008, 9.2.4: u 10.1, 95 % within ±17.0 (from memory, recomputed 17.01)."""
    law = StackLaw(links([(math.sqrt(3), "even")] * 3 + [(10 * math.sqrt(3), "even")]))
    assert law.sigma == pytest.approx(math.sqrt(103), rel=1e-14)
    assert law.upper(0.025) == pytest.approx(17.0, abs=0.05)
    # Of an even spread over ±A the outermost 20 % begin at 0.6 A; the rest, about zero and too
    # narrow to reach an end from there, changes nothing.
    assert law.upper(0.2) == pytest.approx(0.6 * 10 * math.sqrt(3), rel=1e-11)


@pytest.mark.parametrize("z", [0.0, 0.5, 3.0, 8.0, 30.0])
def test_normal_tails_keep_their_figures(z: float) -> None:
    law = StackLaw(links([(3.0, "normal"), (4.0, "normal")]))
    chance, error = law.above(z * 5 / 3)
    assert math.log(chance) == pytest.approx(log_ndtr(-z), rel=1e-13)
    assert error <= 1e-13 * chance
    assert math.log(inverted(5 / 3, [], z * 5 / 3).value) == pytest.approx(log_ndtr(-z), abs=1e-12)


def _normal_and_even(x: float, sigma: float, half: float) -> float:
    """P(N + U > x) in closed form, by the tails' own integral I(z) = phi(z) - z Phi(-z)."""

    def integral(z: float) -> float:
        if z < 0:
            return integral(-z) - z
        return float(math.exp(-z * z / 2) / math.sqrt(2 * math.pi) - z * ndtr(-z))

    above, below = (x - half) / sigma, (x + half) / sigma
    return sigma * (integral(above) - integral(below)) / (2 * half)


@pytest.mark.parametrize("sigma", [10.0, 1.0, 0.1, 1e-3, 1e-6, 1e-11])
@pytest.mark.parametrize("x", [0.0, 0.4, 0.999, 1.0, 1.001, 1.2])
def test_one_even_and_one_normal(sigma: float, x: float) -> None:
    law = StackLaw(links([(1.0, "even"), (3 * sigma, "normal")]))
    chance, error = law.above(x)
    assert chance == pytest.approx(_normal_and_even(x, sigma, 1.0), rel=1e-11, abs=2e-13)
    assert abs(chance - _normal_and_even(x, sigma, 1.0)) <= error + 1e-14
    assert error <= 1e-12


@pytest.mark.parametrize("x", [1.0, 3.0, 6.0, 9.0, 12.0])
def test_far_tails_against_an_integral_of_positive_terms(x: float) -> None:
    """Even and triangle beside a normal: the mean of the normal's tail over both."""
    law = StackLaw(links([(1.0, "even"), (1.5, "triangle"), (3.0, "normal")]))

    def given_even(u: float) -> float:
        def along(v: float) -> float:
            return float((1.5 - abs(v)) / 2.25 * ndtr(u + v - x))

        return sum(quad(along, *ends, epsabs=0, epsrel=1e-13)[0] for ends in [(-1.5, 0), (0, 1.5)])

    reference = quad(given_even, -1, 1, epsabs=0, epsrel=1e-12)[0] / 2
    chance, error = law.above(x)
    assert chance == pytest.approx(reference, rel=1e-11, abs=0)
    assert error <= 1e-12 * chance


# ── the ways against each other ──────────────────────────────────────────────────────────


@given(
    halves=st.lists(st.floats(0.05, 1), min_size=4, max_size=9),
    share=st.floats(0.0, 0.999),
)
def test_inversion_agrees_with_the_exact_sum_within_its_bound(
    halves: list[float], share: float
) -> None:
    x = share * sum(halves)
    found = NormalAndEven(0.0, halves).tail(x, wanted=1e-12)
    exact = chance_above(x, halves)
    if found is not None:
        assert abs(found.value - exact) <= found.error + 4e-16 * exact
        assert found.error <= 1.1e-12 + 1e-11 * exact


@given(
    sigma=st.floats(0.05, 1),
    halves=st.lists(st.floats(0.05, 1), min_size=1, max_size=5),
    x=st.floats(0, 8),
)
def test_the_mean_excess_is_the_integral_of_the_tail(
    sigma: float, halves: list[float], x: float
) -> None:
    """E[(S - x)_+] falls at the rate P(S > x): over a stretch, by Gauss's rule."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    stretch = 0.2 * sigma
    tails = [inverted(sigma, halves, x + stretch * (node + 1) / 2).value for node in nodes]
    fall = inverted(sigma, halves, x, 1).value - inverted(sigma, halves, x + stretch, 1).value
    assert fall == pytest.approx(float(weights @ tails) * stretch / 2, rel=1e-9, abs=1e-300)


@given(halves=st.lists(st.floats(0.01, 1), min_size=1, max_size=6), data=st.data())
def test_a_last_even_spread_is_an_average(halves: list[float], data: st.DataObject) -> None:
    """P(S + U > x) is the mean of P(S > x - u) over u; the exact sum, between its knots."""
    half = data.draw(st.floats(0.01, 0.3))
    x = data.draw(st.floats(-1, 1)) * sum(halves)
    averaged, _ = quad(
        lambda u: StackLaw(links([(h, "even") for h in halves])).above(x - u)[0],
        -half,
        half,
        epsabs=1e-9,
        limit=400,
    )
    whole = StackLaw(links([(h, "even") for h in [*halves, half]]))
    assert whole.above(x)[0] == pytest.approx(averaged / (2 * half), abs=1e-6)


def test_a_hundred_equal_corners_are_few_and_forty_different_are_many() -> None:
    assert corners([0.1] * 100) == 101
    assert corners([0.1 + k / 100 for k in range(40)]) == 2**40
    law = StackLaw(links([(0.1 + k / 1000, "even") for k in range(40)]))
    assert "saddle" in law.way
    chance, error = law.above(4 * law.sigma)
    assert error < 1e-12 * chance
    # Edgeworth's first correction takes a quarter off the normal tail, what it leaves is a tenth
    # of that
    halves = np.array([0.1 + k / 1000 for k in range(40)])
    excess = float(-2 / 15 * (halves**4).sum() / law.sigma**4)
    z = 4.0
    edgeworth = norm.sf(z) + excess / 24 * (z**3 - 3 * z) * norm.pdf(z)
    assert chance == pytest.approx(edgeworth, rel=0.03)
    assert chance < 0.75 * norm.sf(z)


# ── properties ───────────────────────────────────────────────────────────────────────────


@given(rows=rows, share=st.floats(-4, 4))
def test_both_sides_mirror_and_add_up(rows: list[tuple[float, Spread]], share: float) -> None:
    law = StackLaw(links(rows))
    x = share * law.sigma
    assert law.above(x)[0] + law.above(-x)[0] == pytest.approx(1, abs=1e-13)


@given(rows=rows, share=st.floats(0, 6), scale=st.floats(1e-6, 1e6))
def test_scaling_changes_nothing(
    rows: list[tuple[float, Spread]], share: float, scale: float
) -> None:
    law, scaled = StackLaw(links(rows)), StackLaw(links([(half * scale, s) for half, s in rows]))
    chance, error = law.above(share * law.sigma)
    other, other_error = scaled.above(share * law.sigma * scale)
    assert other == pytest.approx(chance, rel=1e-9, abs=error + other_error + 1e-300)


@given(rows=rows, order=st.randoms(use_true_random=False), share=st.floats(0, 6))
def test_order_changes_nothing_and_a_null_link_neither(
    rows: list[tuple[float, Spread]], order: object, share: float
) -> None:
    law = StackLaw(links(rows))
    shuffled = list(rows)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    other = StackLaw(links([*shuffled, (0.0, "even"), (0.0, "normal"), (0.0, "triangle")]))
    assert other.above(share * law.sigma)[0] == pytest.approx(
        law.above(share * law.sigma)[0], rel=1e-10, abs=1e-300
    )
    assert other.sigma == pytest.approx(law.sigma, rel=1e-14)


@given(rows=rows, chance=st.floats(1e-9, 0.5))
def test_upper_turns_above_round(rows: list[tuple[float, Spread]], chance: float) -> None:
    law = StackLaw(links(rows))
    assert law.above(law.upper(chance))[0] == pytest.approx(chance, rel=1e-8)


@given(rows=rows)
def test_tails_fall_and_stay_under_the_normal_bound(rows: list[tuple[float, Spread]]) -> None:
    law = StackLaw(links(rows))
    shares = np.linspace(0, 6, 13)
    found = [law.above(share * law.sigma)[0] for share in shares]
    assert all(a >= b for a, b in itertools.pairwise(found))
    bound = np.exp(-(shares**2) / 2)
    assert np.all(np.array(found) <= bound * (1 + 1e-9))
    assert law.above(law.reach) == (0.0, 0.0)


@given(
    data=st.lists(st.tuples(st.floats(-12, 0), spreads), min_size=1, max_size=12),
    share=st.floats(0, 10),
)
def test_widths_of_any_range_are_answered_with_a_small_bound(
    data: list[tuple[float, Spread]], share: float
) -> None:
    """Twelve powers of ten between links: the chance comes within 1e-9."""
    law = StackLaw(links([(10**power, spread) for power, spread in data]))
    chance, error = law.above(share * law.sigma)
    assert 0 <= chance <= 0.5 + error
    assert error <= 1.1e-9


def test_a_stack_that_does_not_spread_is_where_it_is() -> None:
    law = StackLaw(links([(0.0, "normal"), (0.0, "even")]))
    assert law.sigma == law.reach == law.upper(0.01) == 0
    assert law.above(0.0) == (0.0, 0.0)
    assert law.above(-1e-9)[0] == 1
    assert law.way == "nothing spreads"


@given(rows=rows)
def test_sigma_is_that_of_the_parts(rows: list[tuple[float, Spread]]) -> None:
    """Even over ±a has the variance a²/3, and a triangle is two evens of half its width."""
    for link in links(rows):
        parts = sum(half**2 / 3 for half in link.even_halves())
        assert link.sigma**2 == pytest.approx(parts + link.normal_sigma**2, rel=1e-14)
        assert sum(link.even_halves()) == (link.half if link.spread != "normal" else 0)
        lone = StackLaw([link])
        quarter = lone.upper(0.25)
        expected = {"normal": 0.67448975 / 3, "even": 0.5, "triangle": 1 - math.sqrt(0.5)}
        assert quarter == pytest.approx(expected[link.spread] * link.half, rel=1e-7)
