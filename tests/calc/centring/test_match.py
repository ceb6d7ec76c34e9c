"""Match: against every pairing, against chances from elsewhere, and what must not matter."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import chndtr

from kitwright.calc.centring.match import Odds, best_match, first_come, odds_of_pairs
from kitwright.errors import InputError

LIMIT_MM = 0.127
BELLS = [[0.01, -0.02], [0.03, 0.01], [-0.04, 0.02], [0.0, 0.05], [0.02, 0.02]]
ENGINES = [[0.01, -0.07], [-0.03, 0.0], [0.02, 0.03]]


def odds(**changed: Any) -> Odds:
    given = {
        "bells_mm": BELLS,
        "engines_mm": ENGINES,
        "bells_u95_mm": 0.004,
        "engines_u95_mm": 0.016,
    }
    given = {"limit_tir_mm": LIMIT_MM, **given, **changed}
    return odds_of_pairs(given.pop("bells_mm"), given.pop("engines_mm"), **given)


def vectors(most: int) -> st.SearchStrategy[list[list[float]]]:
    """Offsets in steps of 5 micrometres, so that some are alike."""
    step = st.integers(-30, 30).map(lambda k: 0.005 * k)
    return st.lists(st.tuples(step, step).map(list), min_size=1, max_size=most)


def pairings(engines: int, bells: int) -> list[list[tuple[int, int]]]:
    """Every way to make as many pairs as there can be."""
    if engines <= bells:
        return [list(enumerate(each)) for each in itertools.permutations(range(bells), engines)]
    ways = itertools.permutations(range(engines), bells)
    return [[(engine, bell) for bell, engine in enumerate(each)] for each in ways]


def totals(table: Odds, pairs: list[tuple[int, int]]) -> tuple[float, float]:
    return (
        sum(float(table.chance_outside[pair]) for pair in pairs),
        sum(float(table.expected_tir_mm[pair]) for pair in pairs),
    )


# ── one pair ─────────────────────────────────────────────────────────────────────────────


def test_offsets_add_and_the_tir_is_twice_their_sum() -> None:
    """A bell 3 right and 1 up on an engine 1 right and 4 up: 4 and 5, hypot(4, 5) = 6.403."""
    found = odds(bells_mm=[[0.03, 0.01]], engines_mm=[[0.01, 0.04]])
    assert found.offset_mm[0, 0] == pytest.approx([0.04, 0.05], abs=1e-15)
    assert found.expected_tir_mm[0, 0] == pytest.approx(2 * 0.0640312424, abs=1e-10)
    assert found.u95_mm[0, 0] == pytest.approx(np.sqrt(0.004**2 + 0.016**2), rel=1e-14)


def test_the_chance_is_that_of_a_noncentral_chi_square() -> None:
    """SciPy's chndtr: (r/u)² of a circular normal place is chi-square, 2 degrees, non-central."""
    found = odds()
    u = np.sqrt(0.002**2 + 0.008**2)
    r = np.array([[np.hypot(b[0] + e[0], b[1] + e[1]) for b in BELLS] for e in ENGINES])
    expected = chndtr((LIMIT_MM / 2 / u) ** 2, 2, (r / u) ** 2)
    np.testing.assert_allclose(found.chance_within, expected, atol=1e-12)
    np.testing.assert_allclose(found.chance_within + found.chance_outside, 1, atol=1e-14)


def test_simulated_pairs_agree() -> None:
    rng = np.random.default_rng(20261125)
    n = 400_000
    bell = np.array(BELLS[3]) + rng.normal(0, 0.002, (n, 2))
    engine = np.array(ENGINES[0]) + rng.normal(0, 0.02, (n, 2))
    tir = 2 * np.hypot(*(bell + engine).T)
    chance = odds(engines_u95_mm=[0.04, 0.0, 0.0]).chance_within[0, 3]
    assert np.mean(tir <= LIMIT_MM) == pytest.approx(chance, abs=4 * np.sqrt(chance / n))


def test_what_is_known_exactly_is_within_or_is_not() -> None:
    found = odds(bells_u95_mm=0.0, engines_u95_mm=0.0)
    np.testing.assert_array_equal(found.chance_within, found.expected_tir_mm <= LIMIT_MM)
    np.testing.assert_array_equal(found.codes == 1, found.expected_tir_mm <= LIMIT_MM)


def test_many_pairs_are_reckoned_as_one_is() -> None:
    """Blocks of engines are cut so that no two answers differ by where a block ends."""
    rng = np.random.default_rng(4)
    bells, engines, u95 = (
        rng.normal(0, 0.03, (90, 2)),
        rng.normal(0, 0.03, (130, 2)),
        rng.random(130),
    )
    whole = odds(bells_mm=bells, engines_mm=engines, engines_u95_mm=0.1 * u95)
    for engine in (0, 44, 45, 46, 129):
        alone = odds(
            bells_mm=bells, engines_mm=engines[[engine]], engines_u95_mm=0.1 * u95[[engine]]
        )
        np.testing.assert_array_equal(whole.chance_outside[[engine]], alone.chance_outside)


# ── against every pairing ────────────────────────────────────────────────────────────────


@given(bells=vectors(7), engines=vectors(7), u95=st.sampled_from([0.0, 0.002, 0.03]))
def test_no_pairing_has_more_within_nor_less_tir_for_as_many(
    bells: list[list[float]], engines: list[list[float]], u95: float
) -> None:
    table = odds(bells_mm=bells, engines_mm=engines, engines_u95_mm=u95, bells_u95_mm=0.0)
    found = best_match(table)
    short, long = sorted((len(bells), len(engines)))
    assert len(found.pairs) == short
    if long <= 6 or short <= 4:
        every = [totals(table, pairs) for pairs in pairings(len(engines), len(bells))]
        least = min(outside for outside, _ in every)
        tied = [tir for outside, tir in every if outside <= least + 1e-11]
        assert found.outside == pytest.approx(least, abs=1e-11)
        assert found.tir_mm <= max(tied) + 1e-9
        assert found.tir_mm == pytest.approx(min(tied), abs=1e-9)
    assert 0 <= found.gap <= 1e-9
    served = first_come(table)
    assert len(served.pairs) == short
    assert found.within >= served.within - 1e-11


def test_of_seven_by_seven_every_permutation() -> None:
    rng = np.random.default_rng(77)
    for _ in range(5):
        table = odds(
            bells_mm=rng.normal(0, 0.02, (7, 2)),
            engines_mm=rng.normal([0, -0.05], 0.03, (7, 2)),
            engines_u95_mm=rng.uniform(0.005, 0.03, 7),
        )
        found = best_match(table)
        least = min(
            table.chance_outside[np.arange(7), list(each)].sum()
            for each in itertools.permutations(range(7))
        )
        assert found.outside == pytest.approx(least, rel=1e-9, abs=7e-12)


def test_where_all_are_sure_the_least_tir_decides() -> None:
    """Limits so wide that every chance is 1: what is left is geometry."""
    table = odds(
        bells_mm=[[0.0, 0.02], [0.0, -0.02]],
        engines_mm=[[0.0, 0.03], [0.0, -0.03]],
        limit_tir_mm=2.0,
    )
    assert table.chance_within.min() == 1
    found = best_match(table)
    assert found.bells.tolist() == [1, 0]
    assert found.tir_mm == pytest.approx(0.04, abs=1e-15)
    assert first_come(table).tir_mm == pytest.approx(0.2, abs=1e-15)


# ── what must not matter ─────────────────────────────────────────────────────────────────


@given(bells=vectors(6), engines=vectors(6), turn=st.floats(0, 6.3), seed=st.integers(0, 99))
def test_order_and_the_way_round_do_not_matter(
    bells: list[list[float]], engines: list[list[float]], turn: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    cos, sin = np.cos(turn), np.sin(turn)
    turned = np.array([[cos, -sin], [sin, cos]])
    order_b, order_e = rng.permutation(len(bells)), rng.permutation(len(engines))
    here = best_match(odds(bells_mm=bells, engines_mm=engines))
    there = best_match(
        odds(
            bells_mm=(np.array(bells) @ turned.T)[order_b],
            engines_mm=(np.array(engines) @ turned.T)[order_e],
        )
    )
    assert there.within == pytest.approx(here.within, abs=1e-10)
    assert there.tir_mm == pytest.approx(here.tir_mm, abs=1e-8)


@given(factor=st.sampled_from([1e-3, 25.4, 1000.0]))
def test_the_unit_does_not_matter(factor: float) -> None:
    here = best_match(odds())
    scaled = best_match(
        odds_of_pairs(
            factor * np.array(BELLS),
            factor * np.array(ENGINES),
            limit_tir_mm=factor * LIMIT_MM,
            bells_u95_mm=factor * 0.004,
            engines_u95_mm=factor * 0.016,
        )
    )
    assert scaled.pairs == here.pairs
    assert scaled.within == pytest.approx(here.within, rel=1e-9)


def test_engines_and_bells_are_alike() -> None:
    """Whether a vector is a bell's or an engine's, the sum is the same."""
    here = best_match(odds())
    there = best_match(
        odds(bells_mm=ENGINES, engines_mm=BELLS, bells_u95_mm=0.016, engines_u95_mm=0.004)
    )
    assert sorted((bell, engine) for engine, bell in there.pairs) == here.pairs
    assert there.within == pytest.approx(here.within, rel=1e-12)


# ── keeping, leaving, preferring ─────────────────────────────────────────────────────────


def test_kept_pairs_stay_and_the_rest_is_best_among_itself() -> None:
    table = odds()
    kept = [(0, 2)]
    found = best_match(table, kept=kept)
    assert kept[0] in found.pairs
    rest = best_match(table, engines=[1, 2], bells=[0, 1, 3, 4])
    assert sorted([*kept, *rest.pairs]) == found.pairs
    every = [pairs for pairs in pairings(3, 5) if kept[0] in pairs]
    assert found.outside == pytest.approx(
        min(totals(table, pairs)[0] for pairs in every), abs=1e-12
    )
    assert best_match(table).within >= found.within


def test_everything_kept_leaves_nothing_to_choose() -> None:
    kept = [(0, 2), (1, 1), (2, 0)]
    found = best_match(odds(), kept=kept)
    assert (found.pairs, found.gap) == (kept, 0.0)
    assert first_come(odds(), kept=kept).pairs == kept


def test_first_come_takes_both_in_their_order() -> None:
    assert first_come(odds()).pairs == [(0, 0), (1, 1), (2, 2)]
    assert first_come(odds(), kept=[(1, 0)]).pairs == [(0, 1), (1, 0), (2, 2)]
    assert first_come(odds(), bells=[4, 2], engines=[2, 0, 1]).pairs == [(0, 2), (2, 4)]


def test_bells_alike_are_not_changed_about() -> None:
    table = odds(bells_mm=[[0.01, 0.0]] * 4, engines_mm=[[0.0, 0.01]] * 3)
    for before in ([(0, 3), (1, 0), (2, 2)], [(0, 1), (1, 2), (2, 0)]):
        assert best_match(table, preferred=before).pairs == before


@pytest.mark.parametrize("kept", [[(0, 1), (0, 2)], [(0, 1), (2, 1)], [(3, 1)], [(0, 9)]])
def test_a_pair_that_cannot_be_kept(kept: list[tuple[int, int]]) -> None:
    with pytest.raises(InputError, match="keep each once, of those that take part"):
        best_match(odds(), kept=kept)


@pytest.mark.parametrize(
    ("changed", "line"),
    [
        ({"bells_mm": []}, "bells: 0 given; give 1 or more"),
        ({"engines_mm": [[0.0]]}, "engines: shape (1, 1); give rows of 2 numbers"),
        (
            {"engines_mm": [[0.0, np.nan]] * 3},
            "engines[0]: [0.0, nan] is not finite; measure it again",
        ),
        ({"limit_tir_mm": 0.0}, "limit: 0 is not above zero; give more than zero"),
        ({"bells_u95_mm": -0.1}, "bells.u95: not a size; give zero or more, finite"),
        ({"engines_u95_mm": [np.inf] * 3}, "engines.u95: not a size; give zero or more, finite"),
        ({"engines_u95_mm": [0.1]}, "engines.u95: shape (1,); give one, or 3"),
    ],
)
def test_bad_numbers_are_refused(changed: dict[str, Any], line: str) -> None:
    with pytest.raises(InputError) as caught:
        odds(**changed)
    assert caught.value.lines == [line]
