"""The radial-budget worksheet: from text to an answer, and what it refuses."""

from __future__ import annotations

import subprocess
import sys
from typing import Any, get_args

import numpy as np
import pytest
from scipy.stats import ncx2

from kitwright.calc.centring.radial_budget import SEED
from kitwright.calc.centring.rigid import bore_influence
from kitwright.calc.centring.thermal_growth import EXPANSION_PER_K
from kitwright.errors import InputError
from kitwright.worksheets.centring.radial_budget import WORKSHEET, RadialBudgetAnswer, solve
from kitwright.worksheets.centring.radial_budget_case import Material
from kitwright.worksheets.reading import from_toml, read

DOWELS = {"dowel_a": ["-170 mm", "-20 mm"], "dowel_b": ["170 mm", "-20 mm"]}
ZONE = {"name": "bore", "kind": "zone", "zone": "6 thou"}
HOLE, PIN = {"low": "16.000 mm", "high": "16.020 mm"}, {"low": "15.980 mm", "high": "15.990 mm"}


def answered(
    *contributors: dict[str, Any], limit: str = "5 thou", **case: Any
) -> RadialBudgetAnswer:
    data = {"limit": limit, "contributors": list(contributors), **case}
    answer = solve(read(WORKSHEET.case, data))
    assert isinstance(answer, RadialBudgetAnswer)
    return answer


def refusals(*contributors: Any, **case: Any) -> list[str]:
    data = {"limit": "5 thou", "contributors": list(contributors), **case}
    with pytest.raises(InputError) as caught:
        solve(read(WORKSHEET.case, data))
    return caught.value.lines


# ── each kind, through the door ──────────────────────────────────────────────────────────


def test_a_normal_zone_and_line_honed_mains_are_rice() -> None:
    """scipy.stats.ncx2 as the reference; the shift at 180 is the bore below a raised crank."""
    mains = {"name": "mains", "kind": "shift", "size": "1 thou", "clock_deg": 180}
    answer = answered(ZONE, mains)
    assert answer.chance_within == pytest.approx(ncx2.cdf(2.5**2, 2, 1), abs=1e-10)
    assert answer.corrections_per_100 == pytest.approx(100 * ncx2.sf(2.5**2, 2, 1), abs=1e-8)
    assert (answer.method, answer.seed) == ("exact", SEED)
    assert answer.chance_outside_simulated is not None
    assert answer.chance_error_simulated is not None
    apart = abs(answer.chance_outside_simulated - answer.chance_outside)
    assert apart < 5 * answer.chance_error_simulated
    assert answer.standard_error < 1e-9
    assert answer.worst_case_tir_mm == pytest.approx(8 * 0.0254)
    assert answer.rss_tir_mm == pytest.approx(8 * 0.0254)
    assert (answer.mean_offset_mm, answer.mean_offset_clock_deg) == pytest.approx((0.0254, 180))
    median = 2 * 0.0254 * float(np.sqrt(ncx2.ppf(0.5, 2, 1)))
    assert answer.tir_percentiles_mm["50"] == pytest.approx(median, rel=1e-9)
    assert list(answer.tir_percentiles_mm) == ["50", "90", "95", "99", "99.9"]
    assert [row.name for row in answer.contributions] == ["bore", "mains"]
    assert [row.share for row in answer.contributions] == pytest.approx([2 / 3, 1 / 3])
    assert answer.contributions[1].chance_outside_without == pytest.approx(np.exp(-(2.5**2) / 2))


def test_a_normal_line_is_three_sigma() -> None:
    """P(|x| <= 1.96 sigma) = 0.95 (any normal table)."""
    line = {"name": "sideways", "kind": "line", "plus_minus": "3 mm", "clock_deg": 90}
    answer = answered(line, limit="3.919928 mm")
    assert answer.chance_within == pytest.approx(0.95, abs=1e-7)
    assert any("three sigma: sideways" in line for line in answer.assumed)


def test_an_even_line_fills_its_length() -> None:
    line = {"name": "up", "kind": "line", "plus_minus": "2 thou", "clock_deg": 0, "spread": "even"}
    answer = answered(line, limit="1 thou")
    assert answer.chance_within == pytest.approx(0.25, abs=1e-12)
    assert answer.tir_percentiles_mm["99.9"] == pytest.approx(0.999 * 4 * 0.0254)


def test_a_float_of_known_sizes_is_a_disc() -> None:
    """Clearance 0.04: anywhere in a disc of 0.02; a circle of half its radius has a quarter."""
    size = {"low": "16.04 mm", "high": "16.04 mm"}, {"low": "16 mm", "high": "16 mm"}
    loose = {"name": "loose", "kind": "float", "hole": size[0], "pin": size[1]}
    assert answered(loose, limit="0.02 mm").chance_within == pytest.approx(0.25, abs=1e-9)
    resting = answered({**loose, "rests": "down"}, limit="0.02 mm")
    assert resting.chance_within == 0
    assert resting.mean_offset_mm == pytest.approx(0.02)
    assert resting.mean_offset_clock_deg == pytest.approx(180)
    assert resting.worst_case_tir_mm == pytest.approx(0.04)


def test_a_float_spreads_between_its_limits() -> None:
    """Clearance 0.010 to 0.040: the edge is the largest, the mean half of 0.025, down."""
    answer = answered({"name": "loose", "kind": "float", "hole": HOLE, "pin": PIN, "rests": "down"})
    assert answer.worst_case_tir_mm == pytest.approx(0.040)
    assert answer.mean_offset_mm == pytest.approx(0.0125)
    # hole 20 wide and pin 10 wide, even: half of their differences lie below the middle
    assert answer.tir_percentiles_mm["50"] == pytest.approx(0.025)


def test_a_fit_by_name_is_its_limits() -> None:
    """ISO 286-2:2010: 16 H7 is 0/+18 µm, 16 m6 is +7/+18 µm."""
    by_name = answered(ZONE, {"name": "dowel", "kind": "float", "fit": "16 H7/m6"})
    limits = {
        "hole": {"low": "16.000 mm", "high": "16.018 mm"},
        "pin": {"low": "16.007 mm", "high": "16.018 mm"},
    }
    by_limits = answered(ZONE, {"name": "dowel", "kind": "float", **limits})
    assert by_name.chance_outside == pytest.approx(by_limits.chance_outside, abs=1e-12)
    assert by_name.worst_case_tir_mm == pytest.approx(6 * 0.0254 + 0.011)


def test_a_pressed_dowel_adds_nothing() -> None:
    pressed = {"name": "dowel", "kind": "float", "fit": "16 H7/s6"}
    answer, alone = answered(ZONE, pressed), answered(ZONE)
    assert answer.chance_outside == pytest.approx(alone.chance_outside, abs=1e-12)
    assert answer.worst_case_tir_mm == alone.worst_case_tir_mm
    assert answer.contributions[1].share == 0


def test_growth_slips_about_the_middle_and_is_bounded_where_one_dowel_holds() -> None:
    """Aluminium on steel, 400 mm, 70 K: 0.2828 mm across (derived from published expansions)."""
    warm = {
        "name": "warm",
        "kind": "growth",
        "temperature_rise": "126 °F",
        "bell_material": "aluminium A380",
        "block_expansion": "11.7 ppm/K",
    }
    place = {"dowel_a": ["-200 mm", "-30 mm"], "dowel_b": ["200 mm", "-30 mm"]}
    answer = answered(warm, limit="0.1 mm", **place)
    (row,) = answer.growth
    assert row.free_mm == pytest.approx(30 * 10.1e-6 * 70)
    assert row.free_clock_deg == pytest.approx(0)  # the bore lies above the dowels: it goes up
    assert row.held_mm == pytest.approx(np.hypot(200, 30) * 10.1e-6 * 70)
    assert row.chance_outside_held == 1
    assert answer.chance_outside == 0
    assert answer.worst_case_tir_mm == pytest.approx(2 * row.free_mm)
    alone = answered({**warm, "bore": ["0 mm", "30 mm"]}, limit="0.1 mm")
    assert alone.growth[0].free_mm == pytest.approx(row.free_mm)
    assert alone.growth[0].held_mm is None
    square = answered(warm, dowel_a=["-200 mm", "0 mm"], dowel_b=["200 mm", "0 mm"])
    assert 2 * (square.growth[0].held_mm or 0) == pytest.approx(0.2828, abs=5e-5)


def test_measured_bells_are_counted_evenly() -> None:
    batch = {
        "name": "batch",
        "kind": "measured",
        "unit": "thou",
        "vectors": [[3, 4], [0, 2.5], [-1, 0], [0, 0]],
    }
    answer = answered(batch)
    assert (answer.chance_within, answer.method) == (0.75, "exact")
    assert answer.worst_case_tir_mm == pytest.approx(10 * 0.0254)
    assert answer.tir_percentiles_mm["50"] == pytest.approx(2 * 0.0254)
    assert answer.tir_percentiles_mm["99.9"] == pytest.approx(10 * 0.0254)


@pytest.mark.parametrize("where", ["dowel-a", "dowel-b"])
def test_where_sends_each_kind_through_the_rigid_motion(where: str) -> None:
    influence = bore_influence([-170, -20], [140, 15])
    matrix = influence.of_a if where == "dowel-a" else influence.of_b
    place = {"dowel_a": ["-170 mm", "-20 mm"], "dowel_b": ["140 mm", "15 mm"]}
    moved = matrix @ np.array([0.0, 0.1])
    shift = {"name": "s", "kind": "shift", "where": where, "size": "0.1 mm", "clock_deg": 0}
    answer = answered(shift, {**ZONE, "where": where}, **place)
    assert answer.mean_offset_mm == pytest.approx(np.hypot(*moved))
    assert answer.mean_offset_clock_deg == pytest.approx(np.degrees(np.arctan2(*moved)) % 360)
    spread = np.trace(matrix @ matrix.T) * 0.0254**2
    shares = [row.share for row in answer.contributions]
    assert shares[0] == pytest.approx(moved @ moved / (moved @ moved + spread))
    batch = {"name": "m", "kind": "measured", "where": where, "unit": "mm", "vectors": [[0, 0.1]]}
    down = {"name": "f", "kind": "float", "where": where, "rests": "down"}
    sizes = {"low": "16.2 mm", "high": "16.2 mm"}, {"low": "16 mm", "high": "16 mm"}
    both = answered(batch, {**down, "hole": sizes[0], "pin": sizes[1]}, **place)
    assert both.worst_case_tir_mm == pytest.approx(0, abs=1e-12)  # down by as much as up


# ── what it says ─────────────────────────────────────────────────────────────────────────


FEWER = "Fewer than 1 fitter in a million"


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        (
            "6.2 thou",
            "About 5 fitters in 100 would have to correct: 94.6 % of bells land within 5 thou TIR.",
        ),
        (
            "4.9 thou",
            "About 1 fitter in 110 would have to correct: 99.1 % of bells land within 5 thou TIR.",
        ),
        (
            "2.5 thou",
            f"{FEWER} would have to correct: 99.999998 % of bells land within 5 thou TIR.",
        ),
        (
            "400 thou",
            "Nearly every fitter would have to correct: 0.07 % of bells land within 5 thou TIR.",
        ),
    ],
)  # fmt: skip
def test_it_is_said_as_at_the_bench(zone: str, said: str) -> None:
    assert WORKSHEET.say(answered({**ZONE, "zone": zone}), "in") == said


def test_what_cannot_happen_is_said_so() -> None:
    answer = answered({**ZONE, "zone": "0.1 mm", "spread": "edge"}, limit="0.1 mm")
    assert WORKSHEET.say(answer, "mm") == (
        "No fitter would have to correct: no bell exceeds 0.10 mm TIR."
    )


def test_every_default_is_told() -> None:
    warm = {"name": "warm", "kind": "growth", "temperature_rise": "70 K", "bell_material": "steel"}
    answer = answered(
        ZONE,
        {"name": "loose", "kind": "float", "fit": "16 H7/g6"},
        {"name": "sideways", "kind": "line", "plus_minus": "1 thou", "clock_deg": 90},
        {**warm, "block_material": "grey iron"},
        **DOWELS,
    )
    assert answer.assumed == [
        "The contributors are independent of each other.",
        "Normal, the zone six sigma on each axis: bore.",
        "Normal, plus or minus three sigma: sideways.",
        "Holes and pins are even between their limits; one pressed in has no play.",
        "Anywhere in the clearance: loose.",
        "Bell and block are equally warm, and both dowels slip alike.",
        "grey iron: 11 ppm/K.",
        "steel: 11.7 ppm/K.",
        "At the bore: bore, loose, sideways.",
        f"The seed of the simulation is {SEED}.",
    ]
    told = answered({**ZONE, "spread": "normal", "where": "bore"}, seed=1)
    assert told.assumed == ["The contributors are independent of each other."]


def test_a_simulation_says_so_and_keeps_its_seed() -> None:
    parts = [
        {**ZONE, "spread": "edge"},
        {"name": "up", "kind": "line", "plus_minus": "2 thou", "clock_deg": 0, "spread": "even"},
    ]
    answer = answered(*parts, limit="6 thou")
    assert (answer.method, answer.seed) == ("simulated", SEED)
    assert 0 < answer.standard_error < 2e-5
    assert "Sobol" in answer.how
    assert f"The seed of the simulation is {SEED}." in answer.assumed
    other = answered(*parts, limit="6 thou", seed=7)
    assert other.seed == 7
    assert not any("seed" in line for line in other.assumed)
    apart = abs(other.chance_within - answer.chance_within)
    assert apart < 10 * (other.standard_error + answer.standard_error)


def test_the_materials_of_the_case_are_those_of_the_table() -> None:
    assert set(get_args(Material)) == set(EXPANSION_PER_K)


def test_a_check_by_simulation_can_be_left_out() -> None:
    parts = [{"name": "bore", "kind": "zone", "zone": "4 thou"}]
    answer = answered(*parts, limit="5 thou", check="no")
    assert answer.chance_outside_simulated is None
    assert answer.seed is None
    assert not any("seed" in line for line in answer.assumed)


def test_an_exact_answer_imports_no_statistics() -> None:
    """scipy.stats and scipy.optimize cost most of a second; without the check none is needed."""
    code = (
        "import sys; from kitwright.worksheets.declaration import load;"
        "from kitwright.worksheets.reading import from_toml, read;"
        "w = load('radial-budget');"
        "w.solve(read(w.case, {**from_toml(w.example), 'check': 'no'}));"
        "print([m for m in ('scipy.stats', 'scipy.optimize', 'sqlalchemy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# ── what it refuses ──────────────────────────────────────────────────────────────────────

FLOAT = {"name": "f", "kind": "float"}
WARM = {"name": "w", "kind": "growth", "temperature_rise": "70 K"}
METALS = {"bell_material": "aluminium", "block_material": "grey iron"}
LETTERS = "letters are c, d, e, f, g, h, js, k, m, n, p, r, s (capitals for a hole)"
PLACES = "give the places of two dowel holes"
NEEDED = "needs the dowel holes; give dowel_a and dowel_b"
KINDS = "'zone', 'shift', 'line', 'float', 'growth', 'measured'"

REFUSED = [
    ([], {}, ["contributors: 0 given; give 1 or more"]),
    ([ZONE], {"limit": "0 mm"}, ['limit: "0 mm" is not above zero; give more than zero']),
    ([ZONE], {"limit": "5"}, ['limit: "5" has no unit; write "5 thou" or "5 mm"']),
    (
        [{**ZONE, "zone": "0 mm"}],
        {},
        ['contributors[0].zone: "0 mm" is not above zero; give more than zero'],
    ),
    (
        [{**ZONE, "zone": "-1 mm"}],
        {},
        ['contributors[0].zone: "-1 mm" is not above zero; give more than zero'],
    ),
    (
        [{**ZONE, "zone": "nan mm"}],
        {},
        ['contributors[0].zone: "nan mm" is not a length; write "5 thou" or "5 mm"'],
    ),
    (
        [{**ZONE, "zone": 4}],
        {},
        ['contributors[0].zone: "4" has no unit; write "4 thou" or "4 mm"'],
    ),
    (
        [{**ZONE, "kind": "blob"}],
        {},
        [f'contributors[0].kind: "blob" is not known; write one of {KINDS}'],
    ),
    ([{"name": "x", "zone": "1 mm"}], {}, ["contributors[0].kind: missing; it is needed"]),
    ([{**ZONE, "size": "1 mm"}], {}, ["contributors[0].size: unknown name; leave it out"]),
    ([{**ZONE, "where": "dowel-a"}], {}, [f'contributors[0].where: "dowel-a" {NEEDED}']),
    ([ZONE], {"dowel_a": ["1 mm", "0 mm"]}, ["dowel_b: missing; dowel_a and dowel_b go together"]),
    ([ZONE], {"dowel_b": ["1 mm", "0 mm"]}, ["dowel_a: missing; dowel_a and dowel_b go together"]),
    (
        [ZONE],
        {"dowel_a": ["1 mm", "0 mm"], "dowel_b": ["1 mm", "0 mm"]},
        [f"dowel_b: it is in the same place as dowel_a; {PLACES}"],
    ),
    (
        [ZONE, {**ZONE, "zone": "1 mm"}],
        {},
        ['contributors[1].name: "bore" is used twice; name each once'],
    ),
    (
        [{**FLOAT, "fit": "16 H7/q6"}],
        {},
        [f'contributors[0].fit: "q6" is not a class known here; {LETTERS}'],
    ),
    ([FLOAT], {}, ['contributors[0]: no sizes given; give hole and pin, or fit = "16 H7/m6"']),
    (
        [{**FLOAT, "hole": HOLE}],
        {},
        ['contributors[0]: hole given; give hole and pin, or fit = "16 H7/m6"'],
    ),
    (
        [{**FLOAT, "hole": HOLE, "pin": {"low": "2 mm", "high": "1 mm"}}],
        {},
        ['contributors[0].pin: low "2 mm" is above high "1 mm"; swap them'],
    ),
    (
        [{**FLOAT, "hole": HOLE, "pin": {"low": "2 mm"}}],
        {},
        ["contributors[0].pin.high: missing; it is needed"],
    ),
    (
        [{**FLOAT, "fit": "16 H7/m6", "rests": "up"}],
        {},
        ["contributors[0].rests: \"up\" is not known; write 'down'"],
    ),
    (
        [{**WARM, **METALS, "block_expansion": "11 ppm/K"}],
        DOWELS,
        ["contributors[0]: block_material and block_expansion given; give one of the two"],
    ),
    ([{**WARM, **METALS}], {}, ["contributors[0].bore: missing; give it, or dowel_a and dowel_b"]),
    (
        [{**WARM, "bell_material": "steel"}],
        DOWELS,
        ["contributors[0]: no block_material or block_expansion given; give one of the two"],
    ),
    (
        [{**WARM, **METALS, "temperature_rise": "70"}],
        DOWELS,
        ['contributors[0].temperature_rise: "70" has no unit; write "70 K" or "70 °F"'],
    ),
    (
        [{**WARM, "bell_expansion": "9 %", "block_material": "steel"}],
        DOWELS,
        ['contributors[0].bell_expansion: "9 %" has the unknown unit "%"; known are ppm/K, ppm/°F'],
    ),
    (
        [{**WARM, "bell_expansion": "9000 ppm/K", "block_material": "steel"}],
        DOWELS,
        ['contributors[0].bell_expansion: "9000 ppm/K" is no metal\'s; give 0 to 1000 ppm/K'],
    ),
    (
        [{"name": "m", "kind": "measured", "unit": "thou", "vectors": []}],
        {},
        ["contributors[0].vectors: 0 given; give 1 or more"],
    ),
    (
        [{"name": "m", "kind": "measured", "vectors": [[0, 1]]}],
        {},
        ["contributors[0].unit: missing; it is needed"],
    ),
    (
        [{"name": "m", "kind": "measured", "unit": "thou", "vectors": [[0, float("nan")]]}],
        {},
        ['contributors[0].vectors[0][1]: "nan" is not a number; write a plain finite number'],
    ),
    (
        [ZONE, {**FLOAT, "fit": "x"}, {**ZONE, "where": "dowel-a", "name": "y"}],
        {},
        [
            'contributors[1].fit: "x" is not a fit; write it as "16 H7/m6", size in mm',
            f'contributors[2].where: "dowel-a" {NEEDED}',
        ],
    ),
]


@pytest.mark.parametrize(("contributors", "case", "lines"), REFUSED)
def test_what_cannot_be_used_is_refused_by_name(
    contributors: list[Any], case: dict[str, Any], lines: list[str]
) -> None:
    assert refusals(*contributors, **case) == lines


def test_the_example_has_every_kind() -> None:
    case = read(WORKSHEET.case, from_toml(WORKSHEET.example))
    kinds = {part.kind for part in case.contributors}  # type: ignore[attr-defined]
    assert kinds == {"zone", "shift", "line", "float", "growth", "measured"}
