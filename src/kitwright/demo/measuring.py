"""Invented measurements: a machinist's inspection of a batch, a fitter's sweep of a bore."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from kitwright.books.characteristics import Characteristic
from kitwright.files.inspection import InspectionTable
from kitwright.shop.batches import expected_of

U95_MM: Final[Mapping[str, float]] = {
    "bore": 0.004,
    "bore diameter": 0.004,
    "block face flatness": 0.006,
    "gearbox face flatness": 0.006,
    "faces parallel": 0.008,
    "bore square": 0.006,
    "depth": 0.01,
    "dowel a diameter": 0.003,
    "dowel b diameter": 0.003,
    "dowel span": 0.006,
    "gearbox pattern": 0.02,
    "starter bore": 0.02,
}
"""What the machinist's measuring machine is good for."""

PROCESS: Final[Mapping[str, tuple[float, float]]] = {
    "bore": (0.004, 0.007),
    "bore diameter": (124.019, 0.0035),
    "block face flatness": (0.022, 0.004),
    "gearbox face flatness": (0.019, 0.004),
    "faces parallel": (0.034, 0.007),
    "bore square": (0.018, 0.005),
    "depth": (165.012, 0.017),
    "dowel a diameter": (16.009, 0.0013),
    "dowel b diameter": (16.008, 0.0013),
    "dowel span": (372.003, 0.005),
    "gearbox pattern": (0.012, 0.02),
    "starter bore": (-0.015, 0.018),
}
"""Mean and spread of what comes off the machine; a position's along either axis."""


def inspection(
    drawn: Sequence[Characteristic],
    serials: Sequence[str],
    *,
    seed: int,
    wrong: Mapping[int, Mapping[str, tuple[float, float]]] | None = None,
) -> InspectionTable:
    """Measurements of these bells; `wrong` sets characteristics of single bells by their place.

    A position's pair is its x and y from the true place; of a length only the first number counts.
    """
    rng = np.random.default_rng(seed)
    shape = len(serials), len(drawn)
    values, y, u95 = np.empty(shape), np.full(shape, np.nan), np.empty(shape)
    for k, about in enumerate(drawn):
        mean, sigma = PROCESS[about.name]
        first = rng.normal(mean, sigma, len(serials))
        second = rng.normal(-mean, sigma, len(serials))
        for row, faults in (wrong or {}).items():
            if about.name in faults:
                first[row], second[row] = faults[about.name]
        if about.kind == "position":
            values[:, k] = (about.x_mm or 0) + first
            y[:, k] = (about.y_mm or 0) + second
        else:
            values[:, k] = first
        u95[:, k] = U95_MM[about.name]
    return InspectionTable(
        serials=tuple(serials),
        characteristics=tuple(expected_of(drawn)),
        values_mm=np.round(values, 4),
        y_mm=np.round(y, 4),
        u95_mm=u95,
        units={},
        row_numbers=range(2, len(serials) + 2),
    )


def only(table: InspectionTable, serials: Sequence[str]) -> InspectionTable:
    """The rows of these bells."""
    rows = [table.serials.index(serial) for serial in serials]
    return replace(
        table,
        serials=tuple(serials),
        values_mm=table.values_mm[rows],
        y_mm=table.y_mm[rows],
        u95_mm=table.u95_mm[rows],
        row_numbers=range(2, len(rows) + 2),
    )


@dataclass(frozen=True)
class Block:
    """Where an engine's crank makes the bore of a true bell stand, in mm."""

    x_mm: float
    y_mm: float


def sweep_case(bore_mm: tuple[float, float], block: Block, *, seed: int) -> dict[str, Any]:
    """Eight readings in thou, to the half, of a bell with this bore on this block."""
    rng = np.random.default_rng(seed)
    x, y = (bore_mm[0] + block.x_mm) / 0.0254, (bore_mm[1] + block.y_mm) / 0.0254
    readings = []
    for clock in range(0, 360, 45):
        t = math.radians(clock)
        exact = y - (x * math.sin(t) + y * math.cos(t)) + rng.normal(0, 0.15)
        readings.append([clock, 0.0 if clock == 0 else round(2 * exact) / 2])
    return {
        "surface": "bore",
        "unit": "thou",
        "readings": readings,
        "graduation": "0.5 thou",
        "repeatability": "0.2 thou",
    }
