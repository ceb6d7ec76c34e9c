"""Two who act at once: exactly one wins, and the other is told who was first."""

from __future__ import annotations

import threading
from collections import Counter
from datetime import date

import pytest

from kitwright.books import (
    decisions,
    designs,
    fitups,
    inspections,
    kits,
    movements,
    orders,
    part_handling,
    parts,
    places,
    sendings,
    standing,
    stock,
)
from kitwright.books.characteristics import length_of, set_characteristics
from kitwright.books.entries import Money
from kitwright.books.stock_at import part_stock
from kitwright.books.verifying import verify
from kitwright.errors import MoveError

ROUNDS = 12


def at_once(books, *acts):
    """Run each act in a thread and a transaction of its own; give its error or None, in order.

    Every transaction has begun to read before any of them acts, as far as the database lets it.
    """
    started = threading.Barrier(len(acts))
    ended: list[BaseException | None] = [None] * len(acts)

    def run(index, act):
        started.wait()
        try:
            with books.writing() as c:
                act(c)
        except MoveError as error:
            ended[index] = error

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return ended


def one_after_another(books, first, second, *, keeps=True):
    """Act a second time while the first act's transaction is open; give what the second is told.

    The second must wait: for SQLite's one lock, for PostgreSQL's row or for a number to be free.
    """
    told = []

    def later():
        try:
            with books.writing() as c:
                second(c)
            told.append(None)
        except MoveError as error:
            told.append(str(error))

    waiting = threading.Thread(target=later)
    try:
        with books.writing() as c:
            first(c)
            waiting.start()
            waiting.join(0.4)
            assert waiting.is_alive(), f"the second did not wait: {told}"
            if not keeps:
                raise _ChangedMindError
    except _ChangedMindError:
        pass
    finally:
        waiting.join(20)
    return told[0]


class _ChangedMindError(Exception):
    """Ends the first one's transaction without keeping it."""


def test_one_bell_two_orders(workshop):
    """Many rounds; the loser's order keeps waiting, the winner's name is in the refusal."""
    workshop.receive(ROUNDS)
    serials = workshop.make(ROUNDS)
    wins = Counter()
    for serial in serials:
        workshop.bring(serial, "released")
        pairs = [(workshop.order(), who) for who in ("Ada", "Ben")]
        entries = {who: workshop.entry(who) for _, who in pairs}

        def allocates(order_id, who, serial=serial, entries=entries):
            return lambda c: orders.allocate(c, order_id, serial, entries[who])

        ended = at_once(workshop.books, *(allocates(*pair) for pair in pairs))
        lost = [index for index, error in enumerate(ended) if error]
        assert len(lost) == 1, ended
        winner = pairs[1 - lost[0]]
        wins[winner[1]] += 1
        told = str(ended[lost[0]])
        assert f"bell {serial}" in told
        assert "allocated" in told
        assert f"by {winner[1]}" in told
        with workshop.books.reading() as c:
            assert standing.one(c, serial).order_id == winner[0]
            states = [orders.get_order(c, order_id).state for order_id, _ in pairs]
        assert sorted(states) == ["allocated", "promised"]
    assert verify(workshop.books) == []
    assert sum(wins.values()) == len(serials)


@pytest.mark.parametrize("keeps", [True, False])
def test_the_second_waits_for_the_first(workshop, keeps):
    """What is left to the second is what the first, in the end, did or did not do."""
    serial = workshop.serials[0]
    workshop.bring(serial, "released")
    orders_of = {who: workshop.order() for who in ("Ada", "Ben")}
    entries = {who: workshop.entry(who) for who in orders_of}

    def allocates(who):
        return lambda c: orders.allocate(c, orders_of[who], serial, entries[who])

    told = one_after_another(workshop.books, allocates("Ada"), allocates("Ben"), keeps=keeps)
    if keeps:
        assert f"bell {serial}" in told
        assert "allocated" in told
        assert "allocate by Ada" in told
        assert "allowed: free, ship, withdraw" in told
    else:
        assert told is None
    with workshop.books.reading() as c:
        assert standing.one(c, serial).order_id == orders_of["Ada" if keeps else "Ben"]
    assert verify(workshop.books) == []


def test_one_order_two_bells(workshop):
    first, second, *_ = workshop.serials
    for serial in (first, second):
        workshop.bring(serial, "released")
    order_id = workshop.order()
    entry = workshop.entry()
    told = one_after_another(
        workshop.books,
        lambda c: orders.allocate(c, order_id, first, entry),
        lambda c: orders.allocate(c, order_id, second, entry),
    )
    assert told.startswith("order O-")
    assert "it is allocated" in told
    assert "by Ada" in told
    assert [workshop.state(serial) for serial in (first, second)] == ["allocated", "released"]
    assert verify(workshop.books) == []


def test_whole_batches_in_opposite_order(workshop):
    """Two decide on the same bells, listed from both ends: one wins them all, nobody hangs."""
    entry = workshop.entry()
    serials = workshop.serials
    with workshop.books.writing() as c:
        depth = inspections.Measured(workshop.characteristics[1], [182.5] * len(serials), 0.01)
        numbers = inspections.record_inspections(
            c, workshop.batch, serials, [depth], "bridge", entry
        )
    ended = at_once(
        workshop.books,
        lambda c: decisions.decide_many(c, serials, "release", entry, inspection_ids=numbers),
        lambda c: decisions.decide_many(c, serials[::-1], "reject", entry),
    )
    (lost,) = filter(None, ended)
    assert len(lost.problems) == len(serials)
    assert len({workshop.state(serial) for serial in serials}) == 1


def test_what_was_seen_no_longer_holds(workshop):
    """A page that was loaded before somebody else decided: what it sends is refused."""
    serial = workshop.serials[0]
    with workshop.books.reading() as c:
        seen = standing.one(c, serial).decisions
    workshop.decide(serial, "hold")
    with workshop.books.writing() as c:
        with pytest.raises(MoveError, match=r'"reject" comes second, it is held now \(hold by Ada'):
            decisions.decide(c, serial, "reject", workshop.entry(), seen=seen)
        decisions.decide(c, serial, "reject", workshop.entry(), seen=seen + 1)


def test_the_last_castings(workshop):
    """Four castings are left on the floor; a batch of three is sent while another one is."""
    with workshop.books.writing() as c:
        batches = [
            stock.plan_batch(
                c,
                f"R-{index}",
                revision_id=workshop.revision,
                machinist_id=workshop.machinist,
                count=3,
                due=date(2026, 6, 1),
                entry=workshop.entry(),
            )
            for index in range(2)
        ]
    entry = workshop.entry()

    def sends(index):
        serials = [f"R-{index}-{number}" for number in range(3)]
        return lambda c: stock.send_batch(c, batches[index], [(workshop.crate, serials)], entry)

    told = one_after_another(workshop.books, sends(0), sends(1))
    assert told == "crate CR-1: 3 castings cannot leave the floor, 1 are there; move what is there"
    with workshop.books.reading() as c:
        assert stock.get_crate(c, workshop.crate).on_floor == 1
        assert sorted(stock.get_batch(c, each).state for each in batches) == ["planned", "sent"]
    assert verify(workshop.books) == []


def test_one_bell_two_places(workshop):
    serial = workshop.serials[0]
    entry = workshop.entry()
    to = places.machinist(workshop.machinist)

    def carries(c):
        movements.move_bells(c, [serial], to, entry, why="a burr")

    assert f"bell {serial}" in one_after_another(workshop.books, carries, carries)
    assert verify(workshop.books) == []


def test_two_revisions_in_force(workshop):
    with workshop.books.writing() as c:
        drafts = []
        for label in "BC":
            drafts.append(designs.add_revision(c, workshop.design, label, workshop.entry()))
            set_characteristics(c, drafts[-1], [length_of("depth", 182.4, 182.6)])
    entry = workshop.entry()
    told = one_after_another(
        workshop.books,
        lambda c: designs.put_in_force(c, drafts[0], entry),
        lambda c: designs.put_in_force(c, drafts[1], entry),
    )
    assert told is None  # the later one counts
    with workshop.books.reading() as c:
        states = [each.state for each in designs.revisions(c, workshop.design)]
    assert states == ["superseded", "superseded", "in force"]


def test_one_bell_two_fit_ups(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "shipped")
    entry = workshop.entry()

    def opens(c):
        fitups.open_fit_up(c, serial, fitter="F. Fitter", block="new", entry=entry)

    assert "is under way" in one_after_another(workshop.books, opens, opens)
    with workshop.books.reading() as c:
        assert len(fitups.fit_ups_of(c, serial)) == 1


def test_a_page_that_sends_twice_at_once(workshop):
    """The phone sent, heard nothing and sent again: one step is kept, both are answered with it."""
    serial = workshop.serials[0]
    workshop.bring(serial, "shipped")
    number = workshop.fit_up(serial)
    entry = workshop.entry()
    kept = []

    def sends(c):
        kept.append(fitups.take_step(c, number, "measuring", entry, send_key="k-1"))

    assert at_once(workshop.books, sends, sends) == [None, None]
    assert kept[0] == kept[1]
    with workshop.books.reading() as c:
        assert [each.state for each in fitups.steps_of(c, number)] == ["opened", "measuring"]


def bolts(workshop, count):
    """A part of which so many are on the shelf, two of which every kit asks for."""
    with workshop.books.writing() as c:
        (kit,) = kits.kits(c)
        kits.add_part(c, kit.id, "bolt set", count=2, cost=Money(1, "USD"))
        part = parts.add_part(c, "P-1", "bolt set")
        if count:
            part_handling.count_parts(c, part, count, workshop.entry(), why="first count")
    return part


def test_the_last_parts_go_once(workshop):
    """Many rounds: three on the shelf, two each want two; one wins, the other reads how many."""
    part = bolts(workshop, 3)
    for _ in range(ROUNDS):
        entries = [workshop.entry(), workshop.entry()]

        def scraps(entry):
            return lambda c: part_handling.scrap_parts(c, part, 2, entry, why="rust")

        ended = at_once(workshop.books, *map(scraps, entries))
        (lost,) = [error for error in ended if error]
        assert str(lost) == "part P-1: 2 asked, 1 on the shelf; move what is there"
        with workshop.books.writing() as c:
            assert part_stock(c, part).free == 1
            part_handling.count_parts(c, part, 3, workshop.entry(), why="found")
    assert verify(workshop.books) == []


@pytest.mark.parametrize("keeps", [True, False])
def test_the_second_to_move_a_part_waits(workshop, keeps):
    part = bolts(workshop, 3)
    entries = workshop.entry(), workshop.entry()
    told = one_after_another(
        workshop.books,
        lambda c: part_handling.scrap_parts(c, part, 2, entries[0], why="rust"),
        lambda c: part_handling.scrap_parts(c, part, 2, entries[1], why="rust"),
        keeps=keeps,
    )
    assert told == ("part P-1: 2 asked, 1 on the shelf; move what is there" if keeps else None)
    with workshop.books.reading() as c:
        assert part_stock(c, part).scrapped == 2
    assert verify(workshop.books) == []


def test_two_orders_want_the_last_parts(workshop):
    """Both get their bell; the parts go to one of them, whole, and the other is told."""
    part = bolts(workshop, 2)
    serials = workshop.serials[:2]
    for serial in serials:
        workshop.bring(serial, "released")
    wanted = [(workshop.order(), serial, workshop.entry()) for serial in serials]
    short = {}

    def allocates(order_id, serial, entry):
        def act(c):
            short[order_id] = orders.allocate(c, order_id, serial, entry)

        return act

    assert at_once(workshop.books, *(allocates(*each) for each in wanted)) == [None, None]
    assert sorted(len(each) for each in short.values()) == [0, 1]
    with workshop.books.reading() as c:
        assert (part_stock(c, part).free, part_stock(c, part).reserved) == (0, 2)
    assert verify(workshop.books) == []


def test_one_form_sent_twice_at_once(workshop):
    part = bolts(workshop, 9)
    entry = workshop.entry()

    def sends(c):
        if sendings.first_time(c, "k-1", "scrap", entry):
            part_handling.scrap_parts(c, part, 2, entry, why="rust")

    assert at_once(workshop.books, sends, sends) == [None, None]
    with workshop.books.reading() as c:
        assert part_stock(c, part).scrapped == 2
