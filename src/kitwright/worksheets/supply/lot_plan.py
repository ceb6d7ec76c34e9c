"""When to send castings, and how many?"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

from kitwright.calc.supply.lot_plan import Cheapest, Method, cheapest_plan, sureness
from kitwright.calc.supply.lot_rules import Rule, rules
from kitwright.calc.supply.lots import LotCase, LotPlan
from kitwright.money import ROUNDING, to_minor
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import Price, one_currency
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.supply.lot_plan_case import (
    LotPlanAnswer,
    LotPlanCase,
    PeriodRow,
    RuleRow,
    exact,
)

_SAID: Final = 3
_UNSURE: Final = 0.05

_HOW: Final[dict[Method, str]] = {
    "lots of any size": (
        "The recursion of Wagner and Whitin over the period of the last lot, in whole numbers: "
        "its plan is the cheapest of all, and keeps to what lots may be."
    ),
    "every sum sent": (
        "For each period the cheapest way to every number of castings that could have been sent "
        "by then, in whole numbers: no plan is left out."
    ),
    "mixed-integer programme": (
        "A mixed-integer programme that says which lot serves which demand, closed by branch and "
        "bound; the plan's own cost is worked out exactly."
    ),
}


def solve(case: LotPlanCase) -> LotPlanAnswer:
    """Find the plan."""
    taken, currency = lots_of(case)
    found = cheapest_plan(taken)
    plan = found.plan
    total = _minor(plan, currency)
    bound = total if found.exact else min(total, to_minor(found.bound, currency))
    return LotPlanAnswer(
        lots=sum(1 for each in plan.send if each),
        castings=_number(sum(plan.send, Fraction(0))),
        total_cost=Price.of_minor(total, currency),
        set_up_total=Price.of(plan.set_up_cost, currency),
        holding_total=Price.of(plan.holding_cost, currency),
        proven=found.exact or bound == total,
        bound=Price.of_minor(bound, currency),
        gap=Price.of_minor(total - bound, currency),
        periods=list(_periods(plan)),
        rules=[_rule(rule, total, currency) for rule in rules(taken)],
        assumed=list(_assumed(case, found)),
        how=_HOW[found.method],
    )


def lots_of(case: LotPlanCase) -> tuple[LotCase, str]:
    """The case as `calc` takes it, in exact numbers, and its currency."""
    count = len(case.demand)
    currency = one_currency(*case.set_up_cost, case.holding_cost, where="holding_cost")
    set_up = case.set_up_cost * (count if len(case.set_up_cost) == 1 else 1)
    capacity = case.capacity
    if capacity is not None and len(capacity) == 1:
        capacity = capacity * count
    taken = LotCase(
        demand=tuple(map(exact, case.demand)),
        set_up=tuple(each.amount.exact for each in set_up),
        holding=case.holding_cost.amount.exact,
        good_share=exact(1.0 if case.share_good is None else case.share_good),
        on_hand=exact(case.on_hand or 0.0),
        capacity=None if capacity is None else tuple(map(exact, capacity)),
        least=exact(case.minimum_lot or 0.0),
        step=_step(case.whole),
    )
    return taken, currency


def _step(whole: bool | int | None) -> int | None:
    if isinstance(whole, bool):
        return 1 if whole else None
    return whole


def _minor(plan: LotPlan, currency: str) -> int:
    """The plan's cost in smallest units: its lots', and its stock's rounded once."""
    return to_minor(plan.set_up_cost, currency) + to_minor(plan.holding_cost, currency)


def _number(amount: Fraction) -> float | int:
    return amount.numerator if amount.denominator == 1 else float(amount)


def _periods(plan: LotPlan) -> Iterator[PeriodRow]:
    for number, (demand, send, good, left, chances) in enumerate(
        zip(plan.case.demand, plan.send, plan.good, plan.left, sureness(plan), strict=True), start=1
    ):
        yield PeriodRow(
            period=number,
            demand=_number(demand),
            send=_number(send),
            good=_number(good),
            left=_number(left),
            chance_short=chances.below_mean,
            chance_unmet=chances.unmet,
        )


def _rule(rule: Rule, total: int, currency: str) -> RuleRow:
    if rule.plan is None:
        return RuleRow(rule=rule.name, lots=None, total_cost=None, extra_cost=None)
    cost = _minor(rule.plan, currency)
    return RuleRow(
        rule=rule.name,
        lots=sum(1 for each in rule.plan.send if each),
        total_cost=Price.of_minor(cost, currency),
        extra_cost=Price.of_minor(cost - total, currency),
    )


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _assumed(case: LotPlanCase, found: Cheapest) -> Iterator[str]:
    if case.share_good is None:
        yield "Every casting comes out good (yield 1)."
    else:
        yield "Castings come out good one as often as another, and demand is met on the mean."
    if case.on_hand is None:
        yield "No bell is on hand at the start."
    if not case.whole:
        yield "A lot may hold part of a casting; whole = true, or a crate's castings, forbids it."
    yield "What a period's lot brings is there for that period's demand, and nothing is owed."
    yield "What is left at the end of the last period is paid for that period and no longer."
    if not found.exact:
        yield "The bound is a floating-point number, good to about nine figures."
    yield (
        "The economic order quantity takes the mean demand and the mean cost of a lot; its last "
        "lot may leave bells over."
    )
    yield ROUNDING


def say(answer: LotPlanAnswer, lead: Lead) -> str:
    """What to send first, what it costs, and whether it is the least."""
    sent = [row for row in answer.periods if row.send]
    cost, count = answer.total_cost.text, len(answer.periods)
    if not sent:
        return f"Send nothing: what is on hand meets every period, and keeping it costs {cost}."
    listed = [f"{_said(row.send)} in period {row.period}" for row in sent[:_SAID]]
    more = len(sent) - len(listed)
    if more:
        listed.append(f"{more} more {'lots' if more > 1 else 'lot'} after")
    lots = listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}"
    over = f"over {count} periods" if count > 1 else "for the period"
    said = f"Send {lots}: {cost} {over}"
    if answer.proven:
        said += ", and no plan costs less."
    else:
        said += f"; another plan could save {answer.gap.text} at most."
    unsure = [row for row in sent if (row.chance_unmet or 0) > _UNSURE]
    if unsure:
        worst = max(unsure, key=lambda row: row.chance_unmet or 0)
        said += (
            f" The lot of period {worst.period} brings fewer good bells than needed "
            f"{say_chance(worst.chance_unmet or 0)} of the time: send more, or expect to wait."
        )
    return said


def _said(amount: Any) -> str:
    return f"{amount:.12g}" if isinstance(amount, int) else f"{amount:.2f}"


WORKSHEET = Worksheet(
    heading=heading("lot-plan"),
    case=LotPlanCase,
    answer=LotPlanAnswer,
    solve=solve,
    say=say,
    sources=(
        "H. M. Wagner, T. M. Whitin, Management Science 5 (1958) 89-96 (lots of any size)",
        "R. Bellman, Dynamic Programming, Princeton 1957, chapter I (every sum sent)",
        "J. Krarup, O. Bilde, Numerische Methoden bei Optimierungsaufgaben 3 (1977) 155-180",
        "Q. Huangfu, J. A. J. Hall, Mathematical Programming Computation 10 (2018) 119-142 (HiGHS)",
        "F. W. Harris, Factory 10 (1913) 135-136 (economic order quantity)",
        "E. A. Silver, H. C. Meal, Production and Inventory Management 14 (1973) 64-74",
        "J. J. DeMatteis, A. G. Mendoza, IBM Systems Journal 7 (1968) 30-46 (part periods)",
        "S. Nahmias, Production and Operations Analysis (the rules side by side)",
    ),
    example="""
# When to send castings to the machinist, and how many? A period is whatever you plan in: a week.
# Good bells wanted, by period:
demand = [6, 8, 5, 9, 12, 10, 7, 8, 11, 14, 12, 9]

# What one lot costs whatever its size: the machinist's set-up, the haul. Or a list, by period.
set_up_cost = {amount = "420.00", currency = "USD"}

# What one bell left at a period's end costs: money tied up, room, cover.
holding_cost = {amount = "3.80", currency = "USD"}

on_hand = 4                          # good bells today
yield = 0.92                         # of castings sent, so many come back good, on the mean
whole = 6                            # crates of six; true for whole castings
capacity = 30                        # castings that the machinist takes a period; or a list
# minimum_lot = 12                   # castings below which he does not set up
""",
)
