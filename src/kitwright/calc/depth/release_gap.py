"""The gap between a hydraulic release bearing, fully back, and the clutch's fingers.

Before bleeding, clutch new, engine and gearbox cold: it is not the running contact that many
bearings keep once they are filled. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kitwright.calc.checks import not_negative, positive
from kitwright.calc.depth.repeats import Distance
from kitwright.calc.depth.shims import Pile, Shim, piles
from kitwright.calc.quality.conformity import OUTSIDE, UNDECIDED, WITHIN, decide_length
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Wear:
    """How far the fingers rise toward the bearing as the disc wears."""

    disc_wear_mm: float
    """Of the whole disc, both linings; of a twin disc clutch, of both discs."""
    finger_ratio: float
    """The fingers' rise over the disc's wear: the lever of the diaphragm."""

    def __post_init__(self) -> None:
        not_negative(self.disc_wear_mm, where="disc_wear")
        positive(self.finger_ratio, where="finger_ratio")

    @property
    def rise_mm(self) -> float:
        return self.disc_wear_mm * self.finger_ratio


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """What the bearing can do, and what the clutch asks for."""

    stroke_mm: float
    """From fully back to its stop."""
    release_travel_mm: float
    """From touching the fingers to a clutch that is free."""

    def __post_init__(self) -> None:
        positive(self.stroke_mm, where="stroke")
        not_negative(self.release_travel_mm, where="release_travel")


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """A gap and what follows from it; codes as in `quality/conformity.py`."""

    pile: Pile
    gap_mm: float
    """With the pile behind the bearing."""
    worn_mm: float | None
    """When the disc is worn; None where the clutch is not known."""
    stroke_left_mm: float | None
    """When new, which is when it is least; None where the bearing is not known."""
    gap_code: int
    worn_code: int | None
    stroke_code: int | None

    @property
    def code(self) -> int:
        """Outside if anything is, else undecided if anything is, else within."""
        codes = (self.gap_code, self.worn_code, self.stroke_code)
        return _worst([code for code in codes if code is not None])


@dataclass(frozen=True, kw_only=True)
class ReleaseGap:
    """The gap as it is, and the best that the shims at hand make of it."""

    gap_mm: float
    u95_mm: float
    bare: Outcome
    """With no shim."""
    best: Outcome
    """The same where no shims bring the gap inside its limits."""
    wanted_mm: tuple[float, float]
    """Shims that would bring the gap inside its limits: from and to; below zero, the bearing
    stands too far forward as it is; infinite where that limit is missing."""


def release_gap(
    fingers: Distance,
    bearing: Distance,
    *,
    low_mm: float = -math.inf,
    high_mm: float = math.inf,
    shims: Sequence[Shim] = (),
    wear: Wear | None = None,
    stroke: Stroke | None = None,
) -> ReleaseGap:
    """Find the gap, and the fewest shims that bring it within.

    Parameters
    ----------
    fingers : from the bell's gearbox face forward to the finger tips
    bearing : from the gearbox's face forward to the bearing's face, bearing fully back
    low_mm, high_mm : limits of the gap; a missing one is -inf or inf
    shims : at hand, to go behind the bearing: each brings it toward the fingers
    wear, stroke : None where they are not known; they are then not judged

    Raises
    ------
    InputError
        Limits that are swapped or both missing; too many shims.

    Notes
    -----
    A quantity is within when it is inside its limits drawn in by the expanded uncertainty of the
    gap. Shims are chosen so that as much as possible is surely within; of those that do
    equally well the fewest, then nearest to the middle of the limits.
    """
    gap = _even(fingers.mm - bearing.mm)
    u95 = 2 * math.hypot(fingers.u_mm, bearing.u_mm)
    if low_mm > high_mm:
        raise InputError("gap", f"low {low_mm:g} is above high {high_mm:g}", "swap them")
    laid = piles(shims)
    left = [_even(gap - pile.total_mm) for pile in laid]
    codes = decide_length(left, u95=u95, low=low_mm, high=high_mm).codes.tolist()
    outcomes = [
        _outcome(pile, gap_mm, code, u95, wear, stroke)
        for pile, gap_mm, code in zip(laid, left, codes, strict=True)
    ]
    inside = [outcome for outcome in outcomes if low_mm <= outcome.gap_mm <= high_mm]
    bare = outcomes[0]
    return ReleaseGap(
        gap_mm=gap,
        u95_mm=u95,
        bare=bare,
        best=min(inside, key=lambda each: _order(each, low_mm, high_mm), default=bare),
        wanted_mm=(gap - high_mm, gap - low_mm),
    )


def _outcome(
    pile: Pile, gap_mm: float, code: int, u95: float, wear: Wear | None, stroke: Stroke | None
) -> Outcome:
    worn = rest = None
    if wear is not None:
        worn = _even(gap_mm - wear.rise_mm)
    if stroke is not None:
        rest = _even(stroke.stroke_mm - stroke.release_travel_mm - gap_mm)
    return Outcome(
        pile=pile,
        gap_mm=gap_mm,
        worn_mm=worn,
        stroke_left_mm=rest,
        gap_code=code,
        worn_code=None if worn is None else above_zero(worn, u95),
        stroke_code=None if rest is None else above_zero(rest, u95),
    )


def _even(mm: float) -> float:
    """A difference of lengths without what rounding left of it: 61.35 - 60 is 1.35."""
    return round(mm, 12)


def above_zero(value_mm: float, u95_mm: float) -> int:
    """Whether a length is surely more than nothing."""
    if _even(value_mm - u95_mm) > 0:
        return WITHIN
    return OUTSIDE if _even(value_mm + u95_mm) <= 0 else UNDECIDED


def _worst(codes: Sequence[int]) -> int:
    if OUTSIDE in codes:
        return OUTSIDE
    return UNDECIDED if UNDECIDED in codes else WITHIN


def _order(outcome: Outcome, low: float, high: float) -> tuple[float, ...]:
    """Surest first, then fewest pieces, then nearest to the middle, then thinnest."""
    surely = -outcome.code, -outcome.gap_code
    off_middle = abs(outcome.gap_mm - (low + high) / 2) if math.isfinite(low + high) else 0.0
    return (*surely, outcome.pile.pieces, round(off_middle, 9), outcome.pile.total_mm)
