"""The chance that a bell lands inside a circle when each dowel's clock angle has an error.

Both angle errors are normal and independent, so in units of their standard error they are spread
round the origin of a plane evenly in every direction. That plane is taken ray by ray. Along one
ray the bore's distance from the crank axis changes no faster than a known speed, which decides
most of the ray outright; what stays open is halved until it is decided too (no uncertainty of
the sweep), or until the blurred edge is smooth over it (Gauss-Legendre). Over the rays the mean
is a trapezoidal rule on a circle, whose error falls faster than any power where the region is
seen whole from the nominal setting; rays are doubled until the mean stands still.

The uncertainty of the sweep itself, a circular normal, is taken exactly: inside by the
distribution of a distance from a displaced origin (Rice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import i1e

from kitwright.calc.checks import Floats

Complexes = NDArray[np.complex128]

_REACH = 7.5  # standard errors; what lies beyond has a chance of 6e-13
_PANELS = 8
_BLUR = 9.0  # standard uncertainties; the blurred edge is 0 or 1 to 1e-18 beyond
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(10)
_SETTLED = 3e-7
SAFETY = 3.0
"""Error over the last change of an even rule."""
_LEAST_CELL = 1e-9
_FEWEST_RAYS, _MOST_RAYS = 64, 2048
_FEW = 64  # for more settings than these fewer rays each, and the error says so
_AT_ONCE, _MOST_CELLS = 8192, 500_000  # rays and cells: memory stays below about 200 MB
_SHARP = 1e-7  # of the radius: a smaller blur changes no chance in a digit that is kept
_TABLE = 1024
_TABLE_ERROR = 1e-9
_FIRST_DIRECTION = 0.1  # no direction of the case's own


@dataclass(frozen=True, kw_only=True, eq=False)
class Spread:
    """Plane vectors x + iy, one a row, that follow two clock angles' errors.

    For errors p of dowel a and q of dowel b the vector is
    still + a_cos cos p + a_sin sin p + b_cos cos q + b_sin sin q.
    """

    still: Complexes
    a_cos: Complexes
    a_sin: Complexes
    b_cos: Complexes
    b_sin: Complexes

    def take(self, rows: NDArray[np.intp]) -> Spread:
        return Spread(**{name: value[rows] for name, value in vars(self).items()})

    def columns(self) -> Spread:
        """Each row as a column of one, to meet several errors a row."""
        return Spread(**{name: value[:, None] for name, value in vars(self).items()})

    def distance(self, error_a: Floats, error_b: Floats) -> Floats:
        """Length of the vectors for angle errors in radians."""
        return np.asarray(
            np.abs(
                self.still
                + self.a_cos * np.cos(error_a)
                + self.a_sin * np.sin(error_a)
                + self.b_cos * np.cos(error_b)
                + self.b_sin * np.sin(error_b)
            )
        )

    @property
    def speed_a(self) -> Floats:
        """The length changes no faster than this with dowel a's error, mm per radian."""
        return np.asarray(np.hypot(np.abs(self.a_cos), np.abs(self.a_sin)))

    @property
    def speed_b(self) -> Floats:
        return np.asarray(np.hypot(np.abs(self.b_cos), np.abs(self.b_sin)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Chances:
    """Chances and, for each, a bound on its numerical error."""

    chance: Floats
    error: Floats


def chance_inside(
    spread: Spread, radius_mm: float, *, angle_error_rad: float, blur_mm: float = 0.0
) -> Chances:
    """The chance that each vector, blurred, is no longer than `radius_mm`.

    Parameters
    ----------
    spread : the vectors, n rows
    radius_mm : above zero
    angle_error_rad : standard error of each of the two independent, normal clock angles
    blur_mm : standard uncertainty, in each direction, of a circular normal added to the vector

    Returns
    -------
    Chances
        The error is three times the last change of the mean over rays (where the region's edge
        is seen edge-on, a rule of twice as many rays is but 2.8 times better, and not evenly so),
        plus what was left undecided along them, plus 1e-9 for the edge's table. A chance within
        its error of 0 or 1 is given as 0 or 1.
    """
    edge = Edge(radius_mm=radius_mm, blur_mm=blur_mm if blur_mm > _SHARP * radius_mm else 0.0)
    count = len(spread.still)
    # a region much smaller than the spread is seen under a small angle
    speed = angle_error_rad * np.hypot(spread.speed_a, spread.speed_b)
    narrow = float(speed.max(initial=0.0)) / max(radius_mm, edge.blur_mm)
    rays = _FEWEST_RAYS
    while rays < min(8 * narrow, _MOST_RAYS / 4):
        rays *= 2
    mean, left = _mean_over(spread, edge, _directions(rays, 0.0), angle_error_rad)
    change, open_ = np.zeros(count), np.arange(count)
    while len(open_):
        # the rays half-way between: old and new are one even rule of twice as many
        between, undecided = _mean_over(
            spread.take(open_), edge, _directions(rays, 0.5), angle_error_rad
        )
        change[open_] = np.abs(between - mean[open_]) / 2
        mean[open_] = (mean[open_] + between) / 2
        left[open_] = (left[open_] + undecided) / 2
        open_ = open_[change[open_] > _SETTLED]
        rays *= 2
        if rays * max(len(open_), _FEW) >= _MOST_RAYS * _FEW:
            break
    error = SAFETY * change + left + _TABLE_ERROR
    return Chances(
        chance=np.where(mean <= error, 0.0, np.where(mean >= 1 - error, 1.0, mean)), error=error
    )


def _directions(rays: int, offset: float) -> Floats:
    return _FIRST_DIRECTION + 2 * np.pi * (np.arange(rays) + offset) / rays


def _mean_over(
    spread: Spread, edge: Edge, directions: Floats, angle_error_rad: float
) -> tuple[Floats, Floats]:
    """Mean over rays of the chance along each, and of the mass that was left undecided."""
    rows = np.arange(len(spread.still))
    several = max(1, _AT_ONCE // len(directions))
    found = [
        _mean_of_several(spread.take(part), edge, directions, angle_error_rad)
        for part in np.split(rows, rows[several::several])
    ]
    return (
        np.concatenate([chance for chance, _ in found]),
        np.concatenate([left for _, left in found]),
    )


def _mean_of_several(
    spread: Spread, edge: Edge, directions: Floats, angle_error_rad: float
) -> tuple[Floats, Floats]:
    count, rays = len(spread.still), len(directions)
    cosine, sine = np.cos(directions), np.sin(directions)
    speed = angle_error_rad * (
        np.abs(cosine) * spread.speed_a[:, None] + np.abs(sine) * spread.speed_b[:, None]
    )
    chance, left = np.zeros(count), np.zeros(count)
    edges = np.linspace(0, _REACH, _PANELS + 1)
    line = np.repeat(np.arange(count * rays), _PANELS)
    low, high = np.tile(edges[:-1], count * rays), np.tile(edges[1:], count * rays)
    while len(line):
        row, ray = np.divmod(line, rays)
        along = spread.take(row)
        error_a, error_b = angle_error_rad * cosine[ray], angle_error_rad * sine[ray]
        middle, half = (low + high) / 2, (high - low) / 2
        distance = along.distance(middle * error_a, middle * error_b)
        swing = speed.ravel()[line] * half
        mass = np.exp(-(low**2) / 2) * -np.expm1((low - high) * middle)
        inside = distance + swing <= edge.certain_mm
        open_ = ~inside & (distance - swing < edge.hopeless_mm)
        chance += np.bincount(row[inside], mass[inside], minlength=count)

        if edge.blur_mm > 0:
            smooth = np.flatnonzero(open_ & (swing <= 1.5 * edge.blur_mm))
            nodes = middle[smooth, None] + half[smooth, None] * _NODES
            reached = (
                along.take(smooth)
                .columns()
                .distance(nodes * error_a[smooth, None], nodes * error_b[smooth, None])
            )
            density = nodes * np.exp(-(nodes**2) / 2) * edge.inside(reached)
            chance += np.bincount(row[smooth], half[smooth] * (density @ _WEIGHTS), minlength=count)
            open_[smooth] = False
        else:
            crowded = np.count_nonzero(open_) > _MOST_CELLS
            small = open_ & ((mass <= _LEAST_CELL) | crowded)
            chance += np.bincount(
                row[small], mass[small] * (distance[small] <= edge.radius_mm), minlength=count
            )
            left += np.bincount(row[small], mass[small], minlength=count)
            open_ &= ~small
        line = np.repeat(line[open_], 2)
        low = np.column_stack([low[open_], middle[open_]]).ravel()
        high = np.column_stack([middle[open_], high[open_]]).ravel()
    return chance / rays, left / rays


class Edge:
    """The chance of being inside a circle after a blur, as a function of the distance before it.

    For a circle of radius r and a circular normal of standard deviation u in each direction,
    the chance falls with the distance at the rate (r/u²) exp(-(r² + distance²) / 2u²)
    I1(r distance / u²), I1 the modified Bessel function. The rate is integrated once and the
    chance is read between by cubics that keep the rate.
    """

    def __init__(self, *, radius_mm: float, blur_mm: float) -> None:
        self.radius_mm = radius_mm
        self.blur_mm = blur_mm
        self.certain_mm = radius_mm - _BLUR * blur_mm
        self.hopeless_mm = radius_mm + _BLUR * blur_mm
        if blur_mm > 0:
            self._first = max(0.0, self.certain_mm)
            self._step = (self.hopeless_mm - self._first) / _TABLE
            at = np.linspace(self._first, self.hopeless_mm, _TABLE + 1)
            half = self._step / 2
            nodes = np.add.outer(at[:-1] + half, half * _NODES)
            falls = half * (self._rate(nodes) @ _WEIGHTS)
            self._value = np.r_[np.cumsum(falls[::-1])[::-1], 0.0]
            self._slope = -self._step * self._rate(at)

    def _rate(self, distance: Floats) -> Floats:
        size = self.radius_mm / self.blur_mm
        far = distance / self.blur_mm
        bessel = np.asarray(i1e(size * far))  # with exp(-size far) taken out
        return np.asarray(size / self.blur_mm * np.exp(-((size - far) ** 2) / 2) * bessel)

    def inside(self, distance: Floats) -> Floats:
        """The chance; `distance` up to `hopeless_mm` and a little beyond."""
        place = np.clip((distance - self._first) / self._step, 0, _TABLE)
        cell = np.minimum(place.astype(np.intp), _TABLE - 1)
        t = place - cell
        back = 1 - t
        return np.asarray(
            self._value[cell] * back**2 * (1 + 2 * t)
            + self._value[cell + 1] * t**2 * (1 + 2 * back)
            + (self._slope[cell] * back - self._slope[cell + 1] * t) * t * back
        )
