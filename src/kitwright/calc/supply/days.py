"""Laws over whole days from today: when something that is due will be here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.lateness import Lateness, LatenessHeld
from kitwright.errors import InputError

HORIZON: Final = 730
"""Days looked ahead; what comes later counts as not coming."""


@dataclass(frozen=True, kw_only=True)
class DaysLaw:
    """Chance of each day: `chance[d]` that it is here after d whole days, d from 0.

    What is missing to 1 comes after the last day, or never.
    """

    chance: Floats

    @property
    def by(self) -> Floats:
        """Chance that it is here by each day."""
        return np.minimum(np.cumsum(self.chance), 1.0)

    def day(self, share: float) -> int | None:
        """The first day by which it is here with this chance; None beyond the last."""
        reached = np.flatnonzero(self.by >= share - 1e-12)
        return int(reached[0]) if len(reached) else None


def here_now(days: int = HORIZON) -> DaysLaw:
    """It is here already."""
    chance = np.zeros(days + 1)
    chance[0] = 1
    return DaysLaw(chance=chance)


def triangle(least: float, likely: float, most: float, *, days: int = HORIZON) -> DaysLaw:
    """A lead time by its least, likely and most days, as a person estimates it.

    The triangular law, each day taking what lies in the day that ends with it; days that are
    equal make it certain.

    Raises
    ------
    InputError
        Not 0 <= least <= likely <= most, or a number that is not finite.
    """
    if not np.isfinite([least, likely, most]).all() or not 0 <= least <= likely <= most:
        raise InputError(
            "lead_days", f"{least:g}, {likely:g}, {most:g}", "give least, likely and most in order"
        )
    grid = np.arange(days + 1, dtype=float)
    width, rise, fall = most - least, likely - least, most - likely
    up = (grid - least) ** 2 / (width * rise) if rise else np.zeros(days + 1)
    down = 1 - (most - grid) ** 2 / (width * fall) if fall else np.ones(days + 1)
    below = np.where(
        grid >= most, 1.0, np.where(grid >= likely, down, np.where(grid > least, up, 0.0))
    )
    return DaysLaw(chance=np.diff(below, prepend=0.0))


def arrival(
    due: int, late: Lateness | LatenessHeld, *, extra: int = 0, days: int = HORIZON
) -> DaysLaw:
    """When a batch that has not come yet will be here.

    Parameters
    ----------
    due : days from today to the day it is due; negative where that is past
    late : how late this machinist's batches are
    extra : days from its coming back to its bells being ready, such as inspecting them

    What could have come before today did not, so its chance falls on the days from today.
    """
    grid = np.arange(days + 1, dtype=float)
    by = late.by(grid - due + 0.5)
    before = float(late.by(np.array([-due - 0.5]))[0])
    left = 1 - before
    if left < 1e-9:  # overdue beyond anything seen: a day like the next, for ever
        by = 1 - np.exp(-grid / late.scale)
        chance = np.diff(by, prepend=0.0)
    else:
        chance = np.diff((by - before) / left, prepend=0.0)
    if extra:
        chance = np.concatenate([np.zeros(extra), chance])[: days + 1]
    return DaysLaw(chance=np.clip(chance, 0, 1))
