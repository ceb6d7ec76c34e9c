"""Read 5 000 bells by 12 characteristics from QIF, against lxml alone and Python's own float.

The bare side parses the same bytes with lxml, walks every measured value once, and turns its text
and its uncertainty into numbers; it checks nothing and knows no bell from another.
"""

from __future__ import annotations

import datetime

from lxml import etree

from benchmarks.ratios import ratio, report
from kitwright.demo.history import serials
from kitwright.demo.measuring import inspection
from kitwright.demo.workshop import CAST_DRAWING
from kitwright.files.qif import NAMESPACE, open_qif, read_qif
from kitwright.files.qif_writing import write_qif
from kitwright.shop.batches import expected_of

BELLS = 5000
TARGET = 6.0
WHEN = datetime.datetime(2026, 5, 4, tzinfo=datetime.UTC)


def test_reading_qif_costs_little_beside_parsing_it() -> None:
    table = inspection(CAST_DRAWING, serials("T", 1, BELLS), seed=1)
    data = write_qif(table, title="bench", created=WHEN)
    expected = expected_of(CAST_DRAWING)

    def ours() -> None:
        found = read_qif(open_qif(data), expected)
        assert found.values_mm.shape == (BELLS, len(expected))

    def theirs() -> None:
        root = etree.fromstring(data)
        numbers = [
            (float(value.text or ""), float(value.get("combinedUncertainty", "")))
            for value in root.iter(f"{{{NAMESPACE}}}Value")
        ]
        places = [
            [float(part) for part in (place.text or "").split()]
            for place in root.iter(f"{{{NAMESPACE}}}Location")
        ]
        assert len(numbers) == BELLS * len(expected)
        assert len(places) == BELLS * 3

    found = ratio(ours, theirs, rounds=5)
    report(f"read {BELLS} bells x 12 from QIF, over lxml and float", found, f"at most {TARGET:g}")
    assert found <= TARGET
