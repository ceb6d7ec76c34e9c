"""Samples of batches: drawn at random from the bells that wait, by a seed that is kept.

A sample's lot is the bells of its batch that nobody has decided on. It is kept whole, in its order,
so that anyone can draw the sample again. It is judged once; where it is accepted, the bells of the
lot that were not drawn may be released on its evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, insert, select

from kitwright.books import bulk, rows, standing
from kitwright.books.entries import Entry, one_of, whole, words
from kitwright.books.tables import (
    batch,
    bell,
    bell_now,
    decision,
    inspection,
    sample,
    sample_bell,
    sample_verdict,
)
from kitwright.books.tables.samples import VERDICTS
from kitwright.books.transactions import all_or_nothing
from kitwright.calc.quality.random_sample import draw
from kitwright.errors import InputError, MissingError, MoveError


def rule_of(n: int, c: int) -> str:
    """The rule by which a bell of an accepted sample's lot is released.

    >>> rule_of(8, 0)
    'by sample: n = 8, c = 0'
    """
    return f"by sample: n = {n}, c = {c}"


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One sample: accept its lot when at most `c` of its `n` bells are bad."""

    id: int
    batch_id: int
    number: int
    n: int
    c: int
    seed: int
    plan: str
    """Where n and c come from, in words."""
    happened: datetime
    recorded: datetime
    who: str
    verdict: str | None
    found: int | None
    """Bad bells in the sample, once it is judged."""
    judged: datetime | None
    judged_by: str | None

    @property
    def rule(self) -> str:
        """The rule that a release on its evidence names."""
        return rule_of(self.n, self.c)

    @property
    def named(self) -> str:
        """How a line to a person names it."""
        return f"sample {self.number}"


@dataclass(frozen=True, kw_only=True)
class LotBell:
    """One bell of a sample's lot."""

    bell_id: int
    serial: str
    place: int
    """In the order that the sample was drawn from, from 1."""
    drawn: bool


def waiting(connection: Connection, batch_id: int) -> list[standing.Standing]:
    """The bells of a batch that nobody has decided on yet, by serial: the lot of a sample."""
    return standing.where(
        connection,
        bell_now.c.batch_id == rows.key_of(batch_id),
        bell_now.c.state == "made",
        bell_now.c.decisions == 0,
    )


@all_or_nothing
def draw_sample(
    connection: Connection, batch_id: int, *, n: int, c: int, seed: int, plan: str, entry: Entry
) -> int:
    """Draw a sample from the bells of a batch that wait; give its number in the books.

    Raises
    ------
    MissingError
        No such batch.
    InputError
        A plan or a seed that cannot be, or one that would measure every bell anyway.
    MoveError
        A sample of this batch waits for its verdict, or was rejected: then all are measured.
    """
    named = f"batch {locked(connection, batch_id)}"
    earlier = samples_of(connection, batch_id)
    if any(each.verdict is None for each in earlier):
        raise MoveError(named, f"{earlier[-1].named} has no verdict yet", "judge it first")
    if any(each.verdict == "reject" for each in earlier):
        raise MoveError(named, "a sample of it was rejected", "measure every bell")
    lot = waiting(connection, batch_id)
    whole(n, where="n", least=1)
    whole(c, where="c")
    if n >= len(lot):
        raise InputError(
            "n", f"{n} of the {len(lot)} bells that wait", "measure every bell, and draw no sample"
        )
    if c >= n:
        raise InputError("c", f"{c} bad allowed of {n}", f"give 0 to {n - 1}")
    serials = [each.serial for each in lot]
    chosen = set(draw(serials, n, seed=seed))
    number = rows.add(
        connection,
        sample,
        batch_id=batch_id,
        number=len(earlier) + 1,
        n=n,
        c=c,
        seed=seed,
        plan=words(plan, where="plan"),
        **entry.line,
    )
    bulk.insert(
        connection,
        sample_bell,
        {
            "sample_id": [number] * len(lot),
            "bell_id": [each.bell_id for each in lot],
            "place": list(range(1, len(lot) + 1)),
            "drawn": [int(serial in chosen) for serial in serials],
        },
    )
    return number


@all_or_nothing
def give_verdict(
    connection: Connection, sample_id: int, verdict: str, *, found: int, entry: Entry
) -> None:
    """Write down what was found in a sample, and what follows for its lot.

    Raises
    ------
    MissingError, InputError
        No such sample; a verdict that its numbers do not give.
    MoveError
        It was judged before.
    """
    one = get_sample(connection, sample_id)
    locked(connection, one.batch_id)
    one = get_sample(connection, sample_id)
    if one.verdict is not None:
        raise MoveError(one.named, f"it was judged by {one.judged_by}", "a sample is judged once")
    one_of(verdict, VERDICTS, where="verdict")
    if (verdict == "accept") != (whole(found, where="found") <= one.c):
        raise InputError(
            "verdict", f'"{verdict}" with {found} bad', f"accept at {one.c} bad or fewer"
        )
    connection.execute(
        insert(sample_verdict).values(sample_id=one.id, verdict=verdict, found=found, **entry.line)
    )


def get_sample(connection: Connection, sample_id: int) -> Sample:
    """The sample of this number in the books."""
    found = _samples(connection, sample.c.id == rows.key_of(sample_id))
    if not found:
        raise MissingError("sample", f"there is no sample number {sample_id}")
    return found[0]


def samples_of(connection: Connection, batch_id: int) -> list[Sample]:
    """Every sample of a batch, in the order drawn."""
    return _samples(connection, sample.c.batch_id == rows.key_of(batch_id))


def lot_of(connection: Connection, sample_id: int) -> list[LotBell]:
    """The lot that a sample was drawn from, in its order."""
    query = (
        select(
            sample_bell.c.bell_id,
            bell.c.serial,
            sample_bell.c.place,
            sample_bell.c.drawn,
        )
        .join(bell, bell.c.id == sample_bell.c.bell_id)
        .where(sample_bell.c.sample_id == rows.key_of(sample_id))
        .order_by(sample_bell.c.place)
    )
    return [
        LotBell(bell_id=one.bell_id, serial=one.serial, place=one.place, drawn=bool(one.drawn))
        for one in connection.execute(query).all()
    ]


def drawn_again(connection: Connection, sample_id: int) -> list[str]:
    """The sample's serials, drawn once more from the lot and the seed that are kept."""
    one = get_sample(connection, sample_id)
    return draw([each.serial for each in lot_of(connection, sample_id)], one.n, seed=one.seed)


def accepted_for(connection: Connection, bell_ids: Sequence[int]) -> dict[int, Sample]:
    """Bell → the accepted sample on whose evidence it may be released.

    Bells that were drawn for it, or were ever measured, are left out: their own measurement counts.
    """
    measured = select(inspection.c.bell_id).where(
        bulk.among(connection, inspection.c.bell_id, list(bell_ids))
    )
    query = (
        select(sample_bell.c.bell_id, sample_bell.c.sample_id)
        .join(sample_verdict, sample_verdict.c.sample_id == sample_bell.c.sample_id)
        .where(
            bulk.among(connection, sample_bell.c.bell_id, list(bell_ids)),
            sample_bell.c.drawn == 0,
            sample_bell.c.bell_id.not_in(measured),
            sample_verdict.c.verdict == "accept",
        )
    )
    found = {row.bell_id: row.sample_id for row in connection.execute(query).all()}
    known = {
        each.id: each
        for each in _samples(
            connection, bulk.among(connection, sample.c.id, sorted(set(found.values())))
        )
    }
    return {bell_id: known[sample_id] for bell_id, sample_id in found.items()}


def outcomes(connection: Connection, sample_id: int) -> dict[str, str | None]:
    """Serial of each drawn bell → what its measurements came to since.

    "release", "hold" or "reject" by an inspection; a bell that was ever rejected stays rejected
    here, whatever a rework made of it. None where it is not measured yet.
    """
    one = get_sample(connection, sample_id)
    query = (
        select(bell.c.serial, decision.c.kind)
        .join(sample_bell, sample_bell.c.bell_id == bell.c.id)
        .outerjoin(
            decision,
            (decision.c.bell_id == bell.c.id)
            & decision.c.kind.in_(("release", "hold", "reject"))
            & decision.c.inspection_id.is_not(None)
            & (decision.c.recorded >= one.recorded),
        )
        .where(sample_bell.c.sample_id == one.id, sample_bell.c.drawn == 1)
        .order_by(sample_bell.c.place, decision.c.number)
    )
    found: dict[str, str | None] = {}
    for serial, kind in connection.execute(query).all():
        found[serial] = "reject" if found.get(serial) == "reject" else kind
    return found


def _samples(connection: Connection, *conditions: ColumnElement[bool]) -> list[Sample]:
    query = (
        select(
            sample,
            sample_verdict.c.verdict,
            sample_verdict.c.found,
            sample_verdict.c.recorded.label("judged"),
            sample_verdict.c.who.label("judged_by"),
        )
        .outerjoin(sample_verdict, sample_verdict.c.sample_id == sample.c.id)
        .where(*conditions)
        .order_by(sample.c.number, sample.c.id)
    )
    return rows.read(connection, query, Sample)


def locked(connection: Connection, batch_id: int) -> str:
    """The batch's label; who draws, hands in or judges a sample waits here in turn."""
    query = (
        select(batch.c.label)
        .where(batch.c.id == rows.key_of(batch_id))
        .with_for_update(key_share=True)
    )
    label = connection.execute(query).scalar_one_or_none()
    if label is None:
        raise MissingError("batch", f"there is no batch number {batch_id}")
    return str(label)
