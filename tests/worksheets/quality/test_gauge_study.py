"""The gauge-study worksheet: cases against AIAG's example and published one-way studies."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.quality.gauge_study import WORKSHEET, GaugeStudyAnswer, solve
from kitwright.worksheets.reading import from_toml, read

PUBLISHED: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "gauge_studies.toml").read_text("utf-8")
)


def aiag() -> list[list[Any]]:
    return [
        [part, person, value]
        for person in "ABC"
        for trial in PUBLISHED["aiag"][person]
        for part, value in enumerate(trial, start=1)
    ]


def rail() -> list[list[Any]]:
    return [
        [f"rail {row}", "one", value]
        for row, times in enumerate(PUBLISHED["rail"]["times"], start=1)
        for value in times
    ]


def answered(readings: list[list[Any]], **case: Any) -> GaugeStudyAnswer:
    return solve(read(WORKSHEET.case, {"unit": "mm", "readings": readings, **case}))


def refusals(readings: list[list[Any]], **case: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(readings, **case)
    return caught.value.lines


# ── published values ─────────────────────────────────────────────────────────────────────


def test_aiag_study() -> None:
    """AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III B (from memory)."""
    answer = answered(aiag(), tolerance="8 mm")
    assert (answer.parts, answer.persons, answer.trials) == (10, 3, 3)
    assert [answer.repeatability, answer.reproducibility, answer.gauge, answer.part] == (
        pytest.approx([0.199933, 0.226838, 0.302373, 1.042327], abs=2e-6)
    )
    assert answer.interaction_pooled is True
    assert answer.interaction is None
    assert answer.interaction_p == pytest.approx(0.97411, abs=1e-5)
    assert answer.percent_of_total == pytest.approx(27.9, abs=0.05)
    assert answer.percent_of_tolerance == pytest.approx(100 * 6 * answer.gauge / 8, rel=1e-12)
    assert answer.distinct_categories == 4
    assert answer.suggested_u95 == 2 * answer.gauge
    assert answer.tolerance_left_share == pytest.approx(1 - 4 * answer.gauge / 8, rel=1e-12)
    table = {row.source: row for row in answer.variance_table}
    assert table["part"].f == pytest.approx(245.614, abs=5e-4)
    assert table["person"].f == pytest.approx(39.617, abs=5e-4)
    assert table["part and person, pooled"].f == pytest.approx(0.43372, abs=1e-5)
    assert table["repeat and pooled"].degrees_of_freedom == 78
    assert table["all"].sum_of_squares == pytest.approx(94.6471, abs=1e-4)


def test_aiag_study_by_ranges() -> None:
    """AIAG, 4th ed. (2010), ch. III B, read in three copies (K3 is printed to four decimals)."""
    found = answered(aiag()).by_ranges
    assert found is not None
    assert [found.repeatability, found.reproducibility, found.gauge, found.part] == pytest.approx(
        [0.20188, 0.22963, 0.30575, 1.10456], abs=1.8e-4
    )
    assert found.percent_of_total == pytest.approx(26.68, abs=0.02)
    assert found.distinct_categories == 5
    assert found.percent_of_tolerance is None


def test_rail_by_one_person() -> None:
    """Pinheiro and Bates (2000), 1.1 (from memory): sigma rail 24.805, rest 4.0208."""
    answer = answered(rail())
    assert [answer.part, answer.repeatability] == pytest.approx([24.805, 4.0208], abs=1e-3)
    assert answer.gauge == answer.repeatability
    assert answer.reproducibility is None
    assert any(line.startswith("One person measured") for line in answer.assumed)
    assert answer.by_ranges is not None
    assert answer.by_ranges.reproducibility is None
    uneven = answered(rail()[1:])
    assert uneven.by_ranges is uneven.trials is None


def test_machines_keep_their_interaction() -> None:
    """Pinheiro and Bates (2000), 1.3 (from memory): worker 4.781, interaction 3.730, rest .9616."""
    readings = [
        [worker, machine, value]
        for machine in "ABC"
        for worker, scores in enumerate(PUBLISHED["machines"][machine], start=1)
        for value in scores
    ]
    answer = answered(readings)
    assert [answer.part, answer.interaction, answer.repeatability] == pytest.approx(
        [4.781, 3.730, 0.9616], abs=1e-3
    )
    assert answer.interaction_pooled is False
    sources = [row.source for row in answer.variance_table]
    assert sources == ["part", "person", "part and person", "repeat", "all"]
    names = [row.source for row in answer.components]
    assert "persons" in names
    assert "part and person" in names
    assert answer.worth == "not fit"
    assert answered(readings, pooled_above=1e-9).interaction_pooled is False
    assert answered(readings, pooled_above=0.0).interaction_pooled is True


# ── properties ───────────────────────────────────────────────────────────────────────────


def test_the_order_of_readings_does_not_matter_but_for_the_last_figures() -> None:
    mixed = aiag()
    random.Random(3).shuffle(mixed)
    first, second = answered(aiag()), answered(mixed)
    assert second.gauge == pytest.approx(first.gauge, rel=1e-10)
    assert second.part == pytest.approx(first.part, rel=1e-10)
    assert (
        second.out_of_line
        == first.out_of_line
        == [
            (
                "Part 4, person B: the readings differ by more than 0.88 mm, which chance "
                "alone seldom does."
            )
        ]
    )


def test_another_unit_gives_the_same_shares() -> None:
    inches = [[part, person, value / 25.4] for part, person, value in aiag()]
    metric = answered(aiag(), tolerance="8 mm")
    imperial = answered(inches, unit="in", tolerance="8 mm")
    assert imperial.percent_of_tolerance == pytest.approx(metric.percent_of_tolerance, rel=1e-9)
    assert imperial.gauge * 25.4 == pytest.approx(metric.gauge, rel=1e-9)
    assert imperial.unit == "in"
    assert WORKSHEET.say(metric, "mm") == WORKSHEET.say(imperial, "mm")


def test_one_trial_counts_the_interaction_as_repeats() -> None:
    answer = answered(aiag()[:10] + aiag()[30:40] + aiag()[60:70])
    assert (answer.trials, answer.by_ranges, answer.interaction_pooled) == (1, None, None)
    assert any(line.startswith("Each was measured once") for line in answer.assumed)


def test_parts_and_persons_may_have_numbers_for_names() -> None:
    named = [[str(part), person, value] for part, person, value in aiag()]
    assert answered(named) == answered(aiag())
    case = read(WORKSHEET.case, {"unit": "mm", "readings": [[1, 2.0, 3], *aiag()]})
    assert case.readings[0][:2] == ("1", "2")


# ── what is said and refused ─────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("tolerance", "worth", "sentence"),
    [
        (
            "20 mm",
            "good",
            (
                "Good: the gauge takes 9.1 % of the tolerance. Judge with an expanded uncertainty "
                "of 0.60 mm or more."
            ),
        ),
        (
            "8 mm",
            "with care",
            (
                "Usable with care: the gauge takes 22.7 % of the tolerance. Judge with an "
                "expanded uncertainty of 0.60 mm or more."
            ),
        ),
        (
            "1 mm",
            "not fit",
            (
                "Not fit for this: the gauge takes 181.4 % of the tolerance. Judge with an "
                "expanded uncertainty of 0.60 mm or more."
            ),
        ),
    ],
)
def test_the_answer_in_a_sentence(tolerance: str, worth: str, sentence: str) -> None:
    answer = answered(aiag(), tolerance=tolerance)
    assert answer.worth == worth
    assert WORKSHEET.say(answer, "mm") == sentence
    assert any("persons differ more" in line for line in answer.release) == (worth != "good")
    assert any("leave nothing" in line for line in answer.release) == (worth == "not fit")


def without(part: int, person: str) -> list[list[Any]]:
    return [row for row in aiag() if row[:2] != [part, person]]


FULL = "every person measures every part equally often, here 3 times"


@pytest.mark.parametrize(
    ("readings", "lines"),
    [
        (without(3, "B"), [f'readings: part "3", person "B": no reading; {FULL}']),
        (aiag()[1:], [f'readings: part "1", person "A": 2 readings; {FULL}']),
        (
            [*aiag(), [11, "A", 1.0]],
            [
                f'readings: part "11", person "A": 1 reading; {FULL}',
                f'readings: part "11", person "B": no reading; {FULL}',
                f'readings: part "11", person "C": no reading; {FULL}',
            ],
        ),
        (
            [row for row in aiag() if row[0] == 1],
            ["readings: one part; give two parts or more: ten is usual"],
        ),
        (
            aiag()[:10],
            ["readings: one person, each part measured once; measure every part again"],
        ),
        (
            [[part, person, part] for part in (1, 2) for person in "AB" for _ in range(2)],
            ["readings: no repeat differs from another; read the gauge to a finer step"],
        ),
        (aiag()[:3], ["readings: 3 given; give 4 or more"]),
        (
            [[1, "A", "x"], *aiag()],
            ['readings[0][2]: "x" is not a number; write a plain finite number'],
        ),
    ],
)
def test_what_cannot_be_studied_says_why(readings: list[list[Any]], lines: list[str]) -> None:
    assert refusals(readings) == lines


def test_many_missing_cells_are_counted_not_listed() -> None:
    lines = refusals([*aiag(), *([n, "D", 0.1] for n in range(20, 50))])
    assert len(lines) == 21
    assert lines[-1] == "readings: 110 more like these"


def test_a_tolerance_needs_its_unit() -> None:
    assert refusals(aiag(), tolerance=8) == ['tolerance: "8" has no unit; write "8 thou" or "8 mm"']


def test_the_example_reads_as_it_says() -> None:
    answer = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert (answer.parts, answer.persons, answer.trials) == (5, 3, 2)
    assert answer.worth == "good"
