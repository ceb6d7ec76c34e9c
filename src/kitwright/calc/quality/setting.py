"""Where a machine stands against its target, whether it wanders, and what to shift it by.

A straight line by least squares through the values in the order made, with Student's t for its
slope and its level. The slope counts only when its interval leaves out zero; the level is then the
line's at the next piece, else the mean. A shift is advised only when the level's interval leaves
out the target: to answer every piece with a shift makes the process worse [1]_.

References
----------
.. [1] Deming, Out of the Crisis (1986), chapter 11: the funnel.
.. [2] ISO 16269-4 and any text on regression: the intervals of a line's slope and level.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from kitwright.calc.checks import Floats, finite, finite_rows
from kitwright.errors import InputError

LEAST: Final = 5
"""With fewer values nothing is said of where the machine stands (common practice)."""

_ROUNDING: Final = 1e-12


@dataclass(frozen=True, kw_only=True)
class Interval:
    """An estimate between its bounds."""

    value: float
    low: float
    high: float

    def leaves_out(self, point: float) -> bool:
        return not self.low <= point <= self.high


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Where a machine stands; lengths in the unit of the values."""

    count: int
    target: float
    mean: Interval
    slope: Interval
    """Change from one piece to the next."""
    level: Interval
    """What the next piece will be on average."""

    @property
    def wanders(self) -> bool:
        """Is there a drift that chance does not explain?"""
        return self.slope.leaves_out(0.0)

    @property
    def off(self) -> bool:
        """Does it stand beside its target by more than chance explains?"""
        return self.level.leaves_out(self.target)

    @property
    def shift(self) -> float:
        """What to add to the machine's offset; 0 where chance explains what is seen."""
        return self.target - self.level.value if self.off else 0.0


def setting(values: ArrayLike, *, target: float, confidence: float = 0.95) -> Setting:
    """Where a machine stands by the pieces it made.

    Parameters
    ----------
    values : shape (n,), n at least `LEAST`, finite
        In the order made, in any one unit.
    target : what each piece should be
    confidence : of each interval

    Raises
    ------
    InputError
        Too few values, or one that is not finite.

    Examples
    --------
    >>> found = setting([0.02, 0.03, 0.02, 0.03, 0.025], target=0.0)
    >>> found.off, found.wanders, round(found.shift, 6)
    (True, False, -0.025)
    """
    column = finite_rows(np.reshape(values, (-1, 1)), columns=1, least=LEAST, where="values")
    y = column[:, 0]
    aim = finite(target, where="target")
    if not 0 < confidence < 1:
        raise InputError("confidence", f"{confidence}", "give a share between 0 and 1")
    n = len(y)
    place = np.arange(n) - (n - 1) / 2
    spread = float(place @ place)
    mean = float(y.mean())
    slope = float(place @ y) / spread
    if abs(slope) * n <= _ROUNDING * float(np.abs(y).max()):
        slope = 0.0
    sigma = float(np.std(y, ddof=1))
    residual = _residual_sigma(y - mean - slope * place)
    t_slope = float(stdtrit(n - 2, (1 + confidence) / 2))
    t_mean = float(stdtrit(n - 1, (1 + confidence) / 2))
    drift = _about(slope, t_slope * residual / sqrt(spread))
    middle = _about(mean, t_mean * sigma / sqrt(n))
    level = middle
    if drift.leaves_out(0.0):
        ahead = (n + 1) / 2
        reach = t_slope * residual * sqrt(1 / n + ahead**2 / spread)
        level = _about(mean + slope * ahead, reach)
    return Setting(count=n, target=aim, mean=middle, slope=drift, level=level)


def _about(value: float, reach: float) -> Interval:
    return Interval(value=value, low=value - reach, high=value + reach)


def _residual_sigma(left: Floats) -> float:
    return sqrt(float(left @ left) / (len(left) - 2))
