"""How many bells to hold back for kits, and how many may be sold loose today?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.days import triangle
from kitwright.calc.supply.demand import Asked, Demand, KnownRate, learn_demand, over_lead_time
from kitwright.calc.supply.hold_back import by_margins, held, opens_on, to_hold
from kitwright.errors import InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import one_currency
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.supply.batches_coming import YIELD_UNKNOWN, learned
from kitwright.worksheets.supply.hold_back_case import (
    EXAMPLE,
    HoldBackAnswer,
    HoldBackCase,
    HoldRow,
)

SERVICE: Final = 0.95
_DAYS: Final = 7
_ROWS: Final = 3
_DRAWN: Final = 399
_AHEAD: Final = 365
_HOW: Final = (
    "The law of the kits asked for until new bells come, from the rate or the history and from "
    "the lead time; the reserve is the least number that serves them all with the wanted chance."
)
_SOURCES: Final = (
    "Cochran, Biometrics 10 (1954) 417-451: the index of dispersion.",
    "Palm; Feeney and Sherbrooke (1966): base stock with Poisson demand.",
    "Littlewood (1972): what to hold back for the better price.",
)


def solve(case: HoldBackCase) -> HoldBackAnswer:
    """Find the reserve, and what may go today."""
    if (case.kits_per_week is None) == (case.history is None):
        raise InputError("kits_per_week", "it or history is needed", "give one of the two")
    learnt = None if case.history is None else learn_demand(case.history)
    demand: Asked = learnt or KnownRate(rate=case.kits_per_week or 0.0)
    lead, per_period = _lead(case)
    most = _most(demand, lead, per_period)
    law = over_lead_time(demand, lead, per_period, most)
    found = over_lead_time(demand, lead, per_period, most, before_a_kit=True)
    service = SERVICE if case.service is None else case.service
    reserve = to_hold(law, service)
    free = case.on_hand - case.promised
    loose = max(0, free - reserve)
    kept = min(max(free, 0), reserve)
    now = held(law, kept, found=found)
    batches = learned(case.batches, case.yield_history, case.today)
    opens = None
    if case.today is not None:
        opens = opens_on(
            free=max(free, 0),
            hold=reserve + 1,
            demand=demand,
            per_period=_DAYS,
            coming=batches,
            service=service,
            days=_AHEAD,
        )
    return HoldBackAnswer(
        reserve=reserve,
        loose_today=loose,
        chance_short=1 - now.service,
        chance_at_once=now.fill_rate,
        expected_demand=demand.mean(float(np.arange(len(lead)) @ lead) / per_period),
        demand_kind="Poisson" if learnt is None else learnt.kind,
        dispersion_index=None if learnt is None else learnt.index,
        chance_poisson=None if learnt is None else learnt.chance_poisson,
        reserve_by_margins=_by_margins(case, law),
        opens_on=None
        if opens is None or case.today is None
        else case.today + timedelta(days=opens),
        options=[
            HoldRow(
                bells=each.bells,
                chance_served=each.service,
                chance_at_once=each.fill_rate,
                left=each.left,
            )
            for each in (
                held(law, bells, found=found)
                for bells in range(max(0, reserve - _ROWS), reserve + _ROWS + 1)
            )
        ],
        chances=_served(law, reserve),
        chance_wanted=service,
        assumed=list(_assumed(case, learnt)),
        how=_HOW,
    )


def _lead(case: HoldBackCase) -> tuple[Floats, float]:
    """The law of the lead time, and the length of a week, in its steps.

    A lead time that is known is one step long whatever it is, so that no week is cut into days.
    """
    weeks, unsure = case.replenishment_weeks, case.replenishment
    if (weeks is None) == (unsure is None):
        raise InputError(
            "replenishment_weeks", "it or replenishment is needed", "give one of the two"
        )
    if unsure is not None:
        try:
            law = triangle(
                unsure.least * _DAYS, unsure.likely * _DAYS, unsure.most * _DAYS, days=_AHEAD * 2
            )
        except InputError:
            told = f"{unsure.least:g}, {unsure.likely:g}, {unsure.most:g}"
            raise InputError(
                "replenishment", told, "give least, likely and most in that order"
            ) from None
        return law.chance, _DAYS
    if not weeks:
        return np.ones(1), 1.0
    return np.array([0.0, 1.0]), 1 / weeks


def _most(demand: Asked, lead: Floats, per_period: float) -> int:
    """A count so high that what lies beyond it does not matter."""
    longest = max(int(np.flatnonzero(lead)[-1]), 1) / per_period
    most = 64
    while most < 1_000_000 and 1 - float(np.sum(demand.law(longest, most))) > 1e-12:
        most *= 2
    return most


def _served(law: Floats, reserve: int) -> list[float]:
    """The chance that no kit goes short, holding none, one, two ... and somewhat more."""
    most = min(reserve + max(_ROWS, reserve // 4), _DRAWN)
    return [float(min(1.0, chance)) for chance in np.cumsum(law[: most + 1])]


def _by_margins(case: HoldBackCase, law: Floats) -> int | None:
    if case.kit_margin is None and case.loose_margin is None:
        return None
    if case.kit_margin is None or case.loose_margin is None:
        missing = "kit_margin" if case.kit_margin is None else "loose_margin"
        raise InputError(missing, "missing", "give what both leave, or neither")
    one_currency(case.kit_margin, case.loose_margin, where="loose_margin")
    kit, loose = case.kit_margin.amount.exact, case.loose_margin.amount.exact
    if not kit:
        raise InputError("kit_margin", case.kit_margin.text, "a kit leaves more than nothing")
    return by_margins(law, float(kit), float(loose))


def _assumed(case: HoldBackCase, learnt: Demand | None) -> Iterator[str]:
    if case.service is None:
        yield f"service: {SERVICE:.0%}, the chance that no kit goes short until new bells come"
    if not case.promised:
        yield "promised: no bell on hand is promised yet"
    if learnt is None:
        yield "kits are asked for one by one and apart from each other, at a rate that is known"
    elif learnt.size is None:
        yield "the weeks to come are like those of the history, as far as it tells their rate"
    else:
        yield (
            "the weeks to come scatter as those of the history did; how well those tell it is "
            "left out"
        )
    if case.batches and not case.yield_history:
        yield f"yield_history: {YIELD_UNKNOWN}"


def say(answer: HoldBackAnswer, lead: Lead) -> str:
    """The sentence at the counter."""
    short = say_chance(answer.chance_short)
    if answer.loose_today:
        many = "bell" if answer.loose_today == 1 else "bells"
        return (
            f"You may sell {answer.loose_today} {many} loose today and hold {answer.reserve} for "
            f"kits; the chance that a kit still goes short is {short}."
        )
    until = "" if answer.opens_on is None else f" It may open on {answer.opens_on.isoformat()}."
    return (
        f"Sell none loose today: hold {answer.reserve} for kits; with what you have the chance "
        f"that one goes short is {short}.{until}"
    )


WORKSHEET = Worksheet(
    heading=heading("hold-back"),
    case=HoldBackCase,
    answer=HoldBackAnswer,
    solve=solve,
    say=say,
    sources=_SOURCES,
    example=EXAMPLE,
)
