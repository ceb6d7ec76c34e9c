"""Lengths on the way into the books: finite, and no longer than anything here is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from kitwright.books.tables.columns import LONGEST_MM
from kitwright.calc.checks import Floats, finite, positive
from kitwright.errors import InputError, Problem


def length(value: float, *, where: str) -> float:
    """A length in mm, of either sign."""
    if abs(finite(value, where=where)) > LONGEST_MM:
        raise InputError(where, f"{value:g} mm", f"give at most {LONGEST_MM} mm")
    return float(value)


def more_than_nothing(value: float, *, where: str) -> float:
    """A size in mm, above zero (or a mass in kg)."""
    return length(positive(value, where=where), where=where)


def between(low: float, high: float, *, where: str) -> tuple[float, float]:
    """Two limits in mm, the low one lower."""
    length(low, where=where)
    length(high, where=where)
    if low >= high:
        raise InputError(where, f"{low:g} to {high:g} mm", "give the lower one first")
    return float(low), float(high)


def lengths(
    given: ArrayLike, shape: tuple[int, ...], *, where: str, names: Sequence[str], least: float
) -> Floats:
    """An array of lengths in mm, spread to `shape`; an error names each row that is wrong.

    Parameters
    ----------
    names
        The rows' names, one a row of `shape`.
    least
        No value may be below this.
    """
    try:
        values = np.broadcast_to(np.asarray(given, dtype=float), shape)
    except (TypeError, ValueError):
        raise InputError(where, f"not {shape[0]} rows of numbers", "give one a bell") from None
    with np.errstate(invalid="ignore"):
        good = (values >= least) & (values <= LONGEST_MM)
    if good.all():
        return values
    bad = ~good.reshape(len(names), -1).all(axis=1)
    raise InputError.of(
        Problem(f"{names[row]} {where}", f"{_shown(values[row])} mm", "measure it again")
        for row in np.flatnonzero(bad).tolist()
    )


def _shown(row: Floats) -> str:
    return ", ".join(f"{value:g}" for value in np.atleast_1d(row))
