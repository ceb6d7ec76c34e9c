"""The axial-budget worksheet: cases as text against a textbook, JCGM 101, and by simulation."""

from __future__ import annotations

import math
from typing import Any

import pytest
from scipy.special import ndtr

from kitwright.errors import InputError
from kitwright.worksheets.depth.axial_budget import WORKSHEET, AxialBudgetAnswer, solve
from kitwright.worksheets.reading import from_toml, read

SCREW = [
    {"name": "a", "nominal": "1.750 in", "plus": "3 thou", "minus": "3 thou", "sense": 1},
    {"name": "b", "nominal": "0.750 in", "plus": "1 thou", "minus": "1 thou", "sense": -1},
    {"name": "c", "nominal": "0.120 in", "plus": "5 thou", "minus": "5 thou", "sense": -1},
    {"name": "d", "nominal": "0.875 in", "plus": "1 thou", "minus": "1 thou", "sense": -1},
]
"""Shigley, Mechanical Engineering Design, Example 1-7 (9th/10th ed.; from memory)."""


def answered(**case: Any) -> AxialBudgetAnswer:
    return solve(read(WORKSHEET.case, case))


def refusals(**case: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**case)
    return list(caught.value.lines)


def inches(mm: tuple[float, float]) -> tuple[float, float]:
    return mm[0] / 25.4, mm[1] / 25.4


def even(name: str, half: str, **how: Any) -> dict[str, Any]:
    sizes = {"nominal": "0 mm", "plus": half, "minus": half}
    return {"name": name, **sizes, "sense": 1, "spread": "even", **how}


# ── published and derived values ─────────────────────────────────────────────────────────


def test_shigley_1_7() -> None:
    """5a: w = .005 ± .010; and with a = 1.758, w is at least .003."""
    answer = answered(links=SCREW, gap={"low": "0 in"})
    assert answer.nominal_mm / 25.4 == pytest.approx(0.005, abs=1e-12)
    assert inches(answer.worst_case_mm) == pytest.approx((-0.005, 0.015), abs=1e-12)
    assert inches(answer.rss_mm) == pytest.approx((-0.001, 0.011), abs=1e-12)
    assert answer.chance_outside == pytest.approx(ndtr(-2.5), rel=1e-9)
    assert answer.chance_within == pytest.approx(1 - ndtr(-2.5), rel=1e-12)
    assert (answer.method, answer.gap.high_mm) == ("exact", None)
    longer = [{**SCREW[0], "nominal": "1.758 in"}, *SCREW[1:]]
    answer = answered(links=longer, gap={"low": "3 thou"})
    assert answer.worst_case_mm[0] / 25.4 == pytest.approx(0.003, abs=1e-12)


def test_jcgm_101_9_2_3_and_9_2_4() -> None:
    """Even links of standard deviation 1, then one of 10 (from memory; metres stand as mm)."""
    one, ten = f"{math.sqrt(3)} mm", f"{10 * math.sqrt(3)} mm"
    four = answered(links=[even(name, one) for name in "abcd"], gap={"low": "0 mm"})
    assert four.sigma_mm == pytest.approx(2.00, abs=1e-12)
    assert four.percentiles_mm["97.5"] == pytest.approx(3.88, abs=0.005)
    assert four.percentiles_mm["97.5"] == pytest.approx(2 * math.sqrt(3) * (2 - 0.6**0.25))
    assert four.percentiles_mm["2.5"] == -four.percentiles_mm["97.5"]
    assert four.standard_error < 1e-14
    links = [*(even(name, one) for name in "abc"), even("d", ten)]
    unequal = answered(links=links, gap={"low": "0 mm"})
    assert unequal.percentiles_mm["97.5"] == pytest.approx(17.0, abs=0.05)
    assert unequal.contributions[3].share == pytest.approx(100 / 103)


def test_cpk_says_sigma_by_the_nearer_limit() -> None:
    link = {**SCREW[0], "cpk": 0.5, "mean": "1.751 in"}
    answer = answered(links=[link], gap={"high": "1.753 in"})
    assert answer.sigma_mm / 0.0254 == pytest.approx(2 / 1.5)
    assert answer.chance_above == pytest.approx(ndtr(-1.5), rel=1e-9)
    assert answer.mean_mm / 25.4 == pytest.approx(1.751)
    assert answer.nominal_mm / 25.4 == pytest.approx(1.750)


# ── several requirements ─────────────────────────────────────────────────────────────────


def test_a_requirement_is_a_stack_of_its_own() -> None:
    """Whatever stands as a requirement answers as it does alone, links without a sense too."""
    alone = answered(links=SCREW, gap={"low": "1 thou", "high": "8 thou"})
    bare = [{key: value for key, value in link.items() if key != "sense"} for link in SCREW]
    spacer = even("spacer", "0.1 mm")
    both = answered(
        links=[spacer, *bare],
        gap={"high": "1 mm"},
        requirements=[
            {
                "name": "w",
                "gap": {"low": "1 thou", "high": "8 thou"},
                "links": [{"name": link["name"], "sense": link["sense"]} for link in SCREW],
            }
        ],
    )
    row = both.requirements[0]
    assert both.chance_within == 1
    assert [each.name for each in both.contributions] == ["spacer"]
    for name in ("nominal_mm", "worst_case_mm", "rss_mm", "sigma_mm", "chance_within"):
        assert getattr(row, name) == getattr(alone, name)
    assert row.contributions == alone.contributions
    assert row.most_from == "c"
    assert both.together is not None
    assert both.together.chance_least == pytest.approx(alone.chance_within, abs=1e-12)
    assert both.together.chance_most == alone.chance_within


def test_the_chance_together_lies_between_its_bounds() -> None:
    """Two requirements that share a link and pull it opposite ways."""
    links = [even("a", "1 mm"), even("b", "1 mm", sense=-1)]
    mirror = {"links": [{"name": "a", "sense": -1}], "gap": {"low": "-0.5 mm"}, "name": "other"}
    answer = answered(
        links=links, gap={"low": "0.5 mm"}, requirements=[mirror], draws=100_000, seed=5
    )
    assert answer.together is not None
    assert answer.together.chance_drawn is not None
    assert answer.simulation is not None
    # a <= 0.5 and a - b >= 0.5: a triangle of area 1²/2 in the square of area 4
    assert answer.together.chance_drawn == pytest.approx(1 / 8, abs=0.005)
    assert answer.together.chance_least <= 1 / 8 <= answer.together.chance_most
    assert answer.together.chance_most == pytest.approx(9 / 32)
    assert abs(answer.simulation.errors_apart) < 4
    assert answer.simulation.chance_within == pytest.approx(9 / 32, abs=0.006)


def test_a_drawing_repeats_by_its_seed() -> None:
    case = {"links": SCREW, "gap": {"low": "0 in"}, "draws": 10_000}
    first = answered(**case)
    assert first.simulation is not None
    assert answered(**case, seed=first.simulation.seed).simulation == first.simulation
    assert answered(**case, seed=2).simulation != first.simulation
    assert "The seed of the drawing is 31." in first.assumed
    assert not any("seed" in line for line in answered(**case, seed=2).assumed)


# ── what is said ─────────────────────────────────────────────────────────────────────────


def test_the_answer_in_a_sentence() -> None:
    assert WORKSHEET.say(answered(links=SCREW, gap={"low": "0 in"}), "in") == (
        "About 1 stack in 160 would not close: 99.4 % come to at least 0.0000 in, and the others "
        "mostly lie below. Most of the spread is from c (69.4 %)."
    )
    closed = [{**link, "spread": "even"} for link in SCREW]
    always = answered(links=closed, gap={"low": "-5 thou", "high": "15 thou"})
    assert WORKSHEET.say(always, "in") == (
        "The stack always closes: at worst it comes to −0.0050 in or 0.0150 in, within "
        "−0.0050 to 0.0150 in."
    )
    never = answered(links=SCREW, gap={"high": "-15 thou"})
    assert WORKSHEET.say(never, "mm").startswith("Nearly every stack would not close: under ")
    most = answered(links=SCREW, gap={"high": "7 thou"})
    assert WORKSHEET.say(most, "mm").startswith("About 16 stacks in 100 would not close: 84.1 %")


def test_requirements_are_said() -> None:
    example = from_toml(WORKSHEET.example)
    answer = answered(**example)
    assert "Of the other, pilot engagement: 99.8 % within 11.500 to 13.000 mm." in WORKSHEET.say(
        answer, "mm"
    )
    easy = {**example["requirements"][0], "name": "easy", "gap": {"low": "1 mm"}}
    example["requirements"].append(easy)
    said = WORKSHEET.say(answered(**example), "mm")
    assert "Of the other requirements pilot engagement fares worst: 99.8 %" in said


def test_every_default_is_listed() -> None:
    plain = answered(links=SCREW, gap={"low": "0 in"})
    assert [line.split(":")[0] for line in plain.assumed] == [
        "The links are independent of each other.",
        "Normal",
        "The half-width is 3 sigma",
        "The mean lies in the middle of the limits",
        "A normal link is not cut at its limits",
    ]
    said = {"spread": "normal", "cpk": 1.0}
    known = [{**link, **said, "mean": link["nominal"]} for link in SCREW]
    assert len(answered(links=known, gap={"low": "0 in"}).assumed) == 2
    assert len(answered(links=[even("a", "1 mm")], gap={"low": "0 in"}).assumed) == 1


# ── what is refused ──────────────────────────────────────────────────────────────────────


def test_bad_links_are_told_in_a_line_each() -> None:
    links = [
        {**SCREW[0], "cpk": 1.0, "mean": "1.753 in"},
        {**SCREW[1], "spread": "even", "cpk": 1.0},
        {**SCREW[2], "mean": "1 in"},
    ]
    assert refusals(links=links, gap={"low": "0 in"}) == [
        "links[0].cpk: the mean lies on a limit; a cpk needs it inside, and limits apart",
        "links[1].cpk: given for a spread that is even; a normal link takes it; leave it out",
        "links[2].mean: outside the link's limits; check it; a process must lie inside them",
    ]


def test_names_and_senses_are_checked() -> None:
    bare = {key: value for key, value in SCREW[1].items() if key != "sense"}
    requirement = {
        "name": "w",
        "gap": {"low": "0 in"},
        "links": [{"name": "z", "sense": 1}, {"name": "a", "sense": 1}, {"name": "a", "sense": -1}],
    }
    assert refusals(
        links=[SCREW[0], SCREW[0], bare],
        gap={"low": "0 in"},
        requirements=[requirement, requirement],
        seed=3,
    ) == [
        'links[1].name: "a" is named twice; name each once',
        "links[2].sense: missing; write 1, or -1 where it takes away",
        'requirements[1].name: "w" is named twice; name each once',
        'requirements[0].links[2].name: "a" is named twice; name each once',
        'requirements[0].links[0].name: "z" is no link; known are a, a, b',
        'requirements[1].links[2].name: "a" is named twice; name each once',
        'requirements[1].links[0].name: "z" is no link; known are a, a, b',
        "seed: given without draws; give draws too, or leave it out",
    ]
    lone = {**requirement, "links": [{"name": "b", "sense": 1}]}
    assert refusals(links=[bare], gap={"low": "0 in"}, requirements=[lone]) == [
        "links: none has a sense in the gap; give sense to those that make it"
    ]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"gap": {}}, "gap: neither low nor high given; give low, high or both"),
        (
            {"gap": {"low": "2 mm", "high": "1 mm"}},
            'gap: low "2 mm" is above high "1 mm"; swap them',
        ),
        (
            {"links": [{**SCREW[0], "minus": "-3 thou"}]},
            'links[0].minus: "-3 thou" is negative; give zero or more',
        ),
        ({"links": [{**SCREW[0], "sense": 2}]}, 'links[0].sense: "2" is not known; write 1 or -1'),
        ({"links": []}, "links: 0 given; give 1 or more"),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], line: str) -> None:
    assert refusals(**{"links": SCREW, "gap": {"low": "0 in"}, **changes}) == [line]
