"""After the dowels are turned: what a second sweep should read, and what it says of the turning.

Two clock angles were set, each with an error; the second sweep shows where the bore went. The
likeliest errors are those that explain the difference of the two sweeps at the least cost, both
weighed by their uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.centring.clock import clock_vector
from kitwright.calc.centring.dowels import Candidate, DowelChoice, quarter_turned
from kitwright.calc.centring.rigid import RigidInfluence
from kitwright.calc.checks import Floats, not_negative, positive
from kitwright.errors import InputError

_STARTS = 72  # directions tried for each dowel; a slot read the wrong way round is found too
_TRIES = 6
_STEPS, _HALVINGS, _STILL_RAD = 50, 30, 1e-12


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Two dowels as they are put in."""

    a_size_mm: float
    a_clock_deg: float | None
    """Where the slot of dowel a points; None for a plain dowel."""
    b_size_mm: float
    b_clock_deg: float | None

    def shifts(self) -> tuple[Floats, Floats]:
        """(2,) shift x, y of the bell's hole at dowel a, and at dowel b, in mm."""
        return (
            self.a_size_mm * clock_vector(self.a_clock_deg or 0.0),
            self.b_size_mm * clock_vector(self.b_clock_deg or 0.0),
        )


@dataclass(frozen=True, kw_only=True)
class ExpectedReading:
    """A dial reading in the bore against the one at 12 o'clock, where it is zeroed."""

    clock_deg: float
    reading_mm: float
    reading_u95_mm: float
    """k = 2, from turning errors and the first sweep; the second sweep's own comes on top."""


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What a second sweep says of two dowels that were turned."""

    moved_mm: tuple[float, float]
    """How the bore really moved, x and y, by the two sweeps."""
    expected_mm: tuple[float, float]
    """How it should have moved by the slots as read."""
    a_error_deg: float
    a_error_u95_deg: float
    b_error_deg: float
    """Clockwise positive: the dowel points further round than its slot was read."""
    b_error_u95_deg: float
    mismatch_mm: float
    """Along the line of the dowels, by the slots as read."""
    unexplained_mm: tuple[float, float]
    """What of the move no turning explains: burrs, dirt, another size, a sweep misread."""
    plain_mm: tuple[float, float]
    """The offset with plain dowels, by both sweeps and the likeliest errors."""


@dataclass(frozen=True, kw_only=True)
class NextTurn:
    """The setting to go to after a second sweep."""

    candidate: Candidate
    a_turn_deg: float | None
    """From where dowel a stands, clockwise positive; None where it is plain or another one."""
    b_turn_deg: float | None


def expected_readings(
    influence: RigidInfluence,
    setting: Setting,
    left_mm: ArrayLike,
    clocks_deg: Sequence[float],
    *,
    angle_error_deg: float,
    offset_u_mm: float,
) -> list[ExpectedReading]:
    """What a dial on the crank reads in the bore after the dowels are set, zeroed at 12 o'clock.

    Parameters
    ----------
    left_mm : array_like, shape (2,)
        Offset x, y that the setting leaves.
    clocks_deg : where the tip touches
    angle_error_deg : standard error of turning one dowel
    offset_u_mm : standard uncertainty of the first sweep's offset in each direction

    Notes
    -----
    A reading is c - e·u(t); the difference to 12 o'clock is e·(u(0) - u(t)). Its uncertainty is
    first order in the angle errors.
    """
    left = np.asarray(left_mm, dtype=float)
    slopes = math.radians(angle_error_deg) * _slopes(influence, *setting.shifts())
    covariance = offset_u_mm**2 * np.eye(2) + slopes @ slopes.T
    reach = clock_vector(0) - clock_vector(clocks_deg)
    spread = np.sqrt(np.einsum("ni,ij,nj->n", reach, covariance, reach))
    return [
        ExpectedReading(clock_deg=clock, reading_mm=reading, reading_u95_mm=2 * u)
        for clock, reading, u in zip(
            clocks_deg, (reach @ left).tolist(), spread.tolist(), strict=True
        )
    ]


def learn(
    influence: RigidInfluence,
    setting: Setting,
    before_mm: ArrayLike,
    after_mm: ArrayLike,
    *,
    angle_error_deg: float,
    before_u_mm: float,
    after_u_mm: float,
) -> Learned:
    """The likeliest errors of two turned dowels, from the offsets swept before and after.

    Minimised is |moved - motion(errors)|² / (before_u² + after_u²) plus the sum of the squared
    errors over their variance: the most probable errors for normal, independent uncertainties.
    The search starts all round both dowels, so that a slot read the wrong way round is found.

    Parameters
    ----------
    before_mm, after_mm : array_like, shape (2,)
        Offsets x, y of the sweeps with plain dowels and with the setting.
    angle_error_deg : standard error of turning one dowel
    before_u_mm, after_u_mm : standard uncertainty of each offset in each direction, above zero

    Raises
    ------
    InputError
        Offsets that are not two finite numbers, or an uncertainty of zero.
    """
    before, after = _offset(before_mm, "offset"), _offset(after_mm, "offset_after")
    u_before = positive(before_u_mm, where="offset_u95")
    u_after = positive(after_u_mm, where="offset_after_u95")
    shift_a, shift_b = setting.shifts()
    expected = influence.motion(shift_a, shift_b)
    turning = _Turning(
        influence=influence,
        shift_a=shift_a,
        shift_b=shift_b,
        moved=after - before,
        variance=u_before**2 + u_after**2,
        sigma=math.radians(not_negative(angle_error_deg, where="angle_error_deg")),
    )
    errors = turning.likeliest()
    unexplained = turning.missed(errors)
    plain = before + unexplained * (u_before**2 / turning.variance)
    error_deg = np.degrees(errors).tolist()
    error_u95_deg = np.degrees(2 * turning.uncertainty(errors)).tolist()
    return Learned(
        moved_mm=_pair(turning.moved),
        expected_mm=_pair(expected.bore_shift_mm),
        a_error_deg=error_deg[0],
        a_error_u95_deg=error_u95_deg[0],
        b_error_deg=error_deg[1],
        b_error_u95_deg=error_u95_deg[1],
        mismatch_mm=float(expected.mismatch_mm),
        unexplained_mm=_pair(unexplained),
        plain_mm=_pair(plain),
    )


def next_turn(
    choice: DowelChoice, setting: Setting, learned: Learned, *, limit_tir_mm: float
) -> NextTurn | None:
    """The likeliest setting of the dowels that are in, or else of those recommended.

    Parameters
    ----------
    choice : the choice for the offset `learned` gives with plain dowels
    setting : the dowels that are in, by their slots as read
    learned : what the second sweep said of them
    limit_tir_mm : the TIR allowed

    Returns
    -------
    NextTurn or None
        Turns are from where the dowels stand: the learned errors are in them, so that they hold
        whether a slot was set badly or does not show where its dowel points. Where no turn is
        recommended but plain dowels come within the limit, the plain pair. None where no setting
        comes within the limit, or where the dowels that are in are plain and no others are surer.
    """
    plain_in = (setting.a_size_mm, setting.b_size_mm) == (0, 0)
    same = [
        candidate
        for candidate in choice.candidates
        if candidate.sizes_mm == (setting.a_size_mm, setting.b_size_mm)
        and candidate.predicted_tir_mm <= limit_tir_mm
        and not plain_in
    ]
    plain = choice.candidates[choice.leave_alone]
    if same:
        found = same[0]
    elif choice.recommended is not None:
        found = choice.candidates[choice.recommended]
    elif plain.predicted_tir_mm <= limit_tir_mm and not plain_in:
        found = plain
    else:
        return None

    def turn(
        size: float, old_size: float, clock: float | None, old_clock: float | None, error: float
    ) -> float | None:
        if size != old_size or clock is None or old_clock is None:
            return None
        return (clock - old_clock - error + 180) % 360 - 180

    return NextTurn(
        candidate=found,
        a_turn_deg=turn(
            found.a_size_mm,
            setting.a_size_mm,
            found.a_clock_deg,
            setting.a_clock_deg,
            learned.a_error_deg,
        ),
        b_turn_deg=turn(
            found.b_size_mm,
            setting.b_size_mm,
            found.b_clock_deg,
            setting.b_clock_deg,
            learned.b_error_deg,
        ),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Turning:
    """Two dowels whose angle errors (..., 2), in radians, are sought."""

    influence: RigidInfluence
    shift_a: Floats
    shift_b: Floats
    moved: Floats
    variance: float
    sigma: float

    @property
    def free(self) -> NDArray[np.bool_]:
        """(2,) which of the dowels can have an error at all."""
        eccentric = np.array([self.shift_a.any(), self.shift_b.any()])
        return eccentric & (self.sigma > 0)

    def missed(self, errors: Floats) -> Floats:
        """(..., 2) what of the move these errors do not explain."""
        motion = self.influence.motion(
            _turned(self.shift_a, errors[..., 0]), _turned(self.shift_b, errors[..., 1])
        )
        return self.moved - motion.bore_shift_mm

    def cost(self, errors: Floats) -> Floats:
        missed = self.missed(errors)
        data = np.einsum("...i,...i", missed, missed) / self.variance
        return np.asarray(data + np.einsum("...i,...i", errors, errors) / self.sigma**2)

    def slopes(self, errors: Floats) -> Floats:
        """(2, 2) of the bore's shift x, y by the two errors."""
        turned_a, turned_b = _turned(self.shift_a, errors[0]), _turned(self.shift_b, errors[1])
        return _slopes(self.influence, turned_a, turned_b)

    def curvature(self, errors: Floats) -> Floats:
        """(2, 2) the inverse of the errors' covariance, first order."""
        slopes = self.slopes(errors)
        return np.asarray(slopes.T @ slopes / self.variance + np.eye(2) / self.sigma**2)

    def likeliest(self) -> Floats:
        if not self.free.any():
            return np.zeros(2)
        round_ = np.linspace(-np.pi, np.pi, _STARTS, endpoint=False)
        grid = np.meshgrid(round_ * self.free[0], round_ * self.free[1])
        starts = np.stack(grid, axis=-1).reshape(-1, 2)
        best = starts[np.argsort(self.cost(starts), kind="stable")[:_TRIES]]
        settled = [self._settled(start) for start in (np.zeros(2), *best)]
        return min(settled, key=lambda errors: float(self.cost(errors)))

    def _settled(self, errors: Floats) -> Floats:
        """Gauss and Newton's steps from here, halved until they gain."""
        cost = float(self.cost(errors))
        for _ in range(_STEPS):
            pull = self.slopes(errors).T @ self.missed(errors) / self.variance
            step = np.linalg.solve(self.curvature(errors), pull - errors / self.sigma**2)
            for _ in range(_HALVINGS):
                reached = float(self.cost(errors + step))
                if reached <= cost:
                    break
                step = step / 2
            else:
                return errors
            errors, cost = errors + step, reached
            if np.abs(step).max() < _STILL_RAD:
                return errors
        return errors

    def uncertainty(self, errors: Floats) -> Floats:
        """(2,) standard uncertainty of the errors in radians."""
        if not self.free.any():
            return np.zeros(2)
        covariance = np.linalg.inv(self.curvature(errors))
        return np.sqrt(np.diag(covariance)) * self.free


def _turned(shift: Floats, angle_rad: Floats) -> Floats:
    """The shift of a dowel turned further clockwise."""
    angle = np.asarray(angle_rad)[..., None]
    return np.asarray(np.cos(angle) * shift + np.sin(angle) * quarter_turned(shift))


def _slopes(influence: RigidInfluence, shift_a: Floats, shift_b: Floats) -> Floats:
    """(2, 2) of the bore's shift x, y by the clock angles of a and b in radians."""
    return np.column_stack(
        [influence.of_a @ quarter_turned(shift_a), influence.of_b @ quarter_turned(shift_b)]
    )


def _pair(vector: Floats) -> tuple[float, float]:
    return float(vector[0]), float(vector[1])


def _offset(offset_mm: ArrayLike, where: str) -> Floats:
    offset = np.asarray(offset_mm, dtype=float)
    if offset.shape != (2,) or not np.isfinite(offset).all():
        raise InputError(where, f"{offset.tolist()} is not x and y", "give two finite numbers")
    return offset
