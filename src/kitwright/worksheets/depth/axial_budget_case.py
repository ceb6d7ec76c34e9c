"""What the axial-budget worksheet takes: links, and the gaps they must close to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from pydantic import Field

from kitwright.calc.depth.stack_simulation import MOST_DRAWS
from kitwright.errors import Problem
from kitwright.worksheets.depth.limits import Gap
from kitwright.worksheets.fields import Case, Length, Part, Size

MOST_LINKS = 60
MOST_REQUIREMENTS = 20

Name = Annotated[str, Field(min_length=1, max_length=80)]
Sense = Literal[1, -1]


class LinkPart(Part):
    """One length of the stack."""

    name: Name = Field(description="Link")
    nominal: Length = Field(description="Nominal")
    plus: Size = Field(description="Plus")
    minus: Size = Field(description="Minus")
    sense: Sense | None = Field(default=None, description="Sense in the gap")
    spread: Literal["normal", "even", "triangle"] = Field(default="normal", description="Spread")
    cpk: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] | None = Field(
        default=None, description="Cpk"
    )
    mean: Length | None = Field(default=None, description="Mean of the process")


class SensePart(Part):
    """A link's part in a requirement."""

    name: Name = Field(description="Link")
    sense: Sense = Field(description="Sense")


class RequirementPart(Part):
    """Another gap that the same links must close to."""

    name: Name = Field(description="Requirement")
    links: list[SensePart] = Field(
        min_length=1, max_length=MOST_LINKS, description="Links that take part"
    )
    gap: Gap = Field(description="Limits")


class AxialBudgetCase(Case):
    """Lengths that add up to a gap, and the limits of the gap."""

    links: list[LinkPart] = Field(min_length=1, max_length=MOST_LINKS, description="Links")
    gap: Gap = Field(description="Limits of the gap")
    requirements: list[RequirementPart] = Field(
        default_factory=list, max_length=MOST_REQUIREMENTS, description="Other requirements"
    )
    draws: Annotated[int, Field(ge=1, le=MOST_DRAWS)] | None = Field(
        default=None, description="Stacks to draw at random, as a check"
    )
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] | None = Field(
        default=None, description="Seed of the drawing"
    )


def faults(case: AxialBudgetCase) -> Iterator[Problem]:
    """What is wrong between the parts of a case: names, senses, a seed without draws."""
    names = [link.name for link in case.links]
    used = {part.name for each in case.requirements for part in each.links}
    yield from _twice(names, "links")
    for number, link in enumerate(case.links):
        if link.sense is None and link.name not in used:
            yield Problem(f"links[{number}].sense", "missing", "write 1, or -1 where it takes away")
    if used and all(link.sense is None for link in case.links):
        yield Problem("links", "none has a sense in the gap", "give sense to those that make it")
    yield from _twice([each.name for each in case.requirements], "requirements")
    for number, each in enumerate(case.requirements):
        where = f"requirements[{number}].links"
        yield from _twice([part.name for part in each.links], where)
        for row, part in enumerate(each.links):
            if part.name not in names:
                known = f"known are {', '.join(names)}"
                yield Problem(f"{where}[{row}].name", f'"{part.name}" is no link', known)
    if case.seed is not None and case.draws is None:
        yield Problem("seed", "given without draws", "give draws too, or leave it out")


def _twice(names: Sequence[str], where: str) -> Iterator[Problem]:
    for number, name in enumerate(names):
        if name in names[:number]:
            yield Problem(f"{where}[{number}].name", f'"{name}" is named twice', "name each once")
