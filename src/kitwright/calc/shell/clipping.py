"""Which samples of a recording the recorder cut off."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats

FULL: Final = 0.999
"""Of full scale: a sample this large was cut off."""
_LOUD: Final = 0.1
_PLACES: Final = 3
_RUN: Final = 3


def clipped(samples: Floats) -> NDArray[np.bool_]:
    """The samples that are cut off, of samples whose full scale is 1.

    A sample at full scale is; so is one of three or more in a row at the largest or smallest
    value that the recording has, if that happens in three or more places: a limit below full
    scale. A ring that dies away touches its largest value once.

    >>> clipped(np.array([0.2, 1.0, 0.3])).tolist()
    [False, True, False]
    """
    cut = np.abs(samples) >= FULL
    for limit in (samples.max(initial=0.0), samples.min(initial=0.0)):
        if abs(limit) < _LOUD:
            continue
        flat = samples == limit
        edges = np.flatnonzero(np.diff(np.concatenate([[False], flat, [False]]).astype(np.int8)))
        starts, ends = edges[::2], edges[1::2]
        long = ends - starts >= _RUN
        if np.count_nonzero(long) >= _PLACES:
            cut |= flat
    return np.asarray(cut)
