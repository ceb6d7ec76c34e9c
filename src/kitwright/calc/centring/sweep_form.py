"""What a few readings cannot show: an out of round, or a warp, that hides between them.

Three readings cannot show a second harmonic at all: it moves the offset found by half its
indicator movement. Four at right angles show the part that stands at 12-3-6-9 and are blind to
the part that stands at 45 degrees, which does not move the offset but may widen the TIR. So an
amount is allowed for: the worst that any second harmonic up to `form_allowance` could do.

References
----------
.. [1] ISO 286-1:2010, Table 1: tolerance grade IT7.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.centring.fits_iso286 import deviations
from kitwright.calc.centring.sweep_fit import Fit, Rows, basis, swing
from kitwright.calc.checks import Floats

_USUAL_BORE_MM: Final = 150.0
_TABLES_END_MM: Final = 500.0
_DIRECTIONS: Final = 36
_AMOUNTS: Final = np.array([0.0, 0.5, 1.0])
_SEEN_FROM: Final = 0.3  # share of an even sweep's response from which a direction counts as seen


def usual_form_allowance(bore_diameter_mm: float | None = None) -> float:
    """The most that a bore to H7 can be out of round, as full indicator movement in mm.

    If its whole size tolerance [1]_ were ovality, diameters would differ by IT7; a dial from
    the centre sees half of that. Without a diameter: one of 120 to 180 mm, 0.020 mm; above
    500 mm, where the tables end, as for 500.

    >>> usual_form_allowance(), usual_form_allowance(95.0)
    (0.02, 0.0175)
    """
    size_mm = min(bore_diameter_mm or _USUAL_BORE_MM, _TABLES_END_MM)
    return deviations(size_mm, "H7").upper_um / 1000 / 2


@dataclass(frozen=True, kw_only=True)
class Unseen:
    """What an unseen second harmonic may do to the answer."""

    shape_mm2: Floats  # (2, 2)
    """Covariance whose k = 2 is the most that it moves x, y, in every direction."""
    shown_tir_mm: float
    """What the part that shows adds to the whole curve's TIR over the one judged."""
    tir_mm: float
    """The most that the part that does not show may change of that."""
    shown_mm: float
    """Full indicator movement of the part that the readings do show."""
    allowed_mm: float
    """Full indicator movement allowed for."""


def unseen(
    found: Fit, sweeps: list[Rows], *, tir_mm: float, allowance_mm: float, cancels: bool = False
) -> Unseen:
    """Try every second harmonic that fits both the readings and the allowance.

    A swing is convex in its curve, so the widest stands at the full allowance; the narrowest
    may stand at less.

    Parameters
    ----------
    found : a fit without second harmonic
    tir_mm : the TIR that is judged
    allowance_mm : full indicator movement to allow for; more where more than that shows
    cancels : the readings are differences in which even harmonics cancel (two dials)
    """
    clock = np.concatenate([rows.clock_deg for rows in sweeps])
    second = basis(clock, second=True)[:, 2:] * (0.0 if cancels else 1.0)
    moved = found.gain @ second  # what a second harmonic moves x, y by
    left = second - basis(clock, second=False) @ moved
    start = 0
    for rows in sweeps:
        part = left[start : start + len(rows.count)]
        part -= part.mean(axis=0)
        start += len(rows.count)
    response, sizes, directions = np.linalg.svd(left, full_matrices=False)
    seen = sizes > _SEEN_FROM * np.sqrt(len(clock) / 2)
    shows = directions[seen].T @ ((response.T @ found.residual_mm)[seen] / sizes[seen])
    hidden = np.eye(2) - directions[seen].T @ directions[seen]
    reach = max(allowance_mm / 2, float(np.hypot(*shows)))

    # directions start at the offset's own, so that a turned sweep gives a turned answer
    turn = 2 * np.arctan2(*found.shape) + np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS)
    around = np.column_stack([np.cos(turn), np.sin(turn)])
    trials = shows + (reach * _AMOUNTS[:, None, None] * around @ hidden).reshape(-1, 2)
    whole = swing(np.column_stack([found.shape - trials @ moved.T, trials])).full_mm
    reaches = np.column_stack([moved @ shows, reach * moved @ hidden])
    return Unseen(
        shape_mm2=reaches @ reaches.T / 4,
        shown_tir_mm=float(whole[0]) - tir_mm,
        tir_mm=float(np.abs(whole - whole[0]).max()),
        shown_mm=float(2 * np.hypot(*shows)),
        allowed_mm=float(2 * reach),
    )
