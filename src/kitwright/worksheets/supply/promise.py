"""Which day can be held, and how surely?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.supply.days import triangle
from kitwright.calc.supply.lateness import PRIOR_MEAN, PRIOR_SPREAD
from kitwright.calc.supply.promise import Needed, Promise, promise
from kitwright.errors import InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.supply.batches_coming import (
    YIELD_UNKNOWN,
    BatchPart,
    in_turn,
    learned,
    yield_of,
)
from kitwright.worksheets.supply.promise_case import (
    EXAMPLE,
    BringsRow,
    DayRow,
    PromiseAnswer,
    PromiseCase,
    RestsRow,
)

CHANCE: Final = 0.9
SHELF: Final = "the shelf"
_STILL: Final = 0.002
_ROWS: Final = (0.5, 0.75, 0.9, 0.95, 0.99)
_HOW: Final = (
    "Bells come from the shelf, then from the batches, each on a day of its own law and with a "
    "number of good bells of its own law; the chance that enough are here by a day is exact. The "
    "chances of the other parts multiply with it."
)
_SOURCES: Final = (
    "Skellam, Journal of the Royal Statistical Society B 10 (1948) 257-261: the beta-binomial.",
    "Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), 3.3: the law of the next lateness.",
)


def solve(case: PromiseCase) -> PromiseAnswer:
    """Find the earliest day that holds."""
    wanted = CHANCE if case.chance is None else case.chance
    found = promise(
        ahead=case.ahead,
        on_shelf=case.on_shelf,
        coming=learned(case.batches, case.yield_history, case.today),
        needed=list(_needed(case)),
        wanted=wanted,
    )
    return PromiseAnswer(
        day=_on(case.today, found.day),
        chance=found.chance,
        chance_wanted=wanted,
        bell_day=_first(case.today, found.bell, wanted),
        parts_day=_first(case.today, found.parts, wanted),
        slowest=None if found.day == 0 else found.slowest or "the bell",
        chance_good=yield_of(case.yield_history).mean if case.batches else None,
        rests_on=[RestsRow(what=each) for each in _rests_on(case, found)],
        brings=[
            BringsRow(source=name or SHELF, chance=min(1.0, chance))
            for name, chance in found.brings
            if chance > 1e-6
        ],
        days=list(_days(case.today, found.ready)),
        chances=_rising(found.ready),
        assumed=list(_assumed(case)),
        how=_HOW,
    )


def _needed(case: PromiseCase) -> Iterator[Needed]:
    for place, part in enumerate(case.parts_short):
        try:
            arrives = triangle(part.least, part.likely, part.most)
        except InputError:
            told = f"{part.least}, {part.likely}, {part.most}"
            where = f"parts_short[{place}]"
            raise InputError(where, told, "give least, likely and most in that order") from None
        yield Needed(name=part.name, arrives=arrives)


def _on(today: date, day: int | None) -> date | None:
    return None if day is None else today + timedelta(days=day)


def _first(today: date, ready: Floats, wanted: float) -> date | None:
    held = np.flatnonzero(ready >= wanted - 1e-12)
    return _on(today, int(held[0]) if len(held) else None)


def _days(today: date, ready: Floats) -> Iterator[DayRow]:
    """The first days that hold with chances people ask for, each once."""
    seen = set[int]()
    for share in _ROWS:
        held = np.flatnonzero(ready >= share - 1e-12)
        if not len(held) or int(held[0]) in seen:
            continue
        day = int(held[0])
        seen.add(day)
        yield DayRow(day=today + timedelta(days=day), chance=float(ready[day]))


def _rising(ready: Floats) -> list[float]:
    """Day by day until nothing more is to come of it."""
    still = np.flatnonzero(ready[-1] - ready > _STILL)
    return [float(chance) for chance in ready[: int(still[-1]) + 2 if len(still) else 1]]


def _rests_on(case: PromiseCase, found: Promise) -> Iterator[str]:
    """In words, what the day rests on."""
    if case.on_shelf > case.ahead:
        free = _counted(case.on_shelf, "free bell")
        yield f"{free} on the shelf, {_counted(case.ahead, 'order')} before this one"
    else:
        short = case.ahead + 1 - case.on_shelf
        yield (
            f"{_counted(short, 'good bell')} still to come before this order has its own: "
            f"{_counted(case.ahead, 'order')} before it, {_counted(case.on_shelf, 'bell')} free"
        )
        brings = dict(found.brings)
        for each in in_turn(case.batches):
            chance = brings.get(each.name, 0.0)
            if chance <= 1e-6:
                continue
            yield (
                f"batch {each.name}, {_counted(each.count, 'bell')} {_when(each, case.today)}, "
                f"brings it with {say_chance(min(1.0, chance))}; {_known(each)}"
            )
        if case.batches:
            law_good = yield_of(case.yield_history)
            yield (
                f"{law_good.mean * 100:.0f} % of a batch is good, going by "
                f"{_counted(law_good.bells, 'bell')} of "
                f"{_counted(law_good.batches, 'batch', 'batches')}"
            )
        elif case.on_shelf <= case.ahead:
            yield "no batch is under way that could bring one"
    for part in case.parts_short:
        yield f"{part.name}, {part.least} to {part.most} days, most likely {part.likely}"


def _when(batch: BatchPart, today: date) -> str:
    if batch.back:
        return "back already"
    return f"due {batch.due.isoformat()}{', overdue' if batch.due < today else ''}"


def _known(batch: BatchPart) -> str:
    if batch.back:
        return f"{_counted(batch.days_to_inspect, 'day')} to inspect them"
    overdue = len(batch.others_overdue)
    if not overdue:
        return _came(batch)
    others = "another of his is overdue" if overdue == 1 else f"{overdue} others of his are overdue"
    return f"{_came(batch)}, and {others}"


def _came(batch: BatchPart) -> str:
    if not batch.days_late:
        return "nothing is known of this machinist's days"
    came = _counted(len(batch.days_late), "batch", "batches")
    mean = round(sum(batch.days_late) / len(batch.days_late))
    if mean == 0:
        return f"{came} of this machinist came on the day, on average"
    late = f"{_counted(abs(mean), 'day')} {'late' if mean > 0 else 'early'}"
    return f"{came} of this machinist came {late}, on average"


def _counted(count: int, what: str, many: str = "") -> str:
    return f"{count} {what}" if count == 1 else f"{count} {many or what + 's'}"


def _assumed(case: PromiseCase) -> Iterator[str]:
    if case.chance is None:
        yield f"chance: {CHANCE:.0%} is what a day must hold with"
    if not all(each.back for each in case.batches):
        yield (
            f"before anything is known of a machinist his batches are {PRIOR_MEAN:.0f} days late, "
            f"give or take {PRIOR_SPREAD:.0f} (common practice, no source)"
        )
    if case.batches:
        yield "batches come and turn out apart from each other"
        if not case.yield_history:
            yield f"yield_history: {YIELD_UNKNOWN}"
    if not case.parts_short:
        yield "parts_short: every other part of the kit is here"
    yield "orders are served in their sequence"


def say(answer: PromiseAnswer, lead: Lead) -> str:
    """The sentence to the buyer."""
    if answer.day is None or answer.chance is None:
        return (
            f"No day within two years can be held with {answer.chance_wanted:.0%}: promise none "
            "until a batch is planned."
        )
    return f"Promise {answer.day.isoformat()}; it holds with {say_chance(answer.chance)}."


WORKSHEET = Worksheet(
    heading=heading("promise"),
    case=PromiseCase,
    answer=PromiseAnswer,
    solve=solve,
    say=say,
    sources=_SOURCES,
    example=EXAMPLE,
)
