"""Where a fit-up stands: which stages are done, which one is next, what is in the way."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.books import conversions, fitup_talk
from kitwright.books.fitup_talk import Note, Record
from kitwright.books.fitups import FitUpStep
from kitwright.books.opening import Books
from kitwright.calc.quality.conformity import Verdict
from kitwright.shop import dowels_in
from kitwright.shop.fitting import CENTRING
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitup_verdicts import newest, verdicts
from kitwright.shop.fitups import NOT_KNOWN, Advice, FitUpView, view
from kitwright.worksheets.centring.sweep_said import doubted

Status = Literal["open", "again", "stop", "done", "later", "not needed"]
"""open: to be done; again: done, but not well enough; stop: call the shop; later: only if a sweep
asks for it; not needed: the bell stays as it is."""

TO_DO: Final = ("open", "again", "stop")

WORDS: Final[Mapping[Status, str]] = {
    "open": "to do",
    "again": "do it again",
    "stop": "stop and call",
    "done": "done",
    "later": "if the sweep asks for it",
    "not needed": "not needed",
}


@dataclass(frozen=True, kw_only=True)
class Course:
    """A fit-up as its fitter sees it. `records` are those that stand, `every` all of them."""

    view: FitUpView
    records: tuple[Record, ...]
    every: tuple[Record, ...]
    notes: tuple[Note, ...]
    status: Mapping[str, Status]

    @property
    def next(self) -> str:
        """The stage to do next; empty when the fit-up has ended."""
        if not self.view.open:
            return ""
        return next((stage.name for stage in STAGES if self.status[stage.name] in TO_DO), "result")

    def record(self, stage: str) -> Record | None:
        """The newest record of a stage that stands."""
        return newest(self.records, stage)

    @property
    def may_take_back(self) -> frozenset[str]:
        """Send keys of the records that may be taken back now."""
        if not self.view.open:
            return frozenset()
        return frozenset(_not_rested_on(self.records))


def _not_rested_on(records: Sequence[Record]) -> list[str]:
    """Of stages that rest on each other only the newest record; of any other each one."""
    chain = [record for record in records if record.stage in CENTRING]
    return [
        record.send_key
        for record in records
        if record.stage not in CENTRING or record.id == chain[-1].id
    ]


def course_of(books: Books, fit_up_id: int) -> Course:
    """Everything that a fitter's page shows of a fit-up."""
    found = view(books, fit_up_id)
    with books.reading() as connection:
        records = tuple(fitup_talk.records_of(connection, fit_up_id))
        every = tuple(fitup_talk.all_records_of(connection, fit_up_id))
        notes = tuple(fitup_talk.notes_of(connection, fit_up_id))
    return Course(
        view=found,
        records=records,
        every=every,
        notes=notes,
        status=status_of(found.standing, found.advice, records, ended=not found.open),
    )


def version_of(books: Books, fit_up_id: int) -> str:
    """A mark that changes with every step, record and note of a fit-up, and with its limits."""
    with books.reading() as connection:
        conversion = conversions.of_fit_up(connection, fit_up_id)
        counts = fitup_talk.counts_of(connection, fit_up_id)
    limits = hashlib.sha256(repr(conversion).encode()).hexdigest()[:6]
    return ".".join([*map(str, counts), limits])


def status_of(
    steps: Sequence[FitUpStep],
    advice: Advice | None,
    records: Sequence[Record],
    *,
    ended: bool,
) -> dict[str, Status]:
    """Stage → where it stands, from what stands in the books."""
    status: dict[str, Status] = {
        stage.name: "open" if newest(records, stage.name) is None else "done" for stage in STAGES
    }
    status |= _centring(steps, advice)
    out = newest(records, "dowels-out")
    if out is not None and {"hole", "seized"} & {out.said_json.get(name) for name in "ab"}:
        status["dowels-out"] = "stop"
    status |= {name: _BY_VERDICT[verdict] for name, verdict in verdicts(records)}
    if status["face"] == "stop" and status["verdict"] == "done":
        status["verdict"] = "stop"
    if ended:
        status["result"] = "done"
    return status


_BY_VERDICT: Final[Mapping[Verdict, Status]] = {
    "within": "done",
    "outside": "stop",
    "too close to call": "again",
}


def _centring(steps: Sequence[FitUpStep], advice: Advice | None) -> dict[str, Status]:
    """The stages from the first sweep of the bore to the last, by what the newest one says."""
    sweeps = [step.number for step in steps if step.worksheet == "sweep"]
    turned = [step.number for step in steps if step.state == "corrected"]
    if not sweeps or advice is None:
        return {"bore": "open", "verdict": "later", "dowels": "later", "bore-again": "later"}
    if turned and turned[-1] > sweeps[-1]:
        return {"bore": "done", "verdict": "later", "dowels": "done", "bore-again": "open"}
    again = "bore-again" if turned else "bore"
    used: Status = "done" if turned else "not needed"
    settled: dict[str, Status] = {
        "bore": "done", "verdict": "done", "dowels": used, "bore-again": used
    }  # fmt: skip
    answer = advice.sweep_answer
    if doubted(answer) or answer.verdict == "too close to call":
        rest: Status = "done" if turned else "later"
        return {**settled, "verdict": "later", "dowels": rest, "bore-again": rest, again: "again"}
    if answer.verdict == "within":
        return settled
    if can_turn(advice):
        return {**settled, "dowels": "again" if turned else "open", "bore-again": "later"}
    return {**settled, "verdict": "stop", "dowels": used, "bore-again": used}


def can_turn(advice: Advice) -> bool:
    """Whether dowels are advised, or plain ones are to be put in first."""
    if advice.dowels_case is None or advice.dowels_answer is None:
        return advice.without == NOT_KNOWN
    return bool(dowels_in.as_advised(advice.dowels_case, advice.dowels_answer))
