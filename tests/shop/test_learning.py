"""What the demo's fit-ups teach of its blocks, and the budget that rests on it."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from kitwright.books import conversions, fitups
from kitwright.books import inspections as kept
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.tables import block_population
from kitwright.calc.centring.block_chance import chance_beyond
from kitwright.demo.history import FITTED, serials
from kitwright.demo.measuring import Block, sweep_case
from kitwright.shop import corrections
from kitwright.shop import fitups as standing_by
from kitwright.shop.learning import LEAST, Learned, Sample, learn, learned, samples

CONVERSION, BATCH, FIRST_BATCH = 1, 4, 1
BLOCKS = {
    kind: [
        (number, vector) for number, (_, block, vector, _) in enumerate(FITTED, 1) if block == kind
    ]
    for kind in ("new", "line-honed")
}
SHIPPED = [serial for serial in serials("HC", 1, 24) if serial != "HC-0012"][len(FITTED) :]
"""Cast bells of the first batch that are with customers and not fitted yet."""


def at(hour: int, who: str = "Ines") -> Entry:
    return Entry(
        who=who, recorded=datetime.datetime(2026, 5, 5, hour % 24, hour // 24, tzinfo=datetime.UTC)
    )


def gathered(books: Books) -> dict[str, list[Sample]]:
    with books.reading() as connection:
        return samples(connection, CONVERSION)


def bore_of(books: Books, serial: str) -> tuple[float, float]:
    with books.reading() as connection:
        found = kept.newest_values(connection, FIRST_BATCH)
    x, y = found.mm[found.serials.index(serial), 0].tolist()
    return x, y


def fit(books: Books, serial: str, vector: Block, *, block: str = "new", seed: int = 1) -> int:
    """A fit-up on a block with this vector, swept."""
    with books.writing() as connection:
        number = fitups.open_fit_up(connection, serial, fitter="F.", block=block, entry=at(1))
    swept = sweep_case(bore_of(books, serial), vector, seed=seed)
    standing_by.receive_sweep(books, number, swept, entry=at(2))
    return number


def fit_many(books: Books, count: int, *, mean: tuple[float, float], block: str = "new") -> None:
    rng = np.random.default_rng(12)
    for serial in SHIPPED[:count]:
        x, y = rng.normal(mean, 0.018)
        fit(books, serial, Block(x, y), block=block, seed=int(rng.integers(1000)))


# ── gathering ────────────────────────────────────────────────────────────────────────────


def test_each_sample_is_its_block_whatever_bell_was_on_it(demo_books: Books) -> None:
    """The demo's blocks come back from their sweeps, within what sweep and inspection allow."""
    found = gathered(demo_books)
    for kind, truth in BLOCKS.items():
        listed = [sample for sample in found[kind] if sample.fit_up_id <= len(FITTED)]
        assert [sample.fit_up_id for sample in listed] == [number for number, _ in truth]
        for sample, (_, vector) in zip(listed, truth, strict=True):
            away = np.hypot(sample.x_mm - vector.x_mm, sample.y_mm - vector.y_mm)
            assert away < 1.3 * sample.u95_mm
            assert 0.009 < sample.u95_mm < 0.012
    # the story's own fit-up, whose block is far off
    story = found["line-honed"][-1]
    assert (story.fit_up_id, story.serial) == (11, "HC-0101")
    assert [story.x_mm, story.y_mm] == pytest.approx([0.141, -0.079], abs=0.01)


def test_a_second_sweep_of_the_same_fit_up_is_none(demo_books: Books) -> None:
    """Fit-up 3 was corrected and swept again: its sample is of the first sweep."""
    with demo_books.reading() as connection:
        swept = [step for step in fitups.steps_of(connection, 3) if step.worksheet == "sweep"]
    assert len(swept) == 2
    bore = bore_of(demo_books, "HC-0003")
    sample = next(each for each in gathered(demo_books)["line-honed"] if each.fit_up_id == 3)
    assert sample.x_mm == pytest.approx(swept[0].answer_json["offset_x_mm"] - bore[0], abs=1e-12)
    assert sample.y_mm == pytest.approx(swept[0].answer_json["offset_y_mm"] - bore[1], abs=1e-12)
    assert sample.u95_mm == pytest.approx(
        np.hypot(swept[0].answer_json["offset_u95_mm"], 0.004), rel=1e-12
    )


def test_one_engine_counts_once(demo_books: Books) -> None:
    """A fit-up that failed and was begun anew, with the same order, is of the same engine."""
    before = len(gathered(demo_books)["new"])
    first = fit(demo_books, SHIPPED[0], Block(0.01, 0.0))
    standing_by.finish(demo_books, first, succeeded=False, why="clutch", entry=at(3))
    fit(demo_books, SHIPPED[0], Block(0.03, 0.01), seed=9)
    found = gathered(demo_books)["new"]
    assert len(found) == before + 1
    assert found[-1].fit_up_id == first


def test_a_failed_fit_up_without_a_sweep_leaves_room_for_the_next(demo_books: Books) -> None:
    before = len(gathered(demo_books)["new"])
    with demo_books.writing() as connection:
        number = fitups.open_fit_up(connection, SHIPPED[0], fitter="F.", block="new", entry=at(1))
    standing_by.finish(demo_books, number, succeeded=False, why="no time", entry=at(2))
    second = fit(demo_books, SHIPPED[0], Block(0.01, 0.0))
    found = gathered(demo_books)["new"]
    assert (len(found), found[-1].fit_up_id) == (before + 1, second)


def test_another_conversion_has_none(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        assert samples(connection, 2) == {"new": [], "line-honed": []}
    assert learned(demo_books, 2) == {}


# ── learning ─────────────────────────────────────────────────────────────────────────────


def test_too_few_teach_nothing_yet(demo_books: Books) -> None:
    assert len(gathered(demo_books)["new"]) == 7 < LEAST
    assert learned(demo_books, CONVERSION) == {}
    found = {each.block: each for each in corrections.with_batch(demo_books, BATCH)}
    assert found["new"].rests_on == (
        "the zone written down for new blocks (the shop's guess until enough fit-ups are swept); "
        "7 of 10 fit-ups needed to learn from are swept; the guess does not hold the bell's "
        "play on its dowels, so more may have to correct than it says"
    )
    assert [part.kind for part in found["new"].case.contributors] == ["measured", "zone"]
    assert found["new"].case.contributors[1].zone.mm == 0.1
    assert "4 of 10 fit-ups" in found["line-honed"].rests_on


def test_ten_take_the_place_of_the_guess_for_their_kind_alone(demo_books: Books) -> None:
    before = {each.block: each for each in corrections.with_batch(demo_books, BATCH)}
    fit_many(demo_books, LEAST - 7, mean=(0.0, 0.0))
    known = learned(demo_books, CONVERSION)
    assert list(known) == ["new"]
    after = {each.block: each for each in corrections.with_batch(demo_books, BATCH)}
    assert list(after) == ["new", "line-honed"]
    assert after["line-honed"].answer == before["line-honed"].answer
    assert after["new"].answer != before["new"].answer
    assert after["new"].rests_on.startswith("10 fit-ups on new blocks: zone ")
    assert " thou" in after["new"].rests_on, "the shop leads with inches"
    assert corrections.NO_PLAY not in after["new"].rests_on, "its samples hold the play"
    assert corrections.NO_PLAY in after["line-honed"].rests_on
    mm = np.array([[sample.x_mm, sample.y_mm] for sample in gathered(demo_books)["new"]])
    np.testing.assert_allclose(known["new"].population.mean_mm, mm.mean(axis=0), atol=1e-15)


def test_the_budget_is_that_of_the_bells_on_the_next_block(demo_books: Books) -> None:
    """Worked here once more: each bell on a normal block, whose covariance is the next one's."""
    fit_many(demo_books, 12, mean=(0.02, -0.03))
    (found,) = (each for each in corrections.with_batch(demo_books, BATCH) if each.block == "new")
    with demo_books.reading() as connection:
        bells = corrections.bore_vectors(connection, BATCH)
    mm = np.array([[sample.x_mm, sample.y_mm] for sample in gathered(demo_books)["new"]])
    n = len(mm)
    assert n == 19
    covariance = np.trace(np.cov(mm.T)) / 2 * (1 + 1 / n) * (n - 1) / (n - 2) * np.eye(2)
    chances = chance_beyond(
        bells + mm.mean(axis=0), np.tile(covariance, (len(bells), 1, 1)), 0.0635
    )
    assert found.answer.chance_outside == pytest.approx(chances.mean(), rel=1e-4)
    assert found.bells == len(bells)


def test_a_kind_of_block_that_nobody_wrote_down_is_learned(demo_books: Books) -> None:
    fit_many(demo_books, LEAST - 4, mean=(0.0, -0.06), block="line-honed")
    with demo_books.writing() as connection:  # as if it had never been written down
        connection.execute(
            block_population.delete().where(block_population.c.block == "line-honed")
        )
        assert set(conversions.populations(connection, CONVERSION)) == {"new"}
    found = {each.block: each.rests_on for each in corrections.with_batch(demo_books, BATCH)}
    assert found["line-honed"].startswith("10 fit-ups on line-honed blocks: zone ")
    assert ", shifted 2.4 thou toward half past 5; " in found["line-honed"]
    assert found["line-honed"].endswith("look at fit-up 11 again, it lies far off the others")


def test_what_cannot_be_learned_from_is_left_to_the_guess() -> None:
    swept = datetime.datetime(2026, 5, 5, tzinfo=datetime.UTC)
    line = [
        Sample(fit_up_id=k, serial=f"T-{k}", swept=swept, x_mm=0.01 * k, y_mm=0.0, u95_mm=0.01)
        for k in range(12)
    ]
    assert learn({"new": line, "line-honed": []}) == {}


def test_a_shift_is_said_only_where_it_is_beyond_chance(demo_books: Books) -> None:
    fit_many(demo_books, 5, mean=(0.0, 0.0))
    said = learned(demo_books, CONVERSION)["new"].in_words(lead="mm")
    assert "shifted" not in said
    assert said.startswith("12 fit-ups on new blocks: zone 0.1")
    assert said.endswith(" mm")


def test_the_learned_are_named_like_those_written_down(demo_books: Books) -> None:
    """So that a budget before and after can be laid side by side."""
    fit_many(demo_books, LEAST - 7, mean=(0.0, 0.0))
    known: Learned = learned(demo_books, CONVERSION)["new"]
    names = {row["name"] for row in known.contributors}
    assert names <= {"blocks, new", "blocks, new: what they share"}
    with demo_books.reading() as connection:
        written = conversions.populations(connection, CONVERSION)
    assert {
        row["name"] for row in corrections.written_down(written["line-honed"], "line-honed")
    } == {
        "blocks, line-honed",
        "blocks, line-honed: what they share",
    }
