"""The capability worksheet: cases as text, in their own unit, against published examples."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from kitwright.errors import InputError
from kitwright.worksheets.quality.capability import WORKSHEET, solve
from kitwright.worksheets.quality.capability_case import CapabilityAnswer
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures

RINGS = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "piston_rings.toml").read_text("utf-8")
)["subgroups"][:25]
VALUES = [50.003, 50.006, 50.001, 50.005, 50.008, 50.004, 50.002, 50.007, 50.004, 50.006]
LIMITS = {"low": "49.990 mm", "high": "50.020 mm"}
PLACES = np.random.default_rng(30).normal([0.01, 0.0], [0.02, 0.01], (30, 2)).round(4).tolist()


def answered(**case: Any) -> CapabilityAnswer:
    return solve(read(WORKSHEET.case, {"unit": "mm", **case}))


def refusals(**case: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**case)
    return list(caught.value.lines)


@pytest.mark.parametrize(
    ("by", "cp", "cpk"),
    [("mean range", 1.70328, 1.66322), ("mean sigma", 1.6955, 1.6556), ("pooled", 1.6898, 1.6501)],
)
def test_piston_rings(by: str, cp: float, cpk: float) -> None:
    """6e: 74 ± 0.05: Cp 1.70, Cpk 1.66 by the mean range (was read); the others are derived."""
    answer = answered(subgroups=RINGS, limits={"low": "73.95 mm", "high": "74.05 mm"}, within_by=by)
    assert answer.cp is not None
    assert answer.pp is not None
    assert answer.cp.value == pytest.approx(cp, abs=1e-4)
    assert answer.cpk.value == pytest.approx(cpk, abs=1e-4)
    assert answer.mean == pytest.approx(74.001176, abs=1e-6)
    assert answer.sigma_overall == pytest.approx(0.0100700, abs=1e-7)
    assert (answer.pp.low, answer.pp.high) == pytest.approx((1.4492, 1.8606), abs=1e-4)
    assert answer.beyond_limits == 0
    assert answer.holds == "yes"


def test_the_answer_stays_in_the_cases_unit() -> None:
    """Limits say their own unit; the same parts in thou give the same indices, in thou."""
    metric = answered(values=VALUES, limits=LIMITS)
    imperial = answered(
        unit="thou",
        values=[value / 0.0254 for value in VALUES],
        limits={"low": "4.999 cm", "high": "50.020 mm"},
    )
    assert (metric.unit, imperial.unit) == ("mm", "thou")
    assert imperial.limits is not None
    assert imperial.limits.low == pytest.approx(49.990 / 0.0254, rel=1e-15)
    assert imperial.mean == pytest.approx(np.mean(VALUES) / 0.0254, rel=1e-12)
    for name in ("cpk", "ppk", "cpk_safe"):
        one, other = getattr(metric, name), getattr(imperial, name)
        assert other.low == pytest.approx(one.low, rel=1e-9)
        assert other.high == pytest.approx(one.high, rel=1e-9)
    assert metric.tolerance_interval is not None
    assert imperial.tolerance_interval is not None
    assert imperial.tolerance_interval.high * 0.0254 == pytest.approx(
        metric.tolerance_interval.high, rel=1e-9
    )
    shown = {row.name: row.leading for row in figures(imperial, lead="mm")}
    assert shown["mean"] == "1968.685 thou"
    assert shown["limits.high"] == "1969.291 thou"


def test_tolerance_interval_of_the_handbook() -> None:
    """6g, 6h: NIST 7.2.6.3: 43 values, 90 %, confidence 99 %: exact factors 2.2228 and 1.8740."""
    x = norm.ppf((np.arange(43) + 0.5) / 43)
    x = 97.07 + 0.0268 * (x - x.mean()) / x.std(ddof=1)
    found = answered(
        values=x.tolist(), limits={"high": "98 mm"}, coverage=0.90, confidence=0.99
    ).tolerance_interval
    assert found is not None
    assert found.factor == pytest.approx(2.222825, abs=1e-6)
    assert found.one_sided_factor == pytest.approx(1.8739536, abs=1e-6)
    assert found.low == pytest.approx(97.07 - 2.222825 * 0.0268, abs=1e-7)
    assert found.one_sided_high == pytest.approx(97.1202, abs=5e-5)


def test_sigma_within_of_values_is_their_mean_moving_range() -> None:
    answer = answered(values=VALUES, limits=LIMITS)
    moving = np.abs(np.diff(VALUES)).mean()
    assert answer.sigma_within == pytest.approx(moving / 1.1284, rel=1e-4)
    assert answer.cp is not None
    assert answer.cp.value == pytest.approx(0.030 / (6 * moving / 1.12838), rel=1e-5)
    assert answer.chance_outside == pytest.approx(
        norm.sf(3 * answer.ppk.value) + norm.sf(3 * (2 * answer.pp.value - answer.ppk.value)),  # type: ignore[union-attr]
        rel=1e-6,
    )
    assert answer.chance_outside == answer.chance_outside_normal
    assert sum(answer.strip) == len(VALUES)


def test_one_limit_has_no_cp() -> None:
    answer = answered(values=VALUES, limits={"high": "50.020 mm"})
    assert answer.cp is answer.pp is answer.chance_below is None
    assert answer.chance_above == answer.chance_outside
    assert answer.ppk.value > 0


def test_positions_in_a_zone() -> None:
    answer = answered(positions=PLACES, zone="0.127 mm")
    assert (answer.zone, answer.count, answer.limits) == (0.127, 30, None)
    assert isinstance(answer.mean, list)
    assert answer.mean == pytest.approx(np.mean(PLACES, axis=0), rel=1e-12)
    assert answer.sigma_overall == pytest.approx(np.std(PLACES, axis=0, ddof=1), rel=1e-12)
    assert answer.chance_inside + answer.chance_outside == pytest.approx(1, abs=1e-12)
    assert answer.chance_outside_low < answer.chance_outside < answer.chance_outside_high
    assert 2 * norm.sf(3 * answer.ppk.value) == pytest.approx(answer.chance_outside, rel=1e-9)
    thou = answered(
        unit="thou", positions=[[x / 0.0254, y / 0.0254] for x, y in PLACES], zone="5 thou"
    )
    assert thou.chance_outside == pytest.approx(answer.chance_outside, rel=1e-9)


def test_skewed_values_say_how() -> None:
    skewed = np.random.default_rng(31).rayleigh(0.01, 300).round(5).tolist()
    answer = answered(values=skewed, limits={"high": "0.030 mm"})
    assert answer.chance_method == "counted"
    assert answer.counted_outside == sum(value > 0.03 for value in skewed)
    assert answer.chance_outside == answer.counted_outside / 300
    assert answer.quantiles is not None
    assert answer.quantiles.high_quantile == pytest.approx(0.01 * 3.635, rel=0.15)
    assert any("not normal" in line for line in answer.assumed)
    assert "chart" not in WORKSHEET.say(answer, "mm")


def test_every_default_is_listed() -> None:
    few = answered(values=VALUES[:5], limits=LIMITS).assumed
    assert any("95 %" in line for line in few)
    assert any("cannot be tested" in line for line in few)
    said = answered(values=VALUES, limits=LIMITS, confidence=0.9, coverage=0.9).assumed
    assert not any("95 %" in line for line in said)
    mixed = answered(subgroups=[[1.0, 1.1], [1.05], [1.2, 1.0]], limits={"low": "0 mm"})
    assert any("subgroup of one" in line for line in mixed.assumed)
    assert any("pooled" in line for line in mixed.assumed)
    assert mixed.beyond_limits is None


@pytest.mark.parametrize(
    ("values", "limits", "begin"),
    [
        (VALUES, LIMITS, "The process holds the drawing: "),
        (VALUES[:3], LIMITS, "3 parts are too few to tell: "),
        (VALUES, {"high": "50.004 mm"}, "The process does not hold the drawing: "),
    ],
)
def test_the_answer_in_a_sentence(values: list[float], limits: Any, begin: str) -> None:
    answer = answered(values=values, limits=limits)
    assert WORKSHEET.say(answer, "mm").startswith(begin)


def test_a_process_that_is_not_steady_is_said_so() -> None:
    steps = [50.0, 50.001, 49.999, 50.0, 50.001, 50.0, 50.009, 50.0101, 50.009, 50.01, 50.0095]
    answer = answered(values=steps, limits={"high": "51 mm"})
    assert answer.beyond_limits
    if answer.chance_method == "normal":
        assert "it is not steady" in WORKSHEET.say(answer, "mm")
    jump = [*([50.0, 50.001] * 8), 50.004, *([50.0, 50.001] * 8)]
    assert answered(values=jump, limits={"high": "51 mm"}).beyond_limits == 1


@pytest.mark.parametrize(
    ("case", "line"),
    [
        ({"limits": LIMITS}, "values: missing; give subgroups or positions if not this"),
        (
            {"values": VALUES, "subgroups": RINGS, "limits": LIMITS},
            "subgroups: given with values; give one of values, subgroups, positions",
        ),
        ({"values": VALUES}, "limits: missing; values need it"),
        (
            {"values": VALUES, "limits": {"low": "50.02 mm", "high": "49.99 mm"}},
            'limits: low "50.02 mm" is above high "49.99 mm"; swap them',
        ),
        ({"values": [50.0], "limits": LIMITS}, "values: 1 given; give 2 or more"),
        (
            {"values": [50.0] * 6, "limits": LIMITS},
            "values: all 6 are the same; read the instrument to a finer step",
        ),
        (
            {"values": VALUES, "limits": LIMITS, "within_by": "pooled"},
            "within_by: belongs to subgroups; leave it out",
        ),
        (
            {"subgroups": [[1.0], [2.0], [3.0]], "limits": LIMITS},
            "subgroups: every subgroup is of one; give the numbers as values, in the order made",
        ),
        (
            {"subgroups": [[1.0, 1.0], [2.0, 2.0]], "limits": LIMITS},
            "subgroups: nothing varies within any of them; measure to a finer step",
        ),
        (
            {"subgroups": [[1.0, 2.0], [2.0]], "limits": LIMITS, "within_by": "mean range"},
            "subgroups[1]: 1 values; every subgroup of one chart needs 2, as the first has",
        ),
        ({"positions": PLACES}, "zone: missing; positions need it"),
        (
            {"positions": PLACES, "zone": "1 mm", "limits": LIMITS},
            "limits: does not belong to positions; leave it out",
        ),
        (
            {"values": VALUES, "limits": LIMITS, "zone": "1 mm"},
            "zone: belongs to positions; leave it out",
        ),
        ({"positions": PLACES[:2], "zone": "1 mm"}, "positions: 2 given; give 3 or more"),
        (
            {"positions": PLACES, "zone": 0.1},
            'zone: "0.1" has no unit; write "0.1 thou" or "0.1 mm"',
        ),
        (
            {"values": VALUES, "limits": LIMITS, "confidence": 1.0},
            'confidence: "1.0" is out of range; give a number less than or equal to 0.999',
        ),
        (
            {"values": [*VALUES, float("nan")], "limits": LIMITS},
            'values[10]: "nan" is not a number; write a plain finite number',
        ),
    ],
)  # fmt: skip
def test_bad_input_is_told_in_a_line(case: dict[str, Any], line: str) -> None:
    assert refusals(**case) == [line]


def test_subgroups_of_one_limit_equal_are_refused() -> None:
    same = {"low": "50 mm", "high": "50 mm"}
    assert refusals(values=VALUES, limits=same)[0].startswith("limits: low 50 is not below high 50")


def test_a_large_case_is_answered_whole() -> None:
    x = np.random.default_rng(32).normal(50, 0.003, 100_000).round(4).tolist()
    answer = answered(values=x, limits=LIMITS)
    assert answer.count == 100_000
    json.dumps(answer.model_dump(mode="json"), allow_nan=False)


def test_the_example_is_what_its_comments_offer() -> None:
    """The lines in comments are cases too."""
    plain = from_toml(WORKSHEET.example)
    offered = from_toml(
        "\n".join(
            line.removeprefix("#").strip()
            for line in WORKSHEET.example.splitlines()
            if line.startswith("#   ")
        )
    )
    rest = {"unit": plain["unit"]}
    by_groups = {name: offered[name] for name in ("subgroups", "within_by")}
    assert answered(**rest, **by_groups, limits=plain["limits"]).count == 4
    assert answered(positions=offered["positions"], zone=offered["zone"]).count == 3
