"""Clock angles: degrees clockwise from 12 o'clock, seen from behind the engine; x right, y up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats


def clock_vector(clock_deg: ArrayLike) -> Floats:
    """(..., 2) unit vector of a clock angle: x right, y up, clockwise from 12.

    >>> clock_vector(90).round(12).tolist()
    [1.0, 0.0]
    """
    angle = np.radians(np.asarray(clock_deg, dtype=float))
    return np.stack([np.sin(angle), np.cos(angle)], axis=-1)


def clock_of(vector: Sequence[float] | Floats) -> float:
    """Clock angle of a vector x, y in degrees, 0 to under 360.

    >>> clock_of([-1, 0])
    270.0
    """
    return float(np.degrees(np.arctan2(vector[0], vector[1])) % 360) % 360
