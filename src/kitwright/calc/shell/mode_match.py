"""Modes laid beside modes: which is which, and by how much one figure of the wall must change.

All pitches of a bell rise as the root of its Young's modulus; with the wall's thickness each rises
in its own way, which two solves show. Either is one number x to be found: ln f = ln f0 + s x, with
s = 1/2 for ln E, or a mode's own slope for ln t. The pairs are found with it: pairs that do not
cross, as many as there are within the tolerance, and of those the nearest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

TOLERANCE: Final = 0.06
"""Two pitches that differ by more, relative, are not the same mode."""
_WIDEST: Final = 0.5
_GRID: Final = 0.01
_LEFT_OVER: Final = 0.3
"""Cost of a computed mode that is not heard below the highest that is; a heard one that is not
computed costs 1, and a pair the square of its distance over the tolerance."""


@dataclass(frozen=True, kw_only=True)
class Matched:
    """Pairs and the change that brings them together."""

    pairs: tuple[tuple[int, int], ...]
    """Indices (heard, computed), both rising."""
    change: float
    """x: of ln E or ln t."""
    change_u: float | None
    """Its standard uncertainty, from what the pairs leave; None with a single pair."""
    rms_before: float
    """Of ln f heard less computed, before and after the change."""
    rms_after: float

    @property
    def change_u95(self) -> float | None:
        """Half width of its interval of 95 %: by Student's t, since few pairs tell little of how
        they scatter (JCGM 100:2008, annex G)."""
        if self.change_u is None:
            return None
        from scipy.special import stdtrit  # noqa: PLC0415 - slow to load, and seldom needed

        return float(stdtrit(len(self.pairs) - 1, 0.975)) * self.change_u


def pair_up(heard_hz: ArrayLike, computed_hz: ArrayLike) -> list[tuple[int, int]]:
    """Which heard mode is which computed one, as the figures stand; neither need be in order."""
    heard, computed = _logs(heard_hz, "heard"), _logs(computed_hz, "computed")
    return _pairs(heard, computed)[0]


def match(heard_hz: ArrayLike, computed_hz: ArrayLike, slopes: ArrayLike | None = None) -> Matched:
    """The change of the wall's figure with which the computed modes fit the heard ones best.

    Parameters
    ----------
    heard_hz : shape (n,), n >= 1
    computed_hz : shape (m,), m >= 1
    slopes : shape (m,), d ln f / dx of each computed mode; 1/2 (Young's modulus) where not given

    Raises
    ------
    InputError
        No pair lies near enough under any change by which pitches move a half.
    """
    heard, computed = _logs(heard_hz, "heard"), _logs(computed_hz, "computed")
    bends = np.full(len(computed), 0.5) if slopes is None else np.asarray(slopes, float)
    typical = float(np.median(bends))
    if not typical > 0:
        raise InputError("computed", "the pitches do not rise with the wall", "check the solves")
    best: tuple[float, float] | None = None
    for shift in np.arange(-_WIDEST, _WIDEST + _GRID / 2, _GRID).tolist():
        x = shift / typical
        _, cost = _pairs(heard, computed + bends * x)
        cost += 1e-3 * abs(shift)  # of equals the least change
        if best is None or cost < best[0]:
            best = cost, x
    assert best is not None
    x = best[1]
    pairs: list[tuple[int, int]] = []
    for _ in range(20):
        fresh = _pairs(heard, computed + bends * x)[0]
        if not fresh or fresh == pairs:
            break
        pairs = fresh
        mine, theirs = map(list, zip(*pairs, strict=True))
        away = heard[mine] - computed[theirs]
        x = float(bends[theirs] @ away / (bends[theirs] @ bends[theirs]))
    if not pairs:
        raise InputError(
            "computed", "no computed mode lies near a heard one", "check units and support"
        )
    mine, theirs = map(list, zip(*pairs, strict=True))
    away = heard[mine] - computed[theirs]
    left = away - bends[theirs] * x
    u = None
    if len(pairs) > 1:
        spread = float(left @ left) / (len(pairs) - 1)
        u = float(np.sqrt(spread / (bends[theirs] @ bends[theirs])))
    return Matched(
        pairs=tuple(pairs),
        change=x,
        change_u=u,
        rms_before=float(np.sqrt(np.mean(away**2))),
        rms_after=float(np.sqrt(np.mean(left**2))),
    )


def _logs(values: ArrayLike, where: str) -> Floats:
    found = np.atleast_1d(np.asarray(values, float))
    if len(found) == 0 or not (np.isfinite(found).all() and (found > 0).all()):
        raise InputError(where, "not all are above zero", "give frequencies in Hz")
    return np.asarray(np.log(found))


def _pairs(heard: Floats, computed: Floats) -> tuple[list[tuple[int, int]], float]:
    """Pairs that do not cross, of least cost, by dynamic programming over both in rising order."""
    rows, columns = np.argsort(heard, kind="stable"), np.argsort(computed, kind="stable")
    away = np.subtract.outer(heard[rows], computed[columns]) / TOLERANCE
    near = np.where(np.abs(away) < 1, away**2, np.inf)
    n, m = near.shape
    cost = np.zeros((n + 1, m + 1))
    cost[:, 0] = np.arange(n + 1)
    skipped = _LEFT_OVER * np.arange(m + 1)
    cost[0] = skipped
    for i in range(1, n + 1):
        # the best without a skip of a computed mode at the end, then any number of those
        best = cost[i - 1] + 1
        best[1:] = np.minimum(best[1:], cost[i - 1, :-1] + near[i - 1])
        best[0] = cost[i, 0]
        cost[i] = np.minimum.accumulate(best - skipped) + skipped
    end = int(np.argmin(cost[n]))  # above the highest that is heard, nothing is missed
    pairs, i, j = [], n, end
    while i > 0 and j > 0:
        if np.isclose(cost[i, j], cost[i - 1, j - 1] + near[i - 1, j - 1], rtol=1e-12, atol=1e-12):
            pairs.append((int(rows[i - 1]), int(columns[j - 1])))
            i, j = i - 1, j - 1
        elif np.isclose(cost[i, j], cost[i - 1, j] + 1, rtol=1e-12, atol=1e-12):
            i -= 1
        else:
            j -= 1
    return pairs[::-1], float(cost[n, end])
