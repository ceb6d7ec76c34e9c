"""Which measured bell for which swept engine.

In the car a bore sits at the bell's own offset plus that of block and crank. A bell that sits a
little low belongs on a block whose crank is a little low as well. Offsets are mm, +x right, +y up,
seen from behind.

References
----------
.. [1] JCGM 106:2012, The role of measurement uncertainty in conformity assessment, clause 7: the
   chance that a measured thing conforms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.centring.assignment import Indices, assign
from kitwright.calc.checks import Floats, finite_rows, positive
from kitwright.calc.quality.conformity import decide_position
from kitwright.errors import InputError

TIE: Final = 1e-12
"""Chances closer than this are one chance; the TIR then decides."""
PREFERRED_MM: Final = 1e-9
"""By so much less TIR counts a pair that was there before: only a plain tie is decided by it."""
_AT_ONCE: Final = 4096


@dataclass(frozen=True, kw_only=True, eq=False)
class Odds:
    """What becomes of each of n bells on each of m engines; every array (m, n)."""

    offset_mm: Floats
    """(m, n, 2) where the bore will sit in the car."""
    u95_mm: Floats
    """Its expanded uncertainty along each axis."""
    expected_tir_mm: Floats
    """Twice the length of the offset."""
    chance_within: Floats
    chance_outside: Floats
    """Keeps its figures where `chance_within` rounds to 1."""
    codes: NDArray[np.int8]
    """Verdicts as `quality.conformity` codes them."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairing:
    """Engines with their bells, engine by engine; total figures over all pairs."""

    engines: Indices
    """(k,) rising."""
    bells: Indices
    """(k,) the bell of each."""
    odds: Odds

    @property
    def within(self) -> float:
        """How many of the fit-ups are expected to be within the limit."""
        return float(self.odds.chance_within[self.engines, self.bells].sum())

    @property
    def outside(self) -> float:
        """How many are expected to be outside."""
        return float(self.odds.chance_outside[self.engines, self.bells].sum())

    @property
    def tir_mm(self) -> float:
        """Expected TIR of all pairs together."""
        return float(self.odds.expected_tir_mm[self.engines, self.bells].sum())

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """(engine, bell) of each pair."""
        return list(zip(self.engines.tolist(), self.bells.tolist(), strict=True))


@dataclass(frozen=True, kw_only=True, eq=False)
class Match(Pairing):
    """The best pairing, with what is left to gain over it by any other."""

    gap: float
    """Fit-ups: no other pairing expects more than this more of them within.

    It is rounding, and what `TIE` lets pass as equal.
    """


def odds_of_pairs(
    bells_mm: ArrayLike,
    engines_mm: ArrayLike,
    *,
    limit_tir_mm: float,
    bells_u95_mm: ArrayLike = 0.0,
    engines_u95_mm: ArrayLike = 0.0,
) -> Odds:
    """The odds of every bell on every engine.

    The true offset is circular-normal about the sum of both measured ones, with both
    uncertainties in quadrature [1]_; within means a TIR of at most the limit.

    Parameters
    ----------
    bells_mm : shape (n, 2), n >= 1
        Bores against the crank axis of a true block, as measured at inspection.
    engines_mm : shape (m, 2), m >= 1
        What block and crank of each engine add.
    bells_u95_mm, engines_u95_mm : one for all, or (n,) and (m,)
        Expanded uncertainties (k = 2) along each axis.

    Raises
    ------
    InputError
        Nothing to pair, a number that is not finite, a negative uncertainty, no limit.
    """
    bells = finite_rows(bells_mm, columns=2, least=1, where="bells")
    engines = finite_rows(engines_mm, columns=2, least=1, where="engines")
    limit = positive(limit_tir_mm, where="limit")
    shape = len(engines), len(bells)
    u95 = np.hypot(
        np.broadcast_to(_u95(engines_u95_mm, len(engines), "engines"), shape[:1])[:, None],
        np.broadcast_to(_u95(bells_u95_mm, len(bells), "bells"), shape[1:]),
    )
    offset = engines[:, None] + bells
    within, outside, codes = np.empty(shape), np.empty(shape), np.empty(shape, dtype=np.int8)
    step = max(1, _AT_ONCE // len(bells))  # a chance takes sixty numbers on its way
    for start in range(0, len(engines), step):
        part = slice(start, start + step)
        decided = decide_position(offset[part, :, 0], offset[part, :, 1], u95=u95[part], zone=limit)
        within[part], outside[part] = decided.chance_conforms, decided.chance_outside
        codes[part] = decided.codes
    return Odds(
        offset_mm=offset,
        u95_mm=u95,
        expected_tir_mm=2 * np.hypot(offset[..., 0], offset[..., 1]),
        chance_within=within,
        chance_outside=outside,
        codes=codes,
    )


def best_match(
    odds: Odds,
    *,
    engines: Sequence[int] | None = None,
    bells: Sequence[int] | None = None,
    kept: Sequence[tuple[int, int]] = (),
    preferred: Sequence[tuple[int, int]] = (),
) -> Match:
    """The pairing with the most fit-ups expected within; of those that tie, with the least TIR.

    As many pairs are made as there can be. That none has more within is proven: see
    `assignment`.

    Parameters
    ----------
    engines, bells
        Which of them take part; all where left out.
    kept
        Pairs (engine, bell) that stay as they are.
    preferred
        Pairs to choose where nothing else decides, such as those of an earlier match.
    """
    free_engines, free_bells = _free(odds, engines, bells, kept)
    pairs, gap = list(kept), 0.0
    if free_engines and free_bells:
        among = np.ix_(free_engines, free_bells)
        tir = odds.expected_tir_mm.copy()
        for pair in preferred:
            tir[pair] -= PREFERRED_MM
        found = assign(odds.chance_outside[among], tir[among], tie=TIE)
        pairs += [
            (free_engines[row], free_bells[column])
            for row, column in zip(found.rows.tolist(), found.columns.tolist(), strict=True)
        ]
        gap = max(0.0, found.gap)
    return Match(**_sorted(pairs), odds=odds, gap=gap)


def first_come(
    odds: Odds,
    *,
    engines: Sequence[int] | None = None,
    bells: Sequence[int] | None = None,
    kept: Sequence[tuple[int, int]] = (),
) -> Pairing:
    """Each engine in turn takes the next bell off the shelf, both in the order given."""
    pairs = [*kept, *zip(*_free(odds, engines, bells, kept), strict=False)]
    return Pairing(**_sorted(pairs), odds=odds)


def _sorted(pairs: Sequence[tuple[int, int]]) -> dict[str, Indices]:
    """Engines rising, with their bells."""
    table = np.array(sorted(pairs), dtype=np.intp).reshape(-1, 2)
    return {"engines": table[:, 0], "bells": table[:, 1]}


def _free(
    odds: Odds,
    engines: Sequence[int] | None,
    bells: Sequence[int] | None,
    kept: Sequence[tuple[int, int]],
) -> tuple[list[int], list[int]]:
    """The engines and the bells that take part and are not kept in a pair, in their order."""
    free = []
    for side, (name, wanted) in enumerate((("engines", engines), ("bells", bells))):
        among = range(odds.expected_tir_mm.shape[side]) if wanted is None else wanted
        held = [pair[side] for pair in kept]
        if len(set(held)) < len(held) or not set(held) <= set(among):
            raise InputError("kept", f"{name} {held}", "keep each once, of those that take part")
        free.append([each for each in among if each not in set(held)])
    return free[0], free[1]


def _u95(given: ArrayLike, count: int, where: str) -> Floats:
    u95 = np.asarray(given, dtype=float)
    if u95.shape not in ((), (count,)):
        raise InputError(f"{where}.u95", f"shape {u95.shape}", f"give one, or {count}")
    if not (u95 >= 0).all() or np.isinf(u95).any():
        raise InputError(f"{where}.u95", "not a size", "give zero or more, finite")
    return u95
