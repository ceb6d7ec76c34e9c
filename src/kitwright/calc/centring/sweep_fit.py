"""A sweep as a curve: places, the least squares of its first two harmonics, its swing.

A curve is what the dial would show at clock angle t, without its constant:

    -x sin t - y cos t + a cos 2t + b sin 2t

For a bore (x, y) is its offset from the crank axis and (a, b) its out of round; for a face
(-x, -y) over the sweep's radius is its slope and (a, b) its warp. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.checks import Floats, finite_rows
from kitwright.errors import InputError

WELL_SPREAD: Final = 6
"""Places, `APART_DEG` or more from each other, from which a second harmonic is fitted."""
APART_DEG: Final = 5.0
ENLARGED_AT_MOST: Final = 15.0
"""Beyond it the angles do not fix an offset: 0, 5, 180 gives 20; 0, 10, 180 gives 10."""
ENLARGED_BY_SECOND: Final = 2.5
"""Beyond it they do not fix a second harmonic: six over 240 degrees give 1.7, over 180, 6.7."""

_SAME_DEG: Final = 1e-6
_GRID_RAD: Final = np.radians(np.arange(0.0, 360.0))
_SAME_PEAK: Final = 3  # steps of the grid


@dataclass(frozen=True, kw_only=True)
class Rows:
    """One sweep: a row for each place where the tip stood."""

    clock_deg: Floats  # (n,) in [0, 360), ascending
    value_mm: Floats  # (n,) mean of the readings taken there
    count: Floats  # (n,) how many they were
    span_mm: float
    """Highest less lowest of all readings."""
    closure_mm: float | None
    """The last reading less the first, both where the sweep began; None if it was read once."""
    scatter_mm2: float
    """Sum of squares, about their means, of readings repeated at one place in one turn."""
    scatter_freedom: int

    def without(self, row: int) -> Rows:
        """The same sweep as if its tip had not stood there."""
        kept = np.arange(len(self.count)) != row
        return Rows(
            clock_deg=self.clock_deg[kept],
            value_mm=self.value_mm[kept],
            count=self.count[kept],
            span_mm=float(np.ptp(self.value_mm[kept])),
            closure_mm=self.closure_mm,
            scatter_mm2=self.scatter_mm2,
            scatter_freedom=self.scatter_freedom,
        )

    def read_at(self, clock_deg: float) -> float | None:
        """The mean reading at a clock angle, None where it was not read."""
        there = np.abs((self.clock_deg - clock_deg + 180) % 360 - 180) < 0.5
        return float(self.value_mm[there].mean()) if there.any() else None


@dataclass(frozen=True, kw_only=True)
class Fit:
    """Least squares of one curve to all rows, each sweep with a constant of its own."""

    shape: Floats  # (2,) x, y or (4,) x, y, a, b
    gain: Floats  # (2 or 4, n) shape = gain @ values
    residual_mm: Floats  # (n,)
    leverage: Floats  # (n,)
    freedom: int

    @property
    def has_second(self) -> bool:
        return len(self.shape) == 4


def rows_of(readings: ArrayLike, *, where: str = "readings") -> Rows:
    """Readings in any order as one row a place.

    Parameters
    ----------
    readings : array_like, shape (n, 2), n >= 3
        Clock angle in degrees, reading in mm. An angle and the same one a turn on (0 and 360)
        are one place read at the start and at the end: its closure. So is a sweep whose last
        angle repeats its first. Any other repeated angle is a repeated reading.

    Raises
    ------
    InputError
        Fewer than three rows, or a number that is not finite.
    """
    table = finite_rows(readings, columns=2, least=3, where=where)
    stated, value = table[:, 0].copy(), table[:, 1]
    if len(stated) > 3 and (np.abs(stated - stated[0]) < _SAME_DEG).sum() == 2:
        stated[-1] += 360 * (abs(stated[-1] - stated[0]) < _SAME_DEG)
    place = np.round(stated % 360, 6) % 360
    _, first, member, count = np.unique(
        place, return_index=True, return_inverse=True, return_counts=True
    )
    _, turn = np.unique(np.round(stated, 6), return_inverse=True)
    turn_count = np.bincount(turn)
    turn_mean = np.bincount(turn, weights=value) / turn_count
    return Rows(
        clock_deg=stated[first] % 360,
        value_mm=np.bincount(member, weights=value) / count,
        count=count.astype(float),
        span_mm=float(np.ptp(value)),
        closure_mm=_closure(stated, place, value),
        scatter_mm2=float(((value - turn_mean[turn]) ** 2).sum()),
        scatter_freedom=int((turn_count - 1).sum()),
    )


def _closure(stated: Floats, place: Floats, value: Floats) -> float | None:
    for start in np.argsort(stated, kind="stable"):
        there = place == place[start]
        last = stated[there].max()
        if last - stated[start] > 180:
            at_start = np.abs(stated - stated[start]) < _SAME_DEG
            at_end = np.abs(stated - last) < _SAME_DEG
            return float(value[at_end].mean() - value[at_start].mean())
    return None


# ── least squares ────────────────────────────────────────────────────────────────────────


def basis(clock_deg: Floats, *, second: bool) -> Floats:
    """Columns -sin t, -cos t and, with `second`, cos 2t, sin 2t; shape (n, 2) or (n, 4)."""
    t = np.radians(clock_deg)
    columns = [-np.sin(t), -np.cos(t)]
    if second:
        columns += [np.cos(2 * t), np.sin(2 * t)]
    return np.column_stack(columns)


def fit(sweeps: Sequence[Rows], *, second: bool) -> Fit:
    """The least sum of squared residuals over all rows, the sweeps' constants left free."""
    clock = np.concatenate([rows.clock_deg for rows in sweeps])
    values = np.concatenate([rows.value_mm - rows.value_mm.mean() for rows in sweeps])
    member = np.repeat(np.arange(len(sweeps)), [len(rows.count) for rows in sweeps])
    constants = (member[:, None] == np.arange(len(sweeps))).astype(float)
    design = np.column_stack([constants, basis(clock, second=second)])
    inverse = np.linalg.pinv(design)
    solved = inverse @ values
    return Fit(
        shape=solved[len(sweeps) :],
        gain=inverse[len(sweeps) :],
        residual_mm=values - design @ solved,
        leverage=np.einsum("ij,ji->i", design, inverse),
        freedom=len(values) - design.shape[1],
    )


def enlargement(sweeps: Sequence[Rows], *, second: bool) -> float:
    """How much worse than an even sweep of as many readings these angles fix the curve.

    The largest standard error of the shape in any direction, over that of an even sweep, 1 or
    more; infinite where the angles do not fix it at all.
    """
    columns = []
    for rows in sweeps:
        part = basis(rows.clock_deg, second=second)
        columns.append(part - part.mean(axis=0))
    centred = np.concatenate(columns)
    if len(centred) - len(sweeps) < centred.shape[1]:
        return float("inf")
    least = np.linalg.svd(centred, compute_uv=False)[-1]
    return float(np.sqrt(len(centred) / 2) / least) if least > 1e-9 else float("inf")


def fixes_offset(rows: Rows, *, where: str) -> None:
    """Refuse angles that do not fix an offset by themselves."""
    worse = enlargement([rows], second=False)
    if worse <= ENLARGED_AT_MOST:
        return
    listed = ", ".join(f"{angle:g}" for angle in rows.clock_deg[:6])
    more = ", …" if len(rows.clock_deg) > 6 else ""
    if len(rows.clock_deg) < 3:
        given = f"only {len(rows.clock_deg)} different places ({listed})"
    else:
        given = f"the angles {listed}{more} are too close together to fix an offset"
    raise InputError(where, given, "read three or more well apart, best one every 45 degrees")


def shows_second(sweeps: Sequence[Rows]) -> bool:
    """Whether six or more well-spread places were read."""
    places = np.unique(np.concatenate([rows.clock_deg for rows in sweeps]))
    if _apart(places) < WELL_SPREAD:
        return False
    return enlargement(sweeps, second=True) <= ENLARGED_BY_SECOND


def _apart(places: Floats) -> int:
    """How many of the ascending places stand `APART_DEG` or more from those counted before."""
    counted = [places[0]]
    for place in places[1:]:
        ahead = place - counted[-1]
        behind = counted[0] + 360 - place
        if min(ahead, behind) >= APART_DEG - _SAME_DEG:
            counted.append(place)
    return len(counted)


# ── the swing of a curve ─────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Swing:
    """Highest less lowest of a curve, and where they stand."""

    full_mm: Floats  # (k,)
    highest_rad: Floats  # (k,)
    lowest_rad: Floats  # (k,)

    def slope(self) -> Floats:
        """The swing's derivatives by x, y, a, b; shape (k, 4). The places move in second order."""
        return _terms(self.highest_rad) - _terms(self.lowest_rad)


def swing(shapes: ArrayLike) -> Swing:
    """The swing of curves x, y, a, b, shape (k, 4): a degree's grid, then Newton's steps.

    Such a curve has two peaks and two troughs at most. Where two are nearly alike the grid cannot
    tell which goes further, so both are followed to their ends.

    >>> swing([[0.03, 0.04, 0.0, 0.0]]).full_mm.round(9).tolist()
    [0.1]
    """
    curves = np.atleast_2d(np.asarray(shapes, dtype=float))
    grid = curves @ _terms(_GRID_RAD).T
    highest = _extreme(curves, grid, +1.0)
    lowest = _extreme(curves, grid, -1.0)
    full = (curves * (_terms(highest) - _terms(lowest))).sum(axis=1)
    return Swing(full_mm=full, highest_rad=highest, lowest_rad=lowest)


def _terms(t: Floats) -> Floats:
    return np.stack([-np.sin(t), -np.cos(t), np.cos(2 * t), np.sin(2 * t)], axis=-1)


def _extreme(curves: Floats, grid: Floats, side: float) -> Floats:
    """Where the curves are highest (`side` 1) or lowest (-1)."""
    values = side * grid
    best = values.argmax(axis=1)
    peaks = (values >= np.roll(values, 1, axis=1)) & (values >= np.roll(values, -1, axis=1))
    away = np.abs(np.arange(values.shape[1]) - best[:, None])
    peaks &= np.minimum(away, values.shape[1] - away) > _SAME_PEAK
    other = np.where(peaks, values, -np.inf).argmax(axis=1)
    ends = np.stack([_polished(curves, _GRID_RAD[start], side) for start in (best, other)])
    reached = side * (curves * _terms(ends)).sum(axis=-1)
    return np.asarray(np.where(reached[0] >= reached[1], ends[0], ends[1]))


def _polished(curves: Floats, start: Floats, side: float) -> Floats:
    """The extreme next to `start`: Newton's steps, none longer than the grid is fine."""
    t = start
    x, y, a, b = curves.T * side
    step_at_most = float(_GRID_RAD[1])
    for _ in range(6):
        s, c, s2, c2 = np.sin(t), np.cos(t), np.sin(2 * t), np.cos(2 * t)
        rise = -x * c + y * s - 2 * a * s2 + 2 * b * c2
        bend = x * s + y * c - 4 * a * c2 - 4 * b * s2
        safe = np.where(bend < 0, bend, -np.inf)  # no step where the curve is flat
        t = t + np.clip(-rise / safe, -step_at_most, step_at_most)
    return t


def indices(sweeps: Sequence[Rows]) -> NDArray[np.intp]:
    """For every row the number of its place: the same place in two sweeps has one number."""
    clock = np.concatenate([rows.clock_deg for rows in sweeps])
    return np.asarray(np.unique(clock, return_inverse=True)[1])
