"""How a bell moves when its two dowel holes move: a small rigid motion.

Seen from behind, x right and y up, the crank axis at the origin. A bell that turns by phi
(counter-clockwise positive) and moves by t at the crank axis shifts at a point p by
t + phi × p. Two dowels prescribe four numbers and a rigid motion has three: along the line that
joins the dowels both shifts would have to agree. What they disagree by, the mismatch, is shared
equally between the two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

_COINCIDENT = 1e-6  # of the dowels' distance from the axis: nothing could be turned about them


@dataclass(frozen=True, kw_only=True, eq=False)
class RigidMotion:
    """A bell's small motion. Arrays have the shape of the shifts given, less the last axis."""

    turn_rad: Floats
    """Turn about the crank axis, counter-clockwise positive seen from behind."""
    bore_shift_mm: Floats
    """(..., 2) shift x, y of the bell at the crank axis."""
    mismatch_mm: Floats
    """Shift of dowel a less shift of dowel b along the line from b to a."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RigidInfluence:
    """What a displacement d of each dowel does to the bell: `of_a @ d` is the bore's shift."""

    of_a: Floats
    """(2, 2) from the shift x, y of dowel hole a to the bore's shift x, y; no unit."""
    of_b: Floats
    """(2, 2) likewise for dowel hole b."""
    turn_of_a: Floats
    """(2,) from the shift of dowel hole a in mm to the bell's turn in rad."""
    turn_of_b: Floats
    """(2,) likewise for dowel hole b."""
    line: Floats
    """(2,) unit vector along the line from dowel b to dowel a."""
    across: Floats
    """(2,) `line` turned 90 degrees counter-clockwise."""
    distance_mm: float
    """From dowel b to dowel a."""

    def motion(self, shift_a: ArrayLike, shift_b: ArrayLike) -> RigidMotion:
        """The motion that shifts x, y (..., 2) in mm of both dowel holes make.

        >>> influence = bore_influence([-180, 0], [180, 0])
        >>> influence.motion([0.1, 0.2], [0.1, 0.2]).bore_shift_mm.round(9).tolist()
        [0.1, 0.2]
        """
        a = np.asarray(shift_a, dtype=float)
        b = np.asarray(shift_b, dtype=float)
        return RigidMotion(
            turn_rad=a @ self.turn_of_a + b @ self.turn_of_b,
            bore_shift_mm=a @ self.of_a.T + b @ self.of_b.T,
            mismatch_mm=(a - b) @ self.line,
        )


def bore_influence(dowel_a: ArrayLike, dowel_b: ArrayLike) -> RigidInfluence:
    """How the bore at the crank axis follows each of two dowel holes.

    With n along the line from b to a, m = n turned 90 degrees counter-clockwise and L the
    distance, a displacement d of dowel hole a turns the bell by phi = d·m / L and shifts the
    bore by d·n / 2 + phi (a·m) along n and by -d·m (b·n) / L along m; for dowel b likewise.

    Parameters
    ----------
    dowel_a, dowel_b : array_like, shape (2,)
        Places x, y of the dowel holes in mm from the crank axis, seen from behind.

    Raises
    ------
    InputError
        A place that is not two finite numbers, or both dowels in one place.

    Notes
    -----
    First order in the turn: what is left out is phi² |p| / 2, about 0.0001 mm for a turn of
    1 mrad at 200 mm.

    Examples
    --------
    >>> influence = bore_influence([-180, 0], [180, 0])
    >>> influence.of_a.tolist()  # midway between the dowels, each counts for half
    [[0.5, 0.0], [0.0, 0.5]]
    """
    a = _place(dowel_a, where="dowel_a")
    b = _place(dowel_b, where="dowel_b")
    distance = float(np.hypot(*(a - b)))
    if distance <= _COINCIDENT * max(float(np.hypot(*a)), float(np.hypot(*b))):
        raise InputError(
            "dowel_b", "it is in the same place as dowel_a", "give the places of two dowel holes"
        )
    line = (a - b) / distance
    across = np.array([-line[1], line[0]])
    turn_of_a = across / distance
    turn_of_b = -turn_of_a
    level = float(a @ across)  # the same for b: both lie on one line along n
    half = np.outer(line, line) / 2
    return RigidInfluence(
        of_a=half + np.outer(level * line - (b @ line) * across, turn_of_a),
        of_b=half + np.outer(level * line - (a @ line) * across, turn_of_b),
        turn_of_a=turn_of_a,
        turn_of_b=turn_of_b,
        line=line,
        across=across,
        distance_mm=distance,
    )


def _place(place: ArrayLike, *, where: str) -> Floats:
    point = np.asarray(place, dtype=float)
    if point.shape != (2,):
        raise InputError(where, f"{point.size} numbers given", "give x and y")
    if not np.isfinite(point).all():
        raise InputError(where, f"{point.tolist()} is not finite", "give finite x and y")
    return point
