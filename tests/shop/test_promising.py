"""Promises over the demo shop: quoted, kept, watched as batches slip, made again; the gate."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from kitwright.books import bells, kits, orders, part_movements, parts, promises, stock
from kitwright.books.designs import in_force
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.parts import LeadTime
from kitwright.books.shop import parties
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MoveError
from kitwright.shop import outlook, promising
from kitwright.shop.orders import free_bells, take_order
from kitwright.shop.promise_changes import changes
from kitwright.worksheets.reading import read
from kitwright.worksheets.supply.promise_case import PromiseCase

TODAY = datetime.date(2026, 5, 4)


def entry(minutes: int = 0, who: str = "Ines") -> Entry:
    start = datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC)
    return Entry(who=who, recorded=start + datetime.timedelta(minutes=minutes))


@pytest.fixture
def steel(demo_books: Books) -> kits.Variant:
    """The variant whose bells are all at the machinist's."""
    with demo_books.reading() as c:
        coming = next(each for each in stock.batches(c) if each.state == "sent")
        return next(
            each
            for each in kits.variants(c)
            if (drawn := in_force(c, each.design_id)) and drawn.id == coming.revision_id
        )


def take(books: Books, variant: kits.Variant, label: str, **more):
    with books.reading() as c:
        customer = parties(c, "customer")[0].id
    return take_order(
        books, label, customer_id=customer, variant_id=variant.id, entry=entry(), today=TODAY,
        **more,
    )  # fmt: skip


def test_the_board_says_of_a_fresh_promise_what_was_promised(demo_books, steel):
    taken = take(demo_books, steel, "N-1")
    watched = {each.order.label: each for each in promising.board(demo_books, TODAY).watched}
    found = watched["N-1"]
    assert found.outcome == "holds"
    assert found.chance == pytest.approx(taken.chance)
    assert found.earliest == taken.promised_for
    assert found.basis.chance == pytest.approx(taken.chance)
    assert found.basis.rests_on_json == list(taken.rests_on)


def test_every_place_on_the_board_is_what_the_order_alone_is_quoted(demo_books, steel):
    for number in range(3):
        take(demo_books, steel, f"N-{number}")
    board = promising.board(demo_books, TODAY)
    with demo_books.reading() as c:
        for each in board.watched:
            quoted = promising.of_order(c, each.order.id, TODAY)
            assert each.earliest == quoted.answer.day, each.order.label
            assert each.slowest == quoted.answer.slowest


def test_a_batch_that_slips_puts_its_promises_in_danger_and_a_new_day_saves_them(demo_books, steel):
    taken = take(demo_books, steel, "N-1")
    with demo_books.writing() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
        later = batch.due + datetime.timedelta(days=60)
        stock.move_due(c, batch.id, later, entry(1), why="the spindle broke")
    board = promising.board(demo_books, TODAY)
    found = next(each for each in board.watched if each.order.label == "N-1")
    assert found.outcome == "in danger"
    assert found.chance < 0.1
    assert found.earliest > taken.promised_for
    assert board.watched[0].outcome == "in danger"  # those come first
    with pytest.raises(InputError, match="why: missing; a new promise needs a reason"):
        promising.promise_again(demo_books, taken.order.id, why="", entry=entry(2), today=TODAY)
    again = promising.promise_again(
        demo_books, taken.order.id, why="the batch slipped", entry=entry(3), today=TODAY
    )
    with demo_books.reading() as c:
        assert orders.get_order(c, taken.order.id).promised_for == again.answer.day
        assert promises.bases(c)[taken.order.id].day == again.answer.day
    now = next(
        each for each in promising.board(demo_books, TODAY).watched if each.order.label == "N-1"
    )
    assert now.outcome == "holds"
    assert verify(demo_books) == []


def test_a_bell_withdrawn_puts_its_order_back_in_line(demo_books):
    """The order that had the bell waits again, before those that came after it."""
    with demo_books.reading() as c:
        cast = orders.orders(c, state="allocated")[0]
        free = free_bells(c, cast.design_id)
    variant = next(each for each in _variants(demo_books) if each.id == cast.variant_id)
    taken = [take(demo_books, variant, f"F-{number}") for number in range(len(free) + 1)]
    assert [each.serial is None for each in taken] == [False] * len(free) + [True]
    alone = {each.order.label: each for each in promising.board(demo_books, TODAY).watched}
    withdrawn = taken[-2]
    with demo_books.writing() as c:
        bells.withdraw(c, [withdrawn.serial], entry(5), why="a crack was found")
    watched = {each.order.label: each for each in promising.board(demo_books, TODAY).watched}
    back, last = watched[withdrawn.order.label], watched[taken[-1].order.label]
    assert (back.place, last.place) == (
        alone[taken[-1].order.label].place,
        alone[taken[-1].order.label].place + 1,
    )
    assert back.outcome == "in danger"
    assert verify(demo_books) == []


def _variants(books: Books) -> list[kits.Variant]:
    with books.reading() as c:
        return kits.variants(c)


def test_what_was_promised_before_it_was_booked_is_what_is_kept(demo_books, steel):
    with demo_books.reading() as c:
        quoted = promising.quote(c, steel.id, TODAY)
    taken = take(demo_books, steel, "N-1")
    assert (quoted.answer.day, quoted.answer.chance) == (taken.promised_for, taken.chance)


def test_a_surer_rule_promises_later(demo_books, steel):
    with demo_books.writing() as c:
        usual = promising.quote(c, steel.id, TODAY).answer.day
        promises.set_rule(c, promises.SupplyRule(chance=0.99, service=0.95), entry())
        assert promising.quote(c, steel.id, TODAY).answer.day > usual


def test_an_order_that_has_its_bell_is_promised_no_more(demo_books):
    with demo_books.reading() as c:
        allocated = orders.orders(c, state="allocated")[0]
        with pytest.raises(MoveError, match="only one that waits is promised"):
            promising.of_order(c, allocated.id, TODAY)


# ── the gate ─────────────────────────────────────────────────────────────────────────────


def test_a_bell_alone_is_sold_only_through_an_open_gate(demo_books, steel):
    with demo_books.writing() as c:
        promises.mark_loose(c, steel.id, entry())
        quoted = promising.quote(c, steel.id, TODAY)
    assert quoted.loose
    assert quoted.gate.loose_today == 0
    assert quoted.gate_shut
    with pytest.raises(MoveError, match=r"gate: .* bells are held back for kits"):
        take(demo_books, steel, "L-1")
    with demo_books.reading() as c:
        assert "L-1" not in {each.label for each in orders.orders(c)}
    taken = take(demo_books, steel, "L-1", past_gate="the owner's own race car")
    assert taken.order.label == "L-1"


def test_bells_sold_alone_are_no_demand_for_kits(demo_books, steel):
    with demo_books.writing() as c:
        before = sum(outlook.supply_of(c, steel.design_id, TODAY).kits_by_week)
        promises.mark_loose(c, steel.id, entry())
        after = outlook.supply_of(c, steel.design_id, TODAY).kits_by_week
    assert before > 0
    assert sum(after) == 0


# ── what the books tell ──────────────────────────────────────────────────────────────────


def test_the_supply_is_read_from_the_ledgers(demo_books, steel):
    with demo_books.reading() as c:
        supply = outlook.supply_of(c, steel.design_id, TODAY)
        coming = next(each for each in stock.batches(c) if each.state == "sent")
    (batch,) = supply.batches
    assert (batch["name"], batch["count"]) == (coming.label, coming.count)
    assert batch["due"] == coming.due.isoformat()
    assert len(batch["days_late"]) >= 2  # that machinist's batches that came back
    assert all(0 <= each["good"] <= each["made"] for each in supply.yields)
    assert supply.free == 0
    least, likely, most = supply.replenishment
    assert 0 < least <= likely <= most < 30


def test_a_batch_that_is_back_is_told_as_that_and_not_as_late_or_early(demo_books, steel):
    """Its due day stays what it was: it has not slipped to each new day since it came."""
    with demo_books.writing() as c:
        before = outlook.supply_of(c, steel.design_id, TODAY).batches
        coming = next(each for each in stock.batches(c) if each.state == "sent")
        stock.take_batch_back(c, coming.id, entry())
        (back,) = outlook.supply_of(c, steel.design_id, TODAY).batches
        (next_day,) = outlook.supply_of(
            c, steel.design_id, TODAY + datetime.timedelta(days=1)
        ).batches
        quoted = promising.quote(c, steel.id, TODAY)
    assert (back["back"], back["due"]) == (True, coming.due.isoformat())
    assert changes({"batches": before}, {"batches": [back]})[0] == f"batch {coming.label} is back"
    assert changes({"batches": [back]}, {"batches": [next_day]}) == []
    (told,) = [each.what for each in quoted.answer.rests_on if coming.label in each.what]
    assert "back already" in told
    assert "machinist" not in told


def test_parts_that_take_years_do_not_stop_the_board(demo_books, steel):
    """A lead time beyond what is looked ahead is beyond every day, not a fault of the case."""
    take(demo_books, steel, "Y-1")
    years = LeadTime(least_days=900, likely_days=1000, most_days=2000)
    with demo_books.writing() as c:
        wanted = next(iter(parts.asked_by(c, [o.id for o in orders.orders(c)]).values()))
        for part_id in wanted:
            about = parts.get_part(c, part_id)
            parts.change_part(
                c, part_id, label=about.label, name=about.name, supplier_id=about.supplier_id,
                lead_time=years, reorder=about.reorder,
            )  # fmt: skip
            free = part_movements.at(c, part_id, part_movements.SHELF)
            if free:
                lines = [part_movements.Line(part_id, free, part_movements.SHELF,
                                             part_movements.SCRAP)]  # fmt: skip
                part_movements.move_parts(c, lines, entry(), why="dropped")
        short = outlook.short_parts(c, steel.id, [])
    assert max(each["likely"] for each in short) == 700
    assert promising.board(demo_books, TODAY).watched


def test_a_shop_with_more_batches_than_a_case_takes_tells_of_its_newest(demo_books, steel):
    with demo_books.reading() as c:
        supply = outlook.supply_of(c, steel.design_id, TODAY)
        judged = [each for each in stock.batches(c) if each.state == "judged"]
        many = outlook._yields(c, [*[judged[0]] * 250, judged[-1]], {b.revision_id for b in judged})
    assert len(many) == 200
    case = outlook.promise_case(
        replace(supply, yields=tuple(many)), ahead=0, parts_short=[], chance=0.9
    )
    assert read(PromiseCase, case).yield_history[-1].made == judged[-1].count
