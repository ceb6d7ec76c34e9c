"""Run rules: each against a plain reading of its words, window by window."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.quality.run_rules import SETS, Rule, rules_of, signals, source_of

RULES: tuple[Rule, ...] = tuple(dict.fromkeys([rule for rules in SETS.values() for rule in rules]))


def both_sides(enough: Callable[[Sequence[float]], bool]) -> Callable[[Sequence[float]], bool]:
    return lambda z: enough(z) or enough([-each for each in z])


# The words of Western Electric (1956) and Nelson (1984) (from memory): how many points a pattern
# spans, and whether so many points, the newest last, are one.
WORDS: dict[Rule, tuple[int, Callable[[Sequence[float]], bool]]] = {
    "beyond limits": (1, lambda z: abs(z[-1]) > 3),
    "2 of 3 beyond 2 sigma": (3, both_sides(lambda z: z[-1] > 2 and sum(e > 2 for e in z) >= 2)),
    "4 of 5 beyond 1 sigma": (5, both_sides(lambda z: z[-1] > 1 and sum(e > 1 for e in z) >= 4)),
    "8 in a row on one side": (8, both_sides(lambda z: len(z) == 8 and min(z) > 0)),
    "9 in a row on one side": (9, both_sides(lambda z: len(z) == 9 and min(z) > 0)),
    "6 in a row rising or falling": (
        6,
        both_sides(lambda z: len(z) == 6 and all(b > a for a, b in itertools.pairwise(z))),
    ),
    "14 in a row alternating": (
        14,
        both_sides(
            lambda z: (
                len(z) == 14
                and all(
                    (b > a) == (i % 2 == 0) and a != b
                    for i, (a, b) in enumerate(itertools.pairwise(z))
                )
            )
        ),
    ),
    "15 in a row within 1 sigma": (15, lambda z: len(z) == 15 and max(map(abs, z)) < 1),
    "8 in a row beyond 1 sigma": (8, lambda z: len(z) == 8 and min(map(abs, z)) > 1),
}

points = st.lists(
    st.sampled_from([-3.5, -3, -2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3.5])
)
runs = st.lists(
    st.tuples(st.sampled_from([-2.2, -1.2, -0.4, 0.4, 1.2, 2.2]), st.integers(1, 16)), max_size=6
).map(lambda parts: [value for value, times in parts for _ in range(times)])
waves = st.lists(st.floats(0.1, 3), min_size=10, max_size=24).map(
    lambda parts: [value * (-1) ** index for index, value in enumerate(parts)]
)
slopes = st.lists(st.integers(-2, 5), max_size=24).map(
    lambda steps: (np.cumsum(steps) / 9).tolist()
)


@given(z=points | runs | waves | slopes)
def test_each_rule_is_its_words(z: list[float]) -> None:
    for rule in RULES:
        span, is_one = WORDS[rule]
        expected = [
            index + 1 for index in range(len(z)) if is_one(z[max(0, index + 1 - span) : index + 1])
        ]
        found = signals(np.array(z, dtype=float), [rule])
        covered = [each for s in found for each in range(s.where, s.through + 1)]
        assert covered == expected
        assert all(s.first == max(1, s.where - span + 1) for s in found)
        if rule == "beyond limits":
            assert [s.where for s in found] == expected


@given(z=points | runs | waves | slopes, first=st.integers(1, 40))
def test_up_is_as_good_as_down_and_numbers_only_shift(z: list[float], first: int) -> None:
    x = np.array(z, dtype=float)
    plain = signals(x, RULES)
    assert [(s.rule, s.where) for s in signals(-x, RULES)] == [(s.rule, s.where) for s in plain]
    shifted = signals(x, RULES, first=first)
    assert [s.where - first + 1 for s in shifted] == [s.where for s in plain]
    assert [s.first - first + 1 for s in shifted] == [s.first for s in plain]


@pytest.mark.parametrize("rule", RULES)
def test_each_rule_has_its_source(rule: Rule) -> None:
    source = source_of(rule)
    assert ("Western Electric 1956" in source) is (rule in SETS["Western Electric 1956"])
    assert ("Nelson 1984" in source) is (rule in SETS["Nelson 1984"])
    assert rules_of(rule) == (rule,)


def test_the_sets_are_whole() -> None:
    assert len(SETS["Western Electric 1956"]) == 4
    assert len(SETS["Nelson 1984"]) == 8
    assert rules_of("Nelson 1984") == SETS["Nelson 1984"]
    assert source_of("beyond limits").startswith("Shewhart 1931")
    # Nelson's own numbers: test 3 is the trend, test 5 two of three, test 8 none near the centre
    assert "test 3" in source_of("6 in a row rising or falling")
    assert "Nelson 1984, test 5" in source_of("2 of 3 beyond 2 sigma")
    assert "test 8" in source_of("8 in a row beyond 1 sigma")


@pytest.mark.parametrize(
    ("rule", "chance"),
    [("beyond limits", 0.0027), ("9 in a row on one side", 2 / 2**9)],
)
def test_chance_alone_sets_it_off_as_often_as_theory_says(rule: Rule, chance: float) -> None:
    z = np.random.default_rng(21).standard_normal(1_000_000)
    found = signals(z, [rule])
    share = sum(s.through - s.where + 1 for s in found) / len(z)
    assert share == pytest.approx(chance, rel=0.08)
