"""Take in what a fitter's page sends: one item at a time, each once, in the order it arrives.

An item is a stage with what was typed there, a note, or the taking back of an earlier item. Where a
worksheet stands behind the stage it is worked here; record, worksheet and the fit-up's own step are
kept in one transaction, or nothing is.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, select

from kitwright.books import fitup_talk, fitups, links
from kitwright.books.entries import Entry, moment, plain_json
from kitwright.books.opening import Books
from kitwright.books.tables import fit_up
from kitwright.errors import InputError, MoveError
from kitwright.shop import pilot_engagement, send_keys
from kitwright.shop.dowels_in import FIELDS as DOWEL_FIELDS
from kitwright.shop.fitup_fields import read_fields, read_readings, unit_of
from kitwright.shop.fitup_stages import BY_NAME, Stage
from kitwright.shop.fitup_verdicts import verdicts
from kitwright.shop.fitups import DRAWER, conversion_of, correct_in, standing_advice, sweep_in
from kitwright.worksheets.centring.sweep_case import SweepCase
from kitwright.worksheets.declaration import load
from kitwright.worksheets.depth.release_gap_case import ReleaseGapCase
from kitwright.worksheets.fields import Answer
from kitwright.worksheets.reading import read

NOTE: Final = "note"
UNDOES: Final = "undoes"
"""What an item says instead of values when it takes another back: that one's send key."""

CENTRING: Final = ("bore", "dowels", "bore-again")
"""Stages of which each rests on the one before: the newest must be taken back first."""

MOST_SENT: Final = 1000
"""Records and notes of one fit-up; a link in the wrong hands cannot fill the books."""

MOST_LETTERS: Final = 40_000
"""Of one item as JSON: twice what the most readings that a sweep takes come to."""

GRADUATIONS: Final = {
    "thou": ("0.1", "0.5", "1"),
    "mm": ("0.001", "0.002", "0.01", "0.02", "0.05"),
}

_BORES_LIMIT: Final = (
    "limit: the bore's, taken for the face too (common practice, no source); the makers' figures "
    "rule"
)
_BELLS_DEPTH: Final = (
    "plane_distance: the depth of the bell; the pilot bearing is taken to stand at the block face"
)


@dataclass(frozen=True, kw_only=True)
class Item:
    """What a page sends once. `typed` is when it was typed, by the phone's clock."""

    send_key: str
    stage: str
    values: Mapping[str, Any]
    typed: datetime | None = None


def receive(books: Books, link: links.Link, item: Item, *, now: datetime) -> None:
    """Keep an item; one that came before under its key is not kept twice.

    Raises
    ------
    InputError
        Its values cannot be used, at their fields; its key is of another link, or something else
        was sent with it. Nothing is kept.
    MoveError
        The fit-up has ended; what was to be taken back no longer can be; far too much was sent.
    """
    assert link.fit_up_id is not None
    with books.writing() as connection:
        number = held(connection, link.fit_up_id)
        tokens = [each.token for each in links.of_fit_up(connection, number)]
        send_keys.check(item.send_key, tokens)
        take_in(connection, number, item, _entry(connection, number, item, now))


def take_in(connection: Connection, number: int, item: Item, entry: Entry) -> None:
    """`receive` as a part of a transaction that holds the fit-up, for an item from any hand."""
    if came_before(connection, number, item):
        return
    written = json.dumps(plain_json(item.values, where="values"), ensure_ascii=False)
    if len(written) > MOST_LETTERS:
        raise InputError("values", f"more than {MOST_LETTERS} letters", "write less")
    _, *sent = fitup_talk.counts_of(connection, number)
    if sum(sent) >= MOST_SENT:
        raise MoveError(f"fit-up {number}", f"{MOST_SENT} things were sent", "call the shop")
    if item.stage == NOTE:
        _note(connection, number, item, entry)
        return
    state = fitups.get_fit_up(connection, number).state
    if state in fitups.ENDED:
        raise MoveError(f"fit-up {number}", f"it has {state}", "write a note to the shop")
    stage = BY_NAME.get(item.stage)
    if stage is None:
        raise InputError("stage", f'"{item.stage[:40]}" is none', "load the page again")
    if UNDOES in item.values:
        _take_back(connection, number, item, entry)
    else:
        _keep(connection, number, stage, item, entry)


def held(connection: Connection, fit_up_id: int) -> int:
    """The fit-up, held so that who sends at the same moment waits here."""
    connection.execute(select(fit_up.c.id).where(fit_up.c.id == fit_up_id).with_for_update())
    return fitups.get_fit_up(connection, fit_up_id).id


def came_before(connection: Connection, fit_up_id: int, item: Item) -> bool:
    """Whether this very item was kept before; another one under its key is refused."""
    kept: list[tuple[str, Any]] = [
        (record.stage, record.said_json)
        for record in fitup_talk.all_records_of(connection, fit_up_id)
        if record.send_key == item.send_key
    ]
    kept += [
        (NOTE, {"said": note.said})
        for note in fitup_talk.notes_of(connection, fit_up_id)
        if note.send_key == item.send_key
    ]
    if not kept:
        return False
    values = plain_json(item.values, where="values")
    if item.stage == NOTE:
        values = {"said": _said(item)}
    if kept[0] != (item.stage, values):
        raise InputError("send_key", "something else was sent with it", "send it again")
    return True


def _entry(connection: Connection, fit_up_id: int, item: Item, now: datetime) -> Entry:
    """By the fitter, when he typed it; a phone whose clock is wrong cannot upset the order."""
    last = fitups.steps_of(connection, fit_up_id)[-1].happened
    typed = now if item.typed is None else moment(item.typed, where="typed_at")
    who = fitups.get_fit_up(connection, fit_up_id).fitter
    recorded = moment(now, where="now")
    return Entry(who=who, recorded=recorded, happened=min(max(typed, last), recorded))


def _note(connection: Connection, fit_up_id: int, item: Item, entry: Entry) -> None:
    fitup_talk.add_note(
        connection, fit_up_id, "fitter", _said(item), send_key=item.send_key, entry=entry
    )


def _said(item: Item) -> str:
    """The note with the stage at which it was written."""
    said = item.values.get("said")
    if not isinstance(said, str):
        raise InputError("note", "missing", "write what you want to know")
    said = said.strip()
    stage = BY_NAME.get(str(item.values.get("at")))
    return f"{stage.title}: {said}" if stage is not None and said else said


def _only(values: Mapping[str, Any], *known: str) -> None:
    strange = next((name for name in values if name not in known), None)
    if strange is not None:
        raise InputError(str(strange)[:40], "unknown name", "load the page again")


def _take_back(connection: Connection, fit_up_id: int, item: Item, entry: Entry) -> None:
    _only(item.values, UNDOES)
    standing = fitup_talk.records_of(connection, fit_up_id)
    wanted = [record for record in standing if record.send_key == item.values[UNDOES]]
    if not wanted or wanted[0].stage != item.stage:
        raise MoveError("record", "it is taken back already", "look again")
    if item.stage in CENTRING:
        chain = [record for record in standing if record.stage in CENTRING]
        if chain[-1].id != wanted[0].id:
            raise MoveError("record", "what came after rests on it", "take that back first")
    fitup_talk.add_record(
        connection,
        fit_up_id,
        item.stage,
        item.values,
        send_key=item.send_key,
        entry=entry,
        undoes=wanted[0].id,
    )


# ── stages ───────────────────────────────────────────────────────────────────────────────


def _keep(connection: Connection, fit_up_id: int, stage: Stage, item: Item, entry: Entry) -> None:
    worksheet: str | None = None
    answer: Mapping[str, Any] | None = None
    if stage.works == "verdict":
        raise InputError("stage", "the verdict is read, not written", "sweep again instead")
    if stage.works == "dowels":
        _dowels(connection, fit_up_id, item, entry)
    elif stage.works == "result":
        _end(connection, fit_up_id, stage, item, entry)
    elif stage.works == "sweep":
        worksheet = "sweep"
        answer = _dumped(_sweep(connection, fit_up_id, stage, item, entry))
    else:
        typed = read_fields(stage, item.values)
        if stage.name == "gap":
            worksheet = "release-gap"
            answer = _dumped(_gap(connection, fit_up_id, typed))
        elif stage.name == "pilot":
            worksheet = pilot_engagement.WORKSHEET
            found = pilot_engagement.solve(typed)
            answer = {name: _dumped(each) for name, each in found.items()}
    fitup_talk.add_record(
        connection,
        fit_up_id,
        stage.name,
        item.values,
        send_key=item.send_key,
        entry=entry,
        worksheet=worksheet,
        answer=answer,
    )


def _dumped(answer: Answer) -> dict[str, Any]:
    return answer.model_dump(mode="json")


def _sweep(
    connection: Connection, fit_up_id: int, stage: Stage, item: Item, entry: Entry
) -> Answer:
    """Solve a sweep; a sweep of the bore is a step of the fit-up and brings its advice."""
    given = sweep_as_typed(stage, item.values)
    if given.pop("together", False):
        given |= _together(connection, fit_up_id, stage, given)
    drawer = [each.strip() for each in given.pop("drawer", "").split(",") if each.strip()]
    try:
        if stage.surface == "face":
            return _face(connection, fit_up_id, given)
        return sweep_in(
            connection,
            fit_up_id,
            given,
            entry=entry,
            drawer=drawer or DRAWER,
            send_key=item.send_key,
        ).sweep_answer
    except InputError as error:
        raise _at_its_place(error, given["readings"]) from None


def _together(
    connection: Connection, fit_up_id: int, stage: Stage, given: Mapping[str, Any]
) -> dict[str, Any]:
    """The stage's earlier sweeps since dowels were turned, and this one, as one measurement."""
    sweeps: list[Any] = []
    for record in fitup_talk.records_of(connection, fit_up_id):
        if record.stage == "dowels":
            sweeps = []
        elif record.stage == stage.name and record.said_json["unit"] == given["unit"]:
            sweeps.append(read_readings(record.said_json["readings"]))
    if not sweeps:
        raise InputError("together", "there is no earlier sweep in this unit", "leave it out")
    first, *rest = [*sweeps, given["readings"]]
    return {"readings": first, "repeats": rest}


def sweep_as_typed(stage: Stage, said: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of the worksheet `sweep` in what was typed, and the drawer where it was named.

    Raises
    ------
    InputError
        Every reading, or every other field, that cannot be used.
    """
    values = dict(said)
    unit = unit_of(values)
    readings = read_readings(values.pop("readings", None))
    graduation = values.pop("graduation", None)
    if graduation not in GRADUATIONS[unit]:
        known = " or ".join(GRADUATIONS[unit])
        raise InputError("graduation", f'"{graduation}" is not known', f"choose {known}")
    return {
        "surface": stage.surface,
        "unit": unit,
        "readings": readings,
        "graduation": f"{graduation} {unit}",
        **read_fields(stage, values),
    }


def _at_its_place(error: InputError, readings: Sequence[Sequence[float]]) -> InputError:
    """The worksheet's faults where this page has them: `readings[2]` at its place on the clock."""
    problems = []
    for problem in error.problems:
        where = "drawer" if problem.where.startswith("sizes") else problem.where
        head, _, rest = where.partition("[")
        index = rest.partition("]")[0]
        if head == "readings" and index.isdigit() and int(index) < len(readings):
            where = f"reading_{readings[int(index)][0]:g}"
        problems.append(type(problem)(where, problem.given, problem.expected))
    kind = MoveError if isinstance(error, MoveError) else InputError
    return kind.of(problems)


def _face(connection: Connection, fit_up_id: int, given: dict[str, Any]) -> Answer:
    """Solve a sweep of the face, with what is known of the bell and of its bore."""
    conversion = conversion_of(connection, fitups.get_fit_up(connection, fit_up_id).serial)
    more = []
    if "limit" not in given:
        given["limit"] = f"{conversion.tir_mm!r} mm"
        more.append(_BORES_LIMIT)
    if "plane_distance" not in given:
        given["plane_distance"] = f"{conversion.depth_mm!r} mm"
        more.append(_BELLS_DEPTH)
    advice = standing_advice(fitups.standing_steps_of(connection, fit_up_id))
    if advice is not None and advice.sweep_answer.offset_mm is not None:
        bore = advice.sweep_answer
        given["bore_offset"] = f"{bore.offset_mm!r} mm"
        given["bore_offset_clock_deg"] = bore.offset_clock_deg
        given["bore_offset_u95"] = f"{bore.offset_u95_mm!r} mm"
    answer: Answer = load("sweep").solve(read(SweepCase, given))
    return answer.model_copy(update={"assumed": [*answer.assumed, *more]})


def _dowels(connection: Connection, fit_up_id: int, item: Item, entry: Entry) -> None:
    unit_of(item.values)
    _only(item.values, *DOWEL_FIELDS, "unit")
    steps = fitups.standing_steps_of(connection, fit_up_id)
    if standing_advice(steps) is None:
        raise MoveError("dowels", "no sweep of the bore stands", "sweep the bore first")
    given = {name: item.values.get(name) for name in DOWEL_FIELDS}
    correct_in(connection, fit_up_id, why="", entry=entry, dowels=given, send_key=item.send_key)


def _gap(connection: Connection, fit_up_id: int, typed: Mapping[str, Any]) -> Answer:
    conversion = conversion_of(connection, fitups.get_fit_up(connection, fit_up_id).serial)
    case: dict[str, Any] = {
        "face_to_fingers": typed["face_to_fingers"],
        "face_to_bearing": typed["face_to_bearing"],
        "gap": {"low": f"{conversion.gap_low_mm!r} mm", "high": f"{conversion.gap_high_mm!r} mm"},
        "shims": [{"thickness": each} for each in typed.get("shims", ())],
    }
    if ("straightedge" in typed) != ("over" in typed):
        name = "over" if "straightedge" in typed else "straightedge"
        raise InputError(name, "missing", "give both, or neither")
    if "straightedge" in typed:
        case["straightedge"] = {"thickness": typed["straightedge"], "over": typed["over"]}
    answer: Answer = load("release-gap").solve(read(ReleaseGapCase, case))
    return answer


def _end(connection: Connection, fit_up_id: int, stage: Stage, item: Item, entry: Entry) -> None:
    typed = read_fields(stage, item.values)
    why, to = typed.get("why"), typed["outcome"]
    if to == "failed" and not why:
        raise InputError("why", "missing", "say what went wrong")
    if to == "succeeded":
        advice = standing_advice(fitups.standing_steps_of(connection, fit_up_id))
        if advice is None:
            raise MoveError("outcome", "no sweep of the bore stands", "sweep the bore first")
        verdict = advice.sweep_answer.verdict
        if verdict != "within" and not why:
            raise InputError("why", "missing", f"the last sweep is {verdict}: say why it may stay")
        for name, verdict in verdicts(fitup_talk.records_of(connection, fit_up_id)):
            if verdict != "within" and not why:
                said = f"“{BY_NAME[name].title}” is {verdict}: say why it may stay"
                raise InputError("why", "missing", said)
    fitups.take_step(connection, fit_up_id, to, entry, why=why, send_key=item.send_key)
