"""The region of a batch predicts the next bell of it."""

from __future__ import annotations

import numpy as np

from kitwright.shop.drawings import _region


def inside(outline: list[tuple[float, float]], point: np.ndarray) -> bool:
    """Whether a point lies in a closed convex outline."""
    edges = np.array(outline)
    steps, away = np.diff(edges, axis=0), point - edges[:-1]
    sides = steps[:, 0] * away[:, 1] - steps[:, 1] * away[:, 0]
    return bool((sides > 0).all() or (sides < 0).all())


def test_the_next_bell_lies_inside_19_times_in_20() -> None:
    """2 000 batches of eight bells and a ninth; within four standard errors of 95 %."""
    rng = np.random.default_rng(8)
    spread = np.array([[0.02, 0.0], [0.012, 0.01]])
    hits = 0
    for _ in range(2000):
        bells = rng.normal(size=(9, 2)) @ spread.T + [0.01, -0.02]
        hits += inside(_region(bells[:8])[0].outline_mm(360), bells[8])
    assert abs(hits / 2000 - 0.95) < 4 * np.sqrt(0.95 * 0.05 / 2000)
