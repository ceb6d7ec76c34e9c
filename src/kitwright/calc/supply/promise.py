"""The earliest day on which an order can be held with a wanted chance.

The order waits for its bell behind those before it. Bells come from the shelf, then from the
batches under way: each arrives on a day of its own law and brings a number of good bells of its
own law. The chance that enough are here by a day is the tail of a sum of independent numbers,
by product of their generating functions on the unit circle (exact to rounding). Every other part
of the kit has a law of its own; the order is ready when all are here, so the chances multiply.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.days import HORIZON, DaysLaw
from kitwright.errors import InputError

_AT_ONCE: Final = 1 << 20
"""Numbers worked at once, so that many bells take no more room than their law does."""


@dataclass(frozen=True, kw_only=True)
class Coming:
    """A batch under way: when it is here, and the chance of each number of good bells in it."""

    name: str
    arrives: DaysLaw
    good: Floats


@dataclass(frozen=True, kw_only=True)
class Needed:
    """A part of the kit beside the bell, and when there is one for this order."""

    name: str
    arrives: DaysLaw


@dataclass(frozen=True, kw_only=True)
class Promise:
    """What can be promised.

    `day` is the first on which the order is ready with the wanted chance, None within the days
    looked at; `chance` is the one of that day. `ready`, `bell` and `parts` hold the chance of each
    day from today: of the order, of its bell alone, of its parts alone. `brings` says with what
    chance the bell is from the shelf (""), or from each batch.
    """

    day: int | None
    chance: float | None
    ready: Floats
    bell: Floats
    parts: Floats
    brings: Sequence[tuple[str, float]]
    slowest: str | None
    """The part that holds it up most on the day promised; None where the bell does."""


def promise(
    *,
    ahead: int,
    on_shelf: int,
    coming: Sequence[Coming],
    needed: Sequence[Needed] = (),
    wanted: float = 0.9,
    days: int = HORIZON,
    law: Floats | None = None,
) -> Promise:
    """The earliest day held with the wanted chance.

    Parameters
    ----------
    ahead : orders before this one that wait for a bell of the same design
    on_shelf : free bells
    coming : batches under way, in the order in which they serve
    needed : the kit's other parts
    wanted : chance with which the day must hold, above 0 and below 1
    law : `arrived(coming)`, where many orders ask of the same batches

    Raises
    ------
    InputError
        A count below zero, or a chance that is none.
    """
    for where, count in (("ahead", ahead), ("on_shelf", on_shelf)):
        if count < 0:
            raise InputError(where, f"{count}", "give zero or more")
    if not 0 < wanted < 1:
        raise InputError("wanted", f"{wanted}", "give a chance between 0 and 1, as 0.9")
    short = ahead + 1 - on_shelf
    bell = enough_by(short, coming, days=days, law=law)
    parts = np.ones(days + 1)
    for each in needed:
        parts *= _over(each.arrives.by, days)
    ready = bell * parts
    held = np.flatnonzero(ready >= wanted - 1e-12)
    day = int(held[0]) if len(held) else None
    at = days if day is None else day
    shares = [(each.name, float(_over(each.arrives.by, days)[at])) for each in needed]
    slow = min(shares, key=lambda each: each[1], default=("", 1.0))
    return Promise(
        day=day,
        chance=None if day is None else float(ready[day]),
        ready=ready,
        bell=bell,
        parts=parts,
        brings=_brings(short, coming),
        slowest=slow[0] if slow[1] < bell[at] else None,
    )


def enough_by(
    short: int, coming: Sequence[Coming], *, days: int = HORIZON, law: Floats | None = None
) -> Floats:
    """Chance, for each day from today, that at least `short` good bells have come by then."""
    if short <= 0:
        return np.ones(days + 1)
    law = arrived(coming, days=days) if law is None else law
    return np.asarray(np.clip(law[:, short:].sum(axis=1), 0, 1))


def arrived(coming: Sequence[Coming], *, days: int = HORIZON) -> Floats:
    """Chance, for each day from today (rows), of each number of good bells come (columns)."""
    most = sum(len(each.good) - 1 for each in coming)
    size = 1 << max(most, 1).bit_length()
    by = [_over(each.arrives.by, days)[:, None] for each in coming]
    spectra = [np.fft.rfft(each.good, size)[None, :] for each in coming]
    law = np.empty((days + 1, most + 1))
    step = max(1, _AT_ONCE // size)
    for start in range(0, days + 1, step):
        some = slice(start, start + step)
        product = np.ones((1, 1), dtype=complex)
        for here, spectrum in zip(by, spectra, strict=True):
            product = product * (1 - here[some] + here[some] * spectrum)
        whole = np.broadcast_to(product, (len(law[some]), size // 2 + 1))
        law[some] = np.fft.irfft(whole, size, axis=1)[:, : most + 1]
    return np.clip(law, 0, 1, out=law)


def _brings(short: int, coming: Sequence[Coming]) -> list[tuple[str, float]]:
    """With what chance each batch, served in this order, brings the bell in the end."""
    if short <= 0:
        return [("", 1.0)]
    before = np.ones(1)
    found = []
    lacked = 1.0
    for each in coming:
        before = np.convolve(before, each.good)
        lacks = float(before[:short].sum())
        found.append((each.name, max(0.0, lacked - lacks)))
        lacked = lacks
    return found


def _over(by: Floats, days: int) -> Floats:
    """A law's chances by each of `days` days, its last one standing for what lies beyond."""
    if len(by) > days:
        return by[: days + 1]
    return np.concatenate([by, np.full(days + 1 - len(by), by[-1])])
