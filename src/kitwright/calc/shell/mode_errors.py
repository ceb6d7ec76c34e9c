"""How far a mesh leaves the pitches from where they would end, from two meshes."""

from __future__ import annotations

from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.shell.bell_modes import Modes
from kitwright.calc.shell.mode_pairs import pair_modes
from kitwright.errors import InputError

_LEAST_FINER: Final = 1.1


def frequency_errors(coarse: Modes, fine: Modes) -> Floats:
    """(m,): estimated error of each frequency of `fine`, as a share; above zero is too high.

    Each mode is compared with the one of the coarse mesh that has its shape, as if the error fell
    with the square of the spacing (Richardson's extrapolation [1]_), so in proportion to one over
    the number of the grid's cells along and round. It falls about with the third power in a bell
    with flanges, so that this is a cautious figure. How much finer a mesh is must be counted: where
    edges of the shape already stand as near as the lines of either, both have these, whatever
    spacing was asked for.

    A mode of which the coarse mesh has no like (give it a few more modes) changes places or mixes
    there with another: the largest error of the others stands for its own, if the change by order
    is not larger still.

    References
    ----------
    .. [1] L. F. Richardson, Phil. Trans. R. Soc. A 210 (1911) 307-357
    """
    ratio = _cells(fine) / _cells(coarse)
    if ratio < _LEAST_FINER:
        raise InputError("mesh", "the edges leave none that is coarser", "leave small parts out")
    there = pair_modes(fine, coarse).after
    number = np.arange(len(there))
    like = np.array([-1 if column is None else column for column in there])
    column = np.where(like < 0, np.minimum(number, len(coarse.frequencies_hz) - 1), like)
    change = coarse.frequencies_hz[column] / fine.frequencies_hz - 1
    largest = abs(change[like >= 0]).max(initial=0.0)
    alone = (like < 0) & (abs(change) < largest)
    return np.asarray(np.where(alone, largest, change) / (ratio - 1))


def _cells(modes: Modes) -> int:
    """Of the grid, along and round."""
    return modes.mesh.outermost.size
