"""The match worksheet: cases as text and as bare numbers, what is kept, what changes, refusals."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from scipy.special import chndtr

from kitwright.errors import InputError
from kitwright.worksheets.centring.match import WORKSHEET, solve
from kitwright.worksheets.centring.match_case import MatchAnswer, TableLength, TableSize
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures, grids

WRITTEN = from_toml(WORKSHEET.example)


def bare(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows of the example, which is in thou, as bare numbers."""
    return [
        {
            **row,
            "vector": [float(value.removesuffix(" thou")) for value in row["vector"]],
            "u95": float(row["u95"].removesuffix(" thou")),
        }
        for row in rows
    ]


EXAMPLE = {
    **WRITTEN,
    "unit": "thou",
    "bells": bare(WRITTEN["bells"]),
    "engines": bare(WRITTEN["engines"]),
}


def answered(**changes: Any) -> MatchAnswer:
    return solve(read(WORKSHEET.case, {**EXAMPLE, **changes}))


def refusals(**changes: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**changes)
    return caught.value.lines


def pairs(answer: MatchAnswer) -> dict[str, str]:
    return {row.order: row.serial for row in answer.pairs}


def test_the_example_against_every_permutation() -> None:
    """Worked here once more, in thou, from the case itself; chances by SciPy's chndtr."""
    answer = answered(keep=[])
    bells, engines = EXAMPLE["bells"], EXAMPLE["engines"]

    def within(engine: dict[str, Any], bell: dict[str, Any]) -> float:
        x, y = (a + b for a, b in zip(engine["vector"], bell["vector"], strict=True))
        u2 = (engine["u95"] ** 2 + bell["u95"] ** 2) / 4
        return float(chndtr(2.5**2 / u2, 2, (x * x + y * y) / u2))

    best = max(
        sum(within(engine, bell) for engine, bell in zip(engines, chosen, strict=True))
        for chosen in itertools.permutations(bells, len(engines))
    )
    served = sum(within(engine, bell) for engine, bell in zip(engines, bells, strict=False))
    assert answer.total.within == pytest.approx(best, abs=1e-10)
    assert answer.first_come.within == pytest.approx(served, abs=1e-10)
    assert answer.total.outside == pytest.approx(4 - best, abs=1e-10)
    assert (answer.count, answer.proven, answer.changes) == (4, True, None)
    assert answer.gap < 1e-9
    of = {bell["serial"]: bell for bell in bells}
    for row, engine in zip(answer.pairs, engines, strict=True):
        offset = np.add(engine["vector"], of[row.serial]["vector"])
        assert row.order == engine["order"]
        assert row.expected_tir_mm == pytest.approx(2 * np.hypot(*offset) * 0.0254, rel=1e-12)
        assert row.chance_within == pytest.approx(within(engine, of[row.serial]), abs=1e-10)
        assert [row.offset_x_mm, row.offset_y_mm] == pytest.approx(offset * 0.0254, abs=1e-15)
        assert row.offset_u95_mm == pytest.approx(np.hypot(0.2, 0.6) * 0.0254, rel=1e-12)
        assert row.kept is None
    assert sum(row.expected_tir_mm for row in answer.pairs) == pytest.approx(
        answer.total.expected_tir_mm, rel=1e-12
    )


def test_bare_numbers_and_lengths_are_one() -> None:
    def spelled(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [
            {
                **row,
                "vector": [f"{row['vector'][0]} thou", f"{row['vector'][1] / 1000:.7f} in"],
                "u95": f"{row['u95'] * 0.0254:.10g} mm",
            }
            for row in rows
        ]

    changes = {"bells": spelled(EXAMPLE["bells"]), "engines": spelled(EXAMPLE["engines"])}
    spelt, numbers = answered(**changes, unit=None), answered()
    assert pairs(spelt) == pairs(numbers)
    for one, other in zip(spelt.pairs, numbers.pairs, strict=True):
        assert one.chance_within == pytest.approx(other.chance_within, rel=1e-9)
        assert one.expected_tir_mm == pytest.approx(other.expected_tir_mm, rel=1e-9)
    as_text = [{**row, "vector": [str(v) for v in row["vector"]]} for row in EXAMPLE["bells"]]
    assert answered(bells=as_text).model_dump() == answered().model_dump()
    assert solve(read(WORKSHEET.case, WRITTEN)).model_dump() == answered().model_dump()


def test_a_bare_number_is_not_a_length() -> None:
    assert TableLength("1") != TableLength("1 mm")
    assert TableLength("1") == TableLength(" 1.0 ")
    assert len({TableLength("1"), TableLength("1 mm"), TableLength("25.4e-1")}) == 3
    assert TableSize("25.4 mm") == TableSize("1 in")


def test_kept_pairs_are_kept_and_said() -> None:
    answer = answered(keep=[{"order": "O-211", "serial": "HC-0107"}])
    assert pairs(answer)["O-211"] == "HC-0107"
    assert {row.order: row.kept for row in answer.pairs} == {
        "O-211": True, "O-212": False, "O-213": False, "O-214": False,
    }  # fmt: skip
    assert {row.order: row.serial for row in answer.first_come_pairs}["O-211"] == "HC-0107"
    assert answer.total.within < answered(keep=[]).total.within


def test_a_rejected_bell_changes_what_it_must_and_lists_it() -> None:
    before = answered()
    lost = before.pairs[0].serial
    after = answered(without={"serials": [lost]})
    assert lost not in pairs(after).values()
    rest = [bell for bell in EXAMPLE["bells"] if bell["serial"] != lost]
    assert after.total.within == pytest.approx(answered(bells=rest).total.within, abs=1e-12)
    assert after.changes is not None
    old, new = pairs(before), pairs(after)
    assert {(row.order, row.before, row.after) for row in after.changes} == {
        (order, old[order], new[order]) for order in old if old[order] != new[order]
    }
    assert "O-211" in {row.order for row in after.changes}


def test_an_order_that_goes_frees_its_bell_even_a_kept_one() -> None:
    after = answered(without={"orders": ["O-214"]})
    assert after.changes is not None
    assert [(row.before, row.after) for row in after.changes if row.order == "O-214"] == [
        ("HC-0107", None)
    ]
    assert after.count == 3
    free = {bell["serial"] for bell in EXAMPLE["bells"]} - set(pairs(after).values())
    assert set(after.left_over) == free
    assert any("kept no longer" in line for line in after.assumed)
    assert not any(row.kept for row in after.pairs)


def test_a_bell_that_nobody_had_changes_nothing() -> None:
    spare = answered().left_over[0]
    after = answered(without={"serials": [spare]})
    assert after.changes == []
    assert "changed" not in WORKSHEET.say(after, "in")


def test_more_engines_than_bells() -> None:
    answer = answered(bells=EXAMPLE["bells"][:2])
    assert answer.count == 2
    assert answer.left_over == []
    assert {"O-214"} <= set(pairs(answer))
    assert len(answer.waiting) == 2
    assert set(answer.waiting) | set(pairs(answer)) == {"O-211", "O-212", "O-213", "O-214"}


def test_a_bell_without_its_uncertainty_is_assumed_exact() -> None:
    without = [{key: row[key] for key in ("serial", "vector")} for row in EXAMPLE["bells"]]
    answer = answered(bells=without)
    assert any("without a plus or minus" in line for line in answer.assumed)
    assert answer.pairs[0].offset_u95_mm == pytest.approx(0.6 * 0.0254, rel=1e-12)
    assert not any("without a plus or minus" in line for line in answered().assumed)


def test_one_and_only() -> None:
    one = answered(
        bells=[{"serial": "A", "vector": ["0 mm", "0 mm"], "u95": "0 mm"}],
        engines=[{"order": "1", "vector": [0, 0], "u95": 0}],
        keep=[],
    )
    assert one.pairs[0].chance_within == 1
    assert one.pairs[0].expected_tir_mm == 0
    assert one.pairs[0].offset_clock_deg is None
    assert WORKSHEET.say(one, "in") == (
        "Pair them as listed: of the one pair, 1.00 is expected within 5 thou TIR; first come, "
        "first served would do as well."
    )


def test_what_is_said_of_a_pair_that_will_not_do() -> None:
    far = [{**EXAMPLE["engines"][0], "vector": [0, -9]}, *EXAMPLE["engines"][1:]]
    said = WORKSHEET.say(answered(engines=far), "in")
    assert said.endswith("Plan eccentric dowels for O-211, or wait for a better bell.")


def test_what_a_person_sees() -> None:
    answer = answered()
    labels = {figure.label: figure.leading for figure in figures(answer, lead="in")}
    assert labels["Proven the best"] == "yes"
    assert labels["Bells left over"] == ", ".join(answer.left_over)
    table = next(grid for grid in grids(answer, lead="in") if grid.name == "pairs")
    assert table.columns == (
        "Order", "Bell", "Expected TIR", "Within the limit", "Verdict", "Offset toward", "Kept",
    )  # fmt: skip


def kept(*given: tuple[str, str]) -> dict[str, Any]:
    return {"keep": [{"order": order, "serial": serial} for order, serial in given]}


UNKNOWN = "is not in the list; list it"


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"unit": None},
            'bells[0].vector[0]: "0.2" has no unit; write "0.2 thou", or give `unit` once',
        ),
        ({"limit": "5"}, 'limit: "5" has no unit; write "5 thou" or "5 mm"'),
        ({"bells": []}, "bells: 0 given; give 1 or more"),
        ({"engines": []}, "engines: 0 given; give 1 or more"),
        (kept(("O-9", "HC-0107")), f'keep[0].order: "O-9" {UNKNOWN} first'),
        (kept(("O-211", "X")), f'keep[0].serial: "X" {UNKNOWN} first'),
        (
            kept(("O-211", "HC-0107"), ("O-211", "HC-0108")),
            'keep[1].order: "O-211" is kept twice; keep it once',
        ),
        (
            {"without": {"serials": ["HC-0199"]}},
            f'without.serials[0]: "HC-0199" {UNKNOWN} among the others too',
        ),
        (
            {"without": {"orders": ["O-211", "O-212", "O-213", "O-214"]}},
            "without.orders: none is left; leave one or more",
        ),
        (
            {"engines": [{"order": "A", "vector": [0, 1e14], "u95": 0}], "unit": "ft", "keep": []},
            'engines[0].vector[1]: "100000000000000.0" is beyond any length here; check it',
        ),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], line: str) -> None:
    assert refusals(**changes)[0] == line


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ({"u95": -0.1}, 'u95: "-0.1" is negative; give zero or more'),
        ({"u95": None}, "u95: missing; it is needed"),
        ({"vector": ["1,5", 0]}, 'vector[0]: "1,5" has a comma; write a decimal point'),
        ({"vector": [True, 0]}, 'vector[0]: "True" is not a length; write "5 thou" or "5 mm"'),
        ({"order": ""}, 'order: "" cannot be used; string should have at least 1 character'),
    ],
)
def test_a_bad_row_names_its_field(row: dict[str, Any], line: str) -> None:
    engine = {"order": "A", "vector": [0, 0], "u95": 0.1, **row}
    assert refusals(engines=[engine], keep=[]) == [f"engines[0].{line}"]


def test_every_double_is_told_at_once() -> None:
    lines = refusals(
        bells=[*EXAMPLE["bells"], EXAMPLE["bells"][0]],
        engines=[*EXAMPLE["engines"], EXAMPLE["engines"][2]],
    )
    assert lines == [
        'bells[5].serial: "HC-0107" is listed twice; list it once',
        'engines[4].order: "O-213" is listed twice; list it once',
    ]
