"""Orders from a table: all or none, every bad row told; and what changes under a promise."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import kits, orders, promises, stock
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.verifying import verify
from kitwright.errors import InputError
from kitwright.files.tables import read_csv, write_csv
from kitwright.shop import outlook, promising, supplying
from kitwright.shop.order_file import COLUMNS, import_orders
from kitwright.shop.orders import Taken
from kitwright.shop.promise_changes import changes

TODAY = datetime.date(2026, 5, 4)
NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ENTRY = Entry(who="Ines", recorded=NOW)


def bring(books: Books, rows: list[dict[str, str]]) -> list[Taken]:
    names = list(dict.fromkeys(name for row in rows for name in row))
    table = read_csv(write_csv(names, [[row.get(name, "") for name in names] for row in rows])
                     .encode())  # fmt: skip
    return import_orders(books, table, who="Ines", now=NOW, today=TODAY)


def row(label: str, **more: str) -> dict[str, str]:
    about = {"order": label, "customer": "Moor Top Motors", "variant": "certified steel bell"}
    return {**about, **more}


def test_a_row_with_everything_is_the_order_it_says(demo_books: Books) -> None:
    [taken] = bring(
        demo_books,
        [row("I-1", kit="Heron six-speed kit", car="Wexcombe Heron coupé", date="2026-04-30",
             options="speedometer drive; eccentric dowels, three pairs",
             promised_for="2026-06-20")],
    )  # fmt: skip
    with demo_books.reading() as c:
        assert [each.name for each in orders.options_of(c, taken.order.id)] == [
            "eccentric dowels, three pairs", "speedometer drive",
        ]  # fmt: skip
        opened, promised = orders.history(c, taken.order.id)
        basis = promises.bases_of(c, taken.order.id)[promised.number]
        steel = kits.get_variant(c, taken.order.variant_id)
        added = sum(each.price.minor for each in orders.options_of(c, taken.order.id))
    assert opened.happened.date() == datetime.date(2026, 4, 30)
    assert taken.order.promised_for == datetime.date(2026, 6, 20)
    assert taken.order.price_minor == steel.price.minor + added
    # The chance kept with a day that was given is the one the board shows of it, or just below:
    # the worksheet gives chances day by day as long as they rise by more than 0.002 in all.
    watched = {each.order.label: each for each in promising.board(demo_books, TODAY).watched}
    assert -1e-12 <= watched["I-1"].chance - basis.chance <= 0.002


def test_without_the_column_nothing_is_promised_and_with_it_the_rest_the_earliest(
    demo_books: Books,
) -> None:
    [plain] = bring(demo_books, [row("I-1")])
    assert (plain.order.state, plain.promised_for) == ("open", None)
    given, rest = bring(
        demo_books, [row("I-2", promised_for="2026-08-01"), row("I-3", promised_for="")]
    )
    assert given.promised_for == datetime.date(2026, 8, 1)
    with demo_books.reading() as c:
        assert rest.promised_for == promising.of_order(c, rest.order.id, TODAY).answer.day
    assert verify(demo_books) == []


BAD = [
    (row(""), "order: missing"),
    (row("O-103"), '"O-103" is taken'),
    (row("N", customer="Nobody"), 'customer: "Nobody" is not known'),
    (row("N", variant="wooden"), 'variant: "wooden" is not known'),
    (row("N", kit="another kit"), "variant:"),
    (row("N", options="speedometer drive; wings"), 'options: "wings" is not of this variant'),
    (row("N", car="a bus"), 'car: "a bus" is not known'),
    (row("N", date="2026-05-05"), "date: 2026-05-05 lies ahead"),
    (row("N", date="soon"), 'date: "soon" is not a day'),
    (row("N", promised_for="2026-05-03"), "promised_for: 2026-05-03 is past"),
    (row("N", promised_for="soon"), 'promised_for: "soon" is not a day'),
]


def test_every_bad_row_is_told_by_row_and_column_and_nothing_is_stored(demo_books: Books) -> None:
    with demo_books.reading() as c:
        before = [each.label for each in orders.orders(c)]
    good = row("G-1", promised_for="2026-07-01")
    with pytest.raises(InputError) as told:
        bring(demo_books, [good, *(bad for bad, _ in BAD)])
    lines = list(told.value.lines)
    for number, (_, words) in enumerate(BAD, start=3):
        assert [each for each in lines if each.startswith(f"row {number}, ") and words in each], (
            words
        )
    assert not [each for each in lines if each.startswith("row 2,")]
    with demo_books.reading() as c:
        assert [each.label for each in orders.orders(c)] == before


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("order,customer\nA,B\n", 'column "variant": missing'),
        ("order,customer,variant,colour\nA,B,C,red\n", 'column "colour": is not known'),
        ("order,customer,variant,order\nA,B,C,D\n", "stands there twice"),
        ("order,customer,variant\n", "it holds no order"),
    ],
)
def test_a_table_of_something_else_is_refused(demo_books: Books, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        import_orders(demo_books, read_csv(text.encode()), who="I", now=NOW, today=TODAY)
    assert len(COLUMNS) == 9


def test_a_bell_alone_in_a_file_passes_the_gate_only_with_a_reason(demo_books: Books) -> None:
    with demo_books.writing() as c:
        steel = next(each for each in kits.variants(c) if each.name == "certified steel bell")
        promises.mark_loose(c, steel.id, ENTRY)
    with pytest.raises(InputError, match=r"row 2, why: .* held back for kits"):
        bring(demo_books, [row("L-1")])
    [taken] = bring(demo_books, [row("L-1", why="the owner's own car")])
    assert taken.order.label == "L-1"


# ── what changed ─────────────────────────────────────────────────────────────────────────


def test_nothing_changed_is_nothing_told_and_each_change_is_one_line() -> None:
    batch = {"name": "B-1", "due": "2026-05-21", "count": 6, "days_late": [1, 2]}
    then = {"ahead": 1, "on_shelf": 0, "batches": [batch], "chance": 0.9, "parts_short": []}
    assert changes(then, then) == []
    for change, line in (
        ({"batches": [{**batch, "due": "2026-06-01"}]},
         "batch B-1 slipped from 2026-05-21 to 2026-06-01"),
        ({"batches": [{**batch, "due": "2026-05-01"}]},
         "batch B-1 came forward from 2026-05-21 to 2026-05-01"),
        ({"batches": [{**batch, "count": 4}]}, "batch B-1 has 4 bells to come, it had 6"),
        ({"batches": [{**batch, "days_late": [1, 2, 9]}]},
         "1 more batch of the machinist of B-1 came back since"),
        ({"batches": [{**batch, "others_overdue": [3]}]},
         "another batch of the machinist of B-1 is overdue"),
        ({"batches": []}, "batch B-1 brings no more: its bells are decided on"),
        ({"batches": [batch, {**batch, "name": "B-2"}]},
         "batch B-2, 6 bells due 2026-05-21, is new"),
        ({"ahead": 0}, "orders before it: 1 then, 0 now"),
        ({"on_shelf": 3}, "free bells: 0 then, 3 now"),
        ({"parts_short": [{"name": "flywheel"}]}, "flywheel is short now"),
        ({"chance": 0.95}, "days must hold with 95%, it was 90%"),
    ):  # fmt: skip
        assert changes(then, {**then, **change}) == [line]


def test_looking_at_a_move_keeps_nothing_and_says_what_the_move_then_does(
    demo_books: Books,
) -> None:
    with demo_books.reading() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
    later = batch.due + datetime.timedelta(days=40)
    before = promising.board(demo_books, TODAY)
    tried = supplying.look_at_move(demo_books, batch.id, later, entry=ENTRY, today=TODAY)
    assert promising.board(demo_books, TODAY) == before
    supplying.move_due(demo_books, batch.id, later, why="late", entry=ENTRY)
    after = {each.order.id: each for each in promising.board(demo_books, TODAY).watched}
    assert [each.after.chance for each in tried] == [
        after[each.after.order.id].chance for each in tried
    ]
    assert [each.falls for each in tried] == [True]


def test_parts_in_turn_are_what_each_order_alone_would_lack(demo_books: Books) -> None:
    """Asked once for the whole queue, as asked for each order with all those before it."""
    bring(demo_books, [row(f"Q-{number}", variant="cast bell") for number in range(6)])
    with demo_books.reading() as c:
        queue = orders.in_states(c, ("open", "promised", "allocated"))
        together = outlook.short_in_turn(c, queue)
        for place, each in enumerate(queue):
            alone = outlook.short_parts(c, each.variant_id, queue[:place], own=each.id)
            assert together[each.id] == alone, each.label
    assert len({len(found) for found in together.values()}) > 2  # the later lack more
