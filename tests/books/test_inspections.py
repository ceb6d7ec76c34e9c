"""Inspections in bulk, and reading the newest values back."""

from __future__ import annotations

from threading import Thread

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from kitwright.books import decisions, inspections
from kitwright.books.inspections import Measured
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


def measured(workshop, count=4):
    """Bore, depth and flatness of so many bells."""
    bore, depth, flatness = workshop.characteristics
    rows = np.arange(count)
    return [
        Measured(bore, np.c_[0.01 * rows, -0.02 * rows], 0.012),
        Measured(depth, 182.5 + 0.01 * rows, 0.01 + 0.001 * rows),
        Measured(flatness, 0.02 + 0.01 * rows, 0.005),
    ]


def record(c, workshop, serials=None, values=None, batch=None):
    serials = workshop.serials if serials is None else serials
    return inspections.record_inspections(
        c,
        workshop.batch if batch is None else batch,
        serials,
        measured(workshop, len(serials)) if values is None else values,
        "column gauge",
        workshop.entry("M. Machinist"),
    )


def test_a_batch_measured_comes_back_as_it_was_given(workshop):
    backwards = workshop.serials[::-1]
    with workshop.books.writing() as c:
        numbers = record(c, workshop, backwards)
        assert len(set(numbers)) == 4
        for row, serial in enumerate(backwards):
            (found,) = inspections.inspections_of(c, serial)
            assert (found.id, found.instrument, found.who) == (
                numbers[row],
                "column gauge",
                "M. Machinist",
            )
            bore, depth, flatness = inspections.values_of(c, found.id)
            assert (bore.x_mm, bore.y_mm, bore.value_mm) == (0.01 * row, -0.02 * row, None)
            assert (depth.value_mm, depth.u95_mm) == (182.5 + 0.01 * row, 0.01 + 0.001 * row)
            assert (flatness.x_mm, flatness.y_mm, flatness.u95_mm) == (None, None, 0.005)
        newest = inspections.newest_values(c, workshop.batch)
        assert newest.serials == tuple(workshop.serials)
        assert newest.inspection_ids == tuple(numbers[::-1])
        assert [each.name for each in newest.characteristics] == ["bore", "depth", "flatness"]
        np.testing.assert_array_equal(newest.mm[::-1, 0, 1], [0, -0.02, -0.04, -0.06])
        assert np.isnan(newest.mm[:, 1:, 1]).all()
        np.testing.assert_array_equal(newest.u95_mm[:, 0], [0.012] * 4)
    assert verify(workshop.books) == []


def test_measured_again_the_newest_counts_and_the_old_one_stays(workshop):
    bore, depth, _ = workshop.characteristics
    serial = workshop.serials[2]
    with workshop.books.writing() as c:
        first = record(c, workshop)
        (again,) = record(c, workshop, [serial], [Measured(depth, [182.49], 0.002)])
        newest = inspections.newest_values(c, workshop.batch)
        assert newest.inspection_ids == (first[0], first[1], again, first[3])
        assert newest.mm[2, 1, 0] == 182.49
        assert newest.u95_mm[2, 1] == 0.002
        np.testing.assert_array_equal(newest.mm[2, 0], [0.02, -0.04])  # not measured again
        assert [each.id for each in inspections.inspections_of(c, serial)] == [first[2], again]
        assert bore in {each.characteristic_id for each in inspections.values_of(c, first[2])}


def test_what_was_never_measured_is_not_a_number(workshop):
    depth = workshop.characteristics[1]
    with workshop.books.writing() as c:
        record(c, workshop, workshop.serials[:1], [Measured(depth, [182.5], 0.01)])
        newest = inspections.newest_values(c, workshop.batch)
        assert newest.inspection_ids[1:] == (0, 0, 0)
        assert np.isnan(newest.mm[1:]).all()
        assert np.isnan(newest.u95_mm[0, 0])


def test_released_bells_only(workshop):
    with workshop.books.writing() as c:
        numbers = record(c, workshop)
        kinds = ["release", "hold", "release", "reject"]
        decisions.decide_many(
            c, workshop.serials, kinds, workshop.entry(), inspection_ids=numbers, rule="guard by U"
        )
        found = inspections.released_values(c, workshop.revision)
        assert found.serials == (workshop.serials[0], workshop.serials[2])
        np.testing.assert_array_equal(found.mm[:, 0, 0], [0, 0.02])
        assert inspections.released_values(c, 99).serials == ()


def test_evidence_is_of_the_bell_itself(workshop):
    first, second, *_ = workshop.serials
    with workshop.books.writing() as c:
        numbers = record(c, workshop)
        with pytest.raises(InputError) as refused:
            decisions.decide_many(
                c,
                [first, second],
                "release",
                workshop.entry(),
                inspection_ids=[numbers[1], 2**70],
            )
        assert refused.value.lines == [
            f"bell {first}: inspection {numbers[1]} is not of this bell; name one of its own",
            f"bell {second}: inspection {2**70} is not of this bell; name one of its own",
        ]
        with pytest.raises(MoveError) as bare:
            decisions.decide_many(
                c, [first, second], "release", workshop.entry(), inspection_ids=[numbers[0], None]
            )
        told = f"bell {second}: no measurement of it is named; import its inspection"
        assert bare.value.lines == [told]
        decisions.decide_many(
            c, [first, second], "release", workshop.entry(), inspection_ids=numbers[:2]
        )


def test_values_that_cannot_be_leave_nothing(workshop):
    bore, depth, _ = workshop.characteristics
    good = measured(workshop)
    serials = list(workshop.serials)
    nan = float("nan")
    others = workshop.make(1)
    own_batch = workshop.batch - 1
    for given_serials, values, words in (
        (serials, [], "values: nothing was measured"),
        (serials, [*good, good[0]], "bore: measured twice"),
        (serials, [Measured(99, [1] * 4, 0.1)], "characteristic: 99 is not of the batch"),
        (serials, [Measured(bore, [1] * 4, 0.1)], r"bore: shape \(4,\); give x and y a bell"),
        (serials, [Measured(depth, np.ones((4, 2)), 0.1)], "depth: shape .* give a length a bell"),
        (serials, [Measured(depth, [1] * 3, 0.1)], "depth: shape"),
        (serials, [Measured(depth, [1, nan, 1, nan], 0.1)], f"bell {serials[1]} depth: nan mm"),
        (serials, [Measured(depth, [1] * 4, [0.1, 0.1, -0.1, 0.1])], "depth u95: -0.1 mm"),
        (serials, [Measured(depth, [1] * 4, nan)], "depth u95: nan mm; measure it again"),
        (serials, [Measured(depth, [1] * 4, [0.1] * 3)], "depth u95: not 4 rows of numbers"),
        (serials, [Measured(depth, ["x"] * 4, 0.1)], "depth: not 4 rows of numbers"),
        (serials + others, measured(workshop, 5), f"bell {others[0]}: is not of this batch"),
        (serials[:3] + serials[:1], good, "listed twice"),
    ):
        with workshop.books.writing() as c, pytest.raises(InputError, match=words):
            record(c, workshop, given_serials, values, own_batch)
        with workshop.books.reading() as c:
            assert inspections.inspections_of(c, serials[0]) == []
    with workshop.books.writing() as c, pytest.raises(MissingError, match="no batch number 99"):
        record(c, workshop, batch=99)


def test_every_bad_value_has_its_line(workshop):
    depth = workshop.characteristics[1]
    values = [Measured(depth, [1, float("nan"), float("inf"), 1], 0.1)]
    with workshop.books.writing() as c, pytest.raises(InputError) as refused:
        record(c, workshop, values=values)
    assert refused.value.lines == [
        f"bell {workshop.serials[1]} depth: nan mm; measure it again",
        f"bell {workshop.serials[2]} depth: inf mm; measure it again",
    ]


length = st.floats(-1e5, 1e5, allow_nan=False)


@settings(max_examples=25)
@given(arrays(float, (3, 2), elements=length), arrays(float, (3,), elements=st.floats(0, 1e5)))
def test_every_finite_length_comes_back_bit_for_bit(workshop, positions, u95):
    with workshop.books.writing() as c:
        record(
            c,
            workshop,
            workshop.serials[:3],
            [Measured(workshop.characteristics[0], positions, u95)],
        )
        newest = inspections.newest_values(c, workshop.batch)
        np.testing.assert_array_equal(newest.mm[:3, 0], positions)
        np.testing.assert_array_equal(newest.u95_mm[:3, 0], u95)


def test_two_machinists_hand_in_at_once(workshop):
    """Row numbers are reserved: what one keeps never lands under the other's inspections."""
    first, second = list(workshop.serials), workshop.make(4)
    batches = [workshop.batch - 1, workshop.batch]
    failed = []

    def hands_in(serials, batch):
        try:
            for _ in range(5):
                with workshop.books.writing() as c:
                    record(c, workshop, serials, batch=batch)
        except Exception as error:  # noqa: BLE001  # shown below
            failed.append(error)

    threads = [
        Thread(target=hands_in, args=pair)
        for pair in zip((first[:4], second), batches, strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with workshop.books.reading() as c:
        for serial in (*first[:4], *second):
            assert len(inspections.inspections_of(c, serial)) == 5
    assert verify(workshop.books) == []
