"""The sampling-plan worksheet: cases against NIST, MIL-STD-105E and ISO 2859-1."""

from __future__ import annotations

from math import comb
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.quality.sampling_plan import WORKSHEET, SamplingPlanAnswer, solve
from kitwright.worksheets.reading import from_toml, read


def answered(**case: Any) -> SamplingPlanAnswer:
    return solve(read(WORKSHEET.case, case))


def refusals(**case: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**case)
    return caught.value.lines


QUALITIES = {
    "accept_quality": 0.02,
    "producers_risk": 0.05,
    "reject_quality": 0.15,
    "consumers_risk": 0.1,
}
SERIALS = [f"D-{number:03}" for number in range(1, 61)]


# ── published and derived values ─────────────────────────────────────────────────────────


def test_nist_plan_as_given() -> None:
    """NIST e-Handbook 6.2.3.2: n 52, c 3, lots of 10 000: limit .0372, Pa .930 at .03."""
    answer = answered(lot=10_000, plan={"n": 52, "c": 3}, accept_quality=0.03)
    assert answer.average_outgoing_limit == pytest.approx(0.0372, abs=1e-4)
    assert answer.risks.producers_risk == pytest.approx(1 - 0.930, abs=1.1e-3)
    assert answer.risks.accept_bad == 300
    assert answer.law == "hypergeometric"
    stream = answered(plan={"n": 52, "c": 3}, accept_quality=0.03, reject_quality=0.06)
    assert stream.law == "binomial"
    assert stream.risks.consumers_risk == pytest.approx(0.620, abs=1.1e-3)
    assert stream.risks.accept_bad is stream.worst_lot_outgoing is None


def test_the_standards_tables_with_their_risks() -> None:
    """ISO 2859-1:1999 (from memory): lot 60, AQL 2.5: E leads down to F, n 20, Ac 1, Re 2."""
    answer = answered(lot=60, table={"aql": 2.5})
    assert answer.table is not None
    assert (answer.table.letter, answer.table.letters) == ("E", "E F")
    assert (answer.n, answer.c, answer.table.reject) == (20, 1, 2)
    # 2.5 % of 60 is one bad and a half: one, and one is always accepted.
    assert (answer.risks.accept_bad, answer.risks.producers_risk) == (1, 0)
    elsewhere = answered(table={"lot": 60, "level": "II", "aql": 2.5})
    assert (elsewhere.n, elsewhere.lot, elsewhere.risks) == (20, 60, answer.risks)
    assert any("level is II" in line for line in answer.assumed)
    assert not any("level is II" in line for line in elsewhere.assumed)


def test_every_part_where_the_tables_ask_for_more_than_the_lot() -> None:
    """Lot 30, AQL 0.10: D leads down to K, 125 parts: every one of 30."""
    answer = answered(lot=30, table={"aql": 0.1})
    assert (answer.n, answer.c) == (30, 0)
    assert answer.table is not None
    assert answer.table.every_part
    assert (
        WORKSHEET.say(answer, "mm") == "Look at every one of the 30 parts; accept when none is bad."
    )
    assert answer.average_outgoing_limit == answer.worst_lot_outgoing == 0


def test_the_least_plan_of_a_lot_by_counting() -> None:
    """Lot 60, one bad to accept and nine to reject: 22 parts, one allowed; 21 accept too often."""
    answer = answered(lot=60, **QUALITIES)
    assert (answer.n, answer.c) == (22, 1)
    assert (answer.risks.accept_bad, answer.risks.reject_bad) == (1, 9)
    ways = comb(51, 22) + 9 * comb(51, 21)
    assert answer.risks.consumers_risk == pytest.approx(ways / comb(60, 22), rel=1e-12)
    assert ways / comb(60, 22) <= 0.10 < (comb(51, 21) + 9 * comb(51, 20)) / comb(60, 21)
    assert comb(59, 22) / comb(60, 22) < 0.95  # none allowed would refuse one bad too often
    assert answer.risks.producers_risk == 0


def test_a_stream_and_its_points() -> None:
    """MIL-STD-105E Table X-J (from memory): 80/2 accepts .550, 1.03 ... 10.1 % bad so often."""
    answer = answered(plan={"n": 80, "c": 2})
    printed = [0.550, 1.03, 1.38, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1]
    assert [100 * row.quality for row in answer.points] == pytest.approx(printed, rel=5e-3)
    assert answer.curve[0].chance_accepted == 1
    assert {row.inspected for row in answer.curve} == {None}


def test_no_bad_part_allowed() -> None:
    """(1 - .10)^22 = .0985, ^21 = .1094: 22 of a stream (from memory, recomputed)."""
    answer = answered(reject_quality=0.1, zero_acceptance=True)
    assert (answer.n, answer.c) == (22, 0)
    assert answer.risks.consumers_risk == pytest.approx(0.9**22, rel=1e-12)
    assert answer.risks.producers_risk is None
    assert answer.assumed[0] == "The consumer's risk is 0.1."
    known = answered(reject_quality=0.1, zero_acceptance=True, accept_quality=0.01)
    assert known.risks.producers_risk == pytest.approx(1 - 0.99**22, rel=1e-12)


def test_default_risks_are_listed() -> None:
    given, silent = (
        answered(lot=60, **QUALITIES),
        answered(lot=60, accept_quality=0.02, reject_quality=0.15),
    )
    assert silent.model_copy(update={"assumed": given.assumed}) == given
    assert silent.assumed[:2] == ["The consumer's risk is 0.1.", "The producer's risk is 0.05."]


# ── the sample and the verdict ───────────────────────────────────────────────────────────


def test_the_sample_is_drawn_and_its_seed_kept() -> None:
    answer = answered(serials=SERIALS, seed=20, **QUALITIES)
    assert (answer.lot, answer.n, len(answer.sample), answer.seed) == (60, 22, 22, 20)
    assert answer.sample == sorted(set(answer.sample))
    assert set(answer.sample) <= set(SERIALS)
    assert answered(serials=SERIALS, seed=20, **QUALITIES).sample == answer.sample
    assert answered(serials=SERIALS, seed=21, **QUALITIES).sample != answer.sample


@pytest.mark.parametrize(
    ("found", "verdict", "said"),
    [
        (0, "accept", "Accept the lot: no bad part among 22, and 1 is allowed."),
        (1, "accept", "Accept the lot: 1 bad among 22, and 1 is allowed."),
        (2, "reject", "Reject the lot: 2 bad among 22, and 1 is allowed."),
    ],
)
def test_the_verdict_on_a_lot(found: int, verdict: str, said: str) -> None:
    answer = answered(lot=60, found=found, **QUALITIES)
    assert answer.verdict == verdict
    assert WORKSHEET.say(answer, "mm") == said
    assert answer.worst_quality is not None
    bad = round(answer.worst_quality * 60)

    def so_few(bad: int) -> float:
        return sum(comb(bad, k) * comb(60 - bad, 22 - k) for k in range(found + 1)) / comb(60, 22)

    assert so_few(bad) >= 0.05 > so_few(bad + 1)


def test_none_found_does_not_rule_out_the_rule_of_three() -> None:
    """None bad in n: about 3/n is not ruled out; 1 - .05^(1/n) exactly (Clopper and Pearson)."""
    answer = answered(plan={"n": 100, "c": 1}, found=0)
    assert answer.worst_quality == pytest.approx(1 - 0.05 ** (1 / 100), rel=1e-10)
    assert answer.worst_quality == pytest.approx(0.03, abs=5e-4)


# ── what is said and refused ─────────────────────────────────────────────────────────────


def test_the_answer_in_a_sentence() -> None:
    assert WORKSHEET.say(answered(lot=60, **QUALITIES), "in") == (
        "Look at 22 parts of 60, drawn at random; accept when 1 or fewer are bad, reject at 2."
    )
    assert WORKSHEET.say(answered(plan={"n": 1, "c": 0}), "mm") == (
        "Look at 1 part, drawn at random; accept when none is bad."
    )
    assert WORKSHEET.cautions[0].word == "WARNING"


PLAN = {"n": 13, "c": 0}


@pytest.mark.parametrize(
    ("case", "lines"),
    [
        (
            {"lot": 60},
            [
                (
                    "table: missing; it is needed, or a plan, or accept_quality and reject_quality "
                    "with their risks"
                )
            ],
        ),
        ({"reject_quality": 0.1}, ["accept_quality: missing; give it, or zero_acceptance = true"]),
        (
            {"plan": PLAN, "table": {"aql": 1.0}, "lot": 9},
            ["table: given with plan; give one of them"],
        ),
        (
            {"plan": PLAN, "producers_risk": 0.05},
            ["producers_risk: given with a plan; leave it out: the answer says it"],
        ),
        (
            {**QUALITIES, "reject_quality": 0.02},
            ["reject_quality: 0.02 is not above accept_quality, 0.02; give a worse one"],
        ),
        ({"table": {"aql": 1.0}}, ["table.lot: missing; the tables go by the size of the lot"]),
        (
            {"lot": 60, "table": {"lot": 50, "aql": 1.0}},
            ["table.lot: 50, and the lot is 60; give one of them"],
        ),
        (
            {"lot": 60, "table": {"aql": 2.0}},
            [
                (
                    "table.aql: 2 is not in the tables; write one of 0.065, 0.1, 0.15, 0.25, 0.4, "
                    "0.65, 1, 1.5, 2.5, 4"
                )
            ],
        ),
        (
            {"lot": 60, "table": {"aql": 1.0, "level": "III"}},
            ["table.level: \"III\" is not known; write 'II'"],
        ),
        (
            {"plan": PLAN, "serials": ["a", "b"], "lot": 20},
            [
                "serials: 2 given; list all 20 of the lot",
                "seed: missing; give any whole number and keep it: it draws the same sample again",
            ],
        ),
        (
            {"plan": PLAN, "seed": 3},
            ["seed: given without serials; list the lot's serials, or leave it out"],
        ),
        (
            {"plan": PLAN, "found": 14},
            ["found: 14 bad among 13; count the bad parts of the sample"],
        ),
        (
            {"plan": {"n": 13, "c": 0}, "lot": 12},
            ["plan.n: 13 parts in the sample; give 1 to 12, the lot"],
        ),
        ({"plan": {"n": 3, "c": 3}}, ["plan.c: 3 bad allowed of 3; give 0 to 2"]),
        (
            {"accept_quality": 2, "reject_quality": 3},
            [
                'accept_quality: "2" is out of range; give a number less than or equal to 1.0',
                'reject_quality: "3" is out of range; give a number less than or equal to 1.0',
            ],
        ),
    ],
)
def test_bad_input_is_told_in_a_line(case: dict[str, Any], lines: list[str]) -> None:
    assert refusals(**case) == lines


def test_the_example_is_the_lot_worked_out_above() -> None:
    answer = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert (answer.n, answer.c, answer.lot) == (22, 1, 60)
