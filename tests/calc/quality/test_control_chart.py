"""Control charts against published sets."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.quality.control_chart import individuals, of_subgroups
from kitwright.calc.quality.run_rules import SETS
from kitwright.errors import InputError

PUBLISHED = Path(__file__).parents[2] / "published"
RINGS = tomllib.loads((PUBLISHED / "piston_rings.toml").read_text("utf-8"))["subgroups"]
GEARS = tomllib.loads((PUBLISHED / "gear_diameters.toml").read_text("utf-8"))["subgroups"]


def beyond(chart: object) -> list[int]:
    return [s.where for s in chart.signals if s.rule == "beyond limits"]  # type: ignore[attr-defined]


def test_piston_rings_by_ranges() -> None:
    """6.4: centre 74.00118, limits 73.98805 and 74.0143, ranges 0.02276 and 0.04812 (were read);
    samples 37, 38 and 39 of the later fifteen are beyond them (from memory)."""
    chart = of_subgroups(RINGS, kind="mean-range", phase_1=25)
    assert chart.centre == pytest.approx(74.00118, abs=1e-5)
    assert (chart.low, chart.high) == pytest.approx((73.98805, 74.0143), abs=1e-5)
    assert chart.dispersion.centre == pytest.approx(0.02276, abs=1e-5)
    assert chart.dispersion.high == pytest.approx(0.04812, abs=2e-5)
    assert chart.dispersion.low == 0
    assert beyond(chart) == [37, 38, 39]
    assert not chart.dispersion.signals
    assert min(s.where for s in chart.signals) > 25  # phase 1 itself is steady
    assert len(chart.points) == 40


def test_piston_rings_by_sigmas() -> None:
    """Derived: mean sigma 0.00924, limits 73.98799 and 74.01436, sigmas up to 0.01930."""
    chart = of_subgroups(RINGS, kind="mean-sigma", phase_1=25)
    assert chart.dispersion.centre == pytest.approx(0.00924, abs=1e-6)
    assert (chart.low, chart.high) == pytest.approx((73.98799, 74.01436), abs=1e-5)
    assert chart.dispersion.high == pytest.approx(0.01930, abs=1e-5)
    assert beyond(chart) == [37, 38, 39]


def test_all_forty_are_another_chart() -> None:
    """Derived: with all 40 in phase 1 the limits are wider and only 38 and 39 are beyond."""
    chart = of_subgroups(RINGS, kind="mean-range")
    assert chart.centre == pytest.approx(74.003605, abs=1e-6)
    assert (chart.low, chart.high) == pytest.approx((73.99009, 74.01712), abs=1e-5)
    assert chart.dispersion.high == pytest.approx(0.04953, abs=1e-5)
    assert beyond(chart) == [38, 39]


def test_gear_diameters() -> None:
    """6n: NIST's GEAR.DAT; derived: mean 0.99764, mean range 0.0181, limits 0.99207 and 1.00321."""
    chart = of_subgroups(GEARS, kind="mean-range")
    assert chart.centre == pytest.approx(0.99764, abs=1e-6)
    assert chart.dispersion.centre == pytest.approx(0.0181, abs=1e-9)
    assert (chart.low, chart.high) == pytest.approx((0.99207, 1.00321), abs=1e-5)
    assert (chart.dispersion.low, chart.dispersion.high) == pytest.approx(
        (0.00404, 0.03216), abs=1e-5
    )


def test_individuals_by_hand() -> None:
    """Mean 11.375 and mean moving range 11/7: 3/d2 = 2.66 and D4 = 3.267 of the tables."""
    values = np.array([10.0, 12, 11, 13, 12, 10, 11, 12, 30])
    chart = individuals(values, phase_1=8)
    assert chart.centre == 11.375
    assert chart.high == pytest.approx(11.375 + 2.66 * 10 / 7, abs=2e-3)
    assert chart.low == pytest.approx(11.375 - 2.66 * 10 / 7, abs=2e-3)
    assert chart.dispersion.centre == pytest.approx(10 / 7, rel=1e-13)
    assert chart.dispersion.high == pytest.approx(3.267 * 10 / 7, abs=1e-3)
    assert beyond(chart) == [9]
    assert [s.where for s in chart.dispersion.signals] == [9]
    assert (chart.dispersion.first, len(chart.dispersion.points)) == (2, 8)


def test_runs_do_not_cross_from_phase_1_into_phase_2() -> None:
    """Five above, then five more: ten in a row, but no eight within a phase."""
    values = np.array([0.0, 2, 0, 2, 0, 0, 0, 0, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2])
    rule = ["8 in a row on one side"]
    assert [s.where for s in individuals(values, phase_1=13, rules=rule).signals] == []
    later = individuals(values, phase_1=9, rules=rule).signals
    assert [(s.first, s.where, s.through) for s in later] == [(10, 17, 18)]


def test_rules_are_switched() -> None:
    values = np.array([0.0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1])
    assert not individuals(values).signals
    found = individuals(values, rules=SETS["Nelson 1984"]).signals
    assert [(s.rule, s.first, s.where, s.through) for s in found] == [
        ("14 in a row alternating", 1, 14, 16),
        ("15 in a row within 1 sigma", 1, 15, 16),
    ]
    only = individuals(values, rules=["15 in a row within 1 sigma"]).signals
    assert [s.where for s in only] == [15]


@given(
    table=st.lists(st.lists(st.integers(-50, 50), min_size=4, max_size=4), min_size=3, max_size=20)
    .filter(lambda rows: any(len(set(row)) > 1 for row in rows)),
    size=st.sampled_from([25.4, 1e-3]),
)  # fmt: skip
def test_the_unit_and_the_order_within_a_subgroup_do_not_matter(
    table: list[list[int]], size: float
) -> None:
    for kind in ("mean-range", "mean-sigma"):
        plain = of_subgroups(table, kind=kind)  # type: ignore[arg-type]
        other = of_subgroups(
            [[each * size for each in row[::-1]] for row in table],
            kind=kind,  # type: ignore[arg-type]
        )
        assert other.low == pytest.approx(plain.low * size, rel=1e-9, abs=1e-9 * size)
        assert other.dispersion.high == pytest.approx(plain.dispersion.high * size, rel=1e-9)
        assert [(s.rule, s.where) for s in other.signals] == [
            (s.rule, s.where) for s in plain.signals
        ]
        assert plain.low < plain.centre < plain.high


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: individuals(np.array([1.0])), "values: 1 given; a chart needs 2"),
        (lambda: individuals(np.ones(9)), "values: all 9 are the same"),
        (lambda: individuals(np.array([1.0, 1, 2]), phase_1=2), "values: all 2 are the same"),
        (lambda: individuals(np.array([1.0, 2, 3]), phase_1=4), "phase_1: 4 is out of range"),
        (lambda: individuals(np.array([1.0, 2, 3]), phase_1=1), "give 2 to 3"),
        (
            lambda: of_subgroups([[1.0], [2.0]], kind="mean-range"),
            "a subgroup of one has no spread; chart the values as individuals",
        ),
        (
            lambda: of_subgroups([[1.0, 1.0], [2.0, 2.0]], kind="mean-sigma"),
            "subgroups: all 4 are the same",
        ),
        (lambda: of_subgroups([[1.0, 2.0]], kind="mean-range"), "subgroups: 1 given"),
    ],
)
def test_what_is_refused(make: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        make()  # type: ignore[operator]
