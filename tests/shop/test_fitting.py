"""What a fitter's page sends: each item once, faults at their fields, taken back by a new line."""

from __future__ import annotations

import datetime
import math
import re
import threading
from typing import Any

import numpy as np
import pytest

from kitwright.books import conversions, fitup_talk, fitups
from kitwright.books.entries import Entry
from kitwright.books.first_sweeps import first_sweeps
from kitwright.books.links import Link
from kitwright.books.opening import Books
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MoveError
from kitwright.shop import fitting, pilot_engagement, send_keys
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop.fitting import Item, receive
from kitwright.shop.fitup_course import course_of, version_of
from kitwright.shop.fitup_stages import BY_NAME, STAGES

NOW = datetime.datetime(2026, 5, 5, 9, tzinfo=datetime.UTC)
WHO = Entry(who="Owner", recorded=datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC))
EIGHT = [*range(0, 360, 45), 360]
TICKS = {"stands": True, "battery": True, "serial": True, "makers": True}


def given(books: Books, order: int = 20) -> Link:
    """A fresh fit-up's link."""
    number = shop_fitups.open_for_order(books, order, fitter="Sam", block="new", entry=WHO)
    return giving.give_for_fit_up(books, number, entry=WHO)


def item(link: Link, stage: str, values: dict[str, Any], **more: Any) -> Item:
    key = more.pop("send_key", send_keys.stock(link.token, 1)[0])
    unit = {} if "undoes" in values or stage == "note" else {"unit": "mm"}
    return Item(send_key=key, stage=stage, values=unit | values, **more)


def send(books: Books, link: Link, stage: str, values: dict[str, Any], **more: Any) -> str:
    one = item(link, stage, values, **more)
    receive(books, link, one, now=NOW)
    return one.send_key


def sweep(x_mm: float, y_mm: float, oval_mm: float = 0.0) -> dict[str, Any]:
    """A sweep as a page sends it, of a bore at this offset."""
    turns = [math.radians(clock) for clock in EIGHT]
    texts = [
        f"{-x_mm * math.sin(t) - y_mm * math.cos(t) + oval_mm / 2 * math.cos(2 * t):.4f}"
        for t in turns
    ]
    return {
        "graduation": "0.01",
        "readings": [list(pair) for pair in zip(EIGHT, texts, strict=True)],
    }


def records(books: Books, link: Link) -> list[fitup_talk.Record]:
    with books.reading() as connection:
        return fitup_talk.all_records_of(connection, link.fit_up_id)


def status(books: Books, link: Link) -> dict[str, str]:
    return dict(course_of(books, link.fit_up_id).status)


def refused(books: Books, link: Link, stage: str, values: dict[str, Any]) -> list[str]:
    """The lines of a refusal, after which nothing is kept."""
    before = version_of(books, link.fit_up_id)
    with pytest.raises(InputError) as told:
        send(books, link, stage, values)
    assert version_of(books, link.fit_up_id) == before
    return list(told.value.lines)


# ── once ─────────────────────────────────────────────────────────────────────────────────


def test_what_comes_twice_is_kept_once(demo_books: Books) -> None:
    link = given(demo_books)
    one = item(link, "bore", sweep(0.16, 0.09))
    for _ in range(3):
        receive(demo_books, link, one, now=NOW)
    assert [record.stage for record in records(demo_books, link)] == ["bore"]
    with demo_books.reading() as connection:
        steps = fitups.steps_of(connection, link.fit_up_id)
    assert [step.state for step in steps] == ["opened", "measuring", "advice"]
    note = item(link, "note", {"said": "hello", "at": "bore"})
    receive(demo_books, link, note, now=NOW)
    receive(demo_books, link, note, now=NOW)
    with demo_books.reading() as connection:
        notes = fitup_talk.notes_of(connection, link.fit_up_id)
    assert [(each.side, each.said) for each in notes] == [("fitter", "Sweep the bore: hello")]
    assert verify(demo_books) == []


def test_the_same_item_at_the_same_moment_is_kept_once(demo_books: Books) -> None:
    link = given(demo_books)
    one = item(link, "bore", sweep(0.16, 0.09))
    wrong: list[Exception] = []

    def go() -> None:
        try:
            receive(demo_books, link, one, now=NOW)
        except Exception as error:  # noqa: BLE001 - told below
            wrong.append(error)

    threads = [threading.Thread(target=go) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    assert len(records(demo_books, link)) == 1


def test_something_else_under_a_used_key_is_refused(demo_books: Books) -> None:
    link = given(demo_books)
    key = send(demo_books, link, "before", TICKS)
    with pytest.raises(InputError, match="something else was sent with it"):
        send(demo_books, link, "bore", sweep(0, 0), send_key=key)
    with pytest.raises(InputError, match="something else was sent with it"):
        send(demo_books, link, "note", {"said": "x"}, send_key=key)
    assert len(records(demo_books, link)) == 1


def test_a_key_is_good_for_its_own_fit_up_alone(demo_books: Books) -> None:
    link, other = given(demo_books), giving.give_for_fit_up(demo_books, 11, entry=WHO)
    for key in (send_keys.stock(other.token, 1)[0], "made.up", "", "é.x", "x" * 70):
        with pytest.raises(InputError, match="send_key: it is not of this link"):
            send(demo_books, link, "before", TICKS, send_key=key)
    again = giving.give_for_fit_up(demo_books, link.fit_up_id, entry=WHO)
    old = send_keys.stock(link.token, 1)[0]
    receive(demo_books, again, item(link, "before", TICKS, send_key=old), now=NOW)
    receive(demo_books, again, item(link, "before", TICKS, send_key=old), now=NOW)
    assert len(records(demo_books, link)) == 1


def test_no_two_keys_are_alike() -> None:
    keys = send_keys.stock("a" * 32) + send_keys.stock("a" * 32)
    assert len(set(keys)) == 2 * send_keys.STOCK
    for key in keys:
        send_keys.check(key, ["b" * 32, "a" * 32])
        with pytest.raises(InputError):
            send_keys.check(key, ["b" * 32])
        with pytest.raises(InputError):
            send_keys.check(key[:-1] + ("A" if key[-1] != "A" else "B"), ["a" * 32])


# ── when, and in which order ─────────────────────────────────────────────────────────────


def test_a_wrong_clock_on_the_phone_upsets_nothing(demo_books: Books) -> None:
    link = given(demo_books)
    true = WHO.recorded + datetime.timedelta(hours=2)
    late, early = NOW + datetime.timedelta(days=400), NOW - datetime.timedelta(days=4000)
    clutch = {"disc": True, "slides": True, "figure": "x"}
    send(demo_books, link, "before", TICKS, typed=true)
    send(demo_books, link, "clutch", clutch, typed=early)
    send(demo_books, link, "bore", sweep(0.01, 0.0), typed=late)
    send(demo_books, link, "gearbox-on", {"by_hand": True, "turns": True}, typed=true)
    kept = records(demo_books, link)
    # never before the fit-up was opened, never ahead of now, never before the sweep's own step
    assert [record.happened for record in kept] == [true, WHO.recorded, NOW, NOW]
    assert {record.recorded for record in kept} == {NOW}
    assert {record.who for record in kept} == {"Sam"}


def test_after_the_end_only_notes_come_in(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.01, 0.0))
    send(demo_books, link, "result", {"outcome": "succeeded"})
    with pytest.raises(MoveError, match="it has succeeded; write a note to the shop"):
        send(demo_books, link, "before", TICKS)
    with pytest.raises(MoveError, match="it has succeeded"):
        send(demo_books, link, "result", {"outcome": "failed", "why": "no"})
    send(demo_books, link, "note", {"said": "Thank you.", "at": "result"})
    course = course_of(demo_books, link.fit_up_id)
    assert (course.next, course.status["result"], course.may_take_back) == ("", "done", frozenset())
    assert verify(demo_books) == []


def test_success_beside_a_verdict_that_is_not_within_needs_a_reason(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.01, 0.0))
    short = {"face_to_pilot": "60", "face_to_bottom": "80", "face_to_tip": "50"}
    key = send(demo_books, link, "pilot", short)
    won = {"outcome": "succeeded"}
    assert refused(demo_books, link, "result", won) == [
        "why: missing; “Pilot engagement” is outside: say why it may stay"
    ]
    send(demo_books, link, "pilot", {"undoes": key})
    send(demo_books, link, "face", sweep(0.6, 0.0) | {"sweep_radius": "80"})
    assert "“Sweep the face” is outside" in refused(demo_books, link, "result", won)[0]
    send(demo_books, link, "result", won | {"why": "the maker allows it"})
    assert not course_of(demo_books, link.fit_up_id).view.open


def test_a_link_in_the_wrong_hands_cannot_fill_the_books(
    demo_books: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = given(demo_books)
    key = send(demo_books, link, "before", TICKS)
    assert refused(demo_books, link, "before", {"undoes": key, "more": "x" * 30_000}) == [
        "more: unknown name; load the page again"
    ]
    for stage, values in (
        ("note", {"said": "long", "more": "x" * 50_000}),
        ("dowels-out", {"a": "sound", "b": "sound", "seen": " " * 50_000}),
        ("bore", sweep(0, 0) | {"readings": [[0, "1"], [90, "1"], [180, "1" + " " * 50_000]]}),
    ):
        assert "values: more than 40000 letters" in refused(demo_books, link, stage, values)[0]
    send(demo_books, link, "note", {"said": "\N{SPARKLES}" * 4000})
    monkeypatch.setattr(fitting, "MOST_SENT", 4)
    send(demo_books, link, "before", {"undoes": key})
    last = send(demo_books, link, "note", {"said": "one more"})
    for stage, values in (("note", {"said": "too many"}), ("before", TICKS)):
        assert "4 things were sent; call the shop" in refused(demo_books, link, stage, values)[0]
    again = item(link, "note", {"said": "one more"}, send_key=last)
    receive(demo_books, link, again, now=NOW)  # what was kept is confirmed all the same


# ── faults ───────────────────────────────────────────────────────────────────────────────

TORN = sweep(0.1, 0.0) | {"readings": [[0, "0"], [45, "1,5"], [90, "x"], [135, ""]]}


@pytest.mark.parametrize(
    ("stage", "values", "lines"),
    [
        ("before", {**TICKS, "stands": False}, ["stands: not ticked; do it first, or stop"]),
        ("before", {"stands": True, "battery": 1}, ["battery: not", "serial: not", "makers"]),
        ("before", {**TICKS, "brakes": True}, ["brakes: unknown name; load the page again"]),
        ("before", {**TICKS, "unit": "furlong"}, ['unit: "furlong" is not known; write mm']),
        ("dowels-out", {"a": "sound"}, ["b: missing; fill it in"]),
        ("dowels-out", {"a": "sound", "b": "gone"}, ['b: "gone" is not known']),
        ("bell-on", {"by_hand": True, "passes": True, "figure": " "}, ["figure: missing"]),
        ("bore", TORN, ['reading_45: "1,5" is not a reading; write a decimal point',
                        'reading_90: "x" is not a reading', 'reading_135: "" is not']),
        ("bore", sweep(0, 0) | {"graduation": "7"}, ['graduation: "7" is not known; choose']),
        ("bore", sweep(0, 0) | {"readings": [[0, "1"], [1, "1"]]}, ["readings: 2 given"]),
        ("bore", sweep(0, 0) | {"readings": [[0, "1"], [500, "1"]]}, ["readings: a place is not"]),
        ("bore", sweep(0, 0) | {"readings": "all"}, ["readings: missing; read the dial"]),
        ("bore", sweep(0.3, 0) | {"drawer": "7"}, ['drawer: "7" has no unit']),
        ("bore", sweep(0, 0) | {"together": True}, ["together: there is no earlier sweep"]),
        ("face", sweep(0, 0), ["sweep_radius: missing; fill it in"]),
        ("face", sweep(0, 0) | {"sweep_radius": "-3"}, ['sweep_radius: "-3 mm" is not above zero']),
        ("verdict", {}, ["stage: the verdict is read, not written"]),
        ("dowels", {"a_size": "plain"}, ["dowels: no sweep of the bore stands; sweep"]),
        ("gap", {"face_to_fingers": ["1,5"], "face_to_bearing": []},
         ['face_to_fingers: "1,5 mm" has a comma', "face_to_bearing: missing"]),
        ("gap", {"face_to_fingers": ["69"], "face_to_bearing": ["52"], "straightedge": "10"},
         ["over: missing; give both, or neither"]),
        ("gap", {"face_to_fingers": ["1", "2", "3", "4"], "face_to_bearing": ["52"]},
         ["face_to_fingers: not a list of lengths"]),
        ("pilot", {"face_to_pilot": "2", "face_to_bottom": "4"}, ["face_to_tip: missing"]),
        ("result", {"outcome": "failed"}, ["why: missing; say what went wrong"]),
        ("result", {"outcome": "succeeded"}, ["outcome: no sweep of the bore stands"]),
        ("none", {}, ['stage: "none" is none']),
        ("note", {"said": "  "}, ["note: missing"]),
        ("bore", {"undoes": "nothing"}, ["record: it is taken back already"]),
    ],
)  # fmt: skip
def test_faults_are_told_at_their_fields_and_nothing_is_kept(
    demo_books: Books, stage: str, values: dict[str, Any], lines: list[str]
) -> None:
    told = refused(demo_books, given(demo_books), stage, values)
    assert len(told) == len(lines), told
    for line, start in zip(told, lines, strict=True):
        assert line.startswith(start)


def test_a_length_may_carry_its_own_unit(demo_books: Books) -> None:
    link = given(demo_books)
    values = {"unit": "thou", "face_to_fingers": ["69 mm"], "face_to_bearing": ["2 1/2"]}
    send(demo_books, link, "gap", values)
    answer = records(demo_books, link)[0].answer_json
    assert answer["gap_mm"] == pytest.approx(69 - 2.5 * 25.4)


# ── the course ───────────────────────────────────────────────────────────────────────────


def test_from_outside_over_dowels_to_within(demo_books: Books) -> None:
    link = given(demo_books)
    course = course_of(demo_books, link.fit_up_id)
    assert course.next == "before"
    assert course.status["dowels"] == course.status["bore-again"] == "later"
    send(demo_books, link, "bore", sweep(0.16, 0.09))
    now = status(demo_books, link)
    assert (now["bore"], now["dowels"], now["bore-again"]) == ("done", "open", "later")
    send(demo_books, link, "dowels", {"a_size": "0.007 in", "a_clock_deg": "241",
                                      "b_size": "0.007 in", "b_clock_deg": "241"})  # fmt: skip
    now = status(demo_books, link)
    assert (now["dowels"], now["bore-again"]) == ("done", "open")
    send(demo_books, link, "bore-again", sweep(0.012, 0.004))
    now = status(demo_books, link)
    assert (now["verdict"], now["dowels"], now["bore-again"]) == ("done", "done", "done")
    for name in ("dowels-out", "bell-on", "face"):
        assert now[name] == "open"


def test_within_needs_no_dowels_and_too_close_another_sweep(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.06, 0.02))  # 0.126 mm TIR of 0.127
    now = status(demo_books, link)
    assert (now["bore"], now["verdict"], now["dowels"]) == ("again", "later", "later")
    send(demo_books, link, "bore", sweep(0.02, 0.02))
    now = status(demo_books, link)
    assert (now["bore"], now["dowels"], now["bore-again"]) == ("done", "not needed", "not needed")


def test_an_oval_bore_stops(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.0, 0.01, oval_mm=0.4))
    assert status(demo_books, link)["verdict"] == "stop"
    with pytest.raises(InputError, match="why: missing; the last sweep is outside: say why"):
        send(demo_books, link, "result", {"outcome": "succeeded"})
    send(demo_books, link, "result", {"outcome": "succeeded", "why": "the shop said so by phone"})


def test_sweeps_counted_together_are_surer_than_one(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.05, 0.02))
    send(demo_books, link, "bore", sweep(0.05, 0.02) | {"together": True})
    send(demo_books, link, "bore", sweep(0.05, 0.02) | {"together": True})
    answers = [record.answer_json for record in records(demo_books, link)]
    assert answers[2]["tir_u95_mm"] < answers[1]["tir_u95_mm"] < answers[0]["tir_u95_mm"]
    assert answers[2]["tir_mm"] == pytest.approx(answers[0]["tir_mm"], abs=1e-3)
    advice = course_of(demo_books, link.fit_up_id).view.advice
    assert len(advice.sweep_case.repeats) == 2


def test_the_face_is_solved_with_what_the_shop_knows(demo_books: Books) -> None:
    """A plane tilted by 1 mrad toward 3 o'clock swings the dial by twice the radius times that."""
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.03, 0.0))
    tilted = [[clock, f"{0.08 * math.sin(math.radians(clock)):.4f}"] for clock in EIGHT]
    values = {"graduation": "0.01", "readings": tilted, "sweep_radius": "80"}
    send(demo_books, link, "face", values)
    answer = records(demo_books, link)[1].answer_json
    assert answer["tilt_mrad"] == pytest.approx(1.0, abs=1e-3)
    assert answer["tilt_clock_deg"] == pytest.approx(90, abs=0.1)
    # the demo's bell is 165 mm deep: the shaft's tip goes 0.165 mm aside, from the bore's 0.03
    assert answer["pilot_shift_mm"] == pytest.approx(0.03 + 0.165, abs=1e-3)
    assert any(
        line.startswith("plane_distance: the depth of the bell") for line in answer["assumed"]
    )
    assert any(line.startswith("limit: the bore's") for line in answer["assumed"])
    assert status(demo_books, link)["face"] == "stop"


def test_a_bad_dowel_hole_stops(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "dowels-out", {"a": "sound", "b": "hole", "seen": "scored"})
    assert status(demo_books, link)["dowels-out"] == "stop"
    assert course_of(demo_books, link.fit_up_id).next == "before"


@pytest.mark.parametrize(
    ("tip", "least", "verdict", "words"),
    [
        ("170", "", "within", "reaches in by 10.00 mm, and stays 20.00 mm off"),
        ("170", "9", "within", "10.00 mm, and 9.00 mm is the least"),
        ("170", "11", "outside", "Stop: the tip reaches in by 10.00 mm, and 11.00 mm is the least"),
        ("170", "10", "too close to call", "Too close to call"),
        ("150", "", "outside", "does not reach the pilot bearing"),
        ("195", "", "outside", "stands on the bottom"),
    ],
)
def test_pilot_engagement(tip: str, least: str, verdict: str, words: str) -> None:
    typed = {"face_to_pilot": "160 mm", "face_to_bottom": "190 mm", "face_to_tip": f"{tip} mm"}
    found = pilot_engagement.solve(typed | ({"least": f"{least} mm"} if least else {}))
    assert pilot_engagement.verdict(found) == verdict
    assert words in pilot_engagement.say(found, "mm")


# ── taking back ──────────────────────────────────────────────────────────────────────────


def test_a_sweep_taken_back_counts_nowhere(demo_books: Books) -> None:
    link = given(demo_books)
    conversion = shop_fitups.view(demo_books, link.fit_up_id).conversion.id

    def first() -> dict[int, float]:
        with demo_books.reading() as connection:
            found = first_sweeps(connection, conversion, "bore")
        return {each.fit_up_id: each.answer["offset_mm"] for each in found}

    key = send(demo_books, link, "bore", sweep(0.4, 0.3))
    assert first()[link.fit_up_id] == pytest.approx(0.5, abs=1e-3)
    undo = send(demo_books, link, "bore", {"undoes": key})
    assert link.fit_up_id not in first()
    assert course_of(demo_books, link.fit_up_id).view.advice is None
    assert status(demo_books, link)["bore"] == "open"
    with pytest.raises(MoveError, match="no sweep of the bore stands"):
        send(demo_books, link, "result", {"outcome": "succeeded"})
    receive(demo_books, link, item(link, "bore", {"undoes": key}, send_key=undo), now=NOW)
    with pytest.raises(MoveError, match="taken back already"):
        send(demo_books, link, "bore", {"undoes": key})
    send(demo_books, link, "bore", sweep(0.03, 0.04))
    assert first()[link.fit_up_id] == pytest.approx(0.05, abs=1e-3)
    kept = records(demo_books, link)
    assert [record.undoes_id for record in kept] == [None, kept[0].id, None]


def test_dowels_taken_back_are_not_in(demo_books: Books) -> None:
    link = given(demo_books)
    conversion = shop_fitups.view(demo_books, link.fit_up_id).conversion.id
    bore = send(demo_books, link, "bore", sweep(0.16, 0.09))
    put = {"a_size": "0.014 in", "a_clock_deg": "10", "b_size": "plain", "b_clock_deg": ""}
    dowels = send(demo_books, link, "dowels", put)
    with pytest.raises(MoveError, match="what came after rests on it"):
        send(demo_books, link, "bore", {"undoes": bore})
    send(demo_books, link, "dowels", {"undoes": dowels})
    again = {"a_size": "0.007 in", "a_clock_deg": "241", "b_size": "0.007 in", "b_clock_deg": "241"}
    second = send(demo_books, link, "dowels", again)
    send(demo_books, link, "dowels", {"undoes": second})
    send(demo_books, link, "bore-again", sweep(0.03, 0.0))
    advice = course_of(demo_books, link.fit_up_id).view.advice
    assert advice.dowels_case is None  # within; nothing was reckoned from dowels that are not in
    send(demo_books, link, "result", {"outcome": "succeeded"})
    with demo_books.reading() as connection:
        counted = fitups.corrections(connection, conversion)["new"]
    before = counted.corrected
    assert counted.ended >= 1
    with demo_books.reading() as connection:
        states = [step.state for step in fitups.steps_of(connection, link.fit_up_id)]
    assert states.count("corrected") == 2
    assert before == _corrected_without(demo_books, conversion, link.fit_up_id)


def _corrected_without(books: Books, conversion: int, fit_up_id: int) -> int:
    """Fit-ups of new blocks with a corrected step, this one left out: counted by hand."""
    with books.reading() as connection:
        return sum(
            any(step.state == "corrected" for step in fitups.steps_of(connection, each.id))
            for each in fitups.fit_ups(connection)
            if each.block == "new" and each.state in fitups.ENDED and each.id != fit_up_id
            and shop_fitups.view(books, each.id).conversion.id == conversion
        )  # fmt: skip


def test_what_was_corrected_rests_on_the_dowels_as_typed(demo_books: Books) -> None:
    link = given(demo_books)
    send(demo_books, link, "bore", sweep(0.16, 0.09))
    put = {"a_size": "0.007 in", "a_clock_deg": "200", "b_size": "0.007 in", "b_clock_deg": "200"}
    send(demo_books, link, "dowels", put)
    send(demo_books, link, "bore-again", sweep(0.12, -0.06))
    case = course_of(demo_books, link.fit_up_id).view.advice.dowels_case
    assert case.turned.a_clock_deg == 200
    assert case.turned.b_size.mm == pytest.approx(0.1778)
    assert case.offset.mm == pytest.approx(float(np.hypot(0.16, 0.09)), abs=1e-3)


def test_a_fit_ups_conversion_is_that_of_its_bell(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        for each in fitups.fit_ups(connection):
            found = conversions.of_fit_up(connection, each.id)
            assert found == shop_fitups.conversion_of(connection, each.serial)
        with pytest.raises(InputError, match="no fit-up number 99"):
            conversions.of_fit_up(connection, 99)


# ── the declaration ──────────────────────────────────────────────────────────────────────


def test_every_stage_says_what_why_and_when_to_stop() -> None:
    names = [stage.name for stage in STAGES]
    assert names == list(BY_NAME)
    assert len(set(names)) == len(names) == 14
    for stage in STAGES:
        assert stage.needed
        assert stage.why
        assert stage.do
        assert stage.stop_and_call
        assert stage.cautions
        fields = [field.name for field in stage.fields]
        assert len(set(fields)) == len(fields)
        for field in stage.fields:
            assert bool(field.options) == (field.kind == "choice")
    every = " ".join(
        " ".join((*stage.needed, stage.why, *stage.do, *stage.stop_and_call)) for stage in STAGES
    )
    assert "!" not in every
    assert "N·m" not in every  # no torque of ours


def test_what_can_hurt_is_said_where_it_is_done() -> None:
    """Common practice, no source: the crank by hand alone, out of gear; no flame over oil."""
    for stage in STAGES:
        words = " ".join(stage.do)
        cautions = " ".join(each.text for each in stage.cautions)
        if stage.works == "sweep":
            assert "never by the starter" in cautions
        if "urn the crank by hand" in words and stage.works != "sweep":
            assert re.search("ut of gear[^.]*[.,] ?[Tt]urn the crank by hand", words)
    tried = list(BY_NAME["dowels-out"].seized)
    heat = next(place for place, step in enumerate(tried) if step.startswith("Heat"))
    assert "Oil wiped off" in tried[heat - 1]
    assert "a maker's other mark counts" in " ".join(BY_NAME["dowels"].do)
