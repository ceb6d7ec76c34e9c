"""Least offsets for a drawer of dowels, against a grid over sizes and both clock angles."""

from __future__ import annotations

import numpy as np

from benchmarks.ratios import ratio, report
from kitwright.calc.centring.dowel_settings import least_settings
from kitwright.calc.centring.rigid import bore_influence

A, B = np.array([-180.0, 20.0]), np.array([165.0, -30.0])
OFFSET = np.array([-0.31, -0.15])
SMALLEST = (0.1778,)  # 7 thou; a larger size only makes the grid larger, by its square
DRAWER = (0.1778, 0.3556, 0.5334)  # 7, 14, 21 thou: common practice, no source
WITHIN_MM = 1e-4
INFLUENCE = bore_influence(A, B)


def turns(size: float) -> np.ndarray:
    """Shifts (n, 2) of a dowel all round, no further apart than the answer is wanted."""
    count = max(1, int(np.ceil(2 * np.pi * size / WITHIN_MM)))
    angle = 2 * np.pi * np.arange(count) / count
    return size * np.column_stack([np.sin(angle), np.cos(angle)])


def by_grid(size_a: float, size_b: float) -> float:
    """Least offset of a pair: every clock angle of a with every one of b that fits beside it.

    Blocks of rows, and sums of what each dowel does alone, as anyone would who wants it quick.
    """
    shift_a, shift_b = turns(size_a), turns(size_b)
    along_a, along_b = shift_a @ INFLUENCE.line, shift_b @ INFLUENCE.line
    moved_a, moved_b = OFFSET + shift_a @ INFLUENCE.of_a.T, shift_b @ INFLUENCE.of_b.T
    least = np.inf
    for start in range(0, len(shift_a), 256):
        rows = slice(start, start + 256)
        fits = np.abs(along_a[rows, None] - along_b) <= WITHIN_MM
        x = moved_a[rows, 0, None] + moved_b[:, 0]
        y = moved_a[rows, 1, None] + moved_b[:, 1]
        least = min(least, float(np.min(x * x + y * y, where=fits, initial=np.inf)))
    return float(np.sqrt(least))


def by_one_angle(size_a: float, size_b: float) -> float:
    """The same with the larger dowel's two angles solved for: the quickest grid we know."""
    small, large = sorted((size_a, size_b))
    angle = np.linspace(0, 2 * np.pi, max(2, int(2 * np.pi * small / WITHIN_MM)))
    along, across = small * np.cos(angle), small * np.sin(angle)
    least = np.inf
    for side in (1, -1):
        other = side * np.sqrt(large**2 - along**2)
        over_a, over_b = (across, other) if size_a <= size_b else (other, across)
        moved = (
            OFFSET
            + along[:, None] * INFLUENCE.line
            + over_a[:, None] * (INFLUENCE.of_a @ INFLUENCE.across)
            + over_b[:, None] * (INFLUENCE.of_b @ INFLUENCE.across)
        )
        least = min(least, float(np.hypot(moved[:, 0], moved[:, 1]).min()))
    return least


def pairs(sizes: tuple[float, ...]) -> list[tuple[float, float]]:
    return [(a, b) for a in (0.0, *sizes) for b in (0.0, *sizes)]


def test_optimum_is_a_hundred_times_quicker_than_a_grid_of_the_same_fineness() -> None:
    found = least_settings(INFLUENCE, OFFSET, DRAWER)
    for a, b in pairs(DRAWER):
        mine = np.hypot(*found.offset_mm[(found.a_size_mm == a) & (found.b_size_mm == b)].T).min()
        assert mine <= by_one_angle(a, b) + 1e-9
        if max(a, b) <= max(SMALLEST):
            # the grid lets shifts differ along the line by the fineness, and is as coarse itself
            assert abs(mine - by_grid(a, b)) <= 3 * WITHIN_MM

    both = ratio(
        lambda: [by_grid(a, b) for a, b in pairs(SMALLEST)],
        lambda: least_settings(INFLUENCE, OFFSET, SMALLEST),
        rounds=5,
    )
    report("a grid over sizes and both angles, over our optimum", both, "at least 100")
    one = ratio(
        lambda: [by_one_angle(a, b) for a, b in pairs(DRAWER)],
        lambda: least_settings(INFLUENCE, OFFSET, DRAWER),
        rounds=15,
    )
    report("a grid over sizes and one angle, over our optimum", one, "none, for the record")
    assert both >= 100
