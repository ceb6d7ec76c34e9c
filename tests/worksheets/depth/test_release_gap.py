"""The release-gap worksheet: measured distances as text, shims, wear, stroke, and what is said."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.worksheets.depth.release_gap import WORKSHEET, ReleaseGapAnswer, solve
from kitwright.worksheets.reading import from_toml, read

BASE: dict[str, Any] = {
    "face_to_fingers": "2.700 in",
    "face_to_bearing": "2.400 in",
    "reading_u95": "0 mm",
    "gap": {"low": "0.140 in", "high": "0.210 in"},
    "shims": [
        {"thickness": "0.090 in", "count": 1},
        {"thickness": "60 thou", "count": 3},
        {"thickness": "30 thou"},
    ],
    "clutch": {"disc_wear": "40 thou", "finger_ratio": 3},
    "stroke": "0.620 in",
    "release_travel": "0.400 in",
}


def answered(**changes: Any) -> ReleaseGapAnswer:
    case = {key: value for key, value in {**BASE, **changes}.items() if value is not None}
    return solve(read(WORKSHEET.case, case))


def refusals(**changes: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        answered(**changes)
    return list(caught.value.lines)


def thou(mm: float | None) -> float:
    assert mm is not None
    return mm / 0.0254


def used(answer: ReleaseGapAnswer) -> list[tuple[float, int]]:
    return [(round(thou(row.thickness_mm), 6), row.count) for row in answer.shims_used]


# ── arithmetic ───────────────────────────────────────────────────────────────────────────


def test_a_gap_by_hand() -> None:
    """0.300 in; one piece leaves 0.210 (0.090), which is on the limit, and within."""
    answer = answered()
    assert thou(answer.gap_mm) == pytest.approx(300)
    assert used(answer) == [(90, 1)]
    assert thou(answer.gap_shimmed_mm) == pytest.approx(210)
    assert thou(answer.gap_worn_mm) == pytest.approx(210 - 120)
    assert thou(answer.stroke_left_mm) == pytest.approx(620 - 400 - 210)
    assert answer.verdict == "within"
    assert (thou(answer.shims_from_mm), thou(answer.shims_to_mm)) == pytest.approx((90, 160))
    assert answer.gap_u95_mm == 0
    assert len(answer.reasons) == 3
    already = answered(face_to_bearing="2.540 in")
    assert (thou(already.shims_from_mm), thou(already.shims_to_mm)) == pytest.approx((0, 20))
    beyond = answered(face_to_bearing="2.600 in")
    assert beyond.shims_from_mm is beyond.shims_to_mm is None


def test_the_uncertainty_asks_for_a_surer_pile() -> None:
    """Known to 10 thou, 0.210 is too close to call; two pieces reach 0.180, nearest the middle."""
    answer = answered(reading_u95="7.0710678 thou")
    assert thou(answer.gap_u95_mm) == pytest.approx(10)
    assert used(answer) == [(90, 1), (30, 1)]
    assert answer.verdict == "within"
    lone = answered(reading_u95="7.0710678 thou", shims=[{"thickness": "90 thou"}])
    assert lone.verdict == "too close to call"
    assert lone.reasons[0].startswith("The gap of 5.334 mm (0.2100 in) is too close to a limit")


def test_repeats_combine_with_their_spread() -> None:
    """JCGM 100:2008, 4.2.3: u of a mean is the repeats' deviation over the root of their count."""
    answer = answered(
        face_to_fingers=["2.700 in", "2.704 in", "2.696 in"],
        face_to_bearing=["2.400 in", "2.402 in"],
        reading_u95=None,
    )
    assert thou(answer.gap_mm) == pytest.approx(299)
    assert thou(answer.face_to_fingers_u95_mm) == pytest.approx(2 * 4 / math.sqrt(3))
    assert thou(answer.face_to_bearing_u95_mm) == pytest.approx(2 * math.sqrt(2) / math.sqrt(2))
    assert thou(answer.gap_u95_mm) == pytest.approx(2 * math.sqrt(16 / 3 + 1))


@pytest.mark.parametrize(
    ("over", "reading", "fingers", "bearing"),
    [
        ("face_to_bearing", "short", 2700, 2800),
        ("face_to_bearing", "long", 2700, 2000),
        ("face_to_fingers", "long", 2300, 2400),
        ("both", "long", 2300, 2000),
        ("both", "short", 3100, 2800),
    ],
)
def test_a_straightedge_is_allowed_for(
    over: str, reading: str, fingers: float, bearing: float
) -> None:
    edge = {"thickness": "0.400 in", "over": over, "reading": reading}
    answer = answered(straightedge=edge)
    assert thou(answer.face_to_fingers_mm) == pytest.approx(fingers)
    assert thou(answer.face_to_bearing_mm) == pytest.approx(bearing)
    assert thou(answer.gap_mm) == pytest.approx(fingers - bearing)
    assert not any("straightedge" in line for line in answer.assumed)


def test_a_straightedge_is_added_unless_it_is_said_to_be_long() -> None:
    edge = {"thickness": "0.100 in", "over": "face_to_bearing"}
    answer = answered(straightedge=edge)
    assert thou(answer.gap_mm) == pytest.approx(200)
    assert (
        "The straightedge's thickness is added: the readings came out short of the distance."
        in answer.assumed
    )


@given(
    fingers=st.integers(1000, 4000),
    bearing=st.integers(1000, 4000),
    wear=st.integers(0, 100),
    ratio=st.integers(1, 6),
    stroke=st.integers(1, 900),
    travel=st.integers(0, 900),
)
def test_thou_and_millimetres_answer_alike(
    fingers: int, bearing: int, wear: int, ratio: int, stroke: int, travel: int
) -> None:
    """Whole thou, so that gaps stand on limits and at nothing exactly."""
    answers = []
    for unit, size in (("thou", 1.0), ("mm", 0.0254)):
        answers.append(
            answered(
                face_to_fingers=f"{fingers * size:.10g} {unit}",
                face_to_bearing=f"{bearing * size:.10g} {unit}",
                clutch={"disc_wear": f"{wear * size:.10g} {unit}", "finger_ratio": ratio},
                stroke=f"{stroke * size:.10g} {unit}",
                release_travel=f"{travel * size:.10g} {unit}",
            )
        )
    one, other = answers
    assert one.verdict == other.verdict
    assert used(one) == used(other)
    total = round(sum(thickness * count for thickness, count in used(one)))
    gap = fingers - bearing - total
    holds = 140 <= gap <= 210 and gap - wear * ratio > 0 and stroke - travel - gap > 0
    assert (one.verdict == "within") == holds
    assert one.verdict != "too close to call"


# ── limits, and what is not known ────────────────────────────────────────────────────────


def test_without_limits_the_common_ones_are_taken_and_said() -> None:
    answer = answered(gap=None, shims=None)
    assert (answer.gap.low_mm, answer.gap.high_mm) == (25.4 / 8, 25.4 / 4)
    assert answer.verdict == "outside"
    assert answer.assumed[0] == (
        "The limits of the gap are 1/8 to 1/4 in: common practice, no source; the bearing maker's "
        "figure rules."
    )
    assert any("common practice, no source" in source for source in WORKSHEET.sources)


def test_what_is_not_given_is_not_judged_and_said() -> None:
    answer = answered(clutch=None, stroke=None, release_travel=None)
    assert answer.gap_worn_mm is answer.stroke_left_mm is None
    assert answer.verdict == "within"
    assert answer.reasons == [
        "The gap of 5.334 mm (0.2100 in) is within 3.556 to 5.334 mm, its uncertainty allowed for."
    ]
    assert "Wear is not judged: the clutch's figures are not given." in answer.assumed
    assert "Stroke is not judged: the bearing's figures are not given." in answer.assumed


def test_readings_that_say_nothing_of_themselves_are_told() -> None:
    both = answered(reading_u95=None, face_to_fingers=["68.5 mm", "68.6 mm"])
    assert [line for line in both.assumed if line.startswith("A distance read once")]
    assert [line for line in both.assumed if line.startswith("Readings taken again")]
    assert not [line for line in answered().assumed if "eading" in line]
    assert both.face_to_bearing_u95_mm == pytest.approx(0.1)


# ── what is said ─────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {},
            (
                "Shims behind the bearing, 1 of 0.0900 in: the gap comes to 0.2100 in, within "
                "0.1400 to 0.2100 in, and what follows from it holds."
            ),
        ),
        (
            {"face_to_bearing": "2.540 in"},
            (
                "No shims: the gap is 0.1600 in, within 0.1400 to 0.2100 in, and what follows from "
                "it holds."
            ),
        ),
        (
            {"shims": [{"thickness": "90 thou"}], "reading_u95": "5 thou"},
            (
                "Shims behind the bearing, 1 of 0.0900 in: the gap comes to 0.210 in. Too close to "
                "call: measure again, at more places, before you bolt up."
            ),
        ),
        (
            {"face_to_bearing": "2.000 in"},
            (
                "Stop, do not bolt up. The gap of 0.7000 in is not within 0.1400 to 0.2100 in, and "
                "no shims at hand bring it there: it takes 0.4900 in to 0.5600 in."
            ),
        ),
        (
            {"face_to_bearing": "2.600 in"},
            (
                "Stop, do not bolt up. The gap of 0.1000 in is less than 0.1400 in without any "
                "shim: the bearing stands 0.0400 in too far forward."
            ),
        ),
        (
            {"stroke": "0.500 in"},
            ("Stop, do not bolt up. The stroke left when new is −0.1100 in: there is none."),
        ),
        (
            {"clutch": {"disc_wear": "70 thou", "finger_ratio": 3}, "gap": {"high": "0.210 in"}},
            ("Stop, do not bolt up. The gap when the disc is worn is 0.0000 in: there is none."),
        ),
    ],
)
def test_the_answer_in_a_sentence(changes: dict[str, Any], sentence: str) -> None:
    assert WORKSHEET.say(answered(**changes), "in") == sentence


def test_cautions_and_running_contact_are_told() -> None:
    words = [caution.word for caution in WORKSHEET.cautions]
    assert words == ["DANGER", "WARNING", "WARNING", "CAUTION"]
    answer = answered()
    assert "before bleeding" in answer.how
    assert "running contact" in answer.how
    assert any("makers" in caution.text for caution in WORKSHEET.cautions)


# ── what is refused ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "lines"),
    [
        (
            {"face_to_fingers": 2.7},
            ['face_to_fingers[0]: "2.7" has no unit; write "2.7 thou" or "2.7 mm"'],
        ),
        ({"face_to_fingers": []}, ["face_to_fingers: 0 given; give 1 or more"]),
        ({"face_to_fingers": None}, ["face_to_fingers: missing; it is needed"]),
        (
            {"face_to_bearing": ["2 in", "x"]},
            ['face_to_bearing[1]: "x" is not a length; write "5 thou" or "5 mm"'],
        ),
        ({"stroke": None}, ["stroke: missing; release_travel needs it"]),
        ({"release_travel": None}, ["release_travel: missing; stroke needs it"]),
        (
            {"shims": [{"thickness": "0 mm"}]},
            ['shims[0].thickness: "0 mm" is not above zero; give more than zero'],
        ),
        (
            {"shims": [{"thickness": f"{n} µm", "count": 50} for n in (7, 11, 13, 17)]},
            ["shims: more than 20000 ways to lay them together; list fewer of them"],
        ),
        (
            {"straightedge": {"thickness": "3 in", "over": "both", "reading": "long"}},
            [
                (
                    "face_to_fingers: −7.620 mm (−0.3000 in) is negative; check the readings and "
                    "the straightedge"
                )
            ],
        ),
        (
            {"straightedge": {"thickness": "3 in", "over": "the bell"}},
            [
                (
                    "straightedge.over: \"the bell\" is not known; write 'face_to_fingers', "
                    "'face_to_bearing' or 'both'"
                )
            ],
        ),
        (
            {"gap": {"low": "2 mm", "high": "1 mm"}},
            ['gap: low "2 mm" is above high "1 mm"; swap them'],
        ),
    ],
)
def test_bad_input_is_told_in_a_line(changes: dict[str, Any], lines: list[str]) -> None:
    assert refusals(**changes) == lines


def test_the_example_needs_one_shim() -> None:
    answer = solve(read(WORKSHEET.case, from_toml(WORKSHEET.example)))
    assert answer.verdict == "within"
    assert [(row.thickness_mm, row.count) for row in answer.shims_used] == [(1.6, 1)]
