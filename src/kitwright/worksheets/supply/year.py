"""What would a year of this way of doing it bring?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from fractions import Fraction
from itertools import product
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.demand import Asked, KnownRate, learn_demand
from kitwright.calc.supply.lateness import lateness
from kitwright.calc.supply.year import (
    BLOCK,
    STEADY,
    Late,
    Policy,
    ShopNow,
    UnderWay,
    Years,
    simulate,
)
from kitwright.calc.supply.year_told import Told, bands, told, tried
from kitwright.errors import InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import Price
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.supply.batches_coming import YIELD_UNKNOWN, yield_of
from kitwright.worksheets.supply.workers import spread
from kitwright.worksheets.supply.year_case import (
    EXAMPLE,
    MOST_POLICIES,
    MonthRow,
    PolicyRow,
    YearAnswer,
    YearCase,
)

SERVICE: Final = 0.95
_MONTH: Final = 30
_ON_ITS_DAY: Final = Late(mean=0.0, scale=1e-9, freedom=10.0)
_HOW: Final = (
    "Every day of every year is worked: batches and crates come, kits are asked for and served in "
    "turn, what is free goes loose, batches are sent and crates ordered as the policy says. The "
    "seed and the block's number decide all chances, and every policy meets the same."
)
_SOURCES: Final = (
    "Cochran, Sampling Techniques, 3rd ed. (1977), 2.11: the error of a ratio of means.",
    "Law, Simulation Modeling and Analysis, 5th ed. (2015), 11.2, from memory: common chances.",
)


def solve(case: YearCase) -> YearAnswer:
    """Simulate, and tell what comes of it."""
    shop = _shop(case)
    policy = Policy(
        send_at=case.send_at, lot=case.lot, crates_at=case.crates_at, reserve=case.reserve
    )
    blocks = list(_blocks(case.runs))
    years = Years.joined(
        [
            simulate(shop, policy, seed=case.seed, block=block, runs=runs)
            for block, runs in enumerate(blocks)
        ]
    )
    whole = told(years)
    service = SERVICE if case.service is None else case.service
    rows = _tried(case, shop, policy, whole, service)
    opened = years.opened
    ever = opened < case.days
    band = bands(years.bells)
    peak = float(np.percentile(years.castings_peak, 95))
    return YearAnswer(
        share_at_once=whole.share_at_once,
        share_error=whole.share_error,
        kits=whole.mean("kits"),
        wait_days=whole.waited / whole.kits if whole.kits else 0.0,
        days_short=whole.mean("days_short"),
        chance_never_short=float((years.days_short == 0).mean()),
        loose=whole.mean("loose"),
        loose_asked=whole.mean("loose_asked"),
        batches=whole.mean("batches"),
        crates=whole.mean("crates"),
        cash=_cash(case, whole.mean("castings")),
        cash_peak=_cash(case, peak),
        chance_opens=float(ever.mean()),
        opens_middle=_by(case.today, opened, 0.5, case.days),
        opens_late=_by(case.today, opened, 0.9, case.days),
        best=_best(rows),
        months=list(_months(case, years, band)),
        policies=rows,
        runs=case.runs,
        seed=case.seed,
        bells_band=band.tolist(),
        assumed=list(_assumed(case)),
        how=_HOW,
    )


def _shop(case: YearCase) -> ShopNow:
    if (case.kits_per_week is None) == (case.history is None):
        raise InputError("kits_per_week", "it or history is needed", "give one of the two")
    kits: Asked
    if case.history is not None:
        kits = learn_demand(case.history)
    else:
        kits = KnownRate(rate=case.kits_per_week or 0.0)
    if case.waiting and case.bells:
        told_ = f"{case.waiting} wait while {case.bells} bells are free"
        raise InputError("waiting", told_, "give the waiting ones their bells first")
    return ShopNow(
        bells=case.bells,
        waiting=case.waiting,
        castings=case.castings,
        under_way=tuple(
            UnderWay(
                due=0 if each.back else (each.due - case.today).days,
                count=each.count,
                late=_ON_ITS_DAY if each.back else _late(each.days_late or case.days_late),
                to_inspect=each.days_to_inspect,
            )
            for each in case.batches
        ),
        kits=kits,
        loose_per_week=case.loose_per_week,
        share_good=yield_of(case.yield_history),
        late=_late(case.days_late),
        machining_days=case.machining_days,
        crate=case.crate,
        crate_days=case.crate_days,
        days=case.days,
    )


def _late(days_late: Sequence[int]) -> Late:
    learnt = lateness(days_late)
    return Late(mean=learnt.mean, scale=learnt.scale, freedom=learnt.freedom)


def _blocks(runs: int) -> Iterator[int]:
    """The sizes of the blocks that make up so many runs."""
    for start in range(0, runs, BLOCK):
        yield min(BLOCK, runs - start)


def _tried(
    case: YearCase, shop: ShopNow, policy: Policy, whole: Told, service: float
) -> list[PolicyRow]:
    """This policy and every other that is to be tried, each under the same chances."""
    if case.others is None:
        return [_row(case, policy, whole, service)]
    others = case.others
    every = [
        Policy(send_at=send_at, lot=lot, crates_at=crates_at, reserve=reserve)
        for send_at, lot, crates_at, reserve in product(
            _with(case.send_at, others.send_at),
            _with(case.lot, others.lot),
            _with(case.crates_at, others.crates_at),
            _with(case.reserve, others.reserve),
        )
    ]
    if len(every) > MOST_POLICIES:
        raise InputError(
            "others", f"{len(every)} ways to try", f"give numbers for {MOST_POLICIES} at most"
        )
    blocks = list(enumerate(_blocks(case.runs)))
    rest = [each for each in every if each != policy]
    jobs = [(shop, each, case.seed, block, runs) for each in rest for block, runs in blocks]
    parts = spread(tried, jobs)
    found = {policy: whole}
    for (_, each, *_), part in zip(jobs, parts, strict=True):
        found[each] = found[each] + part if each in found else part
    return [_row(case, each, found[each], service) for each in every]


def _with(own: int, others: Sequence[int]) -> list[int]:
    return sorted({own, *others})


def _row(case: YearCase, policy: Policy, found: Told, service: float) -> PolicyRow:
    return PolicyRow(
        send_at=policy.send_at,
        lot=policy.lot,
        crates_at=policy.crates_at,
        reserve=policy.reserve,
        share_at_once=found.share_at_once,
        days_short=found.mean("days_short"),
        loose=found.mean("loose"),
        batches=found.mean("batches"),
        cash=_cash(case, found.mean("castings")),
        meets=found.share_at_once - 2 * found.share_error >= service,
    )


def _best(rows: Sequence[PolicyRow]) -> str | None:
    meeting = [row for row in rows if row.meets]
    if len(rows) == 1 or not meeting:
        return None
    best = min(meeting, key=lambda row: Fraction(row.cash.amount))
    return (
        f"send at {best.send_at}, batches of {best.lot}, crates at {best.crates_at}, "
        f"reserve {best.reserve}"
    )


def _cash(case: YearCase, castings: float) -> Price:
    return Price.of(
        case.casting_cost.amount.exact * Fraction(repr(castings)), case.casting_cost.currency
    )


def _by(today: date, opened: np.ndarray, share: float, days: int) -> date | None:
    """The day by which loose sales have opened for good in this share of the years."""
    day = int(np.sort(opened)[int(np.ceil(share * len(opened))) - 1])
    return None if day >= days else today + timedelta(days=day)


def _months(case: YearCase, years: Years, band: Floats) -> Iterator[MonthRow]:
    days = sorted({*range(_MONTH - 1, case.days, _MONTH), case.days - 1})
    for day in days:
        waiting = years.waiting[:, day]
        middle, high = np.percentile(years.castings[:, day], (50, 95))
        yield MonthRow(
            day=case.today + timedelta(days=day),
            bells_low=float(band[0, day]),
            bells_middle=float(band[1, day]),
            bells_high=float(band[2, day]),
            chance_short=float((waiting > 0).mean()),
            waiting_high=float(np.percentile(waiting, 95)),
            cash_middle=_cash(case, float(middle)),
            cash_high=_cash(case, float(high)),
        )


def _assumed(case: YearCase) -> Iterator[str]:
    if case.service is None:
        yield f"service: {SERVICE:.0%} of kits find a bell at once"
    if not case.yield_history:
        yield f"yield_history: {YIELD_UNKNOWN}"
    if not case.days_late:
        yield "days_late: batches are three days late, give or take seven (common practice)"
    if any(each.others_overdue for each in case.batches):
        yield "batches: a machinist's other overdue batches do not teach his lateness here"
    yield "the year's demand, yields and delays are like those given; nobody cancels"
    yield "crates come on their day; a batch is sent on the day it is decided"
    yield f"loose sales count as open for good once they are open for {STEADY} days on end"


def say(answer: YearAnswer, lead: Lead) -> str:
    """The sentence at the end of the year."""
    short = f"{answer.days_short:.0f} days" if answer.days_short >= 1.5 else "a day"
    kits = f"{say_chance(answer.share_at_once)} of kits find a bell at once"
    waits = "" if answer.days_short < 0.5 else f", on {short} of the year one waits"
    return f"{kits}{waits}; {answer.cash.text} lie in castings on the mean."


WORKSHEET = Worksheet(
    heading=heading("year"),
    case=YearCase,
    answer=YearAnswer,
    solve=solve,
    say=say,
    sources=_SOURCES,
    example=EXAMPLE,
)
