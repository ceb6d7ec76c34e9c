"""May this value be accepted, given how well it was measured?"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from pydantic import Field

from kitwright.calc.quality.conformity import (
    GUARD_IN_U95,
    Prior,
    Rule,
    Verdict,
    chance_given_process,
    decide_length,
    process_risks,
)
from kitwright.units import Lead, show_length
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import (
    Answer,
    AnswerPart,
    Case,
    Chance,
    Length,
    Part,
    PositiveSize,
    Size,
    shown,
)
from kitwright.worksheets.quality.limits import Limits


class Process(Part):
    """What is known of the process before this measurement, from earlier parts."""

    mean: Length = Field(description="Mean of the process")
    sigma: PositiveSize = Field(description="Standard deviation of the process")


class ConformityCase(Case):
    """One measured value against its limits."""

    value: Length = Field(description="Measured value")
    u95: Size = Field(description="Its expanded uncertainty (k = 2)")
    limits: Limits = Field(description="Limits on the drawing")
    rule: Rule = Field(default="guard by U", description="Guard")
    prior: Process | None = Field(default=None, description="The process, where it is known")


class LimitsAnswer(AnswerPart):
    """Limits in mm; null where there is none."""

    low_mm: float | None = shown("Low")
    high_mm: float | None = shown("High")


class Risks(AnswerPart):
    """What a decision risks, on this part and over all parts of the process."""

    users_here_chance: Chance = shown("Users', if this part is accepted")
    makers_here_chance: Chance = shown("Makers', if this part is refused")
    users_chance: Chance = shown("Users', of all parts: called within, does not conform")
    makers_chance: Chance = shown("Makers', of all parts: conforms, not called within")


class AllParts(AnswerPart):
    """How the process and this measurement divide all parts."""

    conforming_chance: Chance = shown("Conforming")
    within_chance: Chance = shown("Called within")
    undecided_chance: Chance = shown("Too close to call")
    outside_chance: Chance = shown("Called outside")


class ConformityAnswer(Answer):
    """The verdict, and how sure it is."""

    verdict: Verdict = shown("Verdict")
    value_mm: float = shown("Measured value", u95="u95_mm")
    u95_mm: float = shown("Expanded uncertainty")
    limits: LimitsAnswer = shown("Limits")
    guard_mm: float = shown("Guard")
    guarded_limits: LimitsAnswer = shown("Guarded limits")
    chance_conforms: Chance = shown("Chance that the part conforms")
    chance_outside: Chance = shown("Chance that it does not")
    chance_conforms_given_process: Chance | None = shown(
        "Chance that it conforms, knowing the process"
    )
    risks: Risks | None = shown("Risk")
    all_parts: AllParts | None = shown("Of all parts")


def solve(case: ConformityCase) -> ConformityAnswer:
    """Decide the case."""
    value, u95 = case.value.mm, case.u95.mm
    low, high = case.limits.low, case.limits.high
    low_mm, high_mm = -inf if low is None else low.mm, inf if high is None else high.mm
    decided = decide_length(value, u95=u95, low=low_mm, high=high_mm, rule=case.rule)
    guard = GUARD_IN_U95[case.rule] * u95
    posterior, risks, all_parts = None, None, None
    if case.prior is not None:
        prior = Prior(mean=case.prior.mean.mm, sigma=case.prior.sigma.mm)
        measured = {"u95": u95, "low": low_mm, "high": high_mm}
        conforms, misses = chance_given_process(value, prior=prior, **measured)
        process = process_risks(guard=guard, prior=prior, **measured)
        posterior = conforms.item()
        risks = Risks(
            users_here_chance=misses.item(),
            makers_here_chance=posterior,
            users_chance=process.users,
            makers_chance=process.makers,
        )
        all_parts = AllParts(
            conforming_chance=process.conforms,
            within_chance=process.within,
            undecided_chance=process.undecided,
            outside_chance=process.outside,
        )
    return ConformityAnswer(
        verdict=decided.verdicts.item(),
        value_mm=value,
        u95_mm=u95,
        limits=_limits(low_mm, high_mm),
        guard_mm=guard,
        guarded_limits=_limits(decided.guarded_low.item(), decided.guarded_high.item()),
        chance_conforms=decided.chance_conforms.item(),
        chance_outside=decided.chance_outside.item(),
        chance_conforms_given_process=posterior,
        risks=risks,
        all_parts=all_parts,
        assumed=list(_assumed(case)),
        how=(
            f"{case.rule[:1].upper()}{case.rule[1:]}: within inside both limits drawn in by the "
            "guard, outside beyond a limit drawn out by it, too close to call between; a limit "
            "includes its own value. The chance is that of a normal true value about the measured "
            "one, between the limits of the drawing."
        ),
    )


def _limits(low: float, high: float) -> LimitsAnswer:
    return LimitsAnswer(low_mm=None if low == -inf else low, high_mm=None if high == inf else high)


def _assumed(case: ConformityCase) -> Iterator[str]:
    if "rule" not in case.model_fields_set:
        yield "The guard is the whole expanded uncertainty (ISO 14253-1 as it stood to 2013)."
    yield "The expanded uncertainty has k = 2; the true value is normal about the measured one."
    if case.prior is None:
        yield "Nothing is known of the process before this measurement."
    else:
        yield "The process is normal, with the mean and sigma given."


def say(answer: ConformityAnswer, lead: Lead) -> str:
    """What to do with the part."""
    value = show_length(answer.value_mm, lead=lead, uncertainty_mm=answer.u95_mm).leading
    if answer.verdict == "within":
        return f"Accept it: {value} is within the limits, its uncertainty allowed for."
    if answer.verdict == "outside":
        return f"Refuse it: {value} is outside the limits, its uncertainty allowed for."
    # How far inside each limit the value lies; below zero it is beyond.
    inside = [
        (side * (limit - answer.value_mm), name)
        for side, limit, name in (
            (-1, answer.limits.low_mm, "low"),
            (1, answer.limits.high_mm, "high"),
        )
        if limit is not None
    ]
    distance, name = min(inside)
    apart = show_length(abs(distance), lead=lead).leading
    guard = show_length(answer.guard_mm, lead=lead).leading
    said = (
        f"Too close to call: {value} is {apart} {'inside' if distance >= 0 else 'beyond'} the "
        f"{name} limit, and the guard is {guard}."
    )
    low, high = answer.guarded_limits.low_mm, answer.guarded_limits.high_mm
    if low is not None and high is not None and low > high:
        return f"{said} With this uncertainty no value can be called within: measure it better."
    return f"{said} Measure it better, or leave it to the shop's rule for undecided parts."


WORKSHEET = Worksheet(
    heading=heading("conformity"),
    case=ConformityCase,
    answer=ConformityAnswer,
    solve=solve,
    say=say,
    sources=(
        "JCGM 106:2012, The role of measurement uncertainty in conformity assessment",
        "ISO 14253-1:1998 and 2013 (three outcomes; the guard is the expanded uncertainty)",
        "ISO 14253-1:2017 (a chance of 95 % at one limit: the guard is 1.645 u)",
    ),
    example="""
# A bell's depth against the drawing. Every length says its unit.
value = "158.012 mm"                 # as measured
u95 = "0.010 mm"                     # its expanded uncertainty, k = 2
limits = {low = "157.975 mm", high = "158.025 mm"}    # either may be left out

rule = "guard by U"                  # or "guard by 1.645 u" (ISO 14253-1:2017)

# What is known of the process, from earlier parts; leave it out where nothing is.
prior = {mean = "158.002 mm", sigma = "0.009 mm"}
""",
)
