"""First sweeps beside what the bell was measured to be when it left, on both databases."""

from __future__ import annotations

import datetime

import pytest
from sqlalchemy import event

from kitwright.books import bells, decisions, fitups, inspections, standing
from kitwright.books.characteristics import position_of, set_characteristics
from kitwright.books.designs import add_revision, put_in_force
from kitwright.books.entries import Entry
from kitwright.books.first_sweeps import MeasuredPosition, first_sweeps

ANSWER = {"offset_x_mm": 0.02, "offset_y_mm": -0.05, "offset_u95_mm": 0.01}


def measure(workshop, serial, x, y, *, entry=None, u95=0.004):
    with workshop.books.writing() as c:
        inspections.record_inspections(
            c,
            workshop.batch,
            [serial],
            [inspections.Measured(workshop.characteristics[0], [[x, y]], u95)],
            "bore gauge",
            entry or workshop.entry(),
        )


def sweep(workshop, number, answer=ANSWER, worksheet="sweep"):
    with workshop.books.writing() as c:
        fitups.take_step(
            c, number, "measuring", workshop.entry(), worksheet=worksheet, case={}, answer=answer
        )
        fitups.take_step(c, number, "advice", workshop.entry())


def found(workshop, conversion_id=None):
    with workshop.books.reading() as c:
        return first_sweeps(c, conversion_id or workshop.conversion, "bore")


def test_the_first_sweep_beside_the_newest_measurement_before_shipping(workshop):
    serial = workshop.serials[0]
    measure(workshop, serial, 0.03, 0.01)
    measure(workshop, serial, 0.01, -0.02)
    workshop.bring(serial, "shipped")
    measure(workshop, serial, 0.5, 0.5)  # it came back on somebody's bench
    number = workshop.fit_up(serial)
    assert found(workshop) == [], "nothing is swept yet"
    sweep(workshop, number)
    with workshop.books.writing() as c:
        fitups.take_step(c, number, "corrected", workshop.entry())
    sweep(workshop, number, {**ANSWER, "offset_y_mm": 0.0})
    (one,) = found(workshop)
    assert one.answer == ANSWER
    assert (one.fit_up_id, one.serial, one.block) == (number, serial, "new")
    assert one.order_id is not None
    assert one.measured == MeasuredPosition(x_mm=0.01, y_mm=-0.02, u95_mm=0.004)
    assert found(workshop, 99) == found(workshop, 2**70) == []


def test_what_was_measured_before_a_rework_is_not_what_left(workshop):
    serial = workshop.serials[0]
    measure(workshop, serial, 0.3, 0.3)
    workshop.decide(serial, "reject")
    workshop.decide(serial, "rework", why="cut the bore again")
    workshop.bring(serial, "shipped")
    number = workshop.fit_up(serial)
    sweep(workshop, number)
    assert [each.measured for each in found(workshop)] == [None]


def test_a_measurement_handed_in_late_counts_from_when_it_was_taken(workshop):
    serial = workshop.serials[0]
    measure(workshop, serial, 0.03, 0.01)
    taken = workshop.entry().recorded
    workshop.bring(serial, "shipped")
    later = workshop.entry().recorded
    measure(workshop, serial, 0.02, 0.0, entry=Entry("Ada", later, happened=taken))
    number = workshop.fit_up(serial)
    sweep(workshop, number)
    assert found(workshop)[0].measured == MeasuredPosition(x_mm=0.02, y_mm=0.0, u95_mm=0.004)


def test_a_bell_that_came_back_and_went_out_again(workshop):
    """Each fit-up has the measurement of its own shipment."""
    serial = workshop.serials[0]
    measure(workshop, serial, 0.01, 0.0)
    workshop.bring(serial, "shipped")
    first = workshop.fit_up(serial)
    sweep(workshop, first)
    with workshop.books.writing() as c:
        fitups.take_step(c, first, "failed", workshop.entry(), why="the block is cracked")
        bells.take_back(c, serial, workshop.entry())
        decisions.decide(c, serial, "hold", workshop.entry())
        decisions.decide(c, serial, "remeasure", workshop.entry())
    measure(workshop, serial, 0.04, 0.02)
    workshop.bring(serial, "shipped")
    second = workshop.fit_up(serial)
    sweep(workshop, second)
    one, two = found(workshop)
    assert (one.fit_up_id, two.fit_up_id) == (first, second)
    assert one.order_id != two.order_id
    assert one.measured == MeasuredPosition(x_mm=0.01, y_mm=0.0, u95_mm=0.004)
    assert two.measured == MeasuredPosition(x_mm=0.04, y_mm=0.02, u95_mm=0.004)


def test_a_position_is_told_from_its_true_place(workshop):
    with workshop.books.writing() as c:
        workshop.revision = add_revision(c, workshop.design, "B", workshop.entry())
        workshop.characteristics = set_characteristics(
            c, workshop.revision, [position_of("bore", 0.2, x_mm=1.5, y_mm=-2.0)]
        )
        put_in_force(c, workshop.revision, workshop.entry())
    workshop.receive(2)
    (serial,) = workshop.make(1)
    measure(workshop, serial, 1.53, -2.01)
    workshop.bring(serial, "shipped")
    sweep(workshop, workshop.fit_up(serial))
    measured = found(workshop)[0].measured
    assert measured is not None
    assert (measured.x_mm, measured.y_mm) == pytest.approx((0.03, -0.01), abs=1e-12)


def test_other_worksheets_are_no_sweeps_and_other_positions_no_bores(workshop):
    serial = workshop.serials[0]
    measure(workshop, serial, 0.01, 0.0)
    workshop.bring(serial, "shipped")
    number = workshop.fit_up(serial)
    sweep(workshop, number, worksheet="release-gap")
    assert found(workshop) == []
    sweep(workshop, number)
    with workshop.books.reading() as c:
        assert [each.measured for each in first_sweeps(c, workshop.conversion, "starter")] == [None]
        assert standing.one(c, serial).order_id is not None
    assert found(workshop)[0].swept.tzinfo == datetime.UTC


def test_many_fit_ups_take_as_many_questions_as_one(workshop):
    def asked() -> int:
        statements = []
        with workshop.books.reading() as c:
            event.listen(c, "before_cursor_execute", lambda *a: statements.append(a[2]))
            first_sweeps(c, workshop.conversion, "bore")
        return len(statements)

    counts = []
    for serial in workshop.serials[:3]:
        measure(workshop, serial, 0.01, 0.0)
        workshop.bring(serial, "shipped")
        sweep(workshop, workshop.fit_up(serial))
        counts.append(asked())
    assert len(set(counts)) == 1
