"""How many bells to hold back for kits while stock is replenished, and how many may go loose.

Of the free bells, so many are held that kits asked for until the next bells come find one with
the wanted service. Where the two margins are known, the bells worth holding by them are said too:
a bell is sold loose only while the chance that a kit would still ask for it is less than the loose
margin over the kit's [1]_.

References
----------
.. [1] Littlewood (1972): sell at the lower price while it is at least the higher one times the
   chance of selling at that.
.. [2] Palm and Feeney: base stock with Poisson demand; expected shortages and stock on hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.demand import Asked
from kitwright.calc.supply.promise import Coming, arrived
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Held:
    """What a number of bells held back brings.

    `service` is the chance that no kit goes short, `fill_rate` the share of kits that find a bell
    at once, `short` the kits expected to wait at a time, `left` the bells expected on hand.
    """

    bells: int
    service: float
    fill_rate: float
    short: float
    left: float


def held(law: Floats, bells: int, *, found: Floats | None = None) -> Held:
    """What holding so many bells brings against this law of demand over the lead time.

    `found` is that law as a kit finds it (`demand.over_lead_time`, before a kit): the same where
    demand is Poisson of a known rate, as it is where it is left out [2]_.
    """
    if bells < 0:
        raise InputError("bells", f"{bells}", "give zero or more")
    k = np.arange(len(law))
    mean = float(k @ law)
    left = float(np.clip(bells - k, 0, None) @ law)
    return Held(
        bells=bells,
        service=float(min(1.0, law[: bells + 1].sum())),
        fill_rate=float(min(1.0, (law if found is None else found)[:bells].sum())),
        short=max(0.0, mean - bells + left),
        left=left,
    )


def to_hold(law: Floats, service: float) -> int:
    """The fewest bells with which no kit goes short, with this chance.

    Raises
    ------
    InputError
        The service is no chance below 1, or the law ends before it is reached.
    """
    if not 0 < service < 1:
        raise InputError("service", f"{service}", "give a chance between 0 and 1, as 0.95")
    reached = np.flatnonzero(np.cumsum(law) >= service - 1e-12)
    if not len(reached):
        raise InputError("service", f"{service} is not reached", "give a lower one")
    return int(reached[0])


def by_margins(law: Floats, kit_margin: float, loose_margin: float) -> int:
    """The bells worth holding by what each sale leaves (Littlewood's rule).

    Raises
    ------
    InputError
        A kit that leaves nothing.
    """
    if kit_margin <= 0:
        raise InputError("kit_margin", f"{kit_margin:g}", "a kit leaves more than nothing")
    at_least = 1 - np.concatenate([[0.0], np.cumsum(law)])  # P(D >= k), k = 0, 1, ...
    worth = np.flatnonzero(at_least[1:] * kit_margin > loose_margin + 1e-12)
    return int(worth[-1]) + 1 if len(worth) else 0


def opens_on(
    *,
    free: int,
    hold: int,
    demand: Asked,
    per_period: float,
    coming: Sequence[Coming],
    service: float,
    days: int,
) -> int | None:
    """The first day from which loose sales may be open: kits until then are served and as many
    bells as are to be held are still there, with the wanted chance. None within `days`.

    Parameters
    ----------
    free : bells on the shelf that no order has
    hold : bells to be held back
    demand, per_period : kits asked for, and the days of one of its periods
    coming : batches under way
    """
    law = arrived(coming, days=days)
    most = free + law.shape[1] - 1
    for day in range(days + 1):
        asked = np.ones(1) if day == 0 else demand.law(day / per_period, max(most, 0))
        no_more = np.concatenate([np.cumsum(asked), np.ones(max(0, most + 1 - len(asked)))])
        may = free + np.arange(law.shape[1]) - hold
        chance = float(law[day] @ np.where(may >= 0, no_more[np.clip(may, 0, None)], 0.0))
        if chance >= service - 1e-12:
            return day
    return None
