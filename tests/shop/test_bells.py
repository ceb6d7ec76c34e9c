"""What a person may decide on a bell, and what its papers then say."""

from __future__ import annotations

import dataclasses
import datetime

import numpy as np
import pytest
from sqlalchemy import event

from kitwright.books import bells as kept
from kitwright.books import characteristics, decisions, designs, inspections, standing, stock
from kitwright.books.characteristics import position_of
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.places import Place
from kitwright.books.shop import get_shop, parties, set_shop
from kitwright.books.tables import bell_now
from kitwright.books.verifying import verify
from kitwright.errors import MissingError, MoveError
from kitwright.files.tables import Table, read_csv
from kitwright.paper.certificate import certificate_data, certificate_pdf
from kitwright.paper.of_shop import certificate_of
from kitwright.shop import batches, bells, today
from kitwright.shop.corrections import bore_vectors
from kitwright.shop.judging import rule_in_words

DAY = datetime.date(2026, 5, 4)


def at(hour: int, who: str = "Ines") -> Entry:
    return Entry(who=who, recorded=datetime.datetime(2026, 5, 5, hour, tzinfo=datetime.UTC))


def decide(books: Books, serial: str, kind: str, hour: int, why: str = "") -> None:
    bells.decide(books, serial, kind, why=why, seen=None, entry=at(hour))


def measure(books: Books, serial: str, hour: int, leave_out: str = "") -> None:
    """Keep an inspection of a bell of the demo's batch 4 with the values that it had."""
    with books.writing() as connection:
        newest = inspections.newest_of(connection, serial, outdated_too=True)
        inspections.record_inspections(
            connection,
            4,
            [serial],
            [
                inspections.Measured(
                    about.id,
                    newest.mm[:, k, 0] if about.kind == "length" else newest.mm[:, k],
                    newest.u95_mm[:, k],
                )
                for k, about in enumerate(newest.characteristics)
                if about.name != leave_out
            ],
            "a better gauge",
            at(hour),
        )


def test_a_serial_is_found_as_typed_or_in_capitals(demo_books: Books) -> None:
    for typed in ("HC-0107", " hc-0107 ", "Hc-0107"):
        assert bells.find(demo_books, typed) == "HC-0107"
    with pytest.raises(MissingError, match='there is no bell "hc-9999"'):
        bells.find(demo_books, "hc-9999")


def test_a_place_names_its_owner_where_it_has_one() -> None:
    names = {1: "Somebody Else", 7: "Moor Top Motors"}
    assert bells.place_in_words(Place("shelf"), names) == "on the shelf"
    assert bells.place_in_words(Place("customer", 7), names) == "with the customer, Moor Top Motors"


def test_nobody_releases_what_was_not_judged(demo_books: Books) -> None:
    """HC-0107 was rejected: a rework does not make its old measurement good."""
    assert bells.view(demo_books, "HC-0107").standing.state == "rejected"
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    made = bells.view(demo_books, "HC-0107").standing
    assert made.state == "made"
    assert set(bells.allowed(made)) == {"hold", "reject"}
    with pytest.raises(MoveError, match='"release" cannot be decided'):
        decide(demo_books, "HC-0107", "release", 9)


def test_what_was_measured_before_a_rework_is_no_evidence_after_it(demo_books: Books) -> None:
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    decide(demo_books, "HC-0107", "hold", 9)
    held = bells.view(demo_books, "HC-0107").decisions[-1]
    assert (held.inspection_id, held.rule) == (None, None), "a person held it, not the rule"
    with pytest.raises(MoveError, match="not measured since its rework"):
        decide(demo_books, "HC-0107", "concede", 10, "good enough")
    measure(demo_books, "HC-0107", 11)
    decide(demo_books, "HC-0107", "concede", 12, "good enough")
    seen = bells.view(demo_books, "HC-0107")
    assert seen.inspection is not None
    assert seen.decisions[-1].inspection_id == seen.inspection.id
    assert certificate_of(seen).instrument == "a better gauge"


def test_a_certificate_names_the_rule_that_released_the_bell(demo_books: Books) -> None:
    before = bells.view(demo_books, "HC-0102")
    with demo_books.writing() as connection:
        shop = get_shop(connection)
        other = "guard by 1.645 u"
        assert shop.guard != other
        set_shop(connection, dataclasses.replace(shop, guard=other))
    after = bells.view(demo_books, "HC-0102")
    assert certificate_of(after) == certificate_of(before)
    assert certificate_of(after).decision_rule == rule_in_words(shop)


def test_a_bell_that_came_back_waits_for_somebody(demo_books: Books) -> None:
    decide(demo_books, "HC-0101", "return", 8, "the buyer changed his mind")
    asked = {task.subject: task.asked for task in today.look(demo_books, today=DAY).tasks}
    assert asked["Bell HC-0101"] == "came back: hold it for a second look"


def test_the_first_page_asks_no_more_of_the_books_for_more_held_bells(demo_books: Books) -> None:
    asked: list[str] = []
    event.listen(
        demo_books._engine,
        "before_cursor_execute",
        lambda connection, cursor, statement, *rest: asked.append(statement),
    )

    def hold(serials: list[str]) -> int:
        with demo_books.writing() as connection:
            decisions.decide_many(connection, serials, "hold", at(8))
        asked.clear()
        held = [
            task
            for task in today.look(demo_books, today=DAY).tasks
            if task.subject.removeprefix("Bell ") in serials
        ]
        assert [task.asked for task in held] == ["held: measure again, concede or reject"] * len(
            serials
        )
        return len(asked)

    with demo_books.reading() as connection:
        made = [each.serial for each in standing.where(connection, bell_now.c.batch_id == 3)]
    assert hold(made[:1]) == hold(made[1:])


def test_a_withdrawn_bell_can_be_brought_home(demo_books: Books) -> None:
    decide(demo_books, "HC-0101", "withdraw", 8, "a crack in its sister")
    with_buyer = bells.view(demo_books, "HC-0101").standing
    assert (with_buyer.state, with_buyer.place_name) == ("withdrawn", "customer")
    assert bells.allowed(with_buyer) == ("return", "scrap")
    decide(demo_books, "HC-0101", "return", 9)
    home = bells.view(demo_books, "HC-0101").standing
    assert (home.state, home.place_name) == ("withdrawn", "shelf")
    decide(demo_books, "HC-0101", "hold", 10)
    assert bells.view(demo_books, "HC-0101").standing.state == "held"


def test_a_bore_is_drawn_and_reckoned_from_its_true_place(demo_books: Books) -> None:
    """A drawing may place the bore beside the origin of its frame: what counts is the distance."""
    true, off = np.array([4.0, -3.0]), np.array([0.02, 0.01])
    with demo_books.writing() as connection:
        owners = {role: parties(connection, role)[0].id for role in ("supplier", "machinist")}
        conversion = designs.designs(connection)[0].conversion_id
        design = designs.add_design(
            connection,
            "Offset bell",
            conversion_id=conversion,
            material="cast aluminium",
            price=Money(1, "USD"),
            mass_kg=7.0,
            opening="none",
        )
        revision = designs.add_revision(connection, design, "A", at(6))
        [which] = characteristics.set_characteristics(
            connection, revision, [position_of("bore", 0.08, x_mm=true[0], y_mm=true[1])]
        )
        designs.put_in_force(connection, revision, at(6))
        crate = stock.receive_crate(
            connection,
            "CR-90",
            design_id=design,
            supplier_id=owners["supplier"],
            count=1,
            cost=Money(1, "USD"),
            entry=at(6),
        )
        batch = stock.plan_batch(
            connection,
            "B-90",
            revision_id=revision,
            machinist_id=owners["machinist"],
            count=1,
            due=DAY,
            entry=at(6),
        )
        stock.send_batch(connection, batch, [(crate, ["OB-1"])], at(7))
        stock.take_batch_back(connection, batch, at(8))
        numbers = inspections.record_inspections(
            connection,
            batch,
            ["OB-1"],
            [inspections.Measured(which, [true + off], [0.002])],
            "gauge",
            at(9),
        )
        decisions.decide(
            connection, "OB-1", "release", at(9), rule="guard by U", inspection_id=numbers[0]
        )
        assert kept.decisions_of(connection, "OB-1")[-1].kind == "release"
        np.testing.assert_allclose(bore_vectors(connection, batch), [off], atol=1e-12)
    drawn = certificate_of(bells.view(demo_books, "OB-1")).bore
    assert drawn is not None
    np.testing.assert_allclose([drawn.x_mm, drawn.y_mm], off, atol=1e-12)


def test_a_bell_released_at_the_machinist_is_counted(demo_books: Books) -> None:
    """Every bell that is not gone stands in exactly one column of the stock."""

    def counted() -> tuple[int, int]:
        stocks = today.look(demo_books, today=DAY).stock
        places = sum(
            each.machining + each.undecided + each.released_away + each.free + each.allocated
            for each in stocks
        )
        return places, sum(each.released_away for each in stocks)

    before = counted()
    assert before[1] == 0
    with demo_books.writing() as connection:
        made = [each.serial for each in standing.where(connection, bell_now.c.batch_id == 3)]
        assert standing.one(connection, made[0]).place_name == "machinist"
        first = characteristics.characteristics(
            connection, stock.get_batch(connection, 3).revision_id
        )
        numbers = inspections.record_inspections(
            connection,
            3,
            made[:1],
            [inspections.Measured(first[0].id, [[0.0, 0.0]], 0.004)],
            "a gauge at the machinist's",
            at(7),
        )
        decisions.decide(
            connection, made[0], "release", at(8), rule="guard by U", inspection_id=numbers[0]
        )
    assert counted() == (before[0], 1)


# ── rework ───────────────────────────────────────────────────────────────────────────────


def handed_in(books: Books, serial: str) -> Table:
    """The inspection of a bell of batch 4 with every value in the middle of its limits."""
    with books.reading() as connection:
        drawn = inspections.newest_values(connection, 4).characteristics
    cells: dict[str, str] = {"serial": serial}
    for about in drawn:
        if about.kind == "position":
            cells[f"{about.name} x [mm]"] = str(about.x_mm)
            cells[f"{about.name} y [mm]"] = str(about.y_mm)
        else:
            ends = [each for each in (about.low_mm, about.high_mm) if each is not None]
            middle = sum(ends) / 2 if len(ends) == 2 else 0.01
            cells[f"{about.name} [mm]"] = str(middle)
        cells[f"{about.name} u95 [mm]"] = "0.001"
    return read_csv(f"{','.join(cells)}\r\n{','.join(cells.values())}\r\n".encode())


def test_a_rework_carries_the_bell_to_the_machinist_and_its_inspection_back(
    demo_books: Books,
) -> None:
    before = bells.view(demo_books, "HC-0107")
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    away = bells.view(demo_books, "HC-0107")
    assert (away.standing.state, away.standing.place_name) == ("made", "machinist")
    assert away.standing.party_id == before.machinist.id
    assert before.inspection is not None
    assert away.decisions[-1].inspection_id == before.inspection.id
    batches.import_inspection(
        demo_books, 4, handed_in(demo_books, "HC-0107"), instrument="gauge", entry=at(10)
    )
    home = bells.view(demo_books, "HC-0107")
    assert (home.standing.state, home.standing.place_name) == ("released", "shelf")
    assert certificate_of(home).instrument == "gauge"
    assert verify(demo_books) == []


def test_an_import_that_fails_leaves_a_reworked_bell_where_it_is(demo_books: Books) -> None:
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    whole = handed_in(demo_books, "HC-0107")
    other = handed_in(demo_books, "HC-0102")  # released: not to be judged again
    both = dataclasses.replace(whole, rows=(*whole.rows, *other.rows), row_numbers=(2, 3))
    with pytest.raises(MoveError, match="withdraw it and hold it first"):
        batches.import_inspection(demo_books, 4, both, instrument="gauge", entry=at(10))
    assert bells.view(demo_books, "HC-0107").standing.place_name == "machinist"


def test_values_from_before_a_rework_are_not_current(demo_books: Books) -> None:
    before = bells.view(demo_books, "HC-0107")
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    after = bells.view(demo_books, "HC-0107")
    assert (after.measured, after.bore) == ((), None)
    assert after.before_rework == before.measured != ()
    batch = batches.view(demo_books, 4)
    row = batch.newest.serials.index("HC-0107")
    assert batch.reasons()[row] == "measured before its rework"
    assert np.isnan(batch.newest.mm[row]).all()
    measure(demo_books, "HC-0107", 11)
    anew = bells.view(demo_books, "HC-0107")
    assert (anew.measured, anew.before_rework) == (before.measured, ())


def test_a_certificate_has_a_row_for_what_was_not_measured(demo_books: Books) -> None:
    """Only a concession can bring such a bell to sale; its sheet hides nothing."""
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    measure(demo_books, "HC-0107", 9, leave_out="depth")
    decide(demo_books, "HC-0107", "hold", 10)
    decide(demo_books, "HC-0107", "concede", 11, "its depth is not needed here")
    seen = bells.view(demo_books, "HC-0107")
    sheet = certificate_of(seen)
    assert [row.name for row in sheet.rows] == [about.name for about in seen.drawn]
    assert [row.name for row in sheet.rows if row.verdict is None] == ["depth"]
    assert sheet.say().endswith("; 1 not measured.")
    assert f"{len(seen.drawn) - 1} characteristics measured" in sheet.say()
    [row] = [row for row in certificate_data(sheet)["rows"] if row["name"] == "depth"]
    assert (row["verdict"], row["leading"], row["other"]) == ("not measured", "", "")
    assert row["limits"]
    assert certificate_pdf(sheet).startswith(b"%PDF")


def test_a_rework_decided_on_what_was_seen_before_is_refused(demo_books: Books) -> None:
    """Two looked at the same page, and one was faster."""
    seen = bells.view(demo_books, "HC-0107").standing.decisions
    decide(demo_books, "HC-0107", "rework", 8, "cut the bore again")
    decide(demo_books, "HC-0107", "reject", 9)
    with pytest.raises(MoveError, match="comes second"):
        bells.decide(demo_books, "HC-0107", "rework", why="again", seen=seen, entry=at(10))
