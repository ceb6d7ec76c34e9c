"""The least sample that keeps both risks, with or without allowing for bad parts in it.

A plan (n, c) keeps the producer's risk when parts of the acceptable quality are accepted with a
chance of 1 - producers_risk or more, and the consumer's when parts of the quality to refuse are
accepted with a chance of consumers_risk or less.

References
----------
.. [1] Guenther, Journal of Quality Technology 1 (1969) 105-113: single plans from two points.
"""

from __future__ import annotations

from math import isfinite
from typing import Final

from kitwright.calc.quality.acceptance import (
    LARGEST_LOT,
    Lot,
    Parts,
    Plan,
    at_least,
    at_most,
    parts_at,
    written,
)
from kitwright.errors import InputError

MOST_TAKEN: Final = 50_000
MOST_ALLOWED: Final = 1000


def design(
    *,
    accept_quality: float,
    producers_risk: float,
    reject_quality: float,
    consumers_risk: float,
    lot: int | None = None,
) -> Plan:
    """The plan of least n, and of these of least c, that keeps both risks [1]_.

    In a lot the acceptable quality is the whole number of bad parts below it, the quality to
    refuse the whole number above.

    Notes
    -----
    For one c, the chance of accepting falls as n grows; so there is a least n that keeps the
    consumer's risk, n(c), and the producer's is kept there or at no larger n either. Taking one
    part more adds one bad at most, so accepting (n, c) is at least as likely as accepting
    (n - 1, c - 1), and n(c) >= n(c - 1) + 1. The first c, from 0 up, whose n(c) keeps the
    producer's risk is therefore the least n of all, and no other c has that n.

    Raises
    ------
    InputError
        Qualities or risks out of range or order, or so near that no plan of a reasonable size
        tells them apart.

    Examples
    --------
    >>> plan = design(accept_quality=0.01, producers_risk=0.05, reject_quality=0.06,
    ...               consumers_risk=0.10)
    >>> plan.n, plan.c
    (110, 3)
    """
    _check_quality("accept_quality", accept_quality, least_open=False)
    _check_quality("reject_quality", reject_quality, least_open=True)
    _check_risk("producers_risk", producers_risk)
    _check_risk("consumers_risk", consumers_risk)
    _check_lot(lot)
    if accept_quality >= reject_quality:
        raise InputError(
            "reject_quality",
            f"{reject_quality:g} is not above accept_quality, {accept_quality:g}",
            "give a worse one",
        )
    good = parts_at(accept_quality, lot)
    poor = parts_at(reject_quality, lot, up=True)
    bound = 1 - written(producers_risk)
    n = 0
    for c in range(MOST_ALLOWED + 1):
        least = _least_n(poor, c, consumers_risk, above=n, step=max(1, n // max(c, 1)))
        if least is None:
            break
        n = least
        if at_least(good, n, c, bound):
            return Plan(n=n, c=c, lot=lot)
    raise InputError(
        "reject_quality",
        f"{reject_quality:g} is too near to accept_quality, {accept_quality:g}, for a sample",
        f"no plan of {MOST_TAKEN} parts and {MOST_ALLOWED} bad allowed tells them apart; give "
        "qualities further apart or larger risks",
    )


def zero_acceptance(
    *, reject_quality: float, consumers_risk: float, lot: int | None = None
) -> Plan:
    """The least n that keeps the consumer's risk where no bad part is allowed in the sample.

    Examples
    --------
    >>> zero_acceptance(reject_quality=0.10, consumers_risk=0.10).n
    22
    """
    _check_quality("reject_quality", reject_quality, least_open=True)
    _check_risk("consumers_risk", consumers_risk)
    _check_lot(lot)
    n = _least_n(parts_at(reject_quality, lot, up=True), 0, consumers_risk, above=0, step=1)
    if n is None:
        raise InputError(
            "reject_quality",
            f"{reject_quality:g} needs more than {MOST_TAKEN} parts",
            "give a worse one, or a larger risk",
        )
    return Plan(n=n, c=0, lot=lot)


def _least_n(poor: Parts, c: int, risk: float, *, above: int, step: int) -> int | None:
    """The least n beyond `above` that accepts with this risk at most, by doubling and halving."""
    most = min(MOST_TAKEN, poor.size) if isinstance(poor, Lot) else MOST_TAKEN
    bound = written(risk)
    low = above  # accepts too often: n(c) > n(c - 1)
    high = min(low + step, most)
    while not at_most(poor, high, c, bound):
        if high == most:
            return None
        low, step = high, 2 * step
        high = min(low + step, most)
    while high - low > 1:
        middle = (low + high) // 2
        kept = at_most(poor, middle, c, bound)
        low, high = (low, middle) if kept else (middle, high)
    return high


def _check_quality(where: str, quality: float, *, least_open: bool) -> None:
    low = quality <= 0 if least_open else quality < 0
    if not isfinite(quality) or low or quality > 1:
        least = "more than 0" if least_open else "0"
        raise InputError(where, f"{quality:g} is no share", f"give {least} to 1: 0.01 is 1 %")


def _check_risk(where: str, risk: float) -> None:
    if not 1e-9 <= risk < 1:
        raise InputError(where, f"{risk:g} is no risk", "give a chance between 0 and 1: 0.05")


def _check_lot(lot: int | None) -> None:
    if lot is not None and not 1 <= lot <= LARGEST_LOT:
        raise InputError("lot", f"{lot} parts", f"give 1 to {LARGEST_LOT}")
