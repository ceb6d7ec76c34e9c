"""The control-chart worksheet: cases as text, in their own unit, against published sets."""

from __future__ import annotations

import itertools
import tomllib
from pathlib import Path
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.quality.control_chart import WORKSHEET, ControlChartAnswer, solve
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures, grids

PUBLISHED = Path(__file__).parents[2] / "published"
RINGS = tomllib.loads((PUBLISHED / "piston_rings.toml").read_text("utf-8"))["subgroups"]
MICHELSON = tomllib.loads((PUBLISHED / "michelson_1879.toml").read_text("utf-8"))["values"]


def answered(**case: Any) -> ControlChartAnswer:
    return solve(read(WORKSHEET.case, {"unit": "mm", **case}))


def refusals(**case: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**case)
    return list(caught.value.lines)


def test_piston_rings_in_two_phases() -> None:
    """6.4 (was read): 74.00118, 73.98805 to 74.0143, ranges 0.02276, 0.04812; 37 to 39 beyond."""
    answer = answered(kind="mean-range", subgroups=RINGS, phase_1=25)
    assert answer.centre == pytest.approx(74.00118, abs=1e-5)
    assert (answer.limits.low, answer.limits.high) == pytest.approx((73.98805, 74.0143), abs=1e-5)
    assert answer.dispersion.centre == pytest.approx(0.02276, abs=1e-5)
    assert answer.dispersion.limits.high == pytest.approx(0.04812, abs=2e-5)
    assert answer.dispersion.limits.low == 0
    beyond = [s for s in answer.signals if s.rule == "beyond limits"]
    assert [s.where for s in beyond] == [37, 38, 39]
    assert {s.phase for s in answer.signals} == {2}
    assert all("Western Electric 1956" in s.source for s in answer.signals)
    assert not answer.steady
    assert not any("provisional" in line for line in answer.assumed)
    assert WORKSHEET.say(answer, "mm") == (
        "Not steady: 7 signals, the first at point 35 (2 of 3 beyond 2 sigma). Points 37, 38, 39 "
        "lie beyond the limits. Find what changed there before you adjust anything."
    )


def test_the_first_twenty_five_are_steady() -> None:
    answer = answered(kind="mean-sigma", subgroups=RINGS[:25])
    assert answer.steady
    assert answer.signals == answer.spread_signals == answer.dispersion.signals == []
    assert answer.dispersion.centre == pytest.approx(0.00924, abs=1e-6)
    assert WORKSHEET.say(answer, "mm") == "Steady: none of 25 points signals."
    assert any("phase 1 only" in line for line in answer.assumed)
    assert any("Western Electric" in line for line in answer.assumed)


def test_michelsons_speeds_as_individuals() -> None:
    """NIST StRD Michelso: certified mean 852.4; limits by 2.66 mean moving ranges (table 6.3)."""
    answer = answered(unit="m", kind="individuals", values=MICHELSON)
    assert answer.centre == pytest.approx(852.4, rel=1e-14)
    moving = sum(abs(b - a) for a, b in itertools.pairwise(MICHELSON)) / 99
    assert answer.dispersion.centre == pytest.approx(moving, rel=1e-13)
    assert answer.limits.high == pytest.approx(852.4 + 2.660 * moving, abs=2e-3 * moving)
    assert answer.dispersion.limits.high == pytest.approx(3.267 * moving, abs=1e-3 * moving)
    assert answer.dispersion.of == "moving ranges"
    assert answer.dispersion.first == 2


def test_the_answer_stays_in_the_cases_unit() -> None:
    thou = answered(
        unit="inch",
        kind="mean-range",
        subgroups=[[each / 25.4 for each in row] for row in RINGS],
        phase_1=25,
    )
    assert thou.unit == "in"
    assert thou.limits.high * 25.4 == pytest.approx(74.01430, abs=1e-5)
    shown = {row.name: row.leading for row in figures(thou, lead="mm")}
    assert shown["centre"] == "2.913432 in"
    assert shown["dispersion.centre"].endswith(" in")
    table = next(grid for grid in grids(thou, lead="mm") if grid.name == "signals")
    assert table.rows[0][1] == "35"


def test_rules_are_switched_by_name_and_by_set() -> None:
    case = {"kind": "mean-range", "subgroups": RINGS, "phase_1": 25}
    only = answered(**case, rules=["beyond limits"])
    assert [s.where for s in only.signals] == [37, 38, 39]
    nelson = answered(**case, rules=["Nelson 1984"])
    both = answered(**case, rules=["Nelson 1984", "8 in a row on one side", "beyond limits"])
    assert {s.rule for s in both.signals} >= {s.rule for s in nelson.signals}
    assert len(both.signals) == len({(s.rule, s.where) for s in both.signals})
    assert not any("Western" in line for line in only.assumed)


def test_signals_of_the_spread_are_told() -> None:
    values = [10.0, 12, 11, 13, 12, 10, 11, 12, 30, 11]
    answer = answered(kind="individuals", values=values, phase_1=8)
    assert [s.where for s in answer.dispersion.signals] == [9, 10]
    assert answer.spread_signals == answer.dispersion.signals
    assert any("provisional" in line for line in answer.assumed)
    example = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert WORKSHEET.say(example, "mm").startswith("Not steady: 3 signals, the first at point 11")


@pytest.mark.parametrize(
    ("case", "line"),
    [
        ({"kind": "individuals"}, "values: missing; give subgroups if not this"),
        (
            {"kind": "individuals", "subgroups": RINGS},
            (
                'kind: "individuals" is a chart of values; give values, or kind "mean-range" or '
                '"mean-sigma"'
            ),
        ),
        (
            {"kind": "mean-range", "values": [1.0, 2.0]},
            'kind: "mean-range" is a chart of subgroups; give subgroups, or kind "individuals"',
        ),
        (
            {"kind": "mean-range", "subgroups": [[1.0, 2.0], [1.0, 2.0, 3.0]]},
            "subgroups[1]: 3 values; every subgroup of one chart needs 2, as the first has",
        ),
        (
            {"kind": "mean-sigma", "subgroups": [[1.0], [2.0]]},
            "subgroups: a subgroup of one has no spread; chart the values as individuals",
        ),
        (
            {"kind": "individuals", "values": [1.0, 1.0, 1.0]},
            "values: all 3 are the same; read the instrument to a finer step",
        ),
        ({"kind": "individuals", "values": [1.0]}, "values: 1 given; give 2 or more"),
        (
            {"kind": "individuals", "values": [1.0, 2.0, 3.0], "phase_1": 9},
            "phase_1: 9 is out of range; give 2 to 3, the number of points",
        ),
        (
            {"kind": "individuals", "values": [1.0, 2.0], "rules": []},
            "rules: 0 given; give 1 or more",
        ),
        (
            {"kind": "round", "values": [1.0, 2.0]},
            "kind: \"round\" is not known; write 'individuals', 'mean-range' or 'mean-sigma'",
        ),
    ],
)
def test_bad_input_is_told_in_a_line(case: dict[str, Any], line: str) -> None:
    assert refusals(**case) == [line]


def test_an_unknown_rule_is_told() -> None:
    lines = refusals(kind="individuals", values=[1.0, 2.0], rules=["by feel"])
    assert all(line.startswith('rules[0]: "by feel" is not known; write ') for line in lines)
