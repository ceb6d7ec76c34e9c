"""The ledger of decisions on bells: the newest says the state, none is changed or removed.

Each bell's decisions count 1, 2, 3 …, and no two may have the same number: of two who decide on
the same bell at once the first wins and the other is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Final

from sqlalchemy import Connection, select
from sqlalchemy.exc import IntegrityError

from kitwright.books import bulk, moves, rows, samples, standing
from kitwright.books.entries import Entry, each_once, reason, sentence
from kitwright.books.movements import signed, write_bell_movements
from kitwright.books.places import Place
from kitwright.books.standing import Standing
from kitwright.books.tables import bell as bell_table
from kitwright.books.tables import decision, inspection, order
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError, Problem

_KEEP_ORDER: Final = frozenset({"free", "ship", "fit", "return", "withdraw"})
"""Decisions that still speak of the order that the bell was allocated to."""
_PAIRS: Final = moves.BELL.pairs
_ENDS: Final = moves.BELL.ends


def decide(
    connection: Connection,
    serial: str,
    kind: str,
    entry: Entry,
    *,
    rule: str | None = None,
    inspection_id: int | None = None,
    order_id: int | None = None,
    fit_up_id: int | None = None,
    why: str | None = None,
    seen: int | None = None,
) -> Standing:
    """Decide on one bell; give how it stood before. As `decide_many`."""
    return decide_many(
        connection,
        [serial],
        kind,
        entry,
        rule=rule,
        inspection_ids=[inspection_id],
        order_ids=[order_id],
        fit_up_ids=[fit_up_id],
        why=why,
        seen=None if seen is None else [seen],
    )[0]


@all_or_nothing
def decide_many(
    connection: Connection,
    serials: Sequence[str],
    kinds: str | Sequence[str],
    entry: Entry,
    *,
    rule: str | None = None,
    inspection_ids: Sequence[int | None] | None = None,
    order_ids: Sequence[int | None] | None = None,
    fit_up_ids: Sequence[int | None] | None = None,
    why: str | Sequence[str | None] | None = None,
    seen: Sequence[int] | None = None,
) -> list[Standing]:
    """Decide on many bells, all or none; give how they stood before.

    A decision to ship, to take back or to scrap carries the bell along. This is the ledger: an
    order's own steps are taken by `orders`, a fit-up's by `fitups`.

    Parameters
    ----------
    serials
        Each bell once.
    kinds
        One kind of decision for all, or one a bell (`moves.BELL.kinds`).
    rule
        The rule that was applied, as the shop has it.
    inspection_ids
        The evidence: an inspection of that same bell. A bell is released without one only on an
        accepted sample of its batch, by the rule of that sample.
    order_ids
        Needed to allocate; later decisions keep the order's number by themselves.
    why
        The reason, one for all or one a bell; `moves.NEED_REASON` says where it must be.
    seen
        How many decisions there were on each bell when the person who decides looked at it; one
        that has had another since is refused.

    Raises
    ------
    MissingError
        Serials of no bell.
    InputError
        A bell listed twice, a reason that is missing, evidence that is not of this bell.
    MoveError
        A decision that the bell's state or place does not allow, or one that came second; a release
        without evidence. Every bell that it concerns has a line.
    """
    count = len(serials)
    each_once(serials, where="bell")
    bells = standing.of(connection, serials)
    kind_of = _each(kinds, count, where="kind")
    reasons = _reasons(kind_of, _each(why, count, where="why"))
    _check_allowed(bells, kind_of, _each(seen, count, where="seen"))
    orders = [
        bell.order_id if kind in _KEEP_ORDER else given
        for bell, kind, given in zip(
            bells, kind_of, _each(order_ids, count, where="order"), strict=True
        )
    ]
    _check_orders(bells, kind_of, orders)
    evidence = _each(inspection_ids, count, where="inspection")
    _check_evidence(connection, bells, evidence)
    _check_sampled(connection, bells, kind_of, evidence, rule)
    ways = _ways(connection, bells, kind_of, orders)
    if not count:
        return bells
    ranks = sorted(range(count), key=lambda index: bells[index].bell_id)  # all lock in one order

    def column(values: Sequence[Any]) -> list[Any]:
        return [values[index] for index in ranks]

    with _first_come(connection, bells, kind_of):
        bulk.insert(
            connection,
            decision,
            {
                "bell_id": column([bell.bell_id for bell in bells]),
                "number": column([bell.decisions + 1 for bell in bells]),
                "kind": column(kind_of),
                "rule": [sentence(rule, where="rule")] * count,
                "inspection_id": column(evidence),
                "order_id": column(orders),
                "fit_up_id": column(_each(fit_up_ids, count, where="fit-up")),
                **signed(entry, count),
                "reason": column(reasons),
            },
        )
    if ways:
        carried = [bells[index] for index in ways]
        write_bell_movements(connection, carried, list(ways.values()), entry)
    return bells


BY_SAMPLE: Final = "release by sample"


def kinds_of_batch(connection: Connection, batch_id: int) -> dict[int, list[str]]:
    """Bell of a batch → the kinds of its decisions, in order.

    A release that names no inspection is one on an accepted sample, told as `BY_SAMPLE`.
    """
    query = (
        select(decision.c.bell_id, decision.c.kind, decision.c.inspection_id)
        .join(bell_table, bell_table.c.id == decision.c.bell_id)
        .where(bell_table.c.batch_id == rows.key_of(batch_id))
        .order_by(decision.c.bell_id, decision.c.number)
    )
    found: dict[int, list[str]] = {}
    for bell_id, kind, evidence in connection.execute(query).all():
        sampled = kind == "release" and evidence is None
        found.setdefault(bell_id, []).append(BY_SAMPLE if sampled else kind)
    return found


def _each(given: Any, count: int, *, where: str) -> list[Any]:
    """One value a bell, from one value for all or a sequence of them."""
    if given is None or isinstance(given, str):
        return [given] * count
    values = list(given)
    if len(values) != count:
        raise InputError(where, f"{len(values)} given for {count} bells", "give one a bell")
    return values


def _reasons(kinds: Sequence[str], given: Sequence[str | None]) -> list[str | None]:
    checked: dict[tuple[str, str | None], str | None] = {}
    for kind, why in zip(kinds, given, strict=True):
        if (kind, why) not in checked:
            checked[kind, why] = (
                reason(why, where="why", needed_by=f'"{kind}"')
                if kind in moves.NEED_REASON
                else sentence(why, where="why")
            )
    return [checked[pair] for pair in zip(kinds, given, strict=True)]


def _check_allowed(
    bells: Sequence[Standing], kinds: Sequence[str], seen: Sequence[int | None]
) -> None:
    problems = []
    for bell, kind, decisions in zip(bells, kinds, seen, strict=True):
        if decisions is not None and decisions != bell.decisions:
            problems.append(_too_late(bell, kind))
        elif (bell.state, kind) not in _PAIRS:
            given, expected = moves.BELL.refusal(bell.state, kind, last=bell.last)
            problems.append(Problem(bell.named, given, expected))
        elif problem := _misplaced(bell, kind):
            problems.append(problem)
    if problems:
        raise MoveError.of(problems)


def _misplaced(bell: Standing, kind: str) -> Problem | None:
    if kind in moves.CARRIES:
        possible: frozenset[str] = frozenset(moves.CARRIES[kind][0])
    else:
        possible = moves.PLACES[_ENDS[kind]]
    if bell.place_name in possible:
        return None
    return Problem(
        bell.named,
        f'"{kind}" is refused, it is at {bell.place}',
        f"bring it there first: {' or '.join(sorted(possible))}",
    )


def _check_orders(
    bells: Sequence[Standing], kinds: Sequence[str], orders: Sequence[int | None]
) -> None:
    if problems := [
        Problem(bell.named, "no order is named", f'"{kind}" needs one')
        for bell, kind, order_id in zip(bells, kinds, orders, strict=True)
        if kind in moves.NEED_ORDER and order_id is None
    ]:
        raise InputError.of(problems)


def _check_evidence(
    connection: Connection, bells: Sequence[Standing], given: Sequence[int | None]
) -> None:
    wanted = {number: bell for number, bell in zip(given, bells, strict=True) if number is not None}
    if not wanted:
        return
    query = select(inspection.c.id, inspection.c.bell_id).where(
        bulk.among(connection, inspection.c.id, [rows.key_of(number) for number in wanted])
    )
    found = {row.id: row.bell_id for row in connection.execute(query).all()}
    if problems := [
        Problem(bell.named, f"inspection {number} is not of this bell", "name one of its own")
        for number, bell in wanted.items()
        if found.get(number) != bell.bell_id
    ]:
        raise InputError.of(problems)


def _check_sampled(
    connection: Connection,
    bells: Sequence[Standing],
    kinds: Sequence[str],
    evidence: Sequence[int | None],
    rule: str | None,
) -> None:
    """A bell that was not measured is released by an accepted sample of its batch or not at all."""
    unmeasured = [
        bell
        for bell, kind, number in zip(bells, kinds, evidence, strict=True)
        if kind == "release" and number is None
    ]
    if not unmeasured:
        return
    accepted = samples.accepted_for(connection, [bell.bell_id for bell in unmeasured])
    problems = []
    for bell in unmeasured:
        sample = accepted.get(bell.bell_id)
        if sample is None:
            problems.append(
                Problem(bell.named, "no measurement of it is named", "import its inspection")
            )
        elif rule != sample.rule:
            problems.append(
                Problem(bell.named, f'released by "{rule}"', f'name the rule "{sample.rule}"')
            )
    if problems:
        raise MoveError.of(problems)


def _ways(
    connection: Connection,
    bells: Sequence[Standing],
    kinds: Sequence[str],
    orders: Sequence[int | None],
) -> dict[int, Place]:
    """Index of each bell that is carried along → where to."""
    buyers = _buyers(
        connection, {each for each, kind in zip(orders, kinds, strict=True) if kind == "ship"}
    )
    return {
        index: _to(moves.CARRIES[kind][1], buyers.get(orders[index]))
        for index, kind in enumerate(kinds)
        if kind in moves.CARRIES and bells[index].place_name != moves.CARRIES[kind][1]
    }


def _buyers(connection: Connection, order_ids: set[int | None]) -> Mapping[int | None, int]:
    if not order_ids:
        return {}
    query = select(order.c.id, order.c.customer_id).where(order.c.id.in_(order_ids))
    return {row.id: row.customer_id for row in connection.execute(query).all()}


def _to(name: str, customer_id: int | None) -> Place:
    return Place(name, customer_id if name == "customer" else None)


@contextmanager
def _first_come(
    connection: Connection, bells: Sequence[Standing], kinds: Sequence[str]
) -> Iterator[None]:
    try:
        with connection.begin_nested():
            yield
    except IntegrityError as error:
        now = standing.of(connection, [bell.serial for bell in bells])
        late = [
            _too_late(new, kind)
            for old, new, kind in zip(bells, now, kinds, strict=True)
            if old.decisions != new.decisions
        ]
        if late:
            raise MoveError.of(late) from error
        if "foreign key" in str(error.orig).lower():
            raise MissingError(
                "decision", "names an order or a fit-up that is not in the books"
            ) from error
        raise


def _too_late(bell: Standing, kind: str) -> Problem:
    nexts = ", ".join(bell.allowed)
    return Problem(
        bell.named,
        f'"{kind}" comes second, it is {bell.state} now ({bell.last})',
        f"allowed: {nexts}" if nexts else "nothing more can be done to it",
    )
