"""What measuring better would change for bells that are held: too close to call, by how much."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Final, cast

import numpy as np

from kitwright.books.characteristics import Characteristic
from kitwright.calc.checks import Floats
from kitwright.calc.quality.conformity import (
    UNDECIDED,
    Decision,
    Rule,
    decide_length,
    decide_position,
)
from kitwright.calc.quality.sharper import sharper
from kitwright.shop.batches import BatchView

MOST_REPEATS: Final = 25
"""Beyond this many readings of one place another instrument is the answer (common practice)."""

ASSUMES: Final = (
    "Known as well as this, each would be decided at the value it has. A new measurement gives "
    "another value, so this is what to aim for. More readings help only as far as readings "
    "scatter; what the instrument shows wrong every time stays."
)
"""Said with every list of these."""


@dataclass(frozen=True, kw_only=True)
class TooClose:
    """One characteristic of one held bell that is too close to call."""

    serial: str
    about: Characteristic
    value_mm: float
    """A length, or a position's distance from its true place."""
    u95_mm: float
    clearance_mm: float
    """How far it is inside its nearest limit; negative beyond it."""
    u95_needed_mm: float
    repeats: int | None
    """Readings whose mean would do; None where no reasonable number would."""
    chance_conforms: float
    likely: str
    """"within" or "outside": what better measuring would probably show."""

    @property
    def advice(self) -> str:
        """What to do, in a few words."""
        if self.u95_needed_mm == 0:
            return "on its limit: no measurement decides it at this value"
        if self.repeats is None:
            return "use a better instrument: more readings will not do"
        return f"read it {self.repeats} times and take the mean, or use a better instrument"


def too_close(found: BatchView) -> list[TooClose]:
    """Every undecided characteristic of the batch's held bells, by serial, then by drawing."""
    held = {bell.serial for bell in found.bells if bell.state == "held"}
    newest, codes = found.newest, found.judged.codes
    rows = [row for row, serial in enumerate(newest.serials) if serial in held]
    listed = [
        each
        for k in range(len(newest.characteristics))
        for each in _of(found, k, [row for row in rows if codes[row, k] == UNDECIDED])
    ]
    order = {serial: row for row, serial in enumerate(newest.serials)}
    return sorted(listed, key=lambda each: order[each.serial])


def _of(found: BatchView, k: int, rows: list[int]) -> Iterator[TooClose]:
    if not rows:
        return
    about, rule = found.newest.characteristics[k], cast("Rule", found.shop.guard)
    u95 = found.newest.u95_mm[rows, k]
    value, clearance, decision = _distances(about, found.newest.mm[rows, k], u95, rule)
    better = sharper(clearance, u95=u95, rule=rule)
    for index, row in enumerate(rows):
        repeats = float(better.repeats[index])
        yield TooClose(
            serial=found.newest.serials[row],
            about=about,
            value_mm=float(value[index]),
            u95_mm=float(u95[index]),
            clearance_mm=float(clearance[index]),
            u95_needed_mm=float(better.u95_needed[index]),
            repeats=int(repeats) if repeats <= MOST_REPEATS else None,
            chance_conforms=float(decision.chance_conforms[index]),
            likely="within" if better.inside[index] else "outside",
        )


def _distances(
    about: Characteristic, mm: Floats, u95: Floats, rule: Rule
) -> tuple[Floats, Floats, Decision]:
    """Each value, how far it lies inside its limits, and how it was decided."""
    if about.kind == "length":
        low = -inf if about.low_mm is None else about.low_mm
        high = inf if about.high_mm is None else about.high_mm
        value = mm[:, 0]
        decided = decide_length(value, u95=u95, low=low, high=high, rule=rule)
        return value, np.minimum(value - low, high - value), decided
    x, y = mm[:, 0] - (about.x_mm or 0.0), mm[:, 1] - (about.y_mm or 0.0)
    zone = about.zone_mm or 0.0
    placed = decide_position(x, y, u95=u95, zone=zone, rule=rule)
    return placed.offset, zone / 2 - placed.offset, placed
