"""Every fit-up by whose turn it is: which wait for the shop, which for the fitter, which ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from sqlalchemy import Connection

from kitwright.books import bulk, fitup_talk, fitups, standing
from kitwright.books.fitup_talk import Note, Record
from kitwright.books.fitups import FitUp, FitUpStep
from kitwright.books.opening import Books
from kitwright.books.tables import bell_now
from kitwright.shop.fitup_course import TO_DO, Status, status_of
from kitwright.shop.fitup_stages import BY_NAME, STAGES
from kitwright.shop.fitups import standing_advice

Turn = Literal["shop", "fitter", "ended"]

TURNS: Final[tuple[Turn, ...]] = ("shop", "fitter", "ended")

_SHORT: Final = 120
_BY_STATE: Final[Mapping[str, str]] = {
    "opened": "the first sweep",
    "measuring": "give advice",
    "advice": "hear how it went",
    "corrected": "the second sweep",
}


@dataclass(frozen=True, kw_only=True)
class Watched:
    """A fit-up: whose turn it is and why, where its fitter is, what was heard last and when."""

    fit_up: FitUp
    turn: Turn
    why: str
    """What the shop is asked; empty where it is not its turn."""
    now: str
    """Where the fitter is; empty where the fit-up has ended."""
    heard: datetime
    said: str
    """What was heard last, in a few words."""

    @property
    def asked(self) -> str:
        """What is waited for, of whom."""
        return self.why or self.now


def watch(books: Books) -> list[Watched]:
    """Every fit-up: those that wait for the shop first, longest waiting first; the others newest
    first."""
    with books.reading() as connection:
        return watched(connection)


def watch_one(books: Books, fit_up_id: int) -> Watched:
    """The same of one fit-up."""
    with books.reading() as connection:
        found = fitups.get_fit_up(connection, fit_up_id)
        return watched(connection, fitups.fit_ups_of(connection, found.serial), fit_up_id)[0]


def watched(
    connection: Connection, every: Sequence[FitUp] | None = None, only: int | None = None
) -> list[Watched]:
    """`watch` as a part of a transaction that is under way; asks as often for many as for few.

    Parameters
    ----------
    every : the fit-ups to look at, with all others of their bells; all of them where left out
    only : the one of these to give
    """
    every = fitups.fit_ups(connection) if every is None else every
    under_way = [each.id for each in every if each.state not in fitups.ENDED]
    ended = [each.id for each in every if each.state in fitups.ENDED]
    ends = {number: [step] for number, step in fitups.newest_steps(connection, ended).items()}
    steps = {**ends, **fitups.steps_of_many(connection, under_way)}
    records = fitup_talk.all_records_of_many(connection, under_way)
    notes = fitup_talk.newest_notes(connection)
    failed = [each.bell_id for each in every if each.state == "failed"]
    among = bulk.among(connection, bell_now.c.bell_id, failed)
    away = {bell.bell_id for bell in standing.where(connection, among) if bell.state == "shipped"}
    newest = {each.bell_id: each.id for each in every}
    found = [
        _watched(
            each,
            steps[each.id],
            records.get(each.id, []),
            notes.get(each.id),
            unsettled=each.bell_id in away and newest[each.bell_id] == each.id,
        )
        for each in every
        if only in (None, each.id)
    ]
    waits = sorted((each for each in found if each.turn == "shop"), key=lambda one: one.heard)
    rest = sorted(
        (each for each in found if each.turn != "shop"), key=lambda one: one.heard, reverse=True
    )
    return [*waits, *sorted(rest, key=lambda one: TURNS.index(one.turn))]


def _watched(
    found: FitUp,
    steps: Sequence[FitUpStep],
    every: Sequence[Record],
    note: Note | None,
    *,
    unsettled: bool,
) -> Watched:
    """`unsettled` says of one that failed that nothing has become of its bell since."""
    open_still = found.state not in fitups.ENDED
    status: Mapping[str, Status] = {}
    if open_still:
        gone = {each.undoes_id for each in every}
        keys = {each.send_key for each in every if each.id in gone}
        taken = fitups.without(steps, keys)
        records = fitup_talk.standing(every)
        status = status_of(taken, standing_advice(taken), records, ended=False)
    last = _last(steps, every)
    answered = note is not None and note.side == "shop" and note.recorded >= last.recorded
    why = _asked(found, steps[-1], status, note, answered=answered, unsettled=unsettled)
    heard, said = _heard(last, note)
    return Watched(
        fit_up=found,
        turn="shop" if why else "fitter" if open_still else "ended",
        why=why,
        now=_now(found, status, every),
        heard=heard,
        said=said,
    )


def _now(found: FitUp, status: Mapping[str, Status], every: Sequence[Record]) -> str:
    """By what he sent of its steps; without any by what the shop wrote down for him."""
    if not every:
        return _BY_STATE.get(found.state, "")
    if not status:
        return ""
    following = next((name for name, each in status.items() if each in TO_DO), "result")
    done = sum(each in ("done", "not needed") for each in status.values())
    return f"at “{BY_NAME[following].title}”, {done} of {len(STAGES)} steps done"


def _last(steps: Sequence[FitUpStep], every: Sequence[Record]) -> FitUpStep | Record:
    """What was written down last, be it a step or a record; of both at once the record."""
    lines: list[FitUpStep | Record] = [*steps, *every]
    return sorted(lines, key=lambda line: line.recorded)[-1]  # stable


def _asked(
    found: FitUp,
    last: FitUpStep,
    status: Mapping[str, Status],
    note: Note | None,
    *,
    answered: bool,
    unsettled: bool,
) -> str:
    if note is not None and note.side == "fitter":
        return f"answer the fitter: “{_few(note.said)}”"
    if answered:
        return ""
    if found.state == "failed" and unsettled:
        return f"it failed: {_few(last.why or 'no reason given')}"
    stopped = [name for name, each in status.items() if each == "stop"]
    if stopped:
        return f"stopped at “{BY_NAME[stopped[0]].title}”: tell the fitter how to go on"
    return ""


def _heard(last: FitUpStep | Record, note: Note | None) -> tuple[datetime, str]:
    if note is not None and note.recorded > last.recorded:
        return note.happened, f"a note by {note.who}"
    if isinstance(last, FitUpStep):
        return last.happened, f"{last.state}, {last.who}"
    title = BY_NAME[last.stage].title
    back = ", taken back" if last.undoes_id is not None else ""
    return last.happened, f"{title}{back}, {last.who}"


def _few(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= _SHORT else f"{line[: _SHORT - 1].rstrip()}…"


def of_turn(found: Sequence[Watched], turn: Turn) -> list[Watched]:
    """Those whose turn it is."""
    return [each for each in found if each.turn == turn]


def version_of_all(books: Books) -> str:
    """A mark that changes whenever anything may have changed in the list."""
    with books.reading() as connection:
        return ".".join(map(str, fitup_talk.newest_of_all(connection)))
