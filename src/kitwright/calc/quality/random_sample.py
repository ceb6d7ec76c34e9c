"""A sample drawn at random that anyone can draw again from its seed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from kitwright.errors import InputError

LARGEST_SEED: Final = 2**53 - 1
"""The largest whole number that every program reads exactly from JSON."""


def draw(serials: Sequence[str], n: int, *, seed: int) -> list[str]:
    """n of the serials, each set of n as likely as any other, in the order given.

    Each serial gets a number from numpy's generator PCG64 with this seed; the n with the least
    numbers are the sample. A larger n with the same seed holds the smaller sample.

    Raises
    ------
    InputError
        A serial given twice, fewer serials than n, a seed out of range.

    Examples
    --------
    >>> draw(["B-01", "B-02", "B-03", "B-04", "B-05"], 2, seed=7)
    ['B-04', 'B-05']
    """
    if not 0 <= seed <= LARGEST_SEED:
        raise InputError("seed", f"{seed}", f"give a whole number from 0 to {LARGEST_SEED}")
    if not 0 <= n <= len(serials):
        raise InputError("serials", f"{len(serials)} given", f"the sample needs {n}")
    seen: dict[str, int] = {}
    for index, serial in enumerate(serials):
        if serial in seen:
            raise InputError(
                f"serials[{index}]",
                f'"{serial}" stands at serials[{seen[serial]}] too',
                "list each part once",
            )
        seen[serial] = index
    numbers = np.random.default_rng(np.random.PCG64(seed)).random(len(serials))
    chosen = np.sort(np.argsort(numbers, kind="stable")[:n])
    return [serials[index] for index in chosen.tolist()]
