"""Which eccentric dowels, turned to where, bring a bore to the crank axis, and how surely.

An eccentric dowel of size s whose slot points to the clock angle t stands with its bell end at
s·(sin t, cos t) from its block end, and takes the bell's dowel hole with it. The offset left is
the offset with plain dowels plus the bore's shift by the rigid motion of both holes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.centring.clock import clock_of
from kitwright.calc.centring.dowel_binding import chance_binds
from kitwright.calc.centring.dowel_chance import Complexes, Spread, chance_inside
from kitwright.calc.centring.dowel_settings import Settings, least_settings
from kitwright.calc.centring.rigid import RigidInfluence, bore_influence
from kitwright.calc.checks import Floats, not_negative, positive
from kitwright.errors import InputError

_SMALL_MOTION = 0.05  # of the distance of the dowels: beyond, the motion is not small

Outcome = Literal["turn", "within already", "no surer", "out of reach"]


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One setting of two dowels and what it leads to."""

    a_size_mm: float
    a_clock_deg: float | None
    """Where the slot of dowel a points; None for a plain dowel."""
    b_size_mm: float
    b_clock_deg: float | None
    predicted_offset_x_mm: float
    predicted_offset_y_mm: float
    turn_mrad: float
    """Turn of the bell about the crank axis, counter-clockwise positive seen from behind."""
    chance_within: float
    chance_binds: float
    chance_error: float
    """Bound on the numerical error of either chance."""

    @property
    def predicted_offset_mm(self) -> float:
        return math.hypot(self.predicted_offset_x_mm, self.predicted_offset_y_mm)

    @property
    def predicted_tir_mm(self) -> float:
        return 2 * self.predicted_offset_mm

    @property
    def sizes_mm(self) -> tuple[float, float]:
        return self.a_size_mm, self.b_size_mm

    @property
    def plain(self) -> bool:
        """Both dowels are plain: the bell is left as it sits."""
        return self.sizes_mm == (0, 0)


@dataclass(frozen=True, kw_only=True)
class DowelChoice:
    """Candidates, the likeliest first, and which one to take."""

    candidates: tuple[Candidate, ...]
    outcome: Outcome
    recommended: int | None
    leave_alone: int
    """Index of the candidate with two plain dowels."""

    @property
    def other_sizes(self) -> int | None:
        """Index of the likeliest candidate of other sizes than those recommended, not plain."""
        if self.recommended is None:
            return None
        taken = self.candidates[self.recommended].sizes_mm
        for index, candidate in enumerate(self.candidates):
            if not candidate.plain and candidate.sizes_mm != taken:
                return index
        return None

    @property
    def closest(self) -> Candidate:
        """The candidate that leaves the least offset."""
        return min(self.candidates, key=lambda candidate: candidate.predicted_offset_mm)


def choose_dowels(
    offset_mm: ArrayLike,
    *,
    dowel_a: ArrayLike,
    dowel_b: ArrayLike,
    sizes_mm: Iterable[float],
    limit_tir_mm: float,
    hole_clearance_mm: float = 0.0,
    angle_error_deg: float = 5.0,
    offset_u_mm: float = 0.0,
    most_turn_rad: float | None = None,
) -> DowelChoice:
    """Rank every sensible setting of two dowels by its chance to bring the TIR within a limit.

    Parameters
    ----------
    offset_mm : array_like, shape (2,)
        Offset x, y with plain dowels, from the sweep.
    dowel_a, dowel_b : array_like, shape (2,)
        Places x, y of the dowel holes in mm from the crank axis.
    sizes_mm : sizes of the eccentric dowels at hand; zero and none at all are plain dowels
    limit_tir_mm : the TIR allowed, above zero
    hole_clearance_mm : diametral clearance of each dowel in its hole
    angle_error_deg : standard error of turning one eccentric dowel; normal, independent
    offset_u_mm : standard uncertainty of the offset in each direction; circular normal
    most_turn_rad : the bell may turn no further than this, either way

    Returns
    -------
    DowelChoice
        Ordered by chance; of those equally sure the one that binds less (to a part in a
        hundred), then the one that leaves less offset. `recommended` is the first candidate whose
        predicted TIR is within the limit, unless the bell is within already with twice the
        sweep's uncertainty to spare, or no setting is likelier to be within than it is now.

    Raises
    ------
    InputError
        Dowels in one place, a negative size, a number that is not finite.

    Notes
    -----
    Nominal settings make no mismatch along the line of the dowels; the clearance is there for
    what turning errors make. Each hole can give by half its diametral clearance and the mismatch
    is shared equally, so a mismatch up to one whole `hole_clearance_mm` goes on. The chance
    within takes the mismatch as shared, whether or not the bell goes on.

    Examples
    --------
    >>> choice = choose_dowels([-0.1, 0], dowel_a=[-180, 0], dowel_b=[180, 0],
    ...                        sizes_mm=[0.1], limit_tir_mm=0.05)
    >>> best = choice.candidates[choice.recommended]
    >>> round(best.a_clock_deg), round(best.b_clock_deg), best.predicted_tir_mm < 1e-9
    (90, 90, True)
    """
    offset = np.asarray(offset_mm, dtype=float)
    if offset.shape != (2,) or not np.isfinite(offset).all():
        raise InputError("offset", f"{offset.tolist()} is not x and y", "give two finite numbers")
    limit = positive(limit_tir_mm, where="limit")
    blur = not_negative(offset_u_mm, where="offset_u95")
    clearance = not_negative(hole_clearance_mm, where="hole_clearance")
    angle_error_rad = math.radians(not_negative(angle_error_deg, where="angle_error_deg"))
    influence = bore_influence(dowel_a, dowel_b)
    sizes = tuple(sizes_mm)
    most = _SMALL_MOTION * influence.distance_mm
    if max(sizes, default=0.0) > most:
        raise InputError(
            "sizes",
            f"{max(sizes):g} mm is no dowel's for holes {influence.distance_mm:g} mm apart",
            f"give sizes up to {most:g} mm",
        )
    settings = least_settings(influence, offset, sizes, most_turn_rad=most_turn_rad)
    within = chance_inside(
        _bore_spread(influence, settings, offset),
        limit / 2,
        angle_error_rad=angle_error_rad,
        blur_mm=blur,
    )
    binds = chance_binds(
        settings.shift_a_mm @ influence.line,
        quarter_turned(settings.shift_a_mm) @ influence.line,
        settings.shift_b_mm @ influence.line,
        quarter_turned(settings.shift_b_mm) @ influence.line,
        hole_clearance_mm=clearance,
        angle_error_rad=angle_error_rad,
    )
    rows = [
        Candidate(
            a_size_mm=float(settings.a_size_mm[row]),
            a_clock_deg=clock_of(settings.shift_a_mm[row]) if settings.a_size_mm[row] else None,
            b_size_mm=float(settings.b_size_mm[row]),
            b_clock_deg=clock_of(settings.shift_b_mm[row]) if settings.b_size_mm[row] else None,
            predicted_offset_x_mm=float(settings.offset_mm[row, 0]),
            predicted_offset_y_mm=float(settings.offset_mm[row, 1]),
            turn_mrad=1000 * float(settings.turn_rad[row]),
            chance_within=float(within.chance[row]),
            chance_binds=float(binds.chance[row]),
            chance_error=float(max(within.error[row], binds.error[row])),
        )
        for row in range(len(settings.turn_rad))
    ]
    return _chosen(sorted(rows, key=_rank), limit, blur)


def quarter_turned(shift: Floats) -> Floats:
    """The shift (..., 2) of a dowel turned 90 degrees clockwise: its slope with clock angle."""
    return np.stack([shift[..., 1], -shift[..., 0]], axis=-1)


def _bore_spread(influence: RigidInfluence, settings: Settings, offset: Floats) -> Spread:
    """The bore's offset under errors of both clock angles, exact in the errors."""
    return Spread(
        still=np.full(len(settings.turn_rad), complex(*offset)),
        a_cos=_plane(settings.shift_a_mm @ influence.of_a.T),
        a_sin=_plane(quarter_turned(settings.shift_a_mm) @ influence.of_a.T),
        b_cos=_plane(settings.shift_b_mm @ influence.of_b.T),
        b_sin=_plane(quarter_turned(settings.shift_b_mm) @ influence.of_b.T),
    )


def _plane(vectors: Floats) -> Complexes:
    return vectors[:, 0] + 1j * vectors[:, 1]


def _rank(candidate: Candidate) -> tuple[float, ...]:
    return (
        -candidate.chance_within,
        round(candidate.chance_binds, 2),
        round(candidate.predicted_offset_mm, 9),
        sum(candidate.sizes_mm),
        candidate.a_size_mm,
        candidate.a_clock_deg or 0.0,
        candidate.b_clock_deg or 0.0,
    )


def _chosen(candidates: Sequence[Candidate], limit: float, blur: float) -> DowelChoice:
    leave = next(index for index, candidate in enumerate(candidates) if candidate.plain)
    now = candidates[leave]
    able = [
        index
        for index, candidate in enumerate(candidates)
        if candidate.predicted_tir_mm <= limit and not candidate.plain
    ]
    outcome: Outcome
    if now.predicted_tir_mm + 4 * blur <= limit:
        outcome = "within already"
    elif not able:
        outcome = "no surer" if now.predicted_tir_mm <= limit else "out of reach"
    elif candidates[able[0]].chance_within <= now.chance_within:
        outcome = "no surer"
    else:
        outcome = "turn"
    return DowelChoice(
        candidates=tuple(candidates),
        outcome=outcome,
        recommended=able[0] if outcome == "turn" else None,
        leave_alone=leave,
    )
