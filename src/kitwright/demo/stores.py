"""The invented workshop begins to keep its kit parts by count, and a month goes by."""

from __future__ import annotations

from typing import Final

from kitwright.books import part_handling, parts
from kitwright.books.opening import Books
from kitwright.books.parts import LeadTime
from kitwright.books.shop import parties
from kitwright.demo.calendar import Calendar
from kitwright.demo.workshop import FERRIER, OWNER, PRESSINGS

PARTS: Final = (
    # label, name as in the kit's bill, supplier, days to get it, counted on the first day
    ("P-01", "release bearing, hydraulic", FERRIER, (10, 14, 35), 6),
    ("P-02", "pilot bearing and sleeve", FERRIER, (4, 6, 12), 5),
    ("P-03", "crossmember", PRESSINGS, (12, 18, 30), 3),
    ("P-04", "dowel, plain, 16 mm", FERRIER, (2, 3, 8), 9),
    ("P-05", "bolts and washers, set", FERRIER, (2, 3, 8), 8),
    ("P-06", "block plate, steel", PRESSINGS, (14, 20, 45), 0),
)
_BEGUN: Final = 26
"""Days ago; every kit before that went out of a store that nobody counted."""


def keep(books: Books, calendar: Calendar) -> None:
    """The first count, two deliveries, a part scrapped, a count that differs."""
    with books.writing() as connection:
        suppliers = {each.name: each.id for each in parties(connection, "supplier")}
        number = {}
        for label, name, supplier, (least, likely, most), counted in PARTS:
            number[label] = parts.add_part(
                connection,
                label,
                name,
                supplier_id=suppliers[supplier],
                lead_time=LeadTime(least_days=least, likely_days=likely, most_days=most),
                reorder="order twenty when ten are left" if label == "P-04" else None,
            )
            part_handling.count_parts(
                connection,
                number[label],
                counted,
                calendar.by(OWNER, _BEGUN),
                why="first count",
            )
        for label, count, days_ago in (("P-03", 4, 18), ("P-05", 6, 5)):
            part_handling.receive_parts(
                connection, number[label], count, calendar.by(OWNER, days_ago)
            )
        part_handling.scrap_parts(
            connection, number["P-02"], 1, calendar.by(OWNER, 12), why="cage cracked"
        )
        part_handling.count_parts(
            connection, number["P-04"], 5, calendar.by(OWNER, 9), why="four are in the drill jig"
        )
