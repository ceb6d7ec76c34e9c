"""Checks of arrays on the way into a calculation; each refusal names the argument."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.errors import InputError

Floats = NDArray[np.float64]


def finite_rows(values: ArrayLike, *, columns: int, least: int, where: str) -> Floats:
    """A float array of shape (n, `columns`) with n >= `least`, every number finite."""
    rows = np.asarray(values, dtype=float)
    if rows.size == 0:
        rows = rows.reshape(0, columns)
    if rows.ndim != 2 or rows.shape[1] != columns:
        raise InputError(where, f"shape {rows.shape}", f"give rows of {columns} numbers")
    if len(rows) < least:
        raise InputError(where, f"{len(rows)} given", f"give {least} or more")
    for row in np.flatnonzero(~np.isfinite(rows).all(axis=1)):
        raise InputError(
            f"{where}[{row}]", f"{rows[row].tolist()} is not finite", "measure it again"
        )
    return rows


def finite(value: float, *, where: str) -> float:
    """The number, refused where it is NaN or infinite."""
    if not np.isfinite(value):
        raise InputError(where, f"{value} is not a number", "give a finite number")
    return float(value)


def not_negative(value: float, *, where: str) -> float:
    """The number, refused below zero."""
    if finite(value, where=where) < 0:
        raise InputError(where, f"{value:g} is negative", "give zero or more")
    return float(value)


def positive(value: float, *, where: str) -> float:
    """The number, refused at or below zero."""
    if finite(value, where=where) <= 0:
        raise InputError(where, f"{value:g} is not above zero", "give more than zero")
    return float(value)
