"""What measuring better would change: the uncertainty at which a value is no longer too close.

Any one unit. The value is taken to stay where it is; a new measurement gives another one, so what
is told here is what to aim for, not what will come out.

References
----------
.. [1] JCGM 106:2012, 8: guard bands; the outcome depends on the value's distance from its limit.
.. [2] JCGM 100:2008 (GUM), 4.2.3: the mean of n independent readings has u/sqrt(n).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.checks import Floats
from kitwright.calc.quality.conformity import GUARD_IN_U95, Rule
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Sharper:
    """For each value: which way it would fall, and how well it must be known for that."""

    inside: NDArray[np.bool_]
    """It would be within; else outside. A value on its limit counts as inside."""
    u95_needed: Floats
    """The expanded uncertainty (k = 2) from which on it is decided; 0 for one on its limit."""
    repeats: Floats
    """Least number of readings whose mean has it, if only their scatter counts [2]_; inf: none."""


def sharper(clearance: ArrayLike, *, u95: ArrayLike, rule: Rule = "guard by U") -> Sharper:
    """What decides values that lie so far inside their nearest limit.

    A value is within when it is inside by the guard or more, outside when it is beyond by more than
    the guard; the guard is U, or 1.645 u, so U must come down to the distance over the guard's
    share of U.

    Parameters
    ----------
    clearance : array_like
        From the value to the nearest limit, negative beyond it: of a length the lesser of value -
        low and high - value, of a position half its zone less its distance from the true place.
    u95 : array_like of the same shape; the expanded uncertainty now, above zero

    Raises
    ------
    InputError
        A number that is not finite, an uncertainty that is not above zero.

    Examples
    --------
    >>> found = sharper([0.004, -0.001], u95=[0.006, 0.006])
    >>> found.u95_needed.tolist(), found.repeats.tolist(), found.inside.tolist()
    ([0.004, 0.001], [3.0, 37.0], [True, False])
    """
    away, known = np.broadcast_arrays(np.asarray(clearance, float), np.asarray(u95, float))
    if not np.isfinite(away).all():
        raise InputError("clearance", "not finite", "measure it again")
    if not (np.isfinite(known) & (known > 0)).all():
        raise InputError("u95", "not above zero", "a value known exactly is decided")
    if rule not in GUARD_IN_U95:
        raise InputError("rule", f'"{rule}" is not known', f"write {' or '.join(GUARD_IN_U95)}")
    needed = np.abs(away) / GUARD_IN_U95[rule]
    with np.errstate(divide="ignore"):
        times = (known / needed) ** 2
    # Within at the very distance, outside only beyond it; figures that rounding added are dropped.
    exact = np.isclose(times, np.rint(times), rtol=1e-9, atol=0.0)
    whole = np.where(exact, np.rint(times), np.ceil(times))
    repeats = np.maximum(np.where(exact & (away < 0), whole + 1, whole), 1.0)
    return Sharper(inside=away >= 0, u95_needed=needed, repeats=repeats)
