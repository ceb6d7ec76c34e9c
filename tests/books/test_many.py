"""Many bells at once: the same outcome as one by one, all or none, and sound books after it."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.books import decisions, inspections, moves, places, standing
from kitwright.books.inspections import Measured
from kitwright.books.tables import bell_now
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError

COUNT = 1500


def test_a_batch_of_many(workshop):
    workshop.receive(COUNT)
    serials = workshop.make(COUNT)
    rng = np.random.default_rng(3)
    kinds = rng.choice(["release", "hold", "reject"], COUNT).tolist()
    with workshop.books.writing() as c:
        numbers = inspections.record_inspections(
            c,
            workshop.batch,
            serials,
            [
                Measured(workshop.characteristics[0], rng.normal(0, 0.03, (COUNT, 2)), 0.01),
                Measured(workshop.characteristics[1], rng.normal(182.5, 0.01, COUNT), 0.01),
            ],
            "bridge",
            workshop.entry(),
        )
        before = decisions.decide_many(
            c, serials, kinds, workshop.entry(), rule="guard by U", inspection_ids=numbers
        )
    assert [each.serial for each in before] == serials
    assert {each.state for each in before} == {"made"}
    with workshop.books.reading() as c:
        for bell, kind in zip(standing.of(c, serials), kinds, strict=True):
            assert (bell.state, bell.decisions) == (moves.BELL.ends[kind], 1)
        counts = standing.counts(c, bell_now.c.batch_id == workshop.batch)
        assert sum(counts.values()) == COUNT
        assert counts[workshop.design, "held", "shelf"] == kinds.count("hold")
    assert verify(workshop.books) == []


def test_one_that_cannot_stops_all(workshop):
    workshop.bring(workshop.serials[2], "scrapped")
    workshop.bring(workshop.serials[3], "held")
    with workshop.books.writing() as c:
        with pytest.raises(MoveError) as refused:
            decisions.decide_many(c, workshop.serials, "release", workshop.entry())
        assert [line.split(":")[0] for line in refused.value.lines] == [
            f"bell {workshop.serials[2]}",
            f"bell {workshop.serials[3]}",
        ]
        assert {each.state for each in standing.of(c, workshop.serials[:2])} == {"made"}
        with pytest.raises(MissingError) as missing:
            decisions.decide_many(c, ["X-1", *workshop.serials, "X-2"], "hold", workshop.entry())
        assert missing.value.lines == [
            "bell X-1: there is no bell of this serial",
            "bell X-2: there is no bell of this serial",
        ]
        with pytest.raises(InputError, match="listed twice"):
            decisions.decide_many(c, workshop.serials[:1] * 2, "release", workshop.entry())
        with pytest.raises(InputError, match="kind: 2 given for 4 bells; give one a bell"):
            decisions.decide_many(c, workshop.serials, ["release"] * 2, workshop.entry())
        assert decisions.decide_many(c, [], "release", workshop.entry()) == []


def test_what_is_carried_fails_with_what_was_decided(workshop):
    """Scrapping carries the bell; where that is refused, nothing was decided either."""
    first, second, *_ = workshop.serials
    for serial in (first, second):
        workshop.bring(serial, "rejected")
    with workshop.books.writing() as c:
        decisions.decide_many(
            c, [first, second], "scrap", workshop.entry(), why=["bent", "cracked"]
        )
        assert {each.place for each in standing.of(c, [first, second])} == {places.SCRAP}
        with pytest.raises(InputError, match="why: missing"):
            decisions.decide_many(
                c, workshop.serials[2:], ["release", "scrap"], workshop.entry(), why=["", None]
            )
    assert verify(workshop.books) == []


def test_a_serial_that_reads_like_code_is_only_text(workshop):
    """Serials go into queries as one list; quotes, brackets and braces in them stay text."""
    odd = ["O'Neil\"s", '["x"]', "{a,b}", "K;DROP TABLE bell", "Zürich-№7", "a\\b"]
    workshop.receive(len(odd))
    with workshop.books.writing() as c:
        batch = workshop.plan(c, len(odd))
        workshop.send(c, batch, odd)
        assert [each.serial for each in standing.of(c, odd)] == odd
        decisions.decide_many(c, odd, "hold", workshop.entry(), why="a 'quoted' \"reason\"")
    with workshop.books.reading() as c:
        assert {each.state for each in standing.of(c, odd)} == {"held"}
        # code point order on both databases: capitals, then small letters, then the rest
        found = [each.serial for each in standing.where(c, bell_now.c.batch_id == batch)]
        assert found == sorted(odd)
    assert verify(workshop.books) == []
