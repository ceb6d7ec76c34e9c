"""How many fitters in a hundred would have to correct, with exactly these bells."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

import numpy as np
from sqlalchemy import Connection

from kitwright.books import conversions, designs, inspections, standing, stock
from kitwright.books.opening import Books
from kitwright.books.shop import get_shop
from kitwright.books.tables import bell_now
from kitwright.books.tables.designs import BLOCKS
from kitwright.calc.centring.clock import clock_of
from kitwright.calc.checks import Floats
from kitwright.errors import MissingError
from kitwright.shop.batches import BatchView
from kitwright.shop.bells import BORE
from kitwright.shop.learning import LEAST, learn, samples
from kitwright.units import Lead
from kitwright.worksheets.declaration import load
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.reading import read

SOLD: Final = ("released", "allocated", "shipped", "fitted")
"""States of the bells that were released and still stand so."""

NO_PLAY: Final = (
    "the guess does not hold the bell's play on its dowels, "
    "so more may have to correct than it says"
)
"""Said of every zone that is written down: the books have no size of a block's dowel pins."""

GAUGE_NOISE: Final = "The bores are as measured: the gauge's noise is in their scatter too."
"""Said of every budget with measured bells."""


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """The radial budget of a conversion with these bells on one kind of block."""

    block: str
    bells: int
    case: Case
    answer: Any
    """The answer of the worksheet `radial-budget`."""
    rests_on: str
    """Where the blocks' part of it comes from, in words: fit-ups, or what is written down."""


def with_batch(books: Books, batch_id: int) -> list[Corrections]:
    """The budget with a batch's released bells, for each kind of block that is known.

    What the conversion's own fit-ups teach of a kind of block takes the place of what is written
    down of it, once `learning.LEAST` of them were swept.

    Raises
    ------
    MissingError
        No such batch, or none of its bells is released with its bore measured.
    """
    with books.reading() as connection:
        batch = stock.get_batch(connection, batch_id)
        vectors = bore_vectors(connection, batch_id)
        if not len(vectors):
            raise MissingError(
                f"batch {batch.label}",
                "has no released bell with its bore measured",
                "import its inspection first",
            )
        design_id = designs.get_revision(connection, batch.revision_id).design_id
        conversion = conversions.get_conversion(
            connection, designs.get_design(connection, design_id).conversion_id
        )
        populations = conversions.populations(connection, conversion.id)
        gathered = samples(connection, conversion.id)
        lead = cast("Lead", get_shop(connection).lead)
    known = learn(gathered)
    found = []
    for block in BLOCKS:
        if block in known:
            rows, rests_on = known[block].contributors, known[block].in_words(lead=lead)
        elif block in populations:
            rows = written_down(populations[block], block)
            rests_on = (
                f"the zone written down for {block} blocks ({populations[block].source}); "
                f"{len(gathered[block])} of {LEAST} fit-ups needed to learn from are swept; "
                f"{NO_PLAY}"
            )
        else:
            continue
        found.append(solve(conversion.tir_mm, vectors, block, rows, rests_on))
    return found


def bore_vectors(connection: Connection, batch_id: int, states: Sequence[str] = SOLD) -> Floats:
    """(n, 2) x, y in mm of a batch's bores from their true place, of its bells in these states.

    The newest measurement of each.
    """
    newest = inspections.newest_values(connection, batch_id)
    names = [each.name for each in newest.characteristics]
    if BORE not in names:
        return np.empty((0, 2))
    found = standing.where(
        connection, bell_now.c.batch_id == batch_id, bell_now.c.state.in_(list(states))
    )
    wanted = {bell.serial for bell in found}
    rows = [row for row, serial in enumerate(newest.serials) if serial in wanted]
    about = newest.characteristics[names.index(BORE)]
    mm = newest.mm[rows, names.index(BORE)] - [about.x_mm or 0.0, about.y_mm or 0.0]
    return mm[np.isfinite(mm).all(axis=1)]


def bore_is_known(found: BatchView) -> bool:
    """Whether a released bell of the batch has its bore measured: what a budget needs."""
    names = [each.name for each in found.newest.characteristics]
    if BORE not in names:
        return False
    known = np.isfinite(found.newest.mm[:, names.index(BORE)]).all(axis=1)
    sold = [bell.state in SOLD for bell in found.bells]
    return bool((known & np.array(sold, dtype=bool)).any())


def written_down(population: conversions.BlockPopulation, block: str) -> list[dict[str, Any]]:
    """Rows of a budget's contributors for a population of blocks as the catalogue has it.

    One that is shifted (mains honed so that the crank rose) adds its shift.
    """
    rows: list[dict[str, Any]] = [
        {
            "name": f"blocks, {block}",
            "kind": "zone",
            "zone": f"{population.zone_mm!r} mm",
            "spread": "normal",
        },
    ]
    shift = math.hypot(population.shift_x_mm, population.shift_y_mm)
    if shift:
        rows.append(
            {
                "name": f"blocks, {block}: what they share",
                "kind": "shift",
                "size": f"{shift!r} mm",
                "clock_deg": clock_of([population.shift_x_mm, population.shift_y_mm]),
            }
        )
    return rows


def solve(
    limit_mm: float, vectors: Floats, block: str, blocks: list[dict[str, Any]], rests_on: str
) -> Corrections:
    """The budget of these bells, each as likely as the next, and of one kind of block."""
    bells = {
        "name": "these bells, as measured",
        "kind": "measured",
        "unit": "mm",
        "vectors": vectors.tolist(),
    }
    worksheet = load("radial-budget")
    case = read(worksheet.case, {"limit": f"{limit_mm!r} mm", "contributors": [bells, *blocks]})
    answer: Answer = worksheet.solve(case)
    return Corrections(block=block, bells=len(vectors), case=case, answer=answer, rests_on=rests_on)
