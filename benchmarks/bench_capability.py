"""Capability and charts of 100 000 bells, against the bare SQL that reads them; tolerance factors
against a quantile of SciPy's."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2, nct

from benchmarks.ratios import ratio, report
from kitwright.calc.quality.capability import assess
from kitwright.calc.quality.control_chart import individuals, of_subgroups
from kitwright.calc.quality.noncentral import two_sided_factor
from kitwright.calc.quality.run_rules import SETS

BELLS = 100_000
READ = "SELECT value FROM measured WHERE characteristic = 1 ORDER BY bell"
SHAPES = {
    "normal": lambda rng: rng.normal(158.0, 0.008, BELLS),
    "skewed": lambda rng: 158.0 + rng.rayleigh(0.008, BELLS),
}


@pytest.fixture(params=SHAPES)
def books(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A file of 100 000 bells with twelve characteristics each, read to 0.1 µm."""
    rng = np.random.default_rng(2026)
    values = SHAPES[request.param](rng).round(4)
    books = sqlite3.connect(tmp_path / f"{request.param}.sqlite")
    books.execute(
        "CREATE TABLE measured (bell INTEGER, characteristic INTEGER, value REAL, "
        "PRIMARY KEY (bell, characteristic)) WITHOUT ROWID"
    )
    rows = (
        (bell, characteristic, float(value) + characteristic - 1)
        for bell, value in enumerate(values)
        for characteristic in range(1, 13)
    )
    books.executemany("INSERT INTO measured VALUES (?, ?, ?)", rows)
    books.commit()
    yield books
    books.close()


def test_capability_and_charts_cost_little_beside_reading(books: sqlite3.Connection) -> None:
    def read() -> list[tuple[float]]:
        return books.execute(READ).fetchall()

    def whole() -> None:
        values = np.array(read())[:, 0]
        chart = individuals(values, rules=SETS["Nelson 1984"])
        groups = of_subgroups(values.reshape(-1, 5), kind="mean-range")
        found = assess(values, within=chart.sigma, low=157.95, high=158.05)
        assert found.count == len(chart.points) == 5 * len(groups.points) == BELLS

    found = ratio(whole, read)
    told = "capability and two charts of one of 12 characteristics, 100 000 bells, over reading it"
    report(told, found, "at most 5")
    assert found <= 5


def test_an_exact_factor_costs_little_beside_a_quantile() -> None:
    sizes = count(20)  # never the same twice: nothing is remembered

    def ours() -> None:
        for _ in range(20):
            two_sided_factor(next(sizes), coverage=0.95, confidence=0.95)

    def theirs() -> None:
        for _ in range(20):
            n = next(sizes)
            nct.ppf(0.95, n - 1, 1.64485 * n**0.5)

    def chi_square() -> None:
        for _ in range(20):
            chi2.ppf(0.05, next(sizes))

    beside_t, beside_chi = ratio(ours, theirs), ratio(ours, chi_square)
    report("an exact two-sided factor, over a noncentral t quantile", beside_t, "at most 50")
    report("the same, over a chi-square quantile", beside_chi, "at most 50")
    assert beside_t <= 50
    assert beside_chi <= 50
