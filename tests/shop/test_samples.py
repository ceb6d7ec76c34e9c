"""A batch judged by a sample, from the draw to the certificate of a bell that nobody measured."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import decisions, standing, stock
from kitwright.books import samples as kept
from kitwright.books.verifying import verify
from kitwright.calc.quality.random_sample import draw
from kitwright.errors import InputError, MoveError
from kitwright.files.qif import open_qif
from kitwright.files.qif_writing import write_qif
from kitwright.paper.certificate import BY_SAMPLE, certificate_data, certificate_pdf
from kitwright.paper.of_shop import certificate_of
from kitwright.shop import bells, samples
from kitwright.shop.handing_in import hand_in
from kitwright.shop.samples import asked_for

START = datetime.datetime(2026, 5, 6, 8, tzinfo=datetime.UTC)
BAD = {0: {"bore": (0.2, 0.0)}}
CLOSE = {0: {"bore": (0.0375, 0.0)}}


def drawn_in(fresh, **plan):
    asked = asked_for(**(plan or {"n": 3, "c": 0}))
    return samples.draw(fresh.books, fresh.number, asked, seed=4, entry=fresh.entry())


def state_of(fresh, serials):
    with fresh.books.reading() as connection:
        return {bell.state for bell in standing.of(connection, list(serials))}


def test_accepted_it_releases_the_rest_and_their_certificates_say_how(fresh) -> None:
    seen = drawn_in(fresh)
    lot = [bell.serial for bell in seen.lot]
    assert seen.drawn == tuple(draw(lot, 3, seed=4)) == seen.missing
    assert "3 of 8 bells drawn at random (seed 4), 3 still to be measured" in seen.say()
    with pytest.raises(MoveError, match=f"not measured yet: {', '.join(seen.drawn)}"):
        samples.judge(fresh.books, seen.sample.id, fresh.entry())
    fresh.measure(seen.drawn)
    done = samples.judge(fresh.books, seen.sample.id, fresh.entry("Otis"))
    assert (
        done.say() == "Accepted: 3 of 8 bells drawn at random (seed 4), 0 bad, 0 bad are allowed."
    )
    rest = [serial for serial in lot if serial not in seen.drawn]
    assert state_of(fresh, lot) == {"released"}
    with fresh.books.reading() as connection:
        assert stock.get_batch(connection, fresh.number).state == "judged"
        assert kept.drawn_again(connection, seen.sample.id) == list(seen.drawn)
    assert verify(fresh.books) == []

    found = bells.view(fresh.books, rest[0])
    assert found.sample is not None
    assert found.measured == ()
    assert "not itself measured" in found.route[-1].detail
    paper = certificate_of(found)
    assert paper.say() == "Released by sample, not itself measured."
    assert {row.verdict for row in paper.rows} == {None}
    data = certificate_data(paper)
    assert data["certifies"] == BY_SAMPLE
    assert "seed 4" in dict(data["about"])["Sample"]
    assert dict(data["about"])["Inspected"] == "not itself measured"
    assert certificate_pdf(paper).startswith(b"%PDF")
    measured = bells.view(fresh.books, seen.drawn[0])
    assert measured.sample is None
    assert certificate_of(measured).sample == ""


def test_a_bell_released_by_sample_is_certified_by_itself_once_it_is_measured(fresh) -> None:
    seen = drawn_in(fresh)
    fresh.measure(seen.drawn)
    samples.judge(fresh.books, seen.sample.id, fresh.entry())
    (serial, *_) = [bell.serial for bell in seen.lot if not bell.drawn]
    for kind in ("withdraw", "hold"):
        bells.decide(fresh.books, serial, kind, why="a look again", seen=None, entry=fresh.entry())
    assert fresh.measure([serial]).counts == {"release": 1}
    found = bells.view(fresh.books, serial)
    assert found.sample is None
    assert certificate_of(found).say().startswith("Released. 12 characteristics measured")
    assert verify(fresh.books) == []


def test_rejected_it_leaves_the_rest_to_be_measured(fresh) -> None:
    seen = drawn_in(fresh)
    fresh.measure(seen.drawn, BAD)
    done = samples.judge(fresh.books, seen.sample.id, fresh.entry())
    assert done.sample.verdict == "reject"
    assert done.bad == seen.drawn[:1]
    rest = [bell.serial for bell in seen.lot if not bell.drawn]
    assert state_of(fresh, rest) == {"made"}
    with pytest.raises(MoveError, match="was rejected; measure every bell"):
        drawn_in(fresh)
    assert fresh.measure(rest).finished
    assert verify(fresh.books) == []


def test_one_bad_bell_may_be_allowed(fresh) -> None:
    seen = drawn_in(fresh, n=4, c=1)
    fresh.measure(seen.drawn, BAD)
    done = samples.judge(fresh.books, seen.sample.id, fresh.entry())
    assert (done.sample.verdict, done.sample.found) == ("accept", 1)


def test_too_close_to_call_counts_as_bad_until_it_is_measured_better(fresh) -> None:
    seen = drawn_in(fresh)
    assert fresh.measure(seen.drawn, CLOSE).counts["hold"] == 1
    assert samples.view(fresh.books, seen.sample.id).bad == seen.drawn[:1]
    fresh.measure(seen.drawn[:1])
    assert samples.view(fresh.books, seen.sample.id).bad == ()


def test_an_inspection_of_the_rest_does_not_wait_for_the_verdict(fresh) -> None:
    """What was measured in between is decided by its measurement, not by the sample."""
    seen = drawn_in(fresh)
    fresh.measure(seen.drawn)
    early = next(bell.serial for bell in seen.lot if not bell.drawn)
    fresh.measure([early], BAD)
    samples.judge(fresh.books, seen.sample.id, fresh.entry())
    assert state_of(fresh, [early]) == {"rejected"}
    assert verify(fresh.books) == []


def test_a_sample_needs_a_batch_that_is_back_and_waits(demo_books, at) -> None:
    for number, words in ((3, "it is sent"), (4, "it is judged")):
        with pytest.raises(MoveError, match=words):
            samples.draw(demo_books, number, asked_for(n=2, c=0), seed=1, entry=at(9))


def test_a_sample_as_large_as_the_lot_is_no_sample(fresh) -> None:
    with pytest.raises(InputError, match="measure every bell, and draw no sample"):
        drawn_in(fresh, n=8, c=0)
    with pytest.raises(InputError, match="give 1 to 8, the lot"):
        drawn_in(fresh, n=9, c=0)
    assert samples.views(fresh.books, fresh.number) == []


def test_a_plan_by_the_tables_says_so(fresh) -> None:
    """ISO 2859-1:1999, Tables 1 and 2-A: a lot of 8 at level II is letter A; AQL 4.0 leads by the
    arrow to letter B, n = 3, Ac 0 (from memory)."""
    seen = drawn_in(fresh, aql=4.0)
    assert (seen.sample.n, seen.sample.c) == (3, 0)
    assert seen.sample.plan == (
        "ISO 2859-1:1999, normal inspection, level II, AQL 4 %, letters A B"
    )


def test_a_plan_from_two_qualities_says_what_it_risks() -> None:
    asked = {"accept_quality": 0.02, "reject_quality": 0.2}
    told = samples.plan_in_words(asked, samples.plan(asked, 60))
    assert told.startswith("the least sample with which 2 % bad is rejected ")
    assert " and 20 % bad is accepted " in told


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "n: missing; give n and c"),
        ({"n": 3}, "c: missing"),
        ({"n": 3, "c": 0, "aql": 1.0}, "aql: given with a plan"),
    ],
)
def test_half_a_plan_is_refused(asked, words) -> None:
    with pytest.raises(InputError, match=words):
        asked_for(**asked)


def test_a_bell_whose_measurement_waits_is_decided_by_that(fresh) -> None:
    """A machinist handed it in, bad, and nobody decided on it: the sample does not release it."""
    seen = drawn_in(fresh)
    fresh.measure(seen.drawn)
    handed = next(bell.serial for bell in seen.lot if not bell.drawn)
    written = write_qif(fresh.table([handed], BAD), title="try", created=START)
    hand_in(
        fresh.books, fresh.number, open_qif(written), instrument="his", entry=fresh.entry("Carrack")
    )
    samples.judge(fresh.books, seen.sample.id, fresh.entry())
    assert state_of(fresh, [handed]) == {"made"}
    with (
        fresh.books.writing() as connection,
        pytest.raises(MoveError, match="no measurement of it is named"),
    ):
        decisions.decide(connection, handed, "release", fresh.entry(), rule=seen.sample.rule)
    with fresh.books.reading() as connection:
        assert stock.get_batch(connection, fresh.number).state == "back"
    assert verify(fresh.books) == []
