"""Type in what a fitter wrote on paper: the same way in as his page's, by whoever types it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Final

from sqlalchemy import Connection

from kitwright.books import fitup_talk, fitups
from kitwright.books.entries import Entry, moment
from kitwright.books.opening import Books
from kitwright.errors import InputError, MoveError
from kitwright.shop.fitting import UNDOES, Item, came_before, held, take_in
from kitwright.shop.fitup_course import WORDS, Course, Status, status_of
from kitwright.shop.fitup_stages import BY_NAME, STAGES, Stage
from kitwright.shop.fitups import standing_advice

OFFERED: Final[tuple[Status, ...]] = ("open", "again", "later")
"""Where a stage stands when it can be written down; else what stands is taken back first."""


def offered(course: Course, stage: Stage) -> bool:
    """Whether this stage can be typed in now."""
    return course.view.open and _can_be_typed(stage, course.status)


def next_stage(course: Course) -> Stage | None:
    """The first stage to type in; None where the fit-up has ended."""
    found = (stage for stage in STAGES if offered(course, stage))
    first = next(found, None)
    to_do = BY_NAME.get(course.next)
    return to_do if to_do is not None and offered(course, to_do) else first


def type_in(
    books: Books, fit_up_id: int, item: Item, *, who: str, day: datetime, now: datetime
) -> None:
    """Keep a stage or a note as it was written on paper; one typed in before is not kept again.

    Parameters
    ----------
    item : its `typed` is not used
    who : types it in
    day : noon of the day on which it was done, in the shop's own zone

    Raises
    ------
    InputError
        Its values cannot be used, at their fields; the day lies ahead, or before what it rests on.
    MoveError
        The fit-up has ended; the stage is written down already. Nothing is kept.
    """
    with books.writing() as connection:
        number = held(connection, fit_up_id)
        if came_before(connection, number, item):
            return
        stage = BY_NAME.get(item.stage)
        if stage is not None and UNDOES not in item.values:
            _check(connection, number, stage)
        entry = Entry(
            who=who,
            recorded=now,
            happened=_happened(connection, number, item, stage, day=day, now=now),
        )
        take_in(connection, number, item, entry)


def _can_be_typed(stage: Stage, status: Mapping[str, Status]) -> bool:
    return stage.works != "verdict" and status[stage.name] in OFFERED


def _check(connection: Connection, fit_up_id: int, stage: Stage) -> None:
    taken = fitups.standing_steps_of(connection, fit_up_id)
    records = fitup_talk.records_of(connection, fit_up_id)
    if taken and taken[-1].state in fitups.ENDED:
        return  # refused with its own words
    status = status_of(taken, standing_advice(taken), records, ended=False)
    if not _can_be_typed(stage, status):
        raise MoveError(
            "stage", f"“{stage.title}” stands at: {WORDS[status[stage.name]]}", "take it back first"
        )


def _happened(
    connection: Connection,
    fit_up_id: int,
    item: Item,
    stage: Stage | None,
    *,
    day: datetime,
    now: datetime,
) -> datetime:
    """The day's noon, or as soon after it as what it rests on and the clock allow that day."""
    at, until = moment(day, where="day"), moment(now, where="now")
    steps = fitups.steps_of(connection, fit_up_id)
    rests = stage is not None and (
        UNDOES in item.values or stage.works in ("dowels", "result") or stage.surface == "bore"
    )
    after = steps[-1] if rests else steps[0]

    def date(time: datetime) -> str:
        return time.astimezone(day.tzinfo).date().isoformat()

    if date(at) > date(until):
        raise InputError("day", f"{date(at)} lies ahead", "give the day on which it was done")
    if date(at) < date(after.happened):
        raise InputError(
            "day",
            f"{date(at)} is before its step “{after.state}”, {date(after.happened)}",
            "give the day on which it was done",
        )
    return min(max(at, after.happened), until)
