"""What the sampling-plan worksheet takes and what it answers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from kitwright.calc.quality.acceptance import LARGEST_LOT
from kitwright.calc.quality.random_sample import LARGEST_SEED
from kitwright.errors import InputError, Problem
from kitwright.worksheets.fields import Answer, AnswerPart, Case, Chance, Part, shown
from kitwright.worksheets.written import refused

Count = Annotated[int, Field(ge=1, le=LARGEST_LOT)]
FewOrNone = Annotated[int, Field(ge=0, le=LARGEST_LOT)]
Quality = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Risk = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
Serial = Annotated[str, Field(min_length=1, max_length=60)]


class PlanCase(Part):
    """A plan that is there already."""

    n: Count = Field(description="Parts in the sample")
    c: FewOrNone = Field(description="Bad parts allowed in it")


class TableCase(Part):
    """A plan by ISO 2859-1, normal inspection."""

    lot: Count | None = Field(default=None, description="Parts in the lot")
    level: Literal["II"] = Field(default="II", description="General inspection level")
    aql: Annotated[float, Field(allow_inf_nan=False)] = Field(
        description="Acceptable quality level, per cent bad"
    )


class SamplingPlanCase(Case):
    """Qualities and risks, a plan, or the standard's tables."""

    lot: Count | None = Field(default=None, description="Parts in the lot")
    accept_quality: Quality | None = Field(
        default=None, description="Share bad that should be accepted"
    )
    producers_risk: Risk | None = Field(
        default=None, description="Producer's risk: that it is rejected all the same"
    )
    reject_quality: Quality | None = Field(
        default=None, description="Share bad that should be rejected"
    )
    consumers_risk: Risk | None = Field(
        default=None, description="Consumer's risk: that it is accepted all the same"
    )
    zero_acceptance: bool = Field(default=False, description="No bad part allowed in the sample")
    plan: PlanCase | None = Field(default=None, description="Or a plan of your own")
    table: TableCase | None = Field(
        default=None, validate_default=True, description="Or the tables of ISO 2859-1"
    )
    serials: Annotated[list[Serial], Field(min_length=1, max_length=100_000)] | None = Field(
        default=None, description="Serials of the lot, to draw the sample from"
    )
    seed: Annotated[int, Field(ge=0, le=LARGEST_SEED)] | None = Field(
        default=None, description="Seed of the drawing: any whole number; keep it"
    )
    found: FewOrNone | None = Field(default=None, description="Bad parts found in the sample")

    @field_validator("table")
    @classmethod
    def _asks_for_something(cls, table: TableCase | None, info: ValidationInfo) -> TableCase | None:
        """One of three ways to a plan is needed."""
        given = info.data  # what was given before the table, and could be read
        if table is None and given.get("plan", 0) is given.get("reject_quality", 0) is None:
            other = "it is needed, or a plan, or accept_quality and reject_quality with their risks"
            raise refused(InputError("", "missing", other))
        return table


def problems(case: SamplingPlanCase) -> Iterator[Problem]:
    """What is wrong between the parts of a case."""
    ready = "table" if case.plan is None else "plan"
    if case.plan is not None and case.table is not None:
        yield Problem("table", "given with plan", "give one of them")
    if case.plan is not None or case.table is not None:
        for name in ("producers_risk", "consumers_risk"):
            if getattr(case, name) is not None:
                yield Problem(name, f"given with a {ready}", "leave it out: the answer says it")
        if case.zero_acceptance:
            yield Problem("zero_acceptance", f"given with a {ready}", "leave it out")
        if case.table is not None and case.accept_quality is not None:
            yield Problem("accept_quality", "given with a table", "leave it out: it is the aql")
    elif not case.zero_acceptance and case.accept_quality is None:
        yield Problem("accept_quality", "missing", "give it, or zero_acceptance = true")
    if case.zero_acceptance and case.producers_risk is not None:
        yield Problem(
            "producers_risk", "given with zero_acceptance", "leave it out: the answer says it"
        )
    if (
        case.accept_quality is not None
        and case.reject_quality is not None
        and case.accept_quality >= case.reject_quality
    ):
        yield Problem(
            "reject_quality",
            f"{case.reject_quality:g} is not above accept_quality, {case.accept_quality:g}",
            "give a worse one",
        )
    yield from _lots(case)
    if case.serials is not None and case.seed is None:
        yield Problem(
            "seed", "missing", "give any whole number and keep it: it draws the same sample again"
        )
    if case.seed is not None and case.serials is None:
        yield Problem("seed", "given without serials", "list the lot's serials, or leave it out")


def _lots(case: SamplingPlanCase) -> Iterator[Problem]:
    """Lots that do not agree."""
    lot = lot_of(case)
    if case.table is not None:
        if lot is None:
            yield Problem("table.lot", "missing", "the tables go by the size of the lot")
        elif case.table.lot not in (None, lot):
            yield Problem(
                "table.lot", f"{case.table.lot}, and the lot is {lot}", "give one of them"
            )
    if case.serials is not None and len(case.serials) != lot:
        yield Problem("serials", f"{len(case.serials)} given", f"list all {lot} of the lot")


def lot_of(case: SamplingPlanCase) -> int | None:
    """The lot's size, wherever the case says it."""
    if case.lot is not None:
        return case.lot
    if case.table is not None and case.table.lot is not None:
        return case.table.lot
    return None if case.serials is None else len(case.serials)


class RisksAnswer(AnswerPart):
    """What the plan risks at both qualities; nothing for a quality not given."""

    accept_quality: float | None = shown("Share bad to accept", optional=True)
    accept_bad: int | None = shown("Bad parts in such a lot", optional=True)
    producers_risk: float | None = shown("Chance of rejecting it (producer's)", optional=True)
    reject_quality: float | None = shown("Share bad to reject", optional=True)
    reject_bad: int | None = shown("Bad parts in a lot to reject", optional=True)
    consumers_risk: float | None = shown("Chance of accepting it (consumer's)", optional=True)


class TableAnswer(AnswerPart):
    """How the plan was read off the tables."""

    letter: str = shown("Code letter")
    letters: str = shown("Letters along the arrows")
    n: int = shown("Sample, n")
    accept: int = shown("Accept at, Ac")
    reject: int = shown("Reject at, Re")
    every_part: bool = shown("Every part is looked at")


class CurveRow(AnswerPart):
    """What the plan does at one quality."""

    quality: float = shown("Share bad")
    bad: int | None = shown("Bad in the lot")
    chance_accepted: Chance = shown("Accepted")
    outgoing: float = shown("Share bad going on")
    inspected: float | None = shown("Parts looked at, mean")


class PointRow(AnswerPart):
    """The greatest share bad that is accepted so often."""

    chance_accepted: Chance = shown("Accepted this often or more")
    quality: float = shown("Share bad, at most")
    bad: int | None = shown("Bad in the lot, at most")


class SamplingPlanAnswer(Answer):
    """The plan and what it does. Qualities are shares bad, 0.01 for one in a hundred."""

    verdict: Literal["accept", "reject"] | None = shown("Verdict on the lot", optional=True)
    found: int | None = shown("Bad parts found", optional=True)
    n: int = shown("Parts in the sample, n")
    c: int = shown("Bad parts allowed in it, c")
    lot: int | None = shown("Parts in the lot", optional=True)
    law: Literal["hypergeometric", "binomial"] = shown("Law of the bad ones in a sample")
    risks: RisksAnswer = shown("Risks")
    worst_quality: float | None = shown("Share bad not ruled out (95 %)", optional=True)
    average_outgoing_limit: float = shown("Average outgoing quality limit, share bad")
    average_outgoing_limit_at: float = shown("It is reached at a share bad of")
    worst_lot_outgoing: float | None = shown(
        "Share bad going on, mean of the worst lot", optional=True
    )
    table: TableAnswer | None = shown("By the tables", optional=True)
    sample: list[str] = shown("Sample", optional=True)
    seed: int | None = shown("Seed of the sample", optional=True)
    points: list[PointRow] = shown("What it accepts")
    curve: list[CurveRow] = shown("Curve", hidden=True)
    """Operating characteristic, outgoing quality and mean inspection."""
