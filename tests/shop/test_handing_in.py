"""What a machinist hands in waits for the shop; the shop's rule decides it; nothing else does."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from kitwright.books import bells, decisions, inspections, machine_axes, standing, stock
from kitwright.books.characteristics import characteristics, length_of, position_of
from kitwright.books.entries import Entry
from kitwright.books.inspections import Newest
from kitwright.books.machine_axes import MachineAxes
from kitwright.books.opening import Books
from kitwright.books.shop import add_party
from kitwright.books.verifying import verify
from kitwright.demo.measuring import inspection
from kitwright.errors import FileError, InputError, MissingError, MoveError
from kitwright.files.inspection import write_inspection
from kitwright.files.tables import read_csv
from kitwright.shop import handing_in, machinist

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


def entry(minutes: int = 0, who: str = "Turner") -> Entry:
    return Entry(who, NOW + datetime.timedelta(minutes=minutes))


@pytest.fixture
def sent(demo_books: Books) -> tuple[int, list[str], int]:
    """The demo's batch that is at the machinist's: its number, its serials, its machinist."""
    with demo_books.reading() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
        serials = [each.serial for each in standing.where(c) if each.batch_id == batch.id]
    return batch.id, serials, batch.machinist_id


def measured(books: Books, batch: int, serials: list[str], **wrong: object):
    with books.reading() as c:
        drawn = characteristics(c, stock.get_batch(c, batch).revision_id)
    made = inspection(drawn, serials, seed=5, wrong=wrong.get("wrong", {}))
    return read_csv(write_inspection(made).encode())


def states(books: Books, serials: list[str]) -> list[str]:
    with books.reading() as c:
        return [each.state for each in standing.of(c, serials)]


def test_handing_in_decides_nothing(demo_books, sent):
    batch, serials, his = sent
    table = measured(demo_books, batch, serials, wrong={0: {"bore": (0.2, 0.0)}})
    kept = handing_in.hand_in(demo_books, batch, table, instrument="arm", entry=entry())
    assert kept == len(serials)
    assert states(demo_books, serials) == ["made"] * len(serials)
    shown = machinist.view(demo_books, his, batch)
    assert [each.verdict for each in shown.answers].count("outside") == 1
    assert shown.answers[0].reason == "bore outside"
    assert {each.state for each in shown.answers} == {"made"}
    with pytest.raises(MoveError, match="it is sent; take it back first"):
        handing_in.decide_handed_in(demo_books, batch, entry=entry(1))
    assert verify(demo_books) == []


def test_the_shop_decides_what_waits_by_its_rule_and_only_once(demo_books, sent):
    batch, serials, _ = sent
    table = measured(demo_books, batch, serials, wrong={0: {"bore": (0.2, 0.0)}})
    handing_in.hand_in(demo_books, batch, table, instrument="arm", entry=entry())
    with demo_books.writing() as c:
        stock.take_batch_back(c, batch, entry(1, "Owner"))
    decided = handing_in.decide_handed_in(demo_books, batch, entry=entry(2, "Owner"))
    assert decided.counts == {"reject": 1, "release": len(serials) - 1}
    assert states(demo_books, serials) == ["rejected"] + ["released"] * (len(serials) - 1)
    with demo_books.reading() as c:
        assert stock.get_batch(c, batch).state == "judged"
        last = bells.decisions_of(c, serials[1])[-1]
        assert (last.who, last.rule) == ("Owner", "guard by U")
        found = inspections.inspections_of(c, serials[1])[-1]
        assert (found.id, found.who) == (last.inspection_id, "Turner")
    with pytest.raises(MoveError, match="no measurement waits; import one"):
        handing_in.decide_handed_in(demo_books, batch, entry=entry(3, "Owner"))
    assert verify(demo_books) == []


def test_a_decision_on_one_bell_leaves_what_was_measured_of_the_others_waiting(demo_books, sent):
    batch, serials, _ = sent
    table = measured(demo_books, batch, serials)
    handing_in.hand_in(demo_books, batch, table, instrument="arm", entry=entry())
    with demo_books.writing() as c:
        stock.take_batch_back(c, batch, entry(1, "Owner"))
        number = inspections.inspections_of(c, serials[-1])[-1].id  # the newest of all
        decisions.decide(
            c, serials[-1], "release", entry(2, "Owner"), rule="guard by U", inspection_id=number
        )
        waits = handing_in.handed_in(c, batch)
    assert {each.serial for each in waits.bells} == set(serials[:-1])


def test_a_held_bell_measured_anew_is_decided_again(demo_books):
    with demo_books.reading() as c:
        held = next(each for each in standing.where(c) if each.state == "held")
    table = measured(demo_books, held.batch_id, [held.serial])
    handing_in.hand_in(demo_books, held.batch_id, table, instrument="arm", entry=entry())
    with demo_books.reading() as c:
        waits = handing_in.handed_in(c, held.batch_id)
    assert [each.serial for each in waits.bells] == [held.serial]
    handing_in.decide_handed_in(demo_books, held.batch_id, entry=entry(1, "Owner"))
    assert states(demo_books, [held.serial]) == ["released"]
    with demo_books.reading() as c:
        kinds = [each.kind for each in bells.decisions_of(c, held.serial)]
    assert kinds[-2:] == ["remeasure", "release"]
    assert verify(demo_books) == []


def test_what_cannot_be_used_leaves_nothing(demo_books, sent):
    batch, serials, _ = sent
    text = write_inspection
    with demo_books.reading() as c:
        drawn = characteristics(c, stock.get_batch(c, batch).revision_id)
        released = next(each for each in standing.where(c) if each.state == "released")
    bad = text(inspection(drawn, serials, seed=5)).replace(",", ",x", 1)
    with pytest.raises(FileError):
        handing_in.hand_in(demo_books, batch, read_csv(bad.encode()), instrument="a", entry=entry())
    foreign = read_csv(text(inspection(drawn, ["nobody"], seed=5)).encode())
    with pytest.raises(MissingError, match="nobody"):
        handing_in.hand_in(demo_books, batch, foreign, instrument="a", entry=entry())
    sold = read_csv(text(inspection(drawn, [released.serial], seed=5)).encode())
    with pytest.raises(MoveError, match="the shop has decided on it"):
        handing_in.hand_in(demo_books, released.batch_id, sold, instrument="a", entry=entry())
    with demo_books.reading() as c:
        assert all(not inspections.inspections_of(c, each) for each in serials)


def test_another_machinists_batch_is_not_there(demo_books, sent):
    batch, _, _ = sent
    with demo_books.writing() as c:
        other = add_party(c, "Another Spindle", "machinist")
        assert machinist.batches_of(c, other) == []
    with pytest.raises(MissingError, match="this link opens no such batch"):
        machinist.view(demo_books, other, batch)
    with pytest.raises(MissingError, match="this link opens no such batch"):
        machinist.declare_axes(
            demo_books, other, batch, MachineAxes(right="X+", up="Y+", lengths={}), entry=entry()
        )


def test_of_serials_that_are_not_his_he_learns_nothing(demo_books, sent):
    """A bell that the shop decided on in another batch, and one that nobody has: the same line."""
    batch, serials, _ = sent
    strange = measured(demo_books, batch, [serials[0], "HC-0101", "nobody"])
    with pytest.raises(MissingError) as refused:
        handing_in.hand_in(demo_books, batch, strange, instrument="arm", entry=entry())
    assert [str(each) for each in refused.value.problems] == [
        f"bell {serial}: is not of this batch; measure the bells of the batch"
        for serial in ("HC-0101", "nobody")
    ]


# ── axes and offsets ─────────────────────────────────────────────────────────────────────

BORE = position_of("bore", 0.2)


def newest(x: float, y: float) -> Newest:
    import numpy as np

    jitter = np.array([-0.002, 0.001, 0.002, -0.001, 0.0, 0.001, -0.001])
    mm = np.stack([x + jitter, y - jitter], axis=-1)[:, None, :]
    return Newest(
        serials=tuple("abcdefg"),
        characteristics=(BORE,),
        mm=mm,
        u95_mm=np.full((7, 1), 0.001),
        inspection_ids=tuple(range(1, 8)),
    )


@pytest.mark.parametrize("right", ["X+", "X-", "Y+", "Z-"])
@pytest.mark.parametrize("up", ["Y-", "Z+", "X-"])
def test_shifting_the_machine_as_told_brings_the_bore_home(right, up):
    """Whatever way the axes point: the shift, brought back to the drawing, is the offset undone."""
    if right[0] == up[0]:
        return
    axes = MachineAxes(right=right, up=up, lengths={})
    found = machinist.offsets(newest(0.03, -0.05), axes)
    moved = {offset.machine: offset.shift_mm for offset in found}
    sign = {"+": 1, "-": -1}
    assert moved[right[0]] * sign[right[1]] == pytest.approx(-0.03)
    assert moved[up[0]] * sign[up[1]] == pytest.approx(0.05)
    assert all(offset.worth_it for offset in found)


def test_each_coordinate_is_set_on_its_own_middle_and_a_length_on_half_its_limits():
    import numpy as np

    made = newest(12.03, -39.95)
    columns = np.concatenate([made.mm, np.full((7, 1, 2), np.nan)], axis=1)
    columns[:, 1, 0] = 100.07 + made.mm[:, 0, 0] - 12.03
    made = replace(
        made,
        characteristics=(
            position_of("dowel", 0.2, x_mm=12.0, y_mm=-40.0),
            length_of("depth", 99.8, 100.2),
        ),
        mm=columns,
        u95_mm=np.full((7, 2), 0.001),
    )
    found = machinist.offsets(made, None)
    assert [(each.about.name, each.axis) for each in found] == [
        ("dowel", "right"), ("dowel", "up"), ("depth", ""),
    ]  # fmt: skip
    assert [each.setting.target for each in found] == pytest.approx([12, -40, 100])
    assert [each.setting.shift for each in found] == pytest.approx([-0.03, -0.05, -0.07])
    assert [each.allowed_mm for each in found] == pytest.approx([0.1, 0.1, 0.2])


@pytest.mark.parametrize(("bells", "told"), [(5, 2), (4, 0)])
def test_a_setting_needs_five_bells(bells, told):
    """Fewer measured ones say nothing yet, however many bells there are."""
    made = newest(0.03, -0.05)
    made.mm[bells:] = float("nan")
    assert len(machinist.offsets(made, None)) == told


def test_without_axes_it_says_how_much_but_not_which_way():
    found = machinist.offsets(newest(0.03, -0.05), None)
    assert [(offset.machine, offset.shift_mm) for offset in found] == [(None, None)] * 2
    assert found[0].setting.shift == pytest.approx(-0.03)


def test_a_shift_too_small_to_make_is_not_worth_it():
    found = machinist.offsets(newest(0.009, 0.0), MachineAxes(right="X+", up="Y+", lengths={}))
    assert found[0].setting.off
    assert not found[0].worth_it  # a tenth of the zone's radius is 0.01 mm
    assert not found[1].setting.off


@pytest.mark.parametrize(
    ("right", "up", "lengths", "words"),
    [
        ("X", "Y+", {}, 'right: "X" is no direction; write X\\+, X-'),
        ("X+", "", {}, 'up: "" is no direction'),
        ("X+", "X-", {}, "up: X- lies along the same axis as right"),
        ("X+", "Y+", {"depth": "deeper"}, 'depth: "deeper" is no direction; .* or diameter'),
    ],
)
def test_axes_that_are_none_are_refused(demo_books, sent, right, up, lengths, words):
    batch, _, his = sent
    given = MachineAxes(right=right, up=up, lengths=lengths)
    with pytest.raises(InputError, match=words):
        machinist.declare_axes(demo_books, his, batch, given, entry=entry())
    assert machinist.view(demo_books, his, batch).axes is None


def test_a_machinists_axes_are_his_own_and_his_batches_the_newest_first(demo_books, sent):
    batch, _, his = sent
    with demo_books.writing() as c:
        other = add_party(c, "Another Spindle", "machinist")
        revision = stock.get_batch(c, batch).revision_id
        for label in ("B-21", "B-22"):
            number = stock.plan_batch(
                c, label, revision_id=revision, machinist_id=other, count=3, due=NOW.date(),
                entry=entry(1),
            )  # fmt: skip
        assert [each.label for each, _ in machinist.batches_of(c, other)] == ["B-22", "B-21"]
        assert {each.machinist_id for each, _ in machinist.batches_of(c, his)} == {his}
    machinist.declare_axes(
        demo_books, his, batch, MachineAxes(right="X+", up="Y+", lengths={}), entry=entry(2)
    )
    planned = machinist.view(demo_books, other, number)
    assert planned.axes is None
    assert not planned.takes  # it is planned: nothing of it can be measured yet


def test_he_is_answered_for_what_was_measured_and_may_measure_what_is_held(demo_books, sent):
    batch, serials, his = sent
    handing_in.hand_in(
        demo_books, batch, measured(demo_books, batch, serials[:2]), instrument="arm",
        entry=entry(),
    )  # fmt: skip
    shown = {each.serial: each for each in machinist.view(demo_books, his, batch).answers}
    assert [shown[each].verdict for each in serials] == ["within"] * 2 + [None] * 4
    assert [shown[each].reason for each in serials[2:]] == [None] * 4
    assert machinist.view(demo_books, his, batch).takes
    with demo_books.writing() as c:
        stock.take_batch_back(c, batch, entry(1, "Owner"))
        for each in serials[1:]:
            decisions.decide(c, each, "reject", entry(2, "Owner"))
        decisions.decide(c, serials[0], "hold", entry(2, "Owner"))
    assert machinist.view(demo_books, his, batch).takes
    with demo_books.writing() as c:
        decisions.decide(c, serials[0], "reject", entry(3, "Owner"))
    assert not machinist.view(demo_books, his, batch).takes


def test_the_axes_declared_last_count(demo_books, sent):
    batch, _, his = sent
    for right in ("X-", "Y-"):
        given = MachineAxes(right=right, up="Z+", lengths={"depth": "X-"})
        machinist.declare_axes(demo_books, his, batch, given, entry=entry())
    assert machinist.view(demo_books, his, batch).axes == given
    with demo_books.reading() as c:
        assert machine_axes.declared(c, his, 99) is None


def test_a_hand_in_that_waited_behind_a_decision_still_waits_for_the_shop(demo_books, sent):
    """Its time was taken before the decision it waited for was written; it is newer evidence."""
    batch, serials, _ = sent
    with demo_books.writing() as c:
        stock.take_batch_back(c, batch, entry(0, "Owner"))
    bad = measured(demo_books, batch, serials[:1], wrong={0: {"bore": (0.0262, -0.0268)}})
    handing_in.hand_in(demo_books, batch, bad, instrument="arm", entry=entry(1))
    handing_in.decide_handed_in(demo_books, batch, entry=entry(9, "Owner"))
    assert states(demo_books, serials[:1]) == ["held"]
    better = measured(demo_books, batch, serials[:1])
    handing_in.hand_in(demo_books, batch, better, instrument="arm", entry=entry(8))
    with demo_books.reading() as c:
        waits = handing_in.handed_in(c, batch)
    assert ([each.serial for each in waits.bells], waits.kinds) == (serials[:1], ("release",))
