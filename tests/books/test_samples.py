"""Samples: drawn again the same from the books, judged once, and what they let be released."""

from __future__ import annotations

import numpy as np
import pytest
import sqlalchemy as sa

from kitwright.books import decisions, inspections, samples, standing
from kitwright.books.samples import rule_of
from kitwright.books.tables import metadata
from kitwright.books.verifying import verify
from kitwright.calc.quality.random_sample import draw
from kitwright.errors import InputError, MissingError, MoveError

COUNT = 12


@pytest.fixture
def lot(workshop):
    """A batch of twelve bells that nobody has decided on."""
    workshop.receive(COUNT)
    workshop.serials = workshop.make(COUNT)
    return workshop


def draw_in(c, shop, *, n=4, c_allowed=1, seed=7):
    return samples.draw_sample(
        c, shop.batch, n=n, c=c_allowed, seed=seed, plan="our own", entry=shop.entry()
    )


def judge_in(c, shop, serials, kind):
    depth = inspections.Measured(shop.characteristics[1], [182.5] * len(serials), 0.01)
    numbers = inspections.record_inspections(
        c, shop.batch, serials, [depth], "bridge", shop.entry()
    )
    decisions.decide_many(c, serials, kind, shop.entry(), rule="guard by U", inspection_ids=numbers)


def test_the_same_seed_draws_the_same_and_the_books_can_draw_it_again(lot):
    with lot.books.writing() as c:
        number = draw_in(c, lot, seed=20)
        kept = samples.lot_of(c, number)
        drawn = [each.serial for each in kept if each.drawn]
        assert [each.serial for each in kept] == sorted(lot.serials)
        assert drawn == draw(sorted(lot.serials), 4, seed=20)
        assert drawn == samples.drawn_again(c, number)
        one = samples.get_sample(c, number)
        assert (one.n, one.c, one.seed, one.verdict) == (4, 1, 20, None)
        assert samples.outcomes(c, number) == dict.fromkeys(drawn)
    assert verify(lot.books) == []


def test_another_seed_draws_another_sample():
    """Of 40 seeds hardly any two draw the same four of a hundred (chance 1 in 3.9 million each)."""
    serials = [f"S-{number:03d}" for number in range(100)]
    assert len({tuple(draw(serials, 4, seed=seed)) for seed in range(40)}) == 40


def test_each_bell_is_drawn_as_often_as_any_other():
    """Over 2000 seeds each of twelve bells is drawn 1/3 of the time, within five sigma."""
    serials = [f"S-{number:03d}" for number in range(12)]
    counts = np.zeros(12)
    for seed in range(2000):
        counts += np.isin(serials, draw(serials, 4, seed=seed))
    assert abs(counts - 2000 / 3).max() < 5 * np.sqrt(2000 * 2 / 9)


def test_an_accepted_sample_releases_what_it_left_out(lot):
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        kept = samples.lot_of(c, number)
        drawn = [each.serial for each in kept if each.drawn]
        rest = [each.serial for each in kept if not each.drawn]
        ids = [each.bell_id for each in kept if not each.drawn]
        assert samples.accepted_for(c, ids) == {}
        with pytest.raises(MoveError, match="no measurement of it is named"):
            decisions.decide(c, rest[0], "release", lot.entry(), rule=rule_of(4, 1))
        judge_in(c, lot, drawn, ["release", "release", "reject", "release"])
        assert list(samples.outcomes(c, number).values()).count("reject") == 1
        samples.give_verdict(c, number, "accept", found=1, entry=lot.entry())
        assert set(samples.accepted_for(c, ids)) == set(ids)
        with pytest.raises(MoveError, match='name the rule "by sample: n = 4, c = 1"'):
            decisions.decide(c, rest[0], "release", lot.entry(), rule="guard by U")
        decisions.decide_many(c, rest, "release", lot.entry(), rule=rule_of(4, 1))
        assert {each.state for each in standing.of(c, rest)} == {"released"}
        with pytest.raises(MoveError, match="judged once"):
            samples.give_verdict(c, number, "accept", found=1, entry=lot.entry())
    assert verify(lot.books) == []


def test_a_drawn_bell_is_never_released_by_its_own_sample(lot):
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        drawn = [each.serial for each in samples.lot_of(c, number) if each.drawn]
        judge_in(c, lot, drawn[1:], "release")
        samples.give_verdict(c, number, "accept", found=0, entry=lot.entry())
        with pytest.raises(MoveError, match=f"bell {drawn[0]}: no measurement of it is named"):
            decisions.decide(c, drawn[0], "release", lot.entry(), rule=rule_of(4, 1))


def test_a_bell_of_another_batch_is_not_released_by_it(lot):
    lot.receive(1)
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        samples.give_verdict(c, number, "accept", found=0, entry=lot.entry())
    (other,) = lot.make(1)
    with lot.books.writing() as c, pytest.raises(MoveError, match="no measurement of it is named"):
        decisions.decide(c, other, "release", lot.entry(), rule=rule_of(4, 1))


def test_a_rejected_sample_means_that_all_are_measured(lot):
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        with pytest.raises(MoveError, match="sample 1 has no verdict yet"):
            draw_in(c, lot)
        with pytest.raises(InputError, match='"accept" with 2 bad; accept at 1 bad or fewer'):
            samples.give_verdict(c, number, "accept", found=2, entry=lot.entry())
        with pytest.raises(InputError, match='"reject" with 1 bad'):
            samples.give_verdict(c, number, "reject", found=1, entry=lot.entry())
        samples.give_verdict(c, number, "reject", found=2, entry=lot.entry())
        with pytest.raises(MoveError, match="was rejected; measure every bell"):
            draw_in(c, lot, seed=8)
        rest = [each.serial for each in samples.lot_of(c, number) if not each.drawn]
        with pytest.raises(MoveError, match="no measurement of it is named"):
            decisions.decide(c, rest[0], "release", lot.entry(), rule=rule_of(4, 1))


def test_a_bell_rejected_once_stays_bad_whatever_a_rework_made_of_it(lot):
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        first, second, *_ = (each.serial for each in samples.lot_of(c, number) if each.drawn)
        judge_in(c, lot, [first], "reject")
        decisions.decide(c, first, "rework", lot.entry(), why="cut again")
        judge_in(c, lot, [first], "release")
        judge_in(c, lot, [second], "hold")
        decisions.decide(c, second, "remeasure", lot.entry())
        judge_in(c, lot, [second], "release")
        found = samples.outcomes(c, number)
        assert (found[first], found[second]) == ("reject", "release")


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"n": COUNT}, "measure every bell, and draw no sample"),
        ({"n": 0}, "n: 0; give 1 or more"),
        ({"n": 4, "c_allowed": 4}, "give 0 to 3"),
        ({"seed": -1}, "seed: -1"),
        ({"seed": 2**53}, "give a whole number from 0 to"),
    ],
)
def test_plans_and_seeds_that_cannot_be(lot, plan, words):
    with lot.books.writing() as c:
        with pytest.raises(InputError, match=words):
            draw_in(c, lot, **plan)
        assert samples.samples_of(c, lot.batch) == []


def test_what_is_not_there(lot):
    with lot.books.writing() as c:
        with pytest.raises(MissingError):
            samples.get_sample(c, 5)
        with pytest.raises(MissingError):
            samples.draw_sample(c, 2**70, n=1, c=0, seed=0, plan="x", entry=lot.entry())
        samples.draw_sample(c, lot.batch, n=1, c=0, seed=0, plan="x", entry=lot.entry())


@pytest.mark.parametrize("name", ["sample", "sample_bell", "sample_verdict"])
def test_a_line_stands(lot, name):
    table = metadata.tables[name]
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        samples.give_verdict(c, number, "accept", found=0, entry=lot.entry())
    for act in (table.update().values({list(table.c)[-1]: list(table.c)[-1]}), table.delete()):
        with (
            pytest.raises(sa.exc.IntegrityError, match=f"a line of {name} stands"),
            lot.books.writing() as c,
        ):
            c.execute(act)


FORGERIES = [
    ("UPDATE sample SET seed = seed + 1", "its seed draws other bells than are kept"),
    ("UPDATE sample_bell SET drawn = 1 - drawn", "its seed draws other bells than are kept"),
    ("UPDATE sample_verdict SET found = 3", "accept with 3 bad, 1 allowed"),
    ("DELETE FROM sample_verdict", '"release", has no evidence'),
    ("UPDATE decision SET rule = 'by sample: n = 5, c = 1'", '"release", has no evidence'),
    (
        "UPDATE sample_verdict SET recorded = '2999-01-01T00:00:00.000000Z'",
        '"release", has no evidence',
    ),
]


@pytest.mark.parametrize(("act", "line"), FORGERIES)
def test_verify_finds_what_was_forged(lot, act, line):
    with lot.books.writing() as c:
        number = draw_in(c, lot)
        kept = samples.lot_of(c, number)
        judge_in(c, lot, [each.serial for each in kept if each.drawn], "release")
        samples.give_verdict(c, number, "accept", found=0, entry=lot.entry())
        rest = [each.serial for each in kept if not each.drawn]
        decisions.decide_many(c, rest, "release", lot.entry(), rule=rule_of(4, 1))
    assert verify(lot.books) == []
    forge(lot.books, act)
    assert any(line in told for told in verify(lot.books))


def forge(books, act):
    """Change what stands, the guards taken away."""
    with books.writing() as c:
        if c.dialect.name == "postgresql":
            c.exec_driver_sql("SET LOCAL session_replication_role = replica")
        else:
            for (name,) in c.exec_driver_sql(
                "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            ).fetchall():
                c.exec_driver_sql(f"DROP TRIGGER {name}")
        c.exec_driver_sql(act)
