"""Does the stack close?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final, Literal

from kitwright.calc.depth.axial_budget import AxialBudget, Term, axial_budget
from kitwright.calc.depth.links import SIGMAS_TO_LIMIT, Link
from kitwright.calc.depth.stack_simulation import Drawn, Wanted, simulate
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, show_length
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Caution, Worksheet
from kitwright.worksheets.depth.axial_budget_case import (
    AxialBudgetCase,
    LinkPart,
    Sense,
    faults,
)
from kitwright.worksheets.depth.axial_budget_example import EXAMPLE
from kitwright.worksheets.depth.limits import Gap, GapAnswer
from kitwright.worksheets.fields import Answer, AnswerPart, Chance, shown
from kitwright.worksheets.showing import say_chance

SEED: Final = 31


class ContributionRow(AnswerPart):
    """One link's part in the whole."""

    name: str = shown("Link")
    sigma_mm: float = shown("Sigma")
    share: float = shown("Share of the variance")
    chance_outside_without: Chance = shown("Outside, were it always at its mean")


class RequirementRow(AnswerPart):
    """Another gap of the same stack."""

    name: str = shown("Requirement")
    gap: GapAnswer = shown("Limits")
    nominal_mm: float = shown("Nominal")
    worst_case_mm: tuple[float, float] = shown("Worst case")
    rss_mm: tuple[float, float] = shown("Root sum square")
    mean_mm: float = shown("Mean", hidden=True)
    sigma_mm: float = shown("Sigma")
    chance_within: Chance = shown("Within")
    chance_below: Chance = shown("Below")
    chance_above: Chance = shown("Above")
    most_from: str = shown("Most of the spread from")
    contributions: list[ContributionRow] = shown("Contributions", hidden=True)


class Together(AnswerPart):
    """The gap and all other requirements at once; they share links, so chances do not multiply."""

    chance_least: Chance = shown("Chance at least")
    chance_most: Chance = shown("Chance at most")
    chance_drawn: Chance | None = shown("Of the stacks drawn", optional=True)


class Simulation(AnswerPart):
    """Stacks drawn at random, as a check on the exact chance."""

    draws: int = shown("Stacks")
    seed: int = shown("Seed")
    chance_within: Chance = shown("Share within")
    errors_apart: float = shown("Standard errors from the exact chance")


class AxialBudgetAnswer(Answer):
    """What the stack closes to, and how often that is within the limits."""

    chance_within: Chance = shown("Stacks within the limits")
    chance_outside: Chance = shown("Stacks outside the limits")
    chance_below: Chance = shown("Below the low limit")
    chance_above: Chance = shown("Above the high limit")
    gap: GapAnswer = shown("Limits")
    nominal_mm: float = shown("Nominal")
    worst_case_mm: tuple[float, float] = shown("Worst case")
    rss_mm: tuple[float, float] = shown("Root sum square")
    mean_mm: float = shown("Mean")
    sigma_mm: float = shown("Sigma")
    percentiles_mm: dict[str, float] = shown("Per cent of stacks stay below this")
    contributions: list[ContributionRow] = shown("Contributions")
    requirements: list[RequirementRow] = shown("Other requirements")
    together: Together | None = shown("All requirements together", optional=True)
    simulation: Simulation | None = shown("Drawn at random", optional=True)
    method: Literal["exact"] = shown("Method")
    standard_error: float = shown("Bound on the error of the chances")


def solve(case: AxialBudgetCase) -> AxialBudgetAnswer:
    """Add the case up."""
    problems = list(faults(case))
    if problems:
        raise InputError.of(problems)
    links = _links(case)
    main = {link.name: link.sense for link in case.links if link.sense is not None}
    found = _budget(links, main, case.gap)
    rows = []
    for each in case.requirements:
        senses = {part.name: part.sense for part in each.links}
        rows.append(_requirement(each.name, each.gap, _budget(links, senses, each.gap)))
    drawn = _drawn(case, links, main)
    return AxialBudgetAnswer(
        chance_within=found.chance_within,
        chance_outside=found.chance_outside,
        chance_below=found.chance_below,
        chance_above=found.chance_above,
        gap=GapAnswer.of(case.gap),
        nominal_mm=found.nominal,
        worst_case_mm=found.worst_case,
        rss_mm=found.rss,
        mean_mm=found.mean,
        sigma_mm=found.sigma,
        percentiles_mm=dict(found.percentiles),
        contributions=_contributions(found),
        requirements=rows,
        together=_together(found, rows, drawn),
        simulation=_simulation(found, drawn),
        method="exact",
        standard_error=found.error,
        assumed=list(_assumed(case)),
        how=(
            f"The chances by {found.way}; what that leaves out is bounded and told. The worst case "
            "has every link at the limit that hurts; the root sum square is about the middles of "
            "the limits."
        ),
    )


def _links(case: AxialBudgetCase) -> dict[str, Link]:
    links: dict[str, Link] = {}
    problems: list[Problem] = []
    for number, part in enumerate(case.links):
        try:
            links[part.name] = _link(part)
        except InputError as error:
            problems += [problem.within(f"links[{number}]") for problem in error.problems]
    if problems:
        raise InputError.of(problems)
    return links


def _link(part: LinkPart) -> Link:
    return Link(
        nominal=part.nominal.mm,
        plus=part.plus.mm,
        minus=part.minus.mm,
        spread=part.spread,
        cpk=part.cpk,
        process_mean=None if part.mean is None else part.mean.mm,
    )


def _budget(links: Mapping[str, Link], senses: Mapping[str, Sense], gap: Gap) -> AxialBudget:
    chain = {name: Term(link=links[name], sense=sense) for name, sense in senses.items()}
    return axial_budget(chain, low=gap.low_mm, high=gap.high_mm)


def _contributions(found: AxialBudget) -> list[ContributionRow]:
    return [
        ContributionRow(
            name=each.name,
            sigma_mm=each.sigma,
            share=each.share,
            chance_outside_without=each.chance_outside_without,
        )
        for each in found.contributions
    ]


def _requirement(name: str, gap: Gap, found: AxialBudget) -> RequirementRow:
    most = max(found.contributions, key=lambda each: each.share)
    return RequirementRow(
        name=name,
        gap=GapAnswer.of(gap),
        nominal_mm=found.nominal,
        worst_case_mm=found.worst_case,
        rss_mm=found.rss,
        mean_mm=found.mean,
        sigma_mm=found.sigma,
        chance_within=found.chance_within,
        chance_below=found.chance_below,
        chance_above=found.chance_above,
        most_from=most.name if most.share > 0 else "none of them",
        contributions=_contributions(found),
    )


def _drawn(
    case: AxialBudgetCase, links: Mapping[str, Link], main: Mapping[str, Sense]
) -> Drawn | None:
    if case.draws is None:
        return None
    wanted = [Wanted(senses=main, low=case.gap.low_mm, high=case.gap.high_mm)]
    for each in case.requirements:
        senses = {part.name: part.sense for part in each.links}
        wanted.append(Wanted(senses=senses, low=each.gap.low_mm, high=each.gap.high_mm))
    seed = SEED if case.seed is None else case.seed
    return simulate(links, wanted, draws=case.draws, seed=seed)


def _together(
    found: AxialBudget, rows: list[RequirementRow], drawn: Drawn | None
) -> Together | None:
    """At least one minus the sum of what each misses (Boole), at most the least of them."""
    if not rows:
        return None
    misses = found.chance_outside + sum(row.chance_below + row.chance_above for row in rows)
    return Together(
        chance_least=max(0.0, 1 - misses),
        chance_most=min([found.chance_within, *(row.chance_within for row in rows)]),
        chance_drawn=None if drawn is None else drawn.within_all,
    )


def _simulation(found: AxialBudget, drawn: Drawn | None) -> Simulation | None:
    if drawn is None:
        return None
    apart = drawn.within[0] - found.chance_within
    error = drawn.standard_error(found.chance_within)
    return Simulation(
        draws=drawn.draws,
        seed=drawn.seed,
        chance_within=drawn.within[0],
        errors_apart=apart / error if error > 0 else 0.0,
    )


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _assumed(case: AxialBudgetCase) -> Iterator[str]:
    yield "The links are independent of each other."
    unsaid = [link.name for link in case.links if "spread" not in link.model_fields_set]
    if unsaid:
        yield f"Normal: {', '.join(unsaid)}."
    normal = [link for link in case.links if link.spread == "normal"]
    rough = [link.name for link in normal if link.cpk is None]
    if rough:
        yield f"The half-width is {SIGMAS_TO_LIMIT:.0f} sigma: {', '.join(rough)}."
    middle = [link.name for link in normal if link.mean is None]
    if middle:
        yield f"The mean lies in the middle of the limits: {', '.join(middle)}."
    if normal:
        yield "A normal link is not cut at its limits: a few parts lie beyond them."
    if case.draws is not None and case.seed is None:
        yield f"The seed of the drawing is {SEED}."


def say(answer: AxialBudgetAnswer, lead: Lead) -> str:
    """How many stacks do not close, and what to do about it."""
    within = answer.gap.said(lead)
    outside = answer.chance_outside
    if outside == 0:
        low, high = (show_length(mm, lead=lead).leading for mm in answer.worst_case_mm)
        said = f"The stack always closes: at worst it comes to {low} or {high}, within {within}."
    else:
        side = "below" if answer.chance_below >= answer.chance_above else "above"
        most = max(answer.contributions, key=lambda each: each.share)
        said = (
            f"{_how_many(outside)} would not close: {say_chance(answer.chance_within)} come to "
            f"{within}, and the others mostly lie {side}."
        )
        if most.share > 0:
            said += f" Most of the spread is from {most.name} ({say_chance(most.share)})."
    if answer.requirements:
        worst = min(answer.requirements, key=lambda row: row.chance_within)
        others = "Of the other requirements" if len(answer.requirements) > 1 else "Of the other,"
        others += f" {worst.name}" + (" fares worst" if len(answer.requirements) > 1 else "")
        said += f" {others}: {say_chance(worst.chance_within)} within {worst.gap.said(lead)}."
    return said


def _how_many(outside: float) -> str:
    if outside < 1e-6:
        return "Fewer than 1 stack in a million"
    if outside < 0.01:
        count = 1 / outside
        step = 10 ** max(0, math.floor(math.log10(count)) - 1)
        return f"About 1 stack in {round(count / step) * step}"
    if outside > 0.995:
        return "Nearly every stack"
    stacks = round(100 * outside)
    return f"About {stacks} stack{'s' if stacks > 1 else ''} in 100"


WORKSHEET = Worksheet(
    heading=heading("axial-budget"),
    case=AxialBudgetCase,
    answer=AxialBudgetAnswer,
    solve=solve,
    say=say,
    sources=(
        "R. Lugannani and S. Rice, Advances in Applied Probability 12 (1980) 475-490 (tails)",
        "L. N. Trefethen and J. A. C. Weideman, SIAM Review 56 (2014) 385-458 (trapezoidal rule)",
        "W. Feller, An Introduction to Probability Theory II (1971), I.9 (sums of even spreads)",
        "JCGM 101:2008, 6.4 (even and triangular spreads)",
        "Limits at three sigma where no process is known: common practice, no source",
    ),
    cautions=(
        Caution(
            "WARNING",
            "A budget tells how often, not what this car has. Measure the release gap and the "
            "pilot's engagement on each car before the gearbox is drawn up; never pull a gearbox "
            "home with its bolts.",
        ),
        Caution(
            "CAUTION",
            "The limits of gaps and engagements are those of the makers of clutch, bearing, "
            "starter and gearbox; theirs come before any shown here.",
        ),
    ),
    example=EXAMPLE,
)
