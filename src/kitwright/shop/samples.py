"""A batch judged by a sample: choose a plan, draw, measure what was drawn, and give the verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from kitwright.books import decisions, samples, stock
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.errors import InputError, MoveError
from kitwright.shop import batches
from kitwright.worksheets.declaration import Caution, load
from kitwright.worksheets.quality.sampling_plan_case import SamplingPlanAnswer
from kitwright.worksheets.reading import read
from kitwright.worksheets.showing import say_chance

WORKSHEET: Final = "sampling-plan"
BAD: Final = (
    "A drawn bell that its measurement does not release counts as bad, and so does one that is too "
    "close to call: measure it better first. One that was rejected stays bad after a rework."
)
"""How the bells of a sample are counted."""


@dataclass(frozen=True, kw_only=True)
class SampleView:
    """A sample with its lot, and what its bells came to so far."""

    sample: samples.Sample
    lot: tuple[samples.LotBell, ...]
    outcomes: Mapping[str, str | None]
    """Drawn serial → release, hold, reject; None while it is not measured."""

    @property
    def drawn(self) -> tuple[str, ...]:
        """The serials to measure."""
        return tuple(self.outcomes)

    @property
    def missing(self) -> tuple[str, ...]:
        """Drawn and not measured yet."""
        return tuple(serial for serial, kind in self.outcomes.items() if kind is None)

    @property
    def bad(self) -> tuple[str, ...]:
        """Measured, and not released by it."""
        return tuple(
            serial for serial, kind in self.outcomes.items() if kind not in ("release", None)
        )

    def say(self) -> str:
        """The sample in a sentence."""
        one = self.sample
        plan = f"{one.n} of {len(self.lot)} bells drawn at random (seed {one.seed})"
        allowed = f"{one.c} bad {'is' if one.c == 1 else 'are'} allowed"
        if one.verdict is not None:
            word = "Accepted" if one.verdict == "accept" else "Rejected"
            return f"{word}: {plan}, {one.found} bad, {allowed}."
        if self.missing:
            return f"{plan}, {len(self.missing)} still to be measured; {allowed}."
        return f"{plan}, all measured, {len(self.bad)} bad; {allowed}. It waits for its verdict."


def plan(asked: Mapping[str, Any], lot: int) -> SamplingPlanAnswer:
    """What a plan does with this lot: the worksheet's answer.

    `asked` is what the worksheet's case takes beside the lot: `plan`, `table`, or qualities with
    their risks.
    """
    worksheet = load(WORKSHEET)
    answer = worksheet.solve(read(worksheet.case, {**asked, "lot": lot}))
    assert isinstance(answer, SamplingPlanAnswer)
    return answer


def plan_in_words(asked: Mapping[str, Any], answer: SamplingPlanAnswer) -> str:
    """Where n and c come from."""
    if answer.table is not None:
        aql = asked["table"]["aql"]
        return (
            f"ISO 2859-1:1999, normal inspection, level II, AQL {aql:g} %, letters "
            f"{answer.table.letters}"
        )
    if "plan" in asked:
        return "the shop's own plan"
    risks = answer.risks
    told = []
    if risks.accept_quality is not None and risks.producers_risk is not None:
        told.append(
            f"{100 * risks.accept_quality:g} % bad is rejected {say_chance(risks.producers_risk)}"
        )
    if risks.reject_quality is not None and risks.consumers_risk is not None:
        told.append(
            f"{100 * risks.reject_quality:g} % bad is accepted {say_chance(risks.consumers_risk)}"
        )
    return f"the least sample with which {' and '.join(told)} of the time"


def caution() -> Caution:
    """What a sample leaves open; stands wherever one is drawn or relied on."""
    return load(WORKSHEET).cautions[0]


def draw(
    books: Books, batch_id: int, asked: Mapping[str, Any], *, seed: int, entry: Entry
) -> SampleView:
    """Draw a sample by a plan from the bells of a batch that nobody has decided on.

    Raises
    ------
    MissingError, MoveError
        No such batch; it is not back, or has a sample already that forbids another.
    InputError
        A plan that cannot be, or that takes every bell.
    """
    with books.writing() as connection:
        batch = stock.get_batch(connection, batch_id)
        if batch.state != "back":
            raise MoveError(f"batch {batch.label}", f"it is {batch.state}", "sample what is back")
        waiting = samples.waiting(connection, batch_id)
        if len(waiting) < 2:
            raise MoveError(
                f"batch {batch.label}", f"{len(waiting)} of its bells wait", "measure every bell"
            )
        answer = plan(asked, len(waiting))
        number = samples.draw_sample(
            connection,
            batch_id,
            n=answer.n,
            c=answer.c,
            seed=seed,
            plan=plan_in_words(asked, answer),
            entry=entry,
        )
        return view_in(connection, samples.get_sample(connection, number))


def judge(books: Books, sample_id: int, entry: Entry) -> SampleView:
    """Give a sample its verdict; where it is accepted, release the bells that it left out.

    Raises
    ------
    MissingError
        No such sample.
    MoveError
        It was judged before; some of its bells are not measured: a line each.
    """
    with books.writing() as connection:
        samples.locked(connection, samples.get_sample(connection, sample_id).batch_id)
        seen = view_in(connection, samples.get_sample(connection, sample_id))
        if seen.sample.verdict is not None:
            raise MoveError(
                seen.sample.named, f"it was judged by {seen.sample.judged_by}", "it stands"
            )
        if seen.missing:
            raise MoveError(
                seen.sample.named,
                f"not measured yet: {', '.join(seen.missing)}",
                "import their inspection",
            )
        found = len(seen.bad)
        verdict = "accept" if found <= seen.sample.c else "reject"
        samples.give_verdict(connection, sample_id, verdict, found=found, entry=entry)
        if verdict == "accept":
            _release(connection, seen, entry)
        return view_in(connection, samples.get_sample(connection, sample_id))


def _release(connection: Connection, seen: SampleView, entry: Entry) -> None:
    """Release those of the lot that wait and were not measured; close the batch if none is left.

    A bell whose own measurement came in and waits for the shop is decided by that.
    """
    still = {bell.bell_id for bell in samples.waiting(connection, seen.sample.batch_id)}
    left_out = [bell for bell in seen.lot if not bell.drawn and bell.bell_id in still]
    free = samples.accepted_for(connection, [bell.bell_id for bell in left_out])
    rest = [bell.serial for bell in left_out if bell.bell_id in free]
    decisions.decide_many(
        connection,
        rest,
        "release",
        entry,
        rule=seen.sample.rule,
        why=f"on the evidence of {seen.sample.named}, not itself measured",
    )
    batch = stock.get_batch(connection, seen.sample.batch_id)
    if batch.state == "back" and not batches.waiting(connection, batch.id):
        stock.close_judgement(connection, batch.id, entry)


def view(books: Books, sample_id: int) -> SampleView:
    """A sample as its page shows it."""
    with books.reading() as connection:
        return view_in(connection, samples.get_sample(connection, sample_id))


def views(books: Books, batch_id: int) -> list[SampleView]:
    """Every sample of a batch, in the order drawn."""
    with books.reading() as connection:
        return [view_in(connection, each) for each in samples.samples_of(connection, batch_id)]


def open_sample(found: list[SampleView]) -> SampleView | None:
    """The one that waits for its verdict."""
    return next((each for each in found if each.sample.verdict is None), None)


def accepted(connection: Connection, bell_id: int) -> SampleView | None:
    """The sample on whose evidence a bell may be released."""
    found = samples.accepted_for(connection, [bell_id]).get(bell_id)
    return None if found is None else view_in(connection, found)


def view_in(connection: Connection, one: samples.Sample) -> SampleView:
    """A sample with its lot and outcomes, inside a transaction."""
    return SampleView(
        sample=one,
        lot=tuple(samples.lot_of(connection, one.id)),
        outcomes=samples.outcomes(connection, one.id),
    )


def asked_for(
    *, n: int | None = None, c: int | None = None, aql: float | None = None
) -> dict[str, Any]:
    """A plan as a person asks for it: n and c, or a level of the standard's tables.

    Raises
    ------
    InputError
        Neither, both, or one half of a plan.
    """
    if aql is not None:
        if n is not None or c is not None:
            raise InputError("aql", "given with a plan", "give one of them")
        return {"table": {"aql": aql}}
    if n is None:
        raise InputError("n", "missing", "give n and c, or a level of the tables (aql)")
    if c is None:
        raise InputError("c", "missing", "say how many of the sample may be bad")
    return {"plan": {"n": n, "c": c}}
