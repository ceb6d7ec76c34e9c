"""How many fitters in a hundred would have to correct, with exactly these bells."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from sqlalchemy import Connection

from kitwright.books import conversions, designs, inspections, standing, stock
from kitwright.books.opening import Books
from kitwright.books.tables import bell_now
from kitwright.calc.checks import Floats
from kitwright.errors import MissingError
from kitwright.shop.bells import BORE
from kitwright.worksheets.declaration import load
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.reading import read

SOLD: Final = ("released", "allocated", "shipped", "fitted")
"""States of the bells that were released and still stand so."""


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """The radial budget of a conversion with these bells on one kind of block."""

    block: str
    bells: int
    case: Case
    answer: Any
    """The answer of the worksheet `radial-budget`."""


def with_batch(books: Books, batch_id: int) -> list[Corrections]:
    """The budget with a batch's released bells, for each kind of block that is written down.

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
    return [
        solve(conversion.tir_mm, vectors, block, population)
        for block, population in populations.items()
    ]


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


def solve(
    limit_mm: float, vectors: Floats, block: str, population: conversions.BlockPopulation
) -> Corrections:
    """The budget of these bells and one population of blocks.

    What the bells were measured to be is drawn evenly; a population that is shifted (mains honed
    so that the crank rose) adds its shift.
    """
    contributors: list[dict[str, Any]] = [
        {
            "name": "these bells, as measured",
            "kind": "measured",
            "unit": "mm",
            "vectors": vectors.tolist(),
        },
        {
            "name": f"blocks, {block}",
            "kind": "zone",
            "zone": f"{population.zone_mm!r} mm",
            "spread": "normal",
        },
    ]
    shift = math.hypot(population.shift_x_mm, population.shift_y_mm)
    if shift:
        clock = math.degrees(math.atan2(population.shift_x_mm, population.shift_y_mm))
        contributors.append(
            {
                "name": f"blocks, {block}: what they share",
                "kind": "shift",
                "size": f"{shift!r} mm",
                "clock_deg": clock % 360,
            }
        )
    worksheet = load("radial-budget")
    case = read(worksheet.case, {"limit": f"{limit_mm!r} mm", "contributors": contributors})
    answer: Answer = worksheet.solve(case)
    return Corrections(block=block, bells=len(vectors), case=case, answer=answer)
