"""Judge bells by their newest measurements: characteristic by characteristic, then each bell.

A bell is rejected when any characteristic is outside, released when all are within; what is left
is undecided, and the shop's rule says what becomes of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from kitwright.books.characteristics import Characteristic
from kitwright.books.inspections import Newest
from kitwright.books.shop import Shop
from kitwright.calc.quality.conformity import (
    OUTSIDE,
    UNDECIDED,
    VERDICTS,
    WITHIN,
    Rule,
    Verdict,
    decide_length,
    decide_position,
)
from kitwright.units import Lead, show_length

NOT_MEASURED: Final = -2
"""Code of a characteristic that has no value yet."""

KIND_OF: Final = {"release": "released", "hold": "held", "reject": "rejected"}


@dataclass(frozen=True, kw_only=True)
class Judged:
    """Verdicts on n bells in k characteristics."""

    serials: tuple[str, ...]
    characteristics: tuple[Characteristic, ...]
    codes: NDArray[np.int8]
    """(n, k): `WITHIN`, `UNDECIDED`, `OUTSIDE`, or `NOT_MEASURED`."""

    def kinds(self, shop: Shop) -> list[str]:
        """The decision that follows for each bell: release, hold or reject."""
        outside = (self.codes == OUTSIDE).any(axis=1)
        within = (self.codes == WITHIN).all(axis=1)
        measured = (self.codes != NOT_MEASURED).all(axis=1)
        undecided = np.where(measured & (shop.undecided == "reject"), "reject", "hold")
        return [
            str(kind)
            for kind in np.where(outside, "reject", np.where(within, "release", undecided))
        ]

    def reasons(self) -> list[str | None]:
        """For each bell, what is not plainly within; None where everything is."""
        names = [each.name for each in self.characteristics]
        said: list[str | None] = [None] * len(self.serials)
        for row in np.flatnonzero((self.codes != WITHIN).any(axis=1)).tolist():
            parts = []
            for code, words in (
                (OUTSIDE, "outside"),
                (UNDECIDED, "too close to call"),
                (NOT_MEASURED, "not measured"),
            ):
                hit = [
                    name for name, one in zip(names, self.codes[row], strict=True) if one == code
                ]
                if hit:
                    parts.append(f"{', '.join(hit)} {words}")
            said[row] = "; ".join(parts)
        return said


def judge(newest: Newest, shop: Shop) -> Judged:
    """Decide every characteristic of every bell under the shop's guard."""
    rule = cast("Rule", shop.guard)
    codes = np.full(newest.u95_mm.shape, NOT_MEASURED, dtype=np.int8)
    for k, about in enumerate(newest.characteristics):
        measured = np.flatnonzero(np.isfinite(newest.mm[:, k, 0]))
        if not len(measured):
            continue
        first, second = newest.mm[measured, k].T
        u95 = newest.u95_mm[measured, k]
        if about.kind == "length":
            low = -np.inf if about.low_mm is None else about.low_mm
            high = np.inf if about.high_mm is None else about.high_mm
            codes[measured, k] = decide_length(first, u95=u95, low=low, high=high, rule=rule).codes
        else:
            assert about.x_mm is not None
            assert about.y_mm is not None
            assert about.zone_mm is not None
            codes[measured, k] = decide_position(
                first - about.x_mm, second - about.y_mm, u95=u95, zone=about.zone_mm, rule=rule
            ).codes
    return Judged(serials=newest.serials, characteristics=newest.characteristics, codes=codes)


def verdict_of(code: int) -> Verdict | None:
    """A code in words; None for a characteristic that is not measured."""
    return VERDICTS.get(code)


def rule_in_words(shop: Shop) -> str:
    """The shop's rule in one sentence, as pages and certificates print it."""
    guard = {
        "guard by U": "the whole expanded uncertainty (k = 2; ISO 14253-1 as it stood to 2013)",
        "guard by 1.645 u": "1.645 standard uncertainties (ISO 14253-1:2017)",
    }[shop.guard]
    undecided = {"hold": "is held for a second look", "reject": "is rejected"}[shop.undecided]
    return (
        "A bell is released when every characteristic stays within its limits drawn in by "
        f"{guard}, and rejected when one lies beyond them by as much; "
        f"what is too close to call {undecided}."
    )


def limits_in_words(about: Characteristic, *, lead: Lead) -> str:
    """The limits as the drawing says them, the leading unit only."""

    def size(mm: float) -> str:
        return show_length(mm, lead=lead).leading

    if about.kind == "position":
        return f"zone Ø {size(about.zone_mm or 0)}"
    if about.low_mm is None:
        return f"at most {size(about.high_mm or 0)}"
    if about.high_mm is None:
        return f"at least {size(about.low_mm)}"
    return f"{size(about.low_mm)} to {size(about.high_mm)}"
