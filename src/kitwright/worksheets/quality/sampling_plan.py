"""How many must be looked at, and how many may be bad?"""

from __future__ import annotations

from collections.abc import Iterator

from kitwright.calc.quality.acceptance import Lot, Plan, parts_at
from kitwright.calc.quality.plan_design import design, zero_acceptance
from kitwright.calc.quality.random_sample import draw
from kitwright.calc.quality.standard_plans import StandardPlan, standard_plan
from kitwright.errors import InputError, Problem
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Caution, Worksheet
from kitwright.worksheets.quality.sampling_plan_case import (
    CurveRow,
    PointRow,
    RisksAnswer,
    SamplingPlanAnswer,
    SamplingPlanCase,
    TableAnswer,
    lot_of,
    problems,
)

PRODUCERS_RISK = 0.05
CONSUMERS_RISK = 0.10
POINTS = (0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01)
NOT_RULED_OUT = 0.05


def solve(case: SamplingPlanCase) -> SamplingPlanAnswer:
    """Find, read off or take the plan, and say what it does."""
    wrong = list(problems(case))
    if wrong:
        raise InputError.of(wrong)
    lot = lot_of(case)
    plan, read_off = _plan(case, lot)
    sample: list[str] = []
    if case.serials is not None and case.seed is not None:
        sample = draw(case.serials, plan.n, seed=case.seed)
    if case.found is not None and case.found > plan.n:
        raise InputError(
            "found", f"{case.found} bad among {plan.n}", "count the bad parts of the sample"
        )
    peak = plan.outgoing_limit()
    return SamplingPlanAnswer(
        verdict=None if case.found is None else "accept" if case.found <= plan.c else "reject",
        found=case.found,
        n=plan.n,
        c=plan.c,
        lot=lot,
        law="binomial" if lot is None else "hypergeometric",
        risks=_risks(case, plan),
        worst_quality=(None if case.found is None else plan.worst_at(NOT_RULED_OUT, c=case.found)),
        average_outgoing_limit=peak.outgoing,
        average_outgoing_limit_at=peak.quality,
        worst_lot_outgoing=None if lot is None else plan.worst_lot(),
        table=read_off
        and TableAnswer(
            letter=read_off.letter,
            letters=" ".join(read_off.letters),
            n=read_off.n,
            accept=read_off.accept,
            reject=read_off.reject,
            every_part=read_off.every_part,
        ),
        sample=sample,
        seed=case.seed,
        points=[_point(plan, chance) for chance in POINTS],
        curve=[
            CurveRow(
                quality=point.quality,
                bad=point.bad,
                chance_accepted=point.accepted,
                outgoing=point.outgoing,
                inspected=point.inspected,
            )
            for point in plan.curve()
        ],
        assumed=list(_assumed(case, plan)),
        how=_how(case, plan),
    )


def _plan(case: SamplingPlanCase, lot: int | None) -> tuple[Plan, StandardPlan | None]:
    if case.table is not None:
        assert lot is not None
        try:
            read_off = standard_plan(lot, case.table.aql)
        except InputError as error:
            inside = [Problem(each.where, each.given, each.expected) for each in error.problems]
            raise InputError.of([each.within("table") for each in inside]) from None
        return Plan(n=read_off.n, c=read_off.accept, lot=lot), read_off
    if case.plan is not None:
        return Plan(n=case.plan.n, c=case.plan.c, lot=lot), None
    assert case.reject_quality is not None
    consumers = CONSUMERS_RISK if case.consumers_risk is None else case.consumers_risk
    if case.zero_acceptance:
        return (
            zero_acceptance(reject_quality=case.reject_quality, consumers_risk=consumers, lot=lot),
            None,
        )
    assert case.accept_quality is not None
    return (
        design(
            accept_quality=case.accept_quality,
            producers_risk=(PRODUCERS_RISK if case.producers_risk is None else case.producers_risk),
            reject_quality=case.reject_quality,
            consumers_risk=consumers,
            lot=lot,
        ),
        None,
    )


def _risks(case: SamplingPlanCase, plan: Plan) -> RisksAnswer:
    accept = case.accept_quality if case.table is None else case.table.aql / 100
    good = None if accept is None else parts_at(accept, plan.lot)
    reject = case.reject_quality
    poor = None if reject is None else parts_at(reject, plan.lot, up=True)
    return RisksAnswer(
        accept_quality=accept,
        accept_bad=good.bad if isinstance(good, Lot) else None,
        producers_risk=None if good is None else good.chances(plan.n, plan.c)[1],
        reject_quality=reject,
        reject_bad=poor.bad if isinstance(poor, Lot) else None,
        consumers_risk=None if poor is None else poor.chances(plan.n, plan.c)[0],
    )


def _point(plan: Plan, chance: float) -> PointRow:
    quality = plan.worst_at(chance)
    bad = None if plan.lot is None else round(quality * plan.lot)
    return PointRow(chance_accepted=chance, quality=quality, bad=bad)


def _assumed(case: SamplingPlanCase, plan: Plan) -> Iterator[str]:
    designed = case.plan is None and case.table is None
    if designed and case.consumers_risk is None:
        yield f"The consumer's risk is {CONSUMERS_RISK:g}."
    if designed and not case.zero_acceptance and case.producers_risk is None:
        yield f"The producer's risk is {PRODUCERS_RISK:g}."
    if plan.lot is None:
        yield "The parts are a stream without end; give the lot where there is one."
    elif case.table or case.accept_quality is not None or case.reject_quality is not None:
        yield (
            "Of the share to accept the lot holds the whole number of bad parts below, of the "
            "share to reject the one above."
        )
    if case.table is not None and "level" not in case.table.model_fields_set:
        yield "The general inspection level is II, the inspection normal."
    yield "The sample is drawn at random from all parts, and every bad part in it is seen as bad."
    yield (
        "Outgoing quality: every part of a rejected lot is looked at, and each bad part found is "
        "replaced by a good one."
    )


def _how(case: SamplingPlanCase, plan: Plan) -> str:
    law = "hypergeometric (one lot)" if plan.lot is not None else "binomial (no lot)"
    if case.table is not None:
        found = "Code letter and plan from the tables for single sampling, normal inspection"
    elif case.plan is not None:
        found = "The plan as given"
    elif case.zero_acceptance:
        found = (
            "The least sample without a bad part that keeps the consumer's risk; the chance of "
            "accepting falls as the sample grows"
        )
    else:
        found = (
            "The least sample that keeps both risks, and of its numbers allowed the least: for "
            "each number allowed the least sample that keeps the consumer's risk is larger than "
            "for the number before, so the first that keeps the producer's too is the least of all"
        )
    return (
        f"{found}. The bad parts in a sample are {law}; a chance that comes near its bound is "
        "compared in whole numbers."
    )


def say(answer: SamplingPlanAnswer, lead: Lead) -> str:
    """What to draw and when to accept, or what was decided."""
    allowed = f"{answer.c} {'is' if answer.c == 1 else 'are'} allowed"
    if answer.c == 0:
        allowed = "none is allowed"
    if answer.verdict is not None:
        word = "Accept" if answer.verdict == "accept" else "Reject"
        bad = "no bad part" if answer.found == 0 else f"{answer.found} bad"
        return f"{word} the lot: {bad} among {answer.n}, and {allowed}."
    if answer.n == answer.lot:
        taken = f"Look at every one of the {answer.n} parts"
    else:
        parts = "part" if answer.n == 1 else "parts"
        of = "" if answer.lot is None else f" of {answer.lot}"
        taken = f"Look at {answer.n} {parts}{of}, drawn at random"
    if answer.c == 0:
        return f"{taken}; accept when none is bad."
    return f"{taken}; accept when {answer.c} or fewer are bad, reject at {answer.c + 1}."


WORKSHEET = Worksheet(
    heading=heading("sampling-plan"),
    case=SamplingPlanCase,
    answer=SamplingPlanAnswer,
    solve=solve,
    say=say,
    cautions=(
        Caution(
            "WARNING",
            "A sampling plan lets bad parts through: that is what its curve says. Measure every "
            "part in whatever can hurt someone when it is wrong.",
        ),
    ),
    sources=(
        "ISO 2859-1:1999, Sampling procedures for inspection by attributes, Tables 1 and 2-A",
        "MIL-STD-105E (1989), Tables I and II-A (the same plans)",
        "Guenther, Journal of Quality Technology 1 (1969) 105-113 (plans from two points)",
        "NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.3 (OC, AOQ and ATI curves)",
        "Clopper and Pearson, Biometrika 26 (1934) 404-413 (what a sample does not rule out)",
    ),
    example="""
# Dowels for the next sixty kits: how many to measure before they go into stock?
lot = 60
accept_quality = 0.02     # a lot with this share bad should be accepted,
producers_risk = 0.05     # and is rejected at most this often
reject_quality = 0.15     # a lot with this share bad should be rejected,
consumers_risk = 0.10     # and is accepted at most this often

# Instead of qualities and risks: a plan of your own, or the tables of ISO 2859-1.
# plan = {n = 13, c = 0}
# table = {level = "II", aql = 2.5}
# Or no bad part allowed: zero_acceptance = true, with reject_quality and consumers_risk alone.

# To have the sample drawn, list the lot and give any whole number; it draws the same again.
# serials = ["D-001", "D-002", "D-003"]
# seed = 20
# found = 0               # bad parts found in the sample
""",
)
