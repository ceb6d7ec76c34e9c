"""An inspection of 5 000 bells read and checked, against csv.reader and float() of each cell."""

from __future__ import annotations

import csv
import io

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.files.incoming import table_from_bytes
from kitwright.files.inspection import Expected, inspection_header, read_inspection
from kitwright.files.tables import write_csv

BELLS = 5_000
EXPECTED = [
    Expected("bore", "position"),
    Expected("dowel b", "position"),
    *(Expected(f"length {k}") for k in range(10)),
]


def inspection_of(decimal: str, delimiter: str) -> bytes:
    header = inspection_header(EXPECTED)
    numbers = np.random.default_rng(12).normal(100, 0.01, (BELLS, len(header) - 1)).round(4)
    rows = [[f"B-{bell:05d}", *row] for bell, row in enumerate(numbers.tolist())]
    text = write_csv(header, rows)
    return text.replace(",", delimiter).replace(".", decimal).encode()


def bare(data: bytes) -> object:
    rows = csv.reader(io.StringIO(data.decode(), newline=""))
    next(rows)
    return [(row[0], [float(cell) for cell in row[1:]]) for row in rows]


def test_an_inspection_is_read_in_a_small_multiple_of_the_bare_reader() -> None:
    data = inspection_of(".", ",")
    found = ratio(
        lambda: read_inspection(table_from_bytes("bells.csv", data), EXPECTED),
        lambda: bare(data),
        rounds=15,
    )
    report("5 000 bells x 12 characteristics over csv.reader and float()", found, "at most 2.5")
    assert found <= 2.5


def test_a_decimal_comma_costs_little_more() -> None:
    points, commas = inspection_of(".", ","), inspection_of(",", ";")
    found = ratio(
        lambda: read_inspection(table_from_bytes("bells.csv", commas), EXPECTED),
        lambda: bare(points),
        rounds=15,
    )
    report("the same with semicolons and decimal commas", found, "at most 3")
    assert found <= 3
