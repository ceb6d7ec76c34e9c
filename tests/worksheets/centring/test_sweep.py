"""The sweep worksheet: cases as they are written, answers, sentences, refusals."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.centring.sweep import WORKSHEET, SweepAnswer, solve
from kitwright.worksheets.centring.sweep_case import BELONGS, SweepCase
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures, grids

QUARTERS = (0, 90, 180, 270)
EIGHT = tuple(range(0, 360, 45))
KNOWN = {"repeatability": "0.1 thou", "graduation": "0 mm", "dial_error": "0 mm"}
EXACT = {"repeatability": "0 mm", "graduation": "0 mm", "dial_error": "0 mm"}


def readings(
    clocks: tuple[int, ...], x: float, y: float, a: float = 0.0, b: float = 0.0
) -> list[list[float]]:
    """A bore at x, y with an oval a cos 2t + b sin 2t, zeroed at 12."""
    shown = []
    for clock in clocks:
        t = math.radians(clock)
        height = -x * math.sin(t) - y * math.cos(t) + a * math.cos(2 * t) + b * math.sin(2 * t)
        shown.append([clock, height + y - a])
    return shown


def bore(**changes: Any) -> dict[str, Any]:
    case = {"surface": "bore", "unit": "thou", "readings": readings(QUARTERS, 1.0, 1.0)}
    return {**case, "limit": "5 thou", **changes}


def face(**changes: Any) -> dict[str, Any]:
    case = {"surface": "face", "unit": "thou", "readings": readings(EIGHT, 0.0, -2.0)}
    return {**case, "limit": "5 thou", "sweep_radius": "80 mm", **changes}


def answered(case: dict[str, Any]) -> SweepAnswer:
    return solve(read(SweepCase, case))


def lines(case: dict[str, Any]) -> list[str]:
    with pytest.raises(InputError) as refused:
        answered(case)
    return list(refused.value.lines)


def thou(mm: float | None) -> float:
    assert mm is not None
    return mm / 0.0254


# ── answers ──────────────────────────────────────────────────────────────────────────────


def test_the_answer_in_thou_and_its_sentence() -> None:
    t = math.radians(240)
    swept = readings(EIGHT, 7 * math.sin(t), 7 * math.cos(t))
    answer = answered(bore(readings=swept, **KNOWN))
    assert (answer.verdict, answer.cause) == ("outside", "offset")
    assert thou(answer.tir_mm) == pytest.approx(14)
    assert thou(answer.offset_mm) == pytest.approx(7)
    assert thou(answer.tir_from_offset_mm) == pytest.approx(14)
    assert answer.offset_clock_deg == pytest.approx(240)
    assert answer.move_clock_deg == pytest.approx(60)
    assert answer.move_mm == answer.offset_mm
    assert answer.out_of_round_mm == pytest.approx(0, abs=1e-9)
    assert answer.limit_mm == 0.127
    said = WORKSHEET.say(answer, "in")
    assert said == "Move it 7 thou toward 2 o'clock: 14 thou TIR is over 5 thou."
    said = WORKSHEET.say(answer, "mm")
    assert said == "Move it 0.178 mm toward 2 o'clock: 0.356 mm TIR is over 0.127 mm."


def test_leave_it() -> None:
    answer = answered(bore(readings=readings(EIGHT, 1.55, 0.0), **KNOWN))
    assert WORKSHEET.say(answer, "in") == "Leave it: 3.1 thou TIR is within 5 thou."
    assert answer.cause is None
    assert answer.advice == ["Bolt up, and keep the readings with the car."]


def test_too_close_to_call_says_by_how_much_and_what_to_do() -> None:
    few = answered(bore(readings=readings(QUARTERS, 2.4, 0.0)))
    assert WORKSHEET.say(few, "in") == (
        "Too close to call: 4.8 thou TIR, give or take 0.8 thou, against 5 thou. "
        "Sweep it again at eight places, one every 45 degrees."
    )
    many = answered(bore(readings=readings(EIGHT, 2.4, 0.0)))
    assert WORKSHEET.say(many, "in") == (
        "Too close to call: 4.8 thou TIR, give or take 0.6 thou, against 5 thou. "
        "Sweep it twice more and give all three, or use a finer dial."
    )


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        (
            (0.0, 1.0, 4.0),
            "Moving it cannot cure it: 9 thou TIR is over 5 thou, and 8 thou is out of round.",
        ),
        (
            (0.0, 6.0, 4.0),
            (
                "Move it 6 thou toward 6 o'clock: 15.1 thou TIR is over 5 thou. "
                "Out of round by 8 thou, which no move cures."
            ),
        ),
    ],
)
def test_out_of_round(shape: tuple[float, float, float], said: str) -> None:
    answer = answered(bore(readings=readings(EIGHT, *shape), **KNOWN))
    assert WORKSHEET.say(answer, "in") == said
    assert thou(answer.out_of_round_mm) == pytest.approx(8)
    assert "If it stays out of round, the bore must be cut again: call the shop." in answer.advice


def test_lengths_that_sound_alike_are_said_finer() -> None:
    answer = answered({**bore(**EXACT), "unit": "mm", "readings": readings(EIGHT, 0.0636, 0.0)})
    assert WORKSHEET.say(answer, "mm").endswith("0.1272 mm TIR is over 0.1270 mm.")
    assert WORKSHEET.say(answer, "in").endswith("0.00501 in TIR is over 0.00500 in.")


def test_no_length_is_said_as_nothing() -> None:
    close = {**bore(**{**EXACT, "repeatability": "0.0001 mm"}), "limit": "0.127 mm"}
    answer = answered({**close, "unit": "mm", "readings": readings(EIGHT, 0.0635, 0.0)})
    assert "give or take 0.0002 mm, against" in WORKSHEET.say(answer, "mm")


def test_advice_runs_from_burrs_to_dowels() -> None:
    answer = answered(bore(readings=readings(QUARTERS, 7.0, 0.0)))
    assert answer.advice == [
        "Take the bell off; look for burrs, dirt and paint on both faces and at the dowels.",
        "Bolt it up evenly, to the maker's figure, and sweep it again at eight places.",
        "Sweep the face too: a cocked bell carries its bore off with it.",
        "Only then turn eccentric dowels: the dowels worksheet says which, and where to.",
    ]
    assert answer.cause is None  # four readings cannot tell


def test_corrections_are_applied() -> None:
    """A true ring on a sagging holder and a crank at rest reads as the worksheet says it does."""
    clocks = [math.radians(t) for t in EIGHT]
    shown = [0.8 * (1 - math.cos(t)) / 2 - 3.0 / 2 * math.cos(t) for t in clocks]
    swept = [list(row) for row in zip(EIGHT, shown, strict=True)]
    answer = answered(bore(readings=swept, sag="0.8 thou", bearing_clearance="3 thou", **KNOWN))
    assert answer.offset_mm == 0.0
    assert thou(answer.tir_as_read_mm) == pytest.approx(3.8)
    assert answer.tir_corrected_mm == pytest.approx(0, abs=1e-12)
    assert answer.assumed == ["sag and bearing_clearance are taken as exact"]
    mandrel = answered(bore(readings=swept, sag="-0.8 thou", bearing_clearance="3 thou", **KNOWN))
    assert thou(mandrel.offset_mm) == pytest.approx(0.8)  # the wrong sign is off by all of it


def test_the_covariance_gives_the_uncertainty_along_the_offset() -> None:
    answer = answered(bore(readings=readings((0, 90, 180), 2.0, 1.0), **KNOWN))
    assert answer.offset_covariance_mm2 is not None
    xx, xy, yy = answer.offset_covariance_mm2
    assert xx != pytest.approx(yy)
    x, y = answer.offset_x_mm, answer.offset_y_mm
    assert x is not None
    assert y is not None
    along = (xx * x**2 + 2 * xy * x * y + yy * y**2) / (x**2 + y**2)
    assert answer.offset_u95_mm == pytest.approx(2 * math.sqrt(along))


def test_all_zero_uncertainty_is_taken_as_given() -> None:
    swept = readings(EIGHT, 2.5, 0.0)
    on = answered(bore(readings=swept, **EXACT))
    assert (on.tir_u95_mm, on.offset_u95_mm, on.reading_u_mm) == (0.0, 0.0, 0.0)
    assert on.verdict == "within"
    four = answered(bore(readings=readings(QUARTERS, 2.51, 0.0), form_allowance="0 mm", **EXACT))
    assert (four.verdict, four.tir_u95_mm) == ("outside", pytest.approx(0, abs=1e-12))


def test_what_was_assumed_is_listed() -> None:
    answer = answered(bore(readings=readings((0, 120, 240), 1.0, 1.0)))
    assert answer.assumed == [
        "graduation: 0.01 mm",
        "repeatability: 0.003 mm (JIS B 7503:2011, a dial of 0.01 mm graduation)",
        "dial_error: 0.01 mm (JIS B 7503:2011, a dial of 0.01 mm graduation, this swing)",
        "sag: none; the dial's holder is taken as stiff",
        "bearing_clearance: none; the answer is for the crank where it lay",
        (
            "Three places cannot show out of round at all: it moves the result by half its "
            "movement; up to 0.02 mm indicator movement is allowed for (form_allowance: a bore "
            "to H7 of 120 to 180 mm, its size tolerance all ovality)"
        ),
    ]
    four = answered(bore(bore_diameter="100 mm", sag="0 mm", bearing_clearance="0 mm", **KNOWN))
    assert four.assumed == [
        "sag and bearing_clearance are taken as exact",
        "The bore's own curvature, 0 mm at most in a reading, is left out",
        (
            "Four places show only part of out of round; up to 0.0175 mm indicator movement is "
            "allowed for (form_allowance: a bore to H7 of this size, its size tolerance all "
            "ovality)"
        ),
    ]
    given = answered(bore(form_allowance="1 thou", **KNOWN))
    assert given.assumed[-1] == (
        "Four places show only part of out of round; "
        "up to 0.0254 mm indicator movement is allowed for"
    )
    oval = answered(bore(readings=readings(QUARTERS, 1.0, 1.0, a=2.0), **KNOWN))
    assert oval.assumed[-1] == (
        "Four places show only part of out of round; "
        "up to 0.1016 mm indicator movement is allowed for, as much as the readings show"
    )
    assert oval.advice[0] == (
        "Read eight places: 12 + 6 and 3 + 9 differ by 0.203 mm (0.0080 in), so the bore is out "
        "of round or the dial slipped."
    )
    eight = answered(bore(readings=readings(EIGHT, 1.0, 1.0), **KNOWN))
    assert not [line for line in eight.assumed if "allowed for" in line]


def test_few_places_make_the_verdict_wary() -> None:
    """The same bore and dial: three places know less than four, four less than eight."""
    u95 = [
        answered(bore(readings=readings(tuple(range(0, 360, 360 // n)), 2.0, 0.0))).tir_u95_mm
        for n in (3, 4, 8)
    ]
    assert u95[0] > u95[1] > u95[2]


def test_closure_shows_drift() -> None:
    swept = [*readings(EIGHT, 1.0, 1.0), [360, 1.5]]
    answer = answered(bore(readings=swept, **KNOWN))
    assert thou(answer.closure_mm) == pytest.approx(1.5)
    assert answer.places == 8
    assert answer.advice[0] == (
        "Fasten the dial and sweep again: something moved 0.038 mm (0.0015 in) while you went "
        "round."
    )
    assert WORKSHEET.say(answer, "in").startswith(
        "Fasten the dial and sweep again: something moved 1.5 thou while you went round. "
    )
    assert any("one-way drift" in line for line in answer.assumed)


def test_one_reading_in_eight_that_cannot_belong() -> None:
    swept = readings(EIGHT, 1.0, 1.0)
    swept[3][1] += 10.0
    answer = answered(bore(readings=swept, graduation="0.1 thou", repeatability="0.1 thou"))
    (row,) = answer.suspects
    assert (row.clock_deg, row.sweep) == (135.0, None)
    assert thou(row.misfit_mm) == pytest.approx(10)
    assert thou(row.tir_without_mm) == pytest.approx(2 * math.sqrt(2))
    assert thou(row.offset_without_mm) == pytest.approx(math.sqrt(2))
    assert row.offset_without_clock_deg == pytest.approx(45)
    assert row.verdict_without == "within"
    assert thou(answer.tir_mm) > 5  # used, not dropped
    assert WORKSHEET.say(answer, "in").startswith(
        "Read half past 4 again: it is 10 thou off the others' curve. "
    )


def test_repeats_of_a_sweep() -> None:
    one = readings(EIGHT, 1.0, 1.0)
    again = [[[clock, reading + 40] for clock, reading in one]] * 2
    single, three = answered(bore(readings=one)), answered(bore(readings=one, repeats=again))
    assert three.offset_mm == pytest.approx(single.offset_mm)
    assert three.tir_u95_mm < single.tir_u95_mm
    assert "24 readings of 3 sweeps, each with its own zero" in three.how
    spread = [[[clock, 1.3 * reading] for clock, reading in one], one]
    wide = answered(bore(readings=one, repeats=spread, **KNOWN))
    assert "The sweeps differ as if one reading scattered by" in wide.how
    assert wide.offset_u95_mm is not None
    assert wide.offset_u95_mm > 2 * 0.1 * 0.0254 * math.sqrt(2 / 24)


# ── faces ────────────────────────────────────────────────────────────────────────────────


def test_a_face() -> None:
    answer = answered(face(plane_distance="160 mm", **KNOWN))
    assert thou(answer.tir_mm) == pytest.approx(4)
    assert answer.tilt_mrad == pytest.approx(2 * 25.4 / 80)
    assert answer.tilt_clock_deg == pytest.approx(0)
    assert thou(answer.pilot_shift_mm) == pytest.approx(4)
    assert answer.pilot_shift_clock_deg == pytest.approx(0)
    assert answer.warp_mm == pytest.approx(0, abs=1e-9)
    nothing = ("offset_mm", "move_mm", "move_clock_deg", "out_of_round_mm", "cause", "float_mm")
    assert [getattr(answer, name) for name in nothing] == [None] * 6
    assert WORKSHEET.say(answer, "in") == "Leave it: 4 thou TIR is within 5 thou."
    assert answer.assumed == [
        "The crank was held against one end of its end float at every reading",
        "sweep_radius and plane_distance are taken as exact",
        "bore_offset: none; the shift at the pilot bearing is that of the tilt alone",
    ]


def test_bore_and_face_together_at_the_pilot() -> None:
    """The bore to the right by 3, the face's tilt upward by 4: a shift of 5 between 1 and 2."""
    answer = answered(
        face(
            plane_distance="160 mm",
            bore_offset="3 thou",
            bore_offset_clock_deg=90,
            bore_offset_u95="0.5 thou",
            **KNOWN,
        )
    )
    assert thou(answer.pilot_shift_mm) == pytest.approx(5)
    assert answer.pilot_shift_clock_deg == pytest.approx(math.degrees(math.atan2(3, 4)))
    tilt_part = 2 * 0.1 * math.sqrt(2 / 8) * 2
    assert thou(answer.pilot_shift_u95_mm) == pytest.approx(math.hypot(0.5, tilt_part))
    exact = answered(
        face(plane_distance="160 mm", bore_offset="3 thou", bore_offset_clock_deg=90, **KNOWN)
    )
    assert exact.assumed[-1] == "bore_offset_u95: none; bore_offset is taken as exact"


def test_a_face_over_its_limit() -> None:
    answer = answered(face(readings=readings(EIGHT, 0.0, 5.0), **KNOWN))
    assert WORKSHEET.say(answer, "in") == (
        "Do not fit it yet: 10 thou TIR is over 5 thou, and the face stands furthest to the rear "
        "at 6 o'clock."
    )
    assert answer.advice[2:] == [
        "If it stays, the bell is cocked or its faces are not parallel: call the shop.",
        "Sweep the bore again once the face is right.",
    ]


def test_two_dials_cancel_the_cranks_float() -> None:
    slid = [0.0, 3.0, -2.0, 5.0, 1.0, -4.0, 2.0, 6.0]
    one = [[t, 2 * math.cos(math.radians(t)) - s] for t, s in zip(EIGHT, slid, strict=True)]
    two = [[t, -2 * math.cos(math.radians(t)) - s] for t, s in zip(EIGHT, slid, strict=True)]
    answer = answered(face(readings=one, readings_b=two, **KNOWN))
    assert thou(answer.tir_mm) == pytest.approx(4)
    assert answer.tilt_clock_deg == pytest.approx(0, abs=1e-6)
    assert thou(answer.float_mm) == pytest.approx(10)
    assert thou(answer.tir_as_read_mm) == pytest.approx(
        max(r for _, r in one) - min(r for _, r in one)
    )
    assert answer.assumed[-1].startswith("Half the difference of two dials cannot show warp; up to")
    alone = answered(face(readings=one, **KNOWN))
    assert thou(alone.tir_mm) > 5


# ── the declaration ──────────────────────────────────────────────────────────────────────


def test_the_example_answers_as_the_page_says() -> None:
    answer = answered(from_toml(WORKSHEET.example))
    assert WORKSHEET.say(answer, "in") == (
        "Move it 7.3 thou toward 2 o'clock: 14.6 thou TIR is over 5 thou."
    )


def test_every_field_of_the_agreed_answer_is_there() -> None:
    """Names that pages, papers and programs rely on."""
    agreed = (
        "tir_as_read_mm tir_corrected_mm tir_mm tir_u95_mm offset_mm offset_clock_deg "
        "offset_x_mm offset_y_mm offset_u95_mm tir_from_offset_mm out_of_round_mm sum_check_mm "
        "closure_mm residual_mm verdict cause move_mm move_clock_deg tilt_mrad tilt_clock_deg "
        "pilot_shift_mm pilot_shift_clock_deg assumed how"
    )
    assert set(agreed.split()) <= set(answered(bore()).model_dump())


@pytest.mark.parametrize("case", [bore(), face(), face(plane_distance="1 in")])
def test_what_a_surface_has_not_is_not_shown(case: dict[str, Any]) -> None:
    answer = answered(case)
    for lead in ("mm", "in"):
        shown = figures(answer, lead=lead)
        assert "not known" not in [figure.leading for figure in shown]
        assert {figure.name for figure in shown} >= {"verdict", "tir_mm", "places"}
        assert [grid.name for grid in grids(answer, lead=lead)] == ["advice"]


def test_cautions_name_what_hurts() -> None:
    text = " ".join(caution.text for caution in WORKSHEET.cautions)
    for word in ("stands", "battery", "plugs", "by hand", "between flywheel and bell", "makers"):
        assert word in text
    assert WORKSHEET.cautions[0].word == "DANGER"


# ── refusals, each with its line ─────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"surface": "bores"}, "surface: \"bores\" is not known; write 'bore' or 'face'"),
        ({"unit": "furlong"}, None),
        ({"readings": [[0, 1], [90, 2]]}, "readings: 2 given; give 3 or more"),
        ({"readings": [[0, 1], [90], [180, 2]]}, "readings[1][1]: missing; it is needed"),
        (
            {"readings": [[0, 1], [90, float("nan")], [180, 2]]},
            'readings[1][1]: "nan" is not a number; write a plain finite number',
        ),
        (
            {"readings": [[0, 1], [90, "2"], [180, 2]]},
            'readings[1][1]: "2" is not a number; write a plain finite number',
        ),
        (
            {"readings": [[0, 1], [90, 1e9], [180, 2]]},
            (
                'readings[1][1]: "1000000000.0" is out of range; '
                "give a number less than or equal to 1000000.0"
            ),
        ),
        (
            {"readings": [[0, 1], [1, 1], [2, 1]]},
            (
                "readings: the angles 0, 1, 2 are too close together to fix an offset; "
                "read three or more well apart, best one every 45 degrees"
            ),
        ),
        (
            {"readings": [[0, 1], [180, 1], [360, 1]]},
            (
                "readings: only 2 different places (0, 180); "
                "read three or more well apart, best one every 45 degrees"
            ),
        ),
        ({"readings": [[0, 1]] * 721}, "readings: 721 given; give 720 at most"),
        ({"repeats": [[[0, 1]]]}, "repeats[0]: 1 given; give 3 or more"),
        ({"limit": "5"}, 'limit: "5" has no unit; write "5 thou" or "5 mm"'),
        ({"limit": 5}, 'limit: "5" has no unit; write "5 thou" or "5 mm"'),
        ({"limit": "0 thou"}, 'limit: "0 thou" is not above zero; give more than zero'),
        ({"limit": "-5 thou"}, 'limit: "-5 thou" is not above zero; give more than zero'),
        ({"graduation": "-1 mm"}, 'graduation: "-1 mm" is negative; give zero or more'),
        ({"dial_error": "0.01"}, 'dial_error: "0.01" has no unit; write "0.01 thou" or "0.01 mm"'),
        (
            {"bearing_clearance": "-2 thou"},
            'bearing_clearance: "-2 thou" is negative; give zero or more',
        ),
        ({"sweep_radius": "80 mm"}, "sweep_radius: belongs to a face; leave it out"),
        ({"plane_distance": "80 mm"}, "plane_distance: belongs to a face; leave it out"),
        ({"bore_offset_u95": "1 mm"}, "bore_offset_u95: belongs to a face; leave it out"),
        (
            {"readings_b": [[0, 1], [90, 2], [180, 3]]},
            "readings_b: belongs to a face; leave it out",
        ),
        (
            {"bore_diameter": "1 thou"},
            (
                "bore_diameter: 0.0254 mm is too small for an offset of 0.0359 mm; "
                "check the units of both"
            ),
        ),
    ],
)
def test_a_bore_refuses(changes: dict[str, Any], line: str | None) -> None:
    found = lines(bore(**changes))
    if line is None:
        assert found[0].startswith('unit: "furlong" is not a unit; known are mm, ')
        return
    assert found == [line]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"sag": "1 thou"}, "sag: belongs to a bore; leave it out"),
        ({"bearing_clearance": "1 thou"}, "bearing_clearance: belongs to a bore; leave it out"),
        ({"sweep_radius": None}, "sweep_radius: missing; a face needs it"),
        ({"sweep_radius": "0 mm"}, 'sweep_radius: "0 mm" is not above zero; give more than zero'),
        (
            {"sweep_radius": "0.1 mm"},
            (
                "sweep_radius: 0.1 mm is too small for readings that rise 0.0508 mm; "
                "check the units of both"
            ),
        ),
        ({"bore_offset": "1 mm"}, "bore_offset_clock_deg: missing; bore_offset needs it"),
        (
            {"bore_offset_clock_deg": 5},
            "bore_offset_clock_deg: given without bore_offset; give that too",
        ),
        (
            {"bore_offset_u95": "1 mm"},
            "bore_offset_u95: given without bore_offset; give that too",
        ),
        (
            {"readings_b": [[0, 1], [90, 2], [180, 3]]},
            (
                "readings_b: its angles are not those of readings; "
                "give a row for each, by the first dial's angle"
            ),
        ),
        (
            {
                "readings_b": readings(EIGHT, 1.0, 1.0),
                "repeats": [readings(EIGHT, 1.0, 1.0)],
            },
            "readings_b: given with repeats; give one or the other",
        ),
    ],
)
def test_a_face_refuses(changes: dict[str, Any], line: str) -> None:
    case = {name: value for name, value in face(**changes).items() if value is not None}
    assert lines(case) == [line]


def test_missing_and_unknown_names_come_all_at_once() -> None:
    case = bore(radius="5 mm")
    del case["unit"], case["limit"]
    found = lines(case)
    assert found[:2] == ["unit: missing; it is needed", "limit: missing; it is needed"]
    assert found[2].startswith("radius: unknown name; known are surface, unit, readings, ")


def test_what_belongs_to_one_surface_is_known_by_the_case() -> None:
    assert set(BELONGS) < set(SweepCase.model_fields)


def test_a_kept_case_and_answer_come_back() -> None:
    case = read(
        SweepCase, face(plane_distance="6 1/4 in", bore_offset="2 thou", bore_offset_clock_deg=60)
    )
    again = read(SweepCase, json.loads(case.model_dump_json(exclude_none=True)))
    assert again == case
    answer = solve(case)
    assert SweepAnswer.model_validate(json.loads(answer.model_dump_json())) == answer
    assert solve(again) == answer
