"""Laws over whole days from today: when something that is due will be here."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr

from kitwright.calc.checks import Floats, positive
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


@dataclass(frozen=True, kw_only=True)
class Lateness:
    """How late batches of one machinist come, learned from those that came: a t law in days.

    From a normal law of unknown mean and spread with a conjugate prior, which counts as
    `PRIOR_COUNT` batches; the next batch follows a Student law [1]_.

    .. [1] Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 3.3.
    """

    mean: float
    scale: float
    freedom: float
    count: int
    """Batches it was learned from."""

    def by(self, late: Floats) -> Floats:
        """Chance that a batch is no later than this many days after it is due."""
        return np.asarray(stdtr(self.freedom, (late - self.mean) / self.scale))


PRIOR_MEAN: Final = 3.0
PRIOR_SPREAD: Final = 7.0
PRIOR_COUNT: Final = 2.0
"""Before anything is known: some days late, a week either way (common practice, no source)."""


def lateness(
    days_late: ArrayLike,
    *,
    prior_mean: float = PRIOR_MEAN,
    prior_spread: float = PRIOR_SPREAD,
    prior_count: float = PRIOR_COUNT,
) -> Lateness:
    """How late the next batch will be, from how late the earlier ones were.

    Parameters
    ----------
    days_late : shape (n,), n from 0
        Days from due to back; early ones are negative.
    prior_mean, prior_spread : days, before anything was seen
    prior_count : how many batches that counts as
    """
    seen = np.asarray(days_late, dtype=float).reshape(-1)
    if not np.isfinite(seen).all():
        raise InputError("days_late", "a number that is not finite", "give whole days")
    k0 = positive(prior_count, where="prior_count")
    spread = positive(prior_spread, where="prior_spread")
    n = len(seen)
    mean = float(seen.mean()) if n else 0.0
    freedom = k0 + n
    k = k0 + n
    centre = (k0 * prior_mean + n * mean) / k
    squares = (
        k0 * spread**2 + float(((seen - mean) ** 2).sum()) + k0 * n / k * (mean - prior_mean) ** 2
    )
    scale = sqrt(squares / freedom * (1 + 1 / k))
    return Lateness(mean=centre, scale=scale, freedom=freedom, count=n)


def arrival(due: int, late: Lateness, *, extra: int = 0, days: int = HORIZON) -> DaysLaw:
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
