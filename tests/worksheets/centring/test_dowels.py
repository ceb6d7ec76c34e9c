"""The dowels worksheet: from lengths as text to a setting, its words, and what it refuses."""

from __future__ import annotations

import json
import math

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import figures, grids

WORKSHEET = load("dowels")
CASE = {
    "offset": "7.2 thou",
    "offset_clock_deg": 240,
    "dowel_a": ["-180 mm", "20 mm"],
    "dowel_b": ["180 mm", "20 mm"],
    "sizes": ["7 thou", "14 thou", "21 thou"],  # common practice, no source
    "limit": "5 thou",
    "hole_clearance": "1 thou",
    "offset_u95": "1 thou",
}
AFTER = {
    "turned": {"a_size": "7 thou", "a_clock_deg": 60, "b_size": "7 thou", "b_clock_deg": 60},
    "offset_after": "2.8 thou",
    "offset_after_clock_deg": 165,
}
ROW = {
    "a_size_mm",
    "a_clock_deg",
    "b_size_mm",
    "b_clock_deg",
    "predicted_offset_mm",
    "predicted_tir_mm",
    "turn_mrad",
    "chance_within",
    "chance_binds",
}


def case(**changes):
    whole = {**CASE, **changes}
    return read(WORKSHEET.case, {name: value for name, value in whole.items() if value is not None})


def solve(**changes):
    return WORKSHEET.solve(case(**changes))


def said(lead="in", **changes):
    return WORKSHEET.say(solve(**changes), lead)


# ── the answer ───────────────────────────────────────────────────────────────────────────


def test_sentence_of_the_job():
    assert said(offset_u95="1.7 thou") == (
        "7 thou dowels in both holes, slots at 2 o'clock: about 0.4 thou TIR left, "
        "within 5 thou 97 times in 100."
    )
    assert "within 0.127 mm more than 99 times in 100." in said("mm")


def test_the_answer_has_the_fields_that_programs_read():
    answer = solve().model_dump(mode="json")
    assert all(set(row) >= ROW for row in answer["candidates"])
    best = answer["candidates"][answer["recommended"]]
    assert answer["reason"] is None
    assert best["a_size_mm"] == pytest.approx(0.1778)
    assert best["a_clock_deg"] == pytest.approx(60)
    assert best["predicted_tir_mm"] == pytest.approx(0.4 * 0.0254)
    chances = [row["chance_within"] for row in answer["candidates"]]
    assert chances == sorted(chances, reverse=True)
    plain = next(row for row in answer["candidates"] if row["a_size_mm"] == row["b_size_mm"] == 0)
    assert (plain["a_clock_deg"], plain["b_clock_deg"]) == (None, None)
    assert plain["predicted_tir_mm"] == pytest.approx(answer["tir_now_mm"])


def test_units_do_not_matter():
    metric = solve(
        offset="0.18288 mm",
        dowel_a=["-18 cm", "0.02 m"],
        sizes=["0.1778 mm", "0.014 in", "0.5334 mm"],
        limit="0.127 mm",
        hole_clearance="25.4 µm",
        offset_u95="0.0254 mm",
    )
    assert metric == solve()


def test_defaults_are_said_and_change_nothing_when_given():
    plain = solve(hole_clearance=None, offset_u95=None)
    given = solve(hole_clearance="0 mm", offset_u95="0 mm", angle_error_deg=5)
    assert plain.candidates == given.candidates
    assert {line.partition(":")[0] for line in plain.assumed} >= {
        "hole_clearance",
        "offset_u95",
        "angle_error_deg",
        "bolt_radius",
    }
    assert not any("angle_error_deg" in line for line in given.assumed)
    assert any("any error of turning binds" in line for line in plain.notes)
    assert plain.candidates[plain.recommended].chance_binds == 1


def test_the_choice_is_set_beside_leaving_alone_and_other_sizes():
    answer = solve()
    rows = {row.choice: row for row in answer.compared}
    assert list(rows) == ["as recommended", "leave it alone", "other sizes"]
    for row in rows.values():
        candidate = answer.candidates[row.index]
        assert row.chance_within == candidate.chance_within
        assert (row.a_size_mm, row.b_size_mm) == (candidate.a_size_mm, candidate.b_size_mm)
    assert rows["as recommended"].index == answer.recommended
    assert rows["leave it alone"].predicted_tir_mm == answer.tir_now_mm
    sizes = {(row.a_size_mm, row.b_size_mm) for row in rows.values()}
    assert len(sizes) == 3


def test_second_sweep_of_the_offset_that_is_left():
    answer = solve()
    best = answer.candidates[answer.recommended]
    assert [row.clock_deg for row in answer.second_sweep] == [0, 45, 90, 135, 180, 225, 270, 315]
    read_at = {row.clock_deg: row.reading_mm for row in answer.second_sweep}
    # zeroed at 12: at 6 it reads twice the offset's height, at 3 the height less the width
    assert read_at[180] == pytest.approx(2 * best.predicted_offset_y_mm)
    assert read_at[90] == pytest.approx(best.predicted_offset_y_mm - best.predicted_offset_x_mm)
    assert read_at[90] + read_at[270] == pytest.approx(read_at[0] + read_at[180])


@pytest.mark.parametrize(
    ("changes", "words", "reason"),
    [
        ({"offset": "0 mm"}, "Leave it alone: its offset reads 0.1 thou TIR", "leave it alone"),
        ({"offset": "1 thou"}, "Leave it alone: its offset reads 2 thou TIR", "leave it alone"),
        (
            {"offset": "60 thou"},
            "These dowels cannot put it right: the closest leaves",
            "it cannot be done",
        ),
        (
            {"sizes": []},
            "These dowels cannot put it right: the closest leaves 14.4 thou TIR",
            "it cannot be done",
        ),
        (
            {"offset": "2.52 thou", "sizes": ["0.24 mm"], "angle_error_deg": 45},
            "Do not turn yet: no setting is likelier to be within 5 thou TIR than it is now. Sweep",
            "do not turn yet",
        ),
        (
            {"offset": "2.3 thou", "sizes": ["0.24 mm"], "angle_error_deg": 45},
            "Leave it alone: no setting is likelier",
            "leave it alone",
        ),
    ],
)
def test_when_nothing_is_recommended(changes, words, reason):
    answer = solve(**changes)
    assert answer.recommended is None
    assert answer.reason.startswith(reason)
    assert answer.second_sweep == []
    assert WORKSHEET.say(answer, "in").startswith(words)


def test_words_for_unlike_and_plain_dowels():
    away = said(offset="7 thou", offset_clock_deg=180, sizes=["14 thou"])
    assert away.startswith("14 thou dowel in hole a, slot at ")
    assert "14 thou in hole b, slot at" in away or "and a plain one in" in away
    one = said(offset="3.5 thou", offset_clock_deg=180, sizes=["7 thou"], offset_u95="2 thou")
    assert "slot at" in one


def test_an_angle_between_the_half_hours_is_said():
    assert "slots at half past 2 (70°)" in said(offset_clock_deg=250)
    assert "slots at 2 o'clock:" in said(offset_clock_deg=241)


# ── bolts ────────────────────────────────────────────────────────────────────────────────


def test_bolts_limit_the_turn_by_half_their_clearance():
    answer = solve(bolt_radius="200 mm", bolt_clearance="0.2 mm")
    most = max(abs(row.turn_mrad) for row in answer.candidates)
    assert most == pytest.approx(1000 * 0.1 / 200)
    assert max(abs(row.turn_mrad) for row in solve().candidates) > most
    row = answer.compared[0]
    best = answer.candidates[row.index]
    moved = math.hypot(
        best.predicted_offset_x_mm - 0.18288 * math.sin(math.radians(240)),
        best.predicted_offset_y_mm - 0.18288 * math.cos(math.radians(240)),
    )
    assert row.bolt_shift_mm == pytest.approx(moved + abs(best.turn_mrad) / 1000 * 200)
    assert any("in the middle of its hole" in line for line in answer.notes)
    assert not solve(bolt_radius="200 mm", bolt_clearance="1 mm").notes


def test_too_close_to_call_asks_for_another_sweep():
    close = solve(offset="2.6 thou")
    assert close.recommended is not None
    assert any("sweep again" in line for line in close.notes)
    assert not any("sweep again" in line for line in solve().notes)


# ── after a turn ─────────────────────────────────────────────────────────────────────────


def test_what_a_turn_taught_and_the_next():
    # the second offset is that of dowels 25 and 20 degrees past their slots, to 0.1 thou
    answer = solve(**AFTER, offset_u95="0.1 thou")
    assert answer.learned.a_error_deg + answer.learned.b_error_deg == pytest.approx(45, abs=2)
    assert answer.learned.moved_mm == pytest.approx(0.17, abs=0.03)
    assert answer.learned.expected_move_mm == pytest.approx(0.1778)
    assert answer.learned.expected_move_clock_deg == pytest.approx(60)
    assert answer.within_after is False
    turn = answer.next_turn
    assert turn.a_turn_deg < -10
    assert turn.b_turn_deg < -10
    assert turn.predicted_tir_mm < 0.127
    sentence = WORKSHEET.say(answer, "in")
    assert sentence.startswith("Turn dowel a ")
    assert "counter-clockwise from where they stand: about" in sentence
    labels = [row.label for row in figures(answer, lead="in")]
    assert "Next turn, TIR left" in labels


def test_slots_as_read_that_disagree_are_bound():
    turned = {**AFTER["turned"], "b_clock_deg": 120}
    answer = solve(**{**AFTER, "turned": turned})
    apart = 0.1778 * (math.sin(math.radians(120)) - math.sin(math.radians(60)))
    assert answer.learned.mismatch_mm == pytest.approx(apart, abs=1e-12)
    turned["b_clock_deg"] = -60
    bound = solve(**{**AFTER, "turned": turned}).learned
    assert abs(bound.mismatch_mm) == pytest.approx(2 * 0.1778 * math.sin(math.radians(60)))
    assert bound.bind_mm == pytest.approx(abs(bound.mismatch_mm) - 0.0254)


def test_a_second_sweep_within_the_limit_ends_it():
    answer = solve(**{**AFTER, "offset_after": "0.5 thou"})
    assert answer.within_after is True
    assert answer.next_turn is None
    assert WORKSHEET.say(answer, "in") == "The second sweep is within 5 thou TIR: leave it."


def test_without_a_first_uncertainty_the_lesson_says_what_it_took():
    answer = solve(**AFTER, offset_u95=None)
    assert any("0.01 mm" in line for line in answer.assumed)
    assert any(line.startswith("offset_after_u95") for line in answer.assumed)


def test_no_next_turn_where_nothing_comes_within_the_limit():
    answer = solve(**{**AFTER, "offset": "60 thou", "offset_after": "55 thou"})
    assert answer.next_turn is None
    assert WORKSHEET.say(answer, "in").endswith("no setting comes closer.")


def test_dowels_that_need_not_be_there_come_out():
    # 21 thou in one hole moves the bore by half of it or more, wherever the slot points
    turned = {"a_size": "21 thou", "a_clock_deg": 0, "b_size": "0 mm"}
    after = {"turned": turned, "offset_after": "10.5 thou", "offset_after_clock_deg": 0}
    answer = solve(**after, offset="0.5 thou", offset_u95="0.2 thou")
    assert answer.outcome == "within already"
    turn = answer.next_turn
    assert (turn.a_size_mm, turn.b_size_mm, turn.a_turn_deg, turn.b_turn_deg) == (0, 0, None, None)
    # what plain dowels leave is what both sweeps say of them
    assert turn.predicted_offset_mm == pytest.approx(answer.learned.plain_offset_mm)
    assert WORKSHEET.say(answer, "in").startswith("Put plain dowels in both holes: about ")


def test_plain_dowels_that_are_in_are_not_put_in_again():
    turned = {"a_size": "0 mm", "b_size": "0 mm"}
    after = {"turned": turned, "offset_after": "2.2 thou", "offset_after_clock_deg": 240}
    answer = solve(**after, offset="2.2 thou", sizes=[])
    assert answer.next_turn is None
    assert WORKSHEET.say(answer, "in").endswith("5 thou TIR: sweep again to know it better.")


# ── bad input ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"dowel_b": ["-180 mm", "20 mm"]},
            "dowel_b: it is in the same place as dowel_a; give the places of two dowel holes",
        ),
        ({"sizes": ["7 thou", "-14 thou"]}, 'sizes[1]: "-14 thou" is negative; give zero or more'),
        ({"sizes": ["7"]}, 'sizes[0]: "7" has no unit; write "7 thou" or "7 mm"'),
        ({"offset": 7.2}, 'offset: "7.2" has no unit; write "7.2 thou" or "7.2 mm"'),
        ({"dowel_a": ["1 mm", "2 mm", "3 mm"]}, "dowel_a: 3 given; give 2 at most"),
        ({"dowel_a": ["1 mm"]}, "dowel_a[1]: missing; it is needed"),
        (
            {"dowel_a": [-180, "20 mm"]},
            'dowel_a[0]: "-180" has no unit; write "-180 thou" or "-180 mm"',
        ),
        ({"bolt_radius": "200 mm"}, "bolt_clearance: missing"),
        ({"bolt_clearance": "0.5 mm"}, "bolt_radius: missing"),
        ({"limit": "0 mm"}, 'limit: "0 mm" is not above zero'),
        ({"offset_clock_deg": float("nan")}, "offset_clock_deg: "),
        ({"angle_error_deg": 60}, "angle_error_deg: "),
        ({"angle_error_deg": -1}, "angle_error_deg: "),
        ({"sizes": ["1 thou"] * 13}, "sizes: 13 given; give 12 at most"),
        ({"offset_after": "1 thou"}, "turned: missing"),
        ({"turned": AFTER["turned"]}, "offset_after: missing"),
        (
            {**AFTER, "turned": {"a_size": "7 thou", "b_size": "0 mm"}},
            "turned: a_clock_deg is missing; say where its slot points",
        ),
    ],
)
def test_bad_input_is_refused_in_one_line(changes, line):
    with pytest.raises(InputError) as caught:
        solve(**changes)
    assert len(caught.value.lines) == 1
    assert caught.value.lines[0].startswith(line)


def test_the_example_answers_and_its_lesson_too():
    example = from_toml(WORKSHEET.example)
    assert WORKSHEET.solve(read(WORKSHEET.case, example)).recommended == 0
    lines = WORKSHEET.example.splitlines()
    start = lines.index('# offset_after = "2.8 thou"')
    whole = [line.removeprefix("# ") if n >= start else line for n, line in enumerate(lines)]
    answer = WORKSHEET.solve(read(WORKSHEET.case, from_toml("\n".join(whole))))
    assert answer.next_turn is not None


def test_every_answer_is_plain_json_and_can_be_shown():
    for changes in ({}, AFTER, {"sizes": []}, {"offset": "0 mm"}):
        answer = solve(**changes)
        assert json.loads(json.dumps(answer.model_dump(mode="json"), allow_nan=False))
        labels = [row.label for row in figures(answer, lead="in")]
        assert len(set(labels)) == len(labels)
        assert any(grid.name == "candidates" for grid in grids(answer, lead="in"))
