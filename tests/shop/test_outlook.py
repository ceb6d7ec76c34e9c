"""What promises rest on, as the books tell it: batches, yields, demand by the week, parts in turn;
and what the board makes of it."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from sqlalchemy import select

from kitwright.books import (
    bells,
    characteristics,
    decisions,
    inspections,
    kits,
    order_parts,
    orders,
    part_handling,
    part_movements,
    parts,
    promises,
    standing,
    stock,
)
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.stock import Batch
from kitwright.books.tables import bell_now, decision, order_step
from kitwright.errors import MoveError
from kitwright.shop import outlook, promising
from kitwright.shop.outlook import BatchDays
from kitwright.worksheets.reading import read
from kitwright.worksheets.supply.batches_coming import BatchPart
from kitwright.worksheets.supply.hold_back_case import HoldBackCase

TODAY = datetime.date(2026, 5, 4)
DAY = datetime.timedelta(days=1)
CAST, STEEL = 1, 2
"""The demo's two designs, and the numbers of their variants."""


def entry(minutes: int = 0, day: datetime.date = TODAY) -> Entry:
    noon = datetime.datetime.combine(day, datetime.time(12), datetime.UTC)
    return Entry(who="Ines", recorded=noon + datetime.timedelta(minutes=minutes))


def supply(books: Books, design: int, today: datetime.date = TODAY) -> outlook.Supply:
    with books.reading() as c:
        return outlook.supply_of(c, design, today)


def open_order(books: Books, label: str, variant: int, day: datetime.date = TODAY) -> int:
    """An order that is opened and nothing more."""
    opened = replace(entry(), happened=entry(0, day).recorded)
    with books.writing() as c:
        buyer, price = parties(c, "customer")[0].id, kits.get_variant(c, variant).price
        return orders.open_order(
            c, label, customer_id=buyer, variant_id=variant, price=price, entry=opened
        )


# ── batches ──────────────────────────────────────────────────────────────────────────────


def batch(
    number: int, *, revision: int = 1, machinist: int = 4, state: str = "judged", due: int = 0
) -> Batch:
    return Batch(
        id=number, label=f"B-{number}", revision_id=revision, machinist_id=machinist, count=9,
        state=state, due=TODAY + due * DAY,
    )  # fmt: skip


def test_days_late_are_from_the_day_due_to_the_day_back_of_that_machinist_alone():
    every = [batch(1), batch(2), batch(3, machinist=5), batch(4), batch(5)]
    steps = {
        1: BatchDays(due=TODAY, back=TODAY + 2 * DAY),
        2: BatchDays(due=TODAY, back=TODAY - 3 * DAY),  # early
        3: BatchDays(due=TODAY, back=TODAY + 9 * DAY),
        4: BatchDays(due=TODAY),  # not back
    }
    assert outlook.days_late_of(every, steps, 4) == [2, -3]
    assert outlook.days_late_of(every, steps, 5) == [9]


def test_the_others_of_a_machinist_that_are_with_him_past_their_day_are_overdue():
    every = [
        batch(1, state="sent", due=-5),
        batch(2, state="sent", due=-9),
        batch(3, state="sent"),  # due today
        batch(4, state="planned", due=-20),  # he does not have it
        batch(5, state="back", due=-30),
        batch(6, state="sent", due=-2, machinist=5),
    ]
    assert outlook.others_overdue(every, every[2], TODAY) == [9, 5]
    assert outlook.others_overdue(every, every[0], TODAY) == [9]
    assert outlook.others_overdue(every, every[5], TODAY) == []


def test_a_day_typed_a_hundred_years_off_teaches_what_a_case_takes():
    """A slip in one day due does not keep every promise of that machinist from being reckoned."""
    every = [batch(1, state="sent", due=-40_000), batch(2), batch(3), batch(4, state="sent")]
    steps = {
        2: BatchDays(due=TODAY, back=TODAY + 40_000 * DAY),
        3: BatchDays(due=TODAY, back=TODAY - 40_000 * DAY),
    }
    late = outlook.days_late_of(every, steps, 4)
    overdue = outlook.others_overdue(every, every[3], TODAY)
    assert (late, overdue) == ([3650, -3650], [3650])
    BatchPart(name="B-4", due=TODAY, count=9, days_late=late, others_overdue=overdue)


def test_weeks_to_new_bells_are_those_it_took_once_three_batches_of_the_design_came():
    """From sending to coming back and two days to inspect: 28, 33 and 61 days are 30, 35 and 63."""
    took = {1: 33, 2: 61, 3: 28}
    steps = {
        number: BatchDays(planned=TODAY - 50 * DAY, sent=TODAY, back=TODAY + days * DAY)
        for number, days in took.items()
    }
    steps[4] = BatchDays(sent=TODAY)
    steps[5] = BatchDays(sent=TODAY, back=TODAY + 300 * DAY)
    every = [batch(1), batch(2, revision=2), batch(3), batch(4), batch(5, revision=3)]
    assert outlook._replenishment(every, {1, 2}, steps) == (round(30 / 7, 2), 5, 9)
    assert outlook._replenishment(every, {1}, steps) == outlook.USUAL_WEEKS  # two alone


def test_a_batch_whose_day_due_moves_was_sent_when_it_was_sent(demo_books):
    with demo_books.writing() as c:
        before = outlook.steps_of_batches(c)[3]
        assert None not in (before.planned, before.sent)
        later = before.due + 9 * DAY
        stock.move_due(c, 3, later, entry(1), why="the spindle broke")
        assert outlook.steps_of_batches(c)[3] == replace(before, due=later)


def test_the_newest_days_late_are_kept_where_there_are_many(demo_books, monkeypatch):
    assert [each["days_late"] for each in supply(demo_books, STEEL).batches] == [[2, 1, 1]]
    monkeypatch.setattr(outlook, "MOST_LATE", 2)
    assert [each["days_late"] for each in supply(demo_books, STEEL).batches] == [[1, 1]]


def test_a_batch_that_is_back_brings_the_bells_nobody_has_decided_on(fresh):
    def coming() -> list[tuple[str, int, bool]]:
        told = supply(fresh.books, CAST, datetime.date(2026, 5, 6)).batches
        return [(each["name"], each["count"], each["back"]) for each in told]

    assert coming() == [("B-09", 8, True)]
    with fresh.books.writing() as c:
        for serial in ("Z-1", "Z-2"):
            decisions.decide(c, serial, "reject", fresh.entry())
    assert coming() == [("B-09", 6, True)]
    with fresh.books.writing() as c:
        for serial in ("Z-3", "Z-4", "Z-5", "Z-6", "Z-7", "Z-8"):
            decisions.decide(c, serial, "reject", fresh.entry())
    assert coming() == []


def test_yields_are_of_the_designs_own_batches_and_count_a_bell_once(demo_books):
    """Good: it was released or conceded, however often and whatever became of it."""
    kept = supply(demo_books, CAST).yields
    with demo_books.writing() as c:
        released = standing.where(
            c, bell_now.c.design_id == CAST, bell_now.c.state == "released"
        )[0].serial  # fmt: skip
        bells.withdraw(c, [released], entry(1), why="a doubtful gauge")
        decisions.decide(c, released, "hold", entry(2))
        decisions.decide(c, released, "concede", entry(3), why="measured again")
        of = {each.id: each for each in stock.batches(c) if each.state == "judged"}
        good = {}
        for number in of:
            query = (
                select(decision.c.bell_id)
                .join(bell_now, bell_now.c.bell_id == decision.c.bell_id)
                .where(bell_now.c.batch_id == number)
            )
            passed = query.where(decision.c.kind.in_(("release", "concede")))
            good[number] = len(set(c.execute(passed).scalars()))
    assert kept == ({"made": 24, "good": good[1]}, {"made": 50, "good": good[4]})
    assert good[4] < 50
    assert supply(demo_books, CAST).yields == kept
    assert supply(demo_books, STEEL).yields == ({"made": 4, "good": 4},)


def test_only_what_is_on_the_shelf_is_free(demo_books):
    """A bell released while it is still at the machinist's comes with its batch."""
    with demo_books.writing() as c:
        serial = standing.where(c, bell_now.c.batch_id == 3)[0].serial
        drawn = characteristics.characteristics(c, stock.get_batch(c, 3).revision_id)
        numbers = inspections.record_inspections(
            c, 3, [serial], [inspections.Measured(drawn[0].id, [[0.0, 0.0]], 0.004)], "gauge",
            entry(1),
        )  # fmt: skip
        decisions.decide(
            c, serial, "release", entry(2), rule="guard by U", inspection_id=numbers[0]
        )
    assert supply(demo_books, STEEL).free == 0


# ── demand ───────────────────────────────────────────────────────────────────────────────


def test_an_order_counts_in_the_week_it_was_opened_the_newest_last(demo_books):
    before = supply(demo_books, STEEL).kits_by_week
    for number, ago in enumerate((0, 6, 7, 13, 21)):
        open_order(demo_books, f"W-{number}", STEEL, TODAY - ago * DAY)
    open_order(demo_books, "W-cast", CAST)
    after = supply(demo_books, STEEL).kits_by_week
    more = [b - a for a, b in zip(before, after, strict=True)]
    assert more[-4:] == [1, 0, 2, 2]
    assert not any(more[:-4])


def test_the_weeks_move_on_and_go_back_as_far_as_orders_do_half_a_year_at_most(demo_books):
    """What a week counted it counts a week later too; an order after the day asked is none yet."""
    for design in (CAST, STEEL):
        now = supply(demo_books, design).kits_by_week
        for weeks in (1, 2, 5):
            earlier = supply(demo_books, design, TODAY - 7 * weeks * DAY).kits_by_week
            later = supply(demo_books, design, TODAY + 7 * weeks * DAY).kits_by_week
            assert now[:-weeks] == earlier
            assert later == (*now, *[0] * weeks)
        far = supply(demo_books, design, TODAY + 7 * 20 * DAY).kits_by_week
        assert far == (*now, *[0] * 20)[-26:]
    with demo_books.reading() as c:
        first = c.execute(select(order_step.c.happened).order_by(order_step.c.happened)).scalar()
    assert len(supply(demo_books, CAST).kits_by_week) == (TODAY - first.date()).days // 7


def test_the_gate_counts_as_promised_only_bells_that_are_there(demo_books):
    for number in range(3):
        open_order(demo_books, f"P-{number}", CAST)
    cast, steel = supply(demo_books, CAST), supply(demo_books, STEEL)
    assert (len(cast.waiting), cast.free > 3) == (3, True)
    assert outlook.hold_back_case(cast, service=0.9)["promised"] == 3
    case = outlook.hold_back_case(steel, service=0.9)
    assert (len(steel.waiting), case["promised"]) == (1, 0)
    assert read(HoldBackCase, case).service == 0.9


# ── parts in turn ────────────────────────────────────────────────────────────────────────


def leave(books: Books, part_id: int, count: int) -> None:
    """Have just so many of a part free."""
    with books.writing() as c:
        over = part_movements.at(c, part_id, part_movements.SHELF) - count
        if over > 0:
            line = part_movements.Line(part_id, over, part_movements.SHELF, part_movements.SCRAP)
            part_movements.move_parts(c, [line], entry(40), why="dropped")
        if over < 0:
            part_handling.receive_parts(c, part_id, -over, entry(20))


def leave_plenty(books: Books, variant: int) -> None:
    """Have parts enough for any order of a variant."""
    with books.reading() as c:
        wanted = outlook._bill_of(c, variant)
    for part_id in wanted:
        leave(books, part_id, 500)


def one_part(books: Books, order_id: int) -> tuple[int, str, int]:
    """A part that an order asks for, its name, and how many."""
    with books.reading() as c:
        asked = parts.asked_by(c, [order_id])[order_id]
        part_id = max(asked, key=lambda each: asked[each])
        return part_id, parts.get_part(c, part_id).name, asked[part_id]


def lacks(books: Books, variant: int, *, order_id: int | None = None) -> set[str]:
    """Names of the parts short in what would be promised: a new order, or one that is booked."""
    with books.reading() as c:
        quoted = (
            promising.quote(c, variant, TODAY)
            if order_id is None
            else promising.of_order(c, order_id, TODAY)
        )
    return {each["name"] for each in quoted.case["parts_short"]}


def test_a_part_is_short_when_those_before_leave_too_few_and_not_before(demo_books):
    """Orders that wait come first, and so does one that has its bell and not yet its parts."""
    with demo_books.writing() as c:
        (allocated,) = orders.orders(c, state="allocated")
        order_parts.free(c, [allocated.id], entry(1), why="counted again")
    own = open_order(demo_books, "T-1", CAST)
    part_id, name, count = one_part(demo_books, own)
    with demo_books.reading() as c:
        booked = orders.in_states(c, ("open", "promised", "allocated"))
        asked = parts.asked_by(c, [each.id for each in booked if each.id != own])
        first = sum(each.get(part_id, 0) for each in asked.values())
    assert first >= count  # the allocated one asks for them too
    leave(demo_books, part_id, first + 2 * count)
    assert name not in lacks(demo_books, CAST)
    assert name not in lacks(demo_books, CAST, order_id=own)
    leave(demo_books, part_id, first + count)
    assert name in lacks(demo_books, CAST)  # one more kit
    assert name not in lacks(demo_books, CAST, order_id=own)  # just enough for its own
    leave(demo_books, part_id, first + count - 1)
    assert name in lacks(demo_books, CAST, order_id=own)


def test_what_is_set_aside_for_an_order_is_not_short_for_it(demo_books):
    leave_plenty(demo_books, CAST)
    own = open_order(demo_books, "T-1", CAST)
    part_id, name, _ = one_part(demo_books, own)
    with demo_books.writing() as c:
        order_parts.reserve(c, own, entry(30))
    leave(demo_books, part_id, 0)
    assert name not in lacks(demo_books, CAST, order_id=own)
    assert name in lacks(demo_books, CAST)


# ── promises ─────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("chance", "outcome"),
    [
        *((None, "no day"), (1.0, "holds"), (0.9, "holds"), (0.9 - 1e-12, "holds")),
        *((0.9 - 1e-6, "doubtful"), (0.5, "doubtful"), (0.5 - 1e-6, "in danger")),
        (0.0, "in danger"),
    ],
)
def test_what_a_chance_is_called(chance, outcome):
    assert promising.outcome_of(chance, promises.SupplyRule(chance=0.9)) == outcome


def test_no_day_before_today_holds_and_those_after_the_last_told_hold_as_it_does(demo_books):
    leave_plenty(demo_books, CAST)
    with demo_books.reading() as c:
        quoted = promising.quote(c, CAST, TODAY)
    assert quoted.chance_on(TODAY - DAY) == 0
    assert quoted.chance_on(TODAY) == quoted.answer.chances[0] > 0
    assert quoted.chance_on(TODAY + 9000 * DAY) == quoted.answer.chances[-1]


def test_a_promise_whose_day_is_past_is_in_danger_whatever_is_here(demo_books):
    leave_plenty(demo_books, STEEL)
    with demo_books.reading() as c:
        (waiting,) = orders.orders(c, state="promised")
    before, after = (
        promising.board(demo_books, waiting.promised_for + days * DAY).watched[0]
        for days in (-20, 1)
    )
    assert before.chance > 0.5
    assert (after.order.id, after.chance, after.outcome) == (waiting.id, 0, "in danger")


def test_what_can_go_today_waits_for_nothing(demo_books):
    leave_plenty(demo_books, CAST)
    own = open_order(demo_books, "T-1", CAST)
    (found,) = (e for e in promising.board(demo_books, TODAY).watched if e.order.id == own)
    assert (found.earliest, found.slowest, found.place) == (TODAY, None, 1)
    assert (found.outcome, found.chance) == ("no day", None)
    for each in promising.board(demo_books, TODAY).watched:
        assert (each.slowest is None) == (each.earliest == TODAY)


def test_of_promises_alike_the_earlier_day_comes_first(demo_books):
    far = {"N-1": 500, "N-2": 400, "N-3": 450}
    for label, days in far.items():
        number = open_order(demo_books, label, STEEL)
        with demo_books.writing() as c:
            quoted = promising.of_order(c, number, TODAY)
            promising.keep(c, number, quoted, entry(1), day=TODAY + days * DAY)
    board = promising.board(demo_books, TODAY)
    alike = [each.order.label for each in board.of("holds") if each.order.label in far]
    assert alike == ["N-2", "N-3", "N-1"]


def test_a_promise_keeps_the_chance_that_was_wanted_of_it(demo_books):
    own = open_order(demo_books, "T-1", STEEL)
    with demo_books.writing() as c:
        promises.set_rule(c, promises.SupplyRule(chance=0.97, service=0.95), entry())
        promising.keep(c, own, promising.of_order(c, own, TODAY), entry(1))
        assert promises.bases(c)[own].wanted == 0.97


def test_a_day_that_moved_since_it_was_shown_is_not_promised(demo_books):
    own = open_order(demo_books, "T-1", STEEL)
    with demo_books.reading() as c:
        day = promising.of_order(c, own, TODAY).answer.day
    more = {"why": "asked again", "entry": entry(1), "today": TODAY}
    with pytest.raises(MoveError, match=f"{day + DAY} was shown, it is {day} now"):
        promising.promise_again(demo_books, own, shown=day + DAY, **more)
    with demo_books.reading() as c:
        assert orders.get_order(c, own).promised_for is None
    promising.promise_again(demo_books, own, shown=day, send_key="k-1", **more)
    promising.promise_again(demo_books, own, shown=day, send_key="k-1", **more)  # sent twice
    with demo_books.reading() as c:
        assert orders.get_order(c, own).promised_for == day
        assert len(orders.history(c, own)) == 2


def test_the_gate_is_open_as_soon_as_one_bell_may_go(demo_books):
    with demo_books.writing() as c:
        promises.mark_loose(c, STEEL, entry())
        quoted = promising.quote(c, STEEL, TODAY)
    assert quoted.gate_shut
    assert not replace(quoted, gate=quoted.gate.model_copy(update={"loose_today": 1})).gate_shut
    assert not replace(quoted, gate=None).gate_shut
