"""Single sampling plans by the tables of ISO 2859-1, normal inspection, general level II.

The tables are the same as those of MIL-STD-105E. They stand on one ladder: sample sizes and
acceptable quality levels (AQL) both step by about the fifth root of ten, so a plan's acceptance
number depends only on the sum of both places, and where that sum has no plan of its own an arrow
leads to the next letter that has one.

References
----------
.. [1] ISO 2859-1:1999, Tables 1 and 2-A; MIL-STD-105E (1989), Tables I and II-A.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError

LETTERS: Final = "ABCDEFGHJKLM"
"""Code letters; M is reached by arrows only, its own lots are larger than those held here."""
SIZES: Final = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315)
LOT_ENDS: Final = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000)
"""Largest lot of each letter at level II, A to L."""
AQLS: Final = (0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0)
"""Acceptable quality levels on offer, per cent bad."""

_FIRST_AQL: Final = 4  # 0.065 is the fifth of the ladder that begins at 0.010
_DOWN_TO: Final = 14  # below this sum every arrow leads down
_ALONG: Final = (0, "up", "down", 1, 2, 3, 5, 7, 10, 14, 21)


@dataclass(frozen=True, kw_only=True)
class StandardPlan:
    """A plan read off the tables."""

    letter: str
    """Code letter of the lot's size."""
    letters: tuple[str, ...]
    """Code letters walked by the arrows, the first and the last included."""
    n: int
    """Sample size; the whole lot where the plan's is as large."""
    accept: int
    """Accept at this number of bad parts or fewer (Ac)."""
    reject: int
    """Refuse at this number or more (Re)."""
    every_part: bool
    """Whether the plan's sample is the whole lot."""


def standard_plan(lot: int, aql: float) -> StandardPlan:
    """The single plan of normal inspection at level II [1]_.

    Parameters
    ----------
    lot : int, 2 to 10 000
    aql : float, per cent bad, one of `AQLS`

    Examples
    --------
    >>> plan = standard_plan(400, 0.65)
    >>> "".join(plan.letters), plan.n, plan.accept, plan.reject
    ('HJ', 80, 1, 2)
    """
    if not 2 <= lot <= LOT_ENDS[-1]:
        raise InputError("lot", f"{lot} parts", f"the tables here hold lots of 2 to {LOT_ENDS[-1]}")
    if aql not in AQLS:
        raise InputError("aql", f"{aql:g} is not in the tables", f"write one of {_listed()}")
    place = bisect_left(LOT_ENDS, lot)
    letters = [LETTERS[place]]
    entry = entry_at(place, aql)
    while not isinstance(entry, int):
        place += 1 if entry == "down" else -1
        letters.append(LETTERS[place])
        entry = entry_at(place, aql)
    whole = SIZES[place] >= lot
    return StandardPlan(
        letter=letters[0],
        letters=tuple(letters),
        n=lot if whole else SIZES[place],
        accept=entry,
        reject=entry + 1,
        every_part=whole,
    )


def entry_at(place: int, aql: float) -> int | str:
    """What stands in the table for a letter (by its place): Ac, or an arrow "up" or "down"."""
    along = place + _FIRST_AQL + AQLS.index(aql) - _DOWN_TO
    return "down" if along < 0 else _ALONG[along]


def _listed() -> str:
    return ", ".join(f"{level:g}" for level in AQLS)
