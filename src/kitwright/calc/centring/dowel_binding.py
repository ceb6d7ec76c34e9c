"""The chance that turning errors of two dowels make a bell bind.

Along the line that joins the dowels a dowel of size R, its slot at an angle to the line, shifts its
hole by R cos(p - α) when its clock angle is off by p. The two shifts may differ by the clearance.
For a given error of the smaller dowel the errors of the larger one that do not bind are intervals
in closed form; the mean over the smaller one's error is an even rule, made finer until it stands
still.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from kitwright.calc.centring.dowel_chance import SAFETY, Chances
from kitwright.calc.checks import Floats

Rows = NDArray[np.intp]

_REACH = 7.5  # standard errors; what lies beyond has a chance of 6e-14
_FEWEST, _MOST = 129, 8193
_SETTLED = 1e-7
_TAIL = 1e-12


def bind_mm(mismatch_mm: ArrayLike, *, hole_clearance_mm: float) -> Floats:
    """What of a mismatch the clearance of the two holes cannot take up.

    >>> float(bind_mm(-0.05, hole_clearance_mm=0.03))
    0.020000000000000004
    """
    over = np.abs(np.asarray(mismatch_mm, dtype=float)) - hole_clearance_mm
    return np.asarray(np.maximum(over, 0.0))


def chance_binds(
    along_a: Floats,
    aside_a: Floats,
    along_b: Floats,
    aside_b: Floats,
    *,
    hole_clearance_mm: float,
    angle_error_rad: float,
) -> Chances:
    """The chance that the mismatch of each setting exceeds the clearance.

    Parameters
    ----------
    along_a, along_b : (n,) shifts of the dowels along their line, mm, the same for a and b
    aside_a, aside_b : (n,) how fast they change with the dowel's clock angle, mm per radian
    hole_clearance_mm : what both holes together give, the diametral clearance of one
    angle_error_rad : standard error of each clock angle; normal, independent

    Returns
    -------
    Chances
        The error is three times the last change as the rule was made twice as fine.
    """
    size_a, size_b = np.hypot(along_a, aside_a), np.hypot(along_b, aside_b)
    eccentric = (size_a > 0) | (size_b > 0)
    if hole_clearance_mm == 0 or angle_error_rad == 0:
        # without clearance any turning error binds, without an error nothing does
        binds = eccentric & (angle_error_rad > 0)
        return Chances(chance=binds.astype(float), error=np.zeros(len(binds)))
    phase_a, phase_b = np.arctan2(aside_a, along_a), np.arctan2(aside_b, along_b)
    larger_a = size_a >= size_b
    large, small = np.maximum(size_a, size_b)[eccentric], np.minimum(size_a, size_b)[eccentric]
    large_phase = np.where(larger_a, phase_a, phase_b)[eccentric]
    small_phase = np.where(larger_a, phase_b, phase_a)[eccentric]

    def goes_on(rows: Rows, points: int) -> Floats:
        errors = np.linspace(-_REACH, _REACH, points)
        weights = np.exp(-(errors**2) / 2)
        middle = small[rows, None] * np.cos(angle_error_rad * errors - small_phase[rows, None])
        within = _chance_between(
            (middle - hole_clearance_mm) / large[rows, None],
            (middle + hole_clearance_mm) / large[rows, None],
            large_phase[rows, None],
            angle_error_rad,
        )
        return np.asarray(within @ (weights / weights.sum()))

    open_ = np.arange(len(large))
    points = _FEWEST
    mean, change = goes_on(open_, points), np.zeros(len(large))
    while len(open_) and points < _MOST:
        points = 2 * points - 1
        finer = goes_on(open_, points)
        change[open_] = np.abs(finer - mean[open_])
        mean[open_] = finer
        open_ = open_[change[open_] > _SETTLED]
    chance, error = np.zeros(len(eccentric)), np.zeros(len(eccentric))
    chance[eccentric], error[eccentric] = np.clip(1 - mean, 0, 1), SAFETY * change + _TAIL
    return Chances(chance=chance, error=error)


def _chance_between(low: Floats, high: Floats, phase: Floats, angle_error_rad: float) -> Floats:
    """The chance that cos(p - phase) lies between, for a normal p."""
    near, far = np.arccos(np.clip(high, -1, 1)), np.arccos(np.clip(low, -1, 1))
    chance = np.zeros(near.shape)
    turns = math.ceil((_REACH * angle_error_rad + np.pi) / (2 * np.pi))
    for turn in range(-turns, turns + 1):
        centre = phase + 2 * np.pi * turn
        for ends in ((centre + near, centre + far), (centre - far, centre - near)):
            chance += ndtr(ends[1] / angle_error_rad) - ndtr(ends[0] / angle_error_rad)
    return chance
