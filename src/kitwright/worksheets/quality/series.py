"""Measurements in the order made, as the cases of capability and control charts give them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import numpy as np
from pydantic import Field

from kitwright.calc.checks import Floats
from kitwright.errors import InputError, Problem
from kitwright.units import unit_size
from kitwright.worksheets.fields import Case, Quantity, TableUnit

Measured = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Values = Annotated[list[Measured], Field(min_length=2, max_length=500_000)]
Subgroup = Annotated[list[Measured], Field(min_length=1, max_length=1000)]
Subgroups = Annotated[list[Subgroup], Field(min_length=2, max_length=100_000)]
Positions = Annotated[list[tuple[Measured, Measured]], Field(min_length=3, max_length=500_000)]


def one_of(case: Case, names: Sequence[str]) -> str:
    """The one of these fields that the case gives."""
    given = [name for name in names if getattr(case, name) is not None]
    if not given:
        others = " or ".join(names[1:])
        raise InputError(names[0], "missing", f"give {others or 'it'} if not this")
    if len(given) > 1:
        expected = f"give one of {', '.join(names)}"
        raise InputError.of(
            [Problem(name, f"given with {given[0]}", expected) for name in given[1:]]
        )
    return given[0]


def equal_rows(subgroups: Sequence[Sequence[float]]) -> Floats:
    """Subgroups as a table; refused, a line each, where one differs in size from the first."""
    size = len(subgroups[0])
    uneven = [
        Problem(
            f"subgroups[{index}]",
            f"{len(row)} values",
            f"every subgroup of one chart needs {size}, as the first has",
        )
        for index, row in enumerate(subgroups)
        if len(row) != size
    ]
    if uneven:
        raise InputError.of(uneven[:20])
    return np.array(subgroups, dtype=float)


def in_unit(length: Quantity, unit: TableUnit) -> float:
    """A length with its own unit as a number of the table's, rounded once."""
    return float(length.exact / unit_size(unit.name))
