"""The largest offset that a radial budget allows, and the root-sum-square beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kitwright.calc.centring.contributors import Contributor
from kitwright.calc.checks import Floats


def largest_offset_mm(contributors: Sequence[Contributor]) -> float:
    """The largest offset in any direction, each contributor at its edge in that direction, mm.

    The offsets allowed are the (Minkowski) sum of convex figures, so the largest is at a furthest
    point of the sum. Between two neighbouring creases the furthest points of lines and batches stay
    where they are; one start in each such gap reaches every corner. Each start climbs: turn toward
    the furthest point found, which never lowers it. Ellipses make the outline round and the climb
    slow, so at last the best direction is closed in on.
    """
    angles = np.concatenate([_gaps(contributors), np.linspace(0, 2 * np.pi, 360, endpoint=False)])
    for _ in range(5):
        points = _furthest(contributors, angles)
        lengths = np.hypot(points[:, 0], points[:, 1])
        if not lengths.max() > 0:
            return 0.0
        kept = lengths >= 0.9 * lengths.max()
        angles = np.arctan2(points[kept, 1], points[kept, 0])
    best, width = angles[np.argmax(lengths[kept])], np.pi / 180
    for _ in range(8):
        angles = best + width * np.linspace(-1, 1, 41)
        points = _furthest(contributors, angles)
        lengths = np.append(lengths, np.hypot(points[:, 0], points[:, 1]))
        best = angles[np.argmax(points[:, 0] * np.cos(angles) + points[:, 1] * np.sin(angles))]
        width /= 10
    return float(lengths.max())


def _gaps(contributors: Sequence[Contributor]) -> Floats:
    """The middle angle between each two neighbouring creases."""
    creases = np.concatenate([np.empty(0), *(each.creases() for each in contributors)])
    creases = np.unique(np.mod(creases, 2 * np.pi))
    if not creases.size:
        return creases
    return np.asarray(creases + np.append(creases[1:], creases[0] + 2 * np.pi)) / 2


def _furthest(contributors: Sequence[Contributor], angles: Floats) -> Floats:
    towards = np.column_stack([np.cos(angles), np.sin(angles)])
    return np.asarray(np.sum([each.extreme(towards) for each in contributors], axis=0))


def root_sum_square_mm(contributors: Sequence[Contributor]) -> float:
    """What never varies, summed as vectors, plus the root of the other edges' summed squares."""
    fixed = np.zeros(2)
    squares = 0.0
    for each in contributors:
        points = each.points_mm
        if points is not None and len(points) == 1:
            fixed = fixed + points[0]
        else:
            squares += each.edge_mm**2
    return float(np.hypot(*fixed) + np.sqrt(squares))


def mean_and_covariance(contributors: Sequence[Contributor]) -> tuple[Floats, Floats]:
    """Of the whole offset: mean, shape (2,), mm; covariance, shape (2, 2), mm²."""
    mean = np.sum([np.zeros(2), *(each.mean_mm for each in contributors)], axis=0)
    covariance = np.sum([np.zeros((2, 2)), *(each.covariance_mm2 for each in contributors)], axis=0)
    return mean, covariance
