"""For each pair of eccentric dowels and each way to point their slots: the setting of least offset.

Along the line that joins the dowels both must shift the bell by the same length c, so of two
clock angles only one number is free. With s the smaller size, c = s cos θ; across the line each
dowel then shifts its hole by plus or minus sqrt(size² - c²), and the two signs say on which side
of the line each slot points. A pair of signs is a branch, with θ from 0 to 180 degrees; a plain
dowel has no side.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.centring.rigid import RigidInfluence
from kitwright.calc.checks import Floats, not_negative
from kitwright.errors import FaultError

Rows = NDArray[np.intp]

_SPLIT = 16  # cells that an open cell is cut into
_NEWTON_STEPS, _STILL_RAD = 12, 1e-11
_ROUNDING = 1e-12
_ROUNDS = 40  # three or four are usual; each is 16 times finer
_PROVEN = 1e-6  # of the largest size: nothing better by more than this is left anywhere


@dataclass(frozen=True, kw_only=True, eq=False)
class Settings:
    """Settings, one a row: what is put in, how it is turned, where the bore then sits."""

    a_size_mm: Floats
    b_size_mm: Floats
    shift_a_mm: Floats
    """(n, 2) from the block's hole to the bell's at dowel a, x and y."""
    shift_b_mm: Floats
    offset_mm: Floats
    """(n, 2) the bore's offset that is left, x and y."""
    turn_rad: Floats
    """Turn of the bell about the crank axis, counter-clockwise positive seen from behind."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Branches:
    """Closed forms of the bore's offset along branches, one a row; θ as in the module's text."""

    a: Floats
    b: Floats
    side_a: Floats
    side_b: Floats
    offset: Floats
    influence: RigidInfluence
    pull_a: Floats
    """The bore's shift for a unit shift across the line at dowel a alone."""
    pull_b: Floats

    @property
    def small(self) -> Floats:
        return np.asarray(np.minimum(self.a, self.b))

    @property
    def speed(self) -> Floats:
        """No point of a branch's curve moves faster than this with θ, mm per radian."""
        return np.asarray(self.small * (1 + np.hypot(*self.pull_a) + np.hypot(*self.pull_b)))

    def take(self, rows: Rows) -> _Branches:
        return _Branches(
            a=self.a[rows],
            b=self.b[rows],
            side_a=self.side_a[rows],
            side_b=self.side_b[rows],
            offset=self.offset,
            influence=self.influence,
            pull_a=self.pull_a,
            pull_b=self.pull_b,
        )

    def across_of(self, size: Floats, side: Floats, theta: Floats) -> Floats:
        """Shift across the line of the dowel of this size."""
        return np.asarray(side * self.reach(size, self.small * np.sin(theta)))

    def reach(self, size: Floats, height: Floats) -> Floats:
        """How far across the line a dowel of this size stands when the smaller one stands `height`.

        The difference of squares as a product: exact for sizes that are all but equal.
        """
        return np.asarray(np.sqrt((size - self.small) * (size + self.small) + height**2))

    def offset_at(self, theta: Floats) -> Floats:
        """(n, 2) the bore's offset at θ; the speed of the whole search is this function's."""
        return (
            self.offset
            + (self.small * np.cos(theta))[..., None] * self.influence.line
            + self.across_of(self.a, self.side_a, theta)[..., None] * self.pull_a
            + self.across_of(self.b, self.side_b, theta)[..., None] * self.pull_b
        )

    def square_at(self, theta: Floats) -> Floats:
        offset = self.offset_at(theta)
        return np.asarray(np.einsum("...i,...i", offset, offset))

    def slopes_at(self, theta: Floats) -> tuple[Floats, Floats]:
        """First and second derivative of the squared offset."""
        offset = self.offset_at(theta)
        first_a, second_a = self._slopes_across(self.a, self.side_a, theta)
        first_b, second_b = self._slopes_across(self.b, self.side_b, theta)
        line, pull_a, pull_b = self.influence.line, self.pull_a, self.pull_b
        along = self.small[..., None] * line
        first = -np.sin(theta)[..., None] * along + first_a * pull_a + first_b * pull_b
        second = -np.cos(theta)[..., None] * along + second_a * pull_a + second_b * pull_b
        return (
            2 * np.einsum("...i,...i", offset, first),
            2 * np.einsum("...i,...i", first, first) + 2 * np.einsum("...i,...i", offset, second),
        )

    def _slopes_across(self, size: Floats, side: Floats, theta: Floats) -> tuple[Floats, Floats]:
        small = self.small
        height = small * np.sin(theta)
        same = size == small  # then it stands s sin θ across itself, smooth at both ends
        safe = np.where(same, 1.0, self.reach(size, height))
        first = small * np.cos(theta) * np.where(same, 1.0, height / safe)
        second = np.where(same, -height, (small**2 * np.cos(2 * theta) - first**2) / safe)
        return (side * first)[..., None], (side * second)[..., None]

    def bend_bound(self, low: Floats, high: Floats) -> Floats:
        """No second derivative of the curve exceeds this for θ between `low` and `high`."""
        small = self.small
        least_height = small * np.minimum(np.sin(low), np.sin(high))

        def bend(size: Floats) -> Floats:
            same = size == small
            reach = np.where(same, 1.0, self.reach(size, least_height))
            return np.where(same, small, small**2 / reach)

        weight_a, weight_b = np.hypot(*self.pull_a), np.hypot(*self.pull_b)
        return np.asarray(small + weight_a * bend(self.a) + weight_b * bend(self.b))


def least_settings(
    influence: RigidInfluence,
    offset: Floats,
    sizes: Iterable[float],
    *,
    most_turn_rad: float | None = None,
) -> Settings:
    """The setting of least offset on each branch of each pair of sizes, plain dowels included.

    Minimised is the length of `offset` plus the motion that the dowels give the bore.

    Parameters
    ----------
    influence : how the bore follows each dowel hole
    offset : array_like, shape (2,)
        The bore's offset with plain dowels, x and y in mm.
    sizes : sizes in the drawer, mm; a plain dowel is always among them
    most_turn_rad : the bell may turn no further than this; no limit when left out

    Returns
    -------
    Settings
        In the order of the sizes; branches on which no setting turns the bell little enough are
        left out, and a setting that two branches share is given once.

    Notes
    -----
    Global by branch and bound: each branch is cut into cells, and a cell is dropped when a lower
    bound on its offset does not beat the best setting found. Two bounds are used, whichever is
    higher: the curve's greatest speed, and the chord less the greatest bend times width² / 8.
    What is left unproven when the search ends is less than 1e-6 of the largest size. The best
    setting is polished by Newton's method, so that it is stationary or stands at an end.
    """
    branches = _branches(influence, np.asarray(offset, dtype=float), sizes)
    rows, first, last = _pieces(branches, most_turn_rad)
    pieces = branches.take(rows)
    theta = _least_angles(pieces, first, last)
    # of the two pieces that a limit on the turn may leave of a branch, the better one
    square = pieces.square_at(theta)
    order = np.lexsort((square, rows))
    best = order[np.r_[True, np.diff(rows[order]) > 0]]
    return _without_repeats(_settings(pieces.take(best), theta[best]))


def _branches(influence: RigidInfluence, offset: Floats, sizes: Iterable[float]) -> _Branches:
    drawer = sorted({0.0, *(not_negative(size, where="sizes") for size in sizes)})
    found = [
        (a, b, side_a, side_b)
        for a, b in itertools.product(drawer, repeat=2)
        for side_a in ((1.0, -1.0) if a else (1.0,))
        for side_b in ((1.0, -1.0) if b else (1.0,))
    ]
    a, b, side_a, side_b = np.array(found).T
    return _Branches(
        a=a,
        b=b,
        side_a=side_a,
        side_b=side_b,
        offset=offset,
        influence=influence,
        pull_a=influence.of_a @ influence.across,
        pull_b=influence.of_b @ influence.across,
    )


def _pieces(branches: _Branches, most_turn_rad: float | None) -> tuple[Rows, Floats, Floats]:
    """Rows and their ranges of θ in which the bell turns little enough.

    The turn is the difference of the shifts across the line over the distance of the dowels.
    With y = s sin θ and d² = |a² - b²|, slots on one side differ by sqrt(d² + y²) - y, on
    opposite sides by sqrt(d² + y²) + y.
    """
    small = branches.small
    every = np.arange(len(small))
    whole = np.zeros(len(small)), np.where(small > 0, np.pi, 0.0)
    if most_turn_rad is None:
        return every, *whole
    most = not_negative(most_turn_rad, where="most_turn_rad") * branches.influence.distance_mm
    apart = np.sqrt(np.abs(branches.a**2 - branches.b**2))
    opposite = (small > 0) & (branches.side_a != branches.side_b)
    allowed = apart <= most
    height = (most**2 - apart**2) / (2 * most) if most > 0 else np.zeros(len(small))
    # a pair that is further apart may still come close enough when y is large
    reached = np.where(allowed, 0.0, -height)
    same = every[~opposite & (reached <= small) & (allowed | (most > 0))]
    from_ = np.arcsin(np.clip(reached[same] / np.where(small[same] > 0, small[same], 1), 0, 1))
    crossed = every[opposite & allowed]
    upto = np.arcsin(np.clip(height[crossed] / small[crossed], 0, 1))
    return (
        np.concatenate([same, crossed, crossed]),
        np.concatenate([from_, np.zeros(len(crossed)), np.pi - upto]),
        np.concatenate([np.where(small[same] > 0, np.pi - from_, 0.0), upto, whole[1][crossed]]),
    )


def _least_angles(pieces: _Branches, first: Floats, last: Floats) -> Floats:
    """θ of the least offset of each piece, proven by branch and bound."""
    unproven = _PROVEN * max(float(pieces.a.max()), float(pieces.b.max()))
    best = first.copy()
    least = pieces.square_at(best)
    row, low, high = np.arange(len(first)), first, last
    steps = np.linspace(0, 1, _SPLIT + 1)
    for _ in range(_ROUNDS):
        nodes = low[:, None] + (high - low)[:, None] * steps
        cells = pieces.take(np.repeat(row, _SPLIT + 1))
        square = cells.square_at(nodes.ravel()).reshape(nodes.shape)
        at = square.argmin(axis=1)
        lowest = square[np.arange(len(row)), at]
        angle = nodes[np.arange(len(row)), at]
        order = np.lexsort((lowest, row))
        firsts = order[np.r_[True, np.diff(row[order]) > 0]]
        better = firsts[lowest[firsts] < least[row[firsts]] * (1 - _ROUNDING)]
        rows = row[better]
        best[rows] = _polished(pieces.take(rows), angle[better], first[rows], last[rows])
        least[rows] = pieces.take(rows).square_at(best[rows])

        row = np.repeat(row, _SPLIT)
        low, high = nodes[:, :-1].ravel(), nodes[:, 1:].ravel()
        bound = _lower_bound(
            pieces.take(row), low, high, square[:, :-1].ravel(), square[:, 1:].ravel()
        )
        open_ = bound < np.maximum(np.sqrt(least[row]) - unproven, 0)
        row, low, high = row[open_], low[open_], high[open_]
        if not len(row):
            return best
    raise FaultError("the search for the least offset did not end")


def _lower_bound(
    cells: _Branches, low: Floats, high: Floats, square_low: Floats, square_high: Floats
) -> Floats:
    """No offset in the cell is smaller than this, mm."""
    width = high - low
    ends_low, ends_high = np.sqrt(square_low), np.sqrt(square_high)
    speed = cells.speed
    by_speed = (ends_low + ends_high - speed * width) / 2
    farthest = np.maximum(ends_low, ends_high) + speed * width / 2
    bend = 2 * (speed**2 + farthest * cells.bend_bound(low, high))
    by_bend = np.minimum(square_low, square_high) - bend * width**2 / 8
    return np.asarray(np.maximum(by_speed, np.sqrt(np.maximum(by_bend, 0))))


def _polished(branches: _Branches, theta: Floats, first: Floats, last: Floats) -> Floats:
    """Newton's method inside the piece; a step that does not improve is cut to a quarter."""
    square = branches.square_at(theta)
    factor = np.ones(len(theta))
    for _ in range(_NEWTON_STEPS):
        slope, bend = branches.slopes_at(theta)
        step = -slope / np.where(bend > 0, bend, np.maximum(np.abs(bend), 1e-300))
        tried = np.clip(theta + np.clip(factor * step, -0.3, 0.3), first, last)
        reached = branches.square_at(tried)
        improved = reached <= square
        still = np.abs(tried - theta).max(initial=0.0) < _STILL_RAD
        theta = np.where(improved, tried, theta)
        square = np.where(improved, reached, square)
        factor = np.where(improved, 1.0, factor / 4)
        if still:
            break
    return theta


def _settings(branches: _Branches, theta: Floats) -> Settings:
    influence = branches.influence
    along = (branches.small * np.cos(theta))[:, None] * influence.line
    across_a = branches.across_of(branches.a, branches.side_a, theta)
    across_b = branches.across_of(branches.b, branches.side_b, theta)
    return Settings(
        a_size_mm=branches.a,
        b_size_mm=branches.b,
        shift_a_mm=along + across_a[:, None] * influence.across,
        shift_b_mm=along + across_b[:, None] * influence.across,
        offset_mm=branches.offset_at(theta),
        turn_rad=(across_a - across_b) / influence.distance_mm,
    )


def _without_repeats(settings: Settings) -> Settings:
    """Branches meet where the smaller dowel's slot lies along the line."""
    scale = max(float(settings.a_size_mm.max()), float(settings.b_size_mm.max())) or 1.0
    places = np.column_stack(
        [
            settings.a_size_mm,
            settings.b_size_mm,
            settings.shift_a_mm,
            settings.shift_b_mm,
        ]
    )
    _, kept = np.unique(np.round(places / scale, 9) + 0.0, axis=0, return_index=True)
    kept.sort()
    return Settings(**{name: value[kept] for name, value in vars(settings).items()})
