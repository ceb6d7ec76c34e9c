"""A batch summed up: yields, capability and charts against SciPy and NumPy, in the order born."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from kitwright.books.characteristics import length_of, position_of
from kitwright.books.opening import Books
from kitwright.shop import bells, samples
from kitwright.shop.summary import BY_SAMPLE, process, summarise
from kitwright.shop.summary_tables import (
    processes_note,
    processes_table,
    shares_note,
    shares_table,
    too_close_table,
)
from kitwright.shop.undecided import MOST_REPEATS

DEPTH = length_of("depth", 164.9, 165.1)
BORE = position_of("bore", 0.1)
SERIALS = [f"S-{number:02d}" for number in range(1, 31)]


def column(values):
    return np.column_stack([values, np.full(len(values), np.nan)])


def test_the_demo_batch(demo_books: Books) -> None:
    shown = summarise(demo_books, 4)
    assert shown.say() == "Of 50 bells: 45 released, 1 held, 4 rejected."
    counts = {each.what: each.count for each in shown.shares}
    assert counts == {"released": 45, "conceded": 0, "held": 1, "rejected": 4, "withdrawn": 0}
    (close,) = shown.too_close
    assert (close.serial, close.about.name, close.likely) == ("HC-0140", "bore", "within")
    assert {each.block for each in shown.budgets} == {"new", "line-honed"}
    assert [each.about.name for each in shown.processes][:2] == ["bore", "bore diameter"]


def test_the_yields_intervals_are_clopper_and_pearsons(demo_books: Books) -> None:
    """scipy.stats.binomtest, method "exact", is the reference."""
    for each in summarise(demo_books, 4).shares:
        exact = binomtest(each.count, 50).proportion_ci(0.95, method="exact")
        np.testing.assert_allclose([each.low, each.high], [exact.low, exact.high], atol=1e-9)


def test_values_stand_in_the_order_born(fresh) -> None:
    """The mean moving range over 1.128 (d2 of two, Tippett) changes with the order."""
    fresh.measure(sorted(fresh_serials(fresh)))
    shown = summarise(fresh.books, fresh.number)
    assert shown.born == ("Z-4", "Z-1", "Z-7", "Z-2", "Z-8", "Z-3", "Z-6", "Z-5")
    newest = shown.found.newest
    row = {serial: index for index, serial in enumerate(newest.serials)}
    k = [about.name for about in newest.characteristics].index("depth")
    values = newest.mm[[row[serial] for serial in shown.born], k, 0]
    found = shown.processes[k]
    assert found.capability is not None
    expected = np.abs(np.diff(values)).mean() / 1.1283791670955126
    assert found.capability.answer.sigma_within == pytest.approx(expected, rel=1e-9)
    assert found.capability.answer.sigma_overall == pytest.approx(values.std(ddof=1), rel=1e-9)
    (chart,) = found.charts
    assert chart.solved.answer.points == pytest.approx(values.tolist())


def fresh_serials(fresh) -> list[str]:
    return [bell.serial for bell in summarise(fresh.books, fresh.number).found.bells]


def test_a_rework_is_left_out_and_the_failed_bell_is_in(demo_books: Books, at) -> None:
    before = summarise(demo_books, 4)
    bells.decide(demo_books, "HC-0107", "rework", why="cut again", seen=None, entry=at(8))
    after = summarise(demo_books, 4)
    assert "HC-0107" in after.found.newest.outdated
    assert after.reworked == 1
    assert "1 bell was reworked" in processes_note(after)
    for old, new in zip(before.processes, after.processes, strict=True):
        assert (old.count, old.capability.answer) == (new.count, new.capability.answer)


def test_a_conceded_bell_is_no_released_one(demo_books: Books, at) -> None:
    bells.decide(demo_books, "HC-0140", "concede", why="close enough", seen=None, entry=at(8))
    counts = {each.what: each.count for each in summarise(demo_books, 4).shares}
    assert (counts["released"], counts["conceded"], counts["held"]) == (45, 1, 0)


def test_bells_released_by_sample_have_no_share_and_are_in_no_figure(fresh) -> None:
    drawn = samples.draw(
        fresh.books, fresh.number, {"plan": {"n": 3, "c": 0}}, seed=4, entry=fresh.entry()
    )
    fresh.measure(drawn.drawn)
    samples.judge(fresh.books, drawn.sample.id, fresh.entry())
    shown = summarise(fresh.books, fresh.number)
    told = {each.what: (each.count, each.share) for each in shown.shares}
    assert told["released"] == (3, 1.0)
    assert told[BY_SAMPLE] == (5, None)
    assert shown.unmeasured == 5
    assert "5 bells are released by sample and not measured" in shares_note(shown)
    assert {each.count for each in shown.processes} == {3}
    assert (BY_SAMPLE, "5", "", "") in shares_table(shown).rows


def test_a_batch_that_is_not_measured_says_so(fresh) -> None:
    shown = summarise(fresh.books, fresh.number)
    assert shown.say() == "Of 8 bells: 8 undecided yet."
    assert [each.what for each in shown.shares] == ["undecided yet"]
    assert {each.why_not for each in shown.processes} == {
        "0 measured; 2 or more are needed",
        "0 measured; 3 or more are needed",
    }
    assert shown.budgets == ()
    assert too_close_table(shown.too_close, lead="mm").rows == ()
    assert len(processes_table(shown).rows) == len(shown.processes)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([165.0], "1 measured; 2 or more are needed"),
        ([165.0] * 5, "all 5 are the same; read the instrument to a finer step"),
    ],
)
def test_values_that_say_nothing_are_told_in_words(values, words) -> None:
    found = process(DEPTH, column(np.array(values)), SERIALS[: len(values)])
    assert found.capability is None
    assert found.why_not == words
    assert found.charts[0].why_not == words
    assert found.signals == []
    assert found.pictures(lead="mm") == []


def test_positions_that_say_nothing_are_told_too() -> None:
    same = np.full((6, 2), 0.01)
    found = process(BORE, same, SERIALS[:6])
    assert found.capability is None
    assert found.why_not
    assert all(chart.why_not for chart in found.charts)


def test_a_signal_names_its_bells() -> None:
    """One far point, and a shift of the last ten: the bells are those that were put there."""
    rng = np.random.default_rng(5)
    values = rng.normal(165, 0.004, 30)
    values[11] += 0.08
    (told,) = [s for s in process(DEPTH, column(values), SERIALS).signals if "beyond limits" in s]
    assert told == "depth: S-12: beyond limits"
    shifted = rng.normal(165, 0.004, 30)
    shifted[20:] += 0.012
    *_, run = [s for s in process(DEPTH, column(shifted), SERIALS).signals if "8 in a row" in s]
    first, last = run.split(": ")[1].split(" to ")
    assert first <= "S-21" < "S-28" <= last


def test_a_bell_that_was_not_measured_leaves_no_gap_in_the_names() -> None:
    values = np.array([165.0, np.nan, 165.01, 164.99, 165.0, 165.012, 164.99, 165.3, 165.0])
    found = process(DEPTH, column(values), SERIALS[:9])
    assert found.count == 8
    assert any("S-08" in signal for signal in found.signals)


def test_a_position_is_charted_in_both_directions_about_its_true_place() -> None:
    rng = np.random.default_rng(6)
    about = position_of("starter bore", 0.25, x_mm=168.0, y_mm=-74.0, unit="in")
    mm = rng.normal([168.01, -74.02], 0.01, (20, 2))
    found = process(about, mm, SERIALS[:20])
    assert [chart.name for chart in found.charts] == ["starter bore x", "starter bore y"]
    answer = found.capability.answer
    np.testing.assert_allclose(
        answer.mean, (mm.mean(axis=0) - [168.0, -74.0]) / 25.4, rtol=0, atol=1e-12
    )
    assert answer.zone == pytest.approx(0.25 / 25.4)
    assert len(found.pictures(lead="mm")) == 3


def test_what_would_decide_a_held_bell(demo_books: Books) -> None:
    (one,) = summarise(demo_books, 4).too_close
    assert one.clearance_mm == pytest.approx(0.0762 / 2 - np.hypot(0.0262, 0.0268), abs=1e-12)
    assert one.u95_needed_mm == pytest.approx(abs(one.clearance_mm))
    assert one.repeats is None
    assert (one.u95_mm / one.u95_needed_mm) ** 2 > MOST_REPEATS
    assert 0.5 < one.chance_conforms < 0.7
    (row,) = too_close_table([one], lead="mm").rows
    assert row == (
        "HC-0140",
        "bore",
        "within",
        "61.2 %",
        "0.037 mm",
        "± 0.004 mm",
        "0.62 µm inside",
        "± 0.62 µm",
        "use a better instrument: more readings will not do",
    )
