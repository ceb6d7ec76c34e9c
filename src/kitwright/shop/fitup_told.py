"""What was written down at a fit-up, told in a line: for a bell's life, the terminal, the page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from kitwright.books import fitup_talk
from kitwright.books.fitup_talk import Note, Record
from kitwright.books.fitups import ENDED, FitUpStep, without
from kitwright.shop import dowels_in, pilot_engagement
from kitwright.shop.fitup_stages import BY_NAME
from kitwright.shop.fitup_verdicts import pilot_answers, verdict_of
from kitwright.units import Lead, say_length
from kitwright.worksheets.centring.sweep_case import SweepAnswer
from kitwright.worksheets.declaration import load
from kitwright.worksheets.depth.release_gap_case import ReleaseGapAnswer


@dataclass(frozen=True, kw_only=True)
class Told:
    """One line of what happened: when, by whom, and what."""

    when: datetime
    who: str
    what: str
    ends: bool = False
    """Whether it ended the fit-up."""


def sentence(record: Record, lead: Lead) -> str:
    """What the worksheet behind a record answered; empty where there is none."""
    if record.worksheet == "sweep":
        return load("sweep").say(SweepAnswer.model_validate(record.answer_json), lead)
    if record.worksheet == "release-gap":
        return load("release-gap").say(ReleaseGapAnswer.model_validate(record.answer_json), lead)
    if record.worksheet == pilot_engagement.WORKSHEET:
        return pilot_engagement.say(pilot_answers(record), lead)
    return ""


def short(record: Record, lead: Lead) -> str:
    """A record in a few words: the stage, and what it came to."""
    stage, said = BY_NAME[record.stage], record.said_json
    if record.worksheet == "sweep":
        return _swept(stage.title, SweepAnswer.model_validate(record.answer_json), lead)
    if record.worksheet is not None:
        return f"{stage.title}: {verdict_of(record)}"
    if stage.works == "dowels":
        sizes = (str(said.get(f"{name}_size") or dowels_in.PLAIN) for name in "ab")
        return f"{stage.title}: a {', b '.join(sizes)}"
    if stage.works == "result":
        return f"{stage.title}: {said['outcome']}"
    return stage.title


def _swept(title: str, answer: SweepAnswer, lead: Lead) -> str:
    return f"{title}: {say_length(answer.tir_mm, lead=lead)} TIR, {answer.verdict}"


def told(steps: Sequence[FitUpStep], every: Sequence[Record], lead: Lead) -> list[Told]:
    """What counts of a fit-up's steps and records, in order; what was taken back is left out.

    A step that came with a record is told once, as that record.
    """
    records = fitup_talk.standing(every)
    kept = {each.id for each in records}
    gone = {each.send_key for each in every if each.id not in kept}
    own = {each.send_key for each in records}
    lines = [
        Told(
            when=each.happened,
            who=each.who,
            what=short(each, lead),
            ends=BY_NAME[each.stage].works == "result",
        )
        for each in records
    ]
    for step in without(steps, gone):
        if step.send_key in own:
            continue
        if step.worksheet == "sweep":
            answer = SweepAnswer.model_validate(step.answer_json)
            what = _swept("Sweep of the bore", answer, lead)
        elif step.state == "corrected" or step.state in ENDED:
            what = step.state.capitalize() + (f": {step.why}" if step.why else "")
        else:
            continue
        ends = step.state in ENDED
        lines.append(Told(when=step.happened, who=step.who, what=what, ends=ends))
    return sorted(lines, key=lambda line: line.when)


def by_day(lines: Sequence[Told]) -> Iterator[Told]:
    """The same with what one person did on one day as one line, at the time of its last."""
    days: dict[tuple[str, str], list[Told]] = defaultdict(list)
    for line in lines:
        days[line.when.date().isoformat(), line.who].append(line)
    for each in days.values():
        yield Told(when=each[-1].when, who=each[-1].who, what="; ".join(line.what for line in each))


def notes_in_words(notes: Sequence[Note]) -> str:
    """How many notes of whom: "2 notes, 1 of the fitter's"."""
    his = sum(note.side == "fitter" for note in notes)
    return f"{len(notes)} note{'' if len(notes) == 1 else 's'}, {his} of the fitter's"
