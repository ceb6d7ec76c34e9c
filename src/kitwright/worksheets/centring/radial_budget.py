"""How often will a fitter have to correct?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np

from kitwright.calc.centring.clearance import Clearance, Limits
from kitwright.calc.centring.clock import clock_of
from kitwright.calc.centring.contributors import Contributor, Fixed, Line, Zone
from kitwright.calc.centring.fits_iso286 import fit
from kitwright.calc.centring.floats import FloatAnywhere, FloatResting
from kitwright.calc.centring.measured import Measured
from kitwright.calc.centring.radial_budget import SEED, chance_outside, radial_budget, simulated
from kitwright.calc.centring.rigid import RigidInfluence, bore_influence
from kitwright.calc.centring.thermal_growth import EXPANSION_PER_K, Growth, growth
from kitwright.calc.checks import Floats
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, say_length
from kitwright.worksheets.centring.radial_budget_case import (
    ContributorPart,
    FloatPart,
    GrowthPart,
    LinePart,
    MeasuredPart,
    RadialBudgetCase,
    ShiftPart,
    SizeLimits,
    ZonePart,
)
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer, AnswerPart, Chance, Place, shown
from kitwright.worksheets.showing import say_chance


class ContributionRow(AnswerPart):
    """One contributor's part in the whole."""

    name: str = shown("Contributor")
    edge_mm: float = shown("Largest offset alone")
    share: float = shown("Share of the mean square")
    chance_outside_without: Chance = shown("Outside without it")


class GrowthRow(AnswerPart):
    """A growth with both dowels slipping alike, and the bound where one dowel holds."""

    name: str = shown("Contributor")
    free_mm: float = shown("Both slip: offset")
    free_clock_deg: float | None = shown("toward")
    held_mm: float | None = shown("One holds: offset at most")
    held_clock_deg: float | None = shown("then toward")
    chance_outside_held: Chance | None = shown("Outside then")


class RadialBudgetAnswer(Answer):
    """How often the bore lies within the limit, and why not more often."""

    chance_within: Chance = shown("Bells within the limit")
    chance_outside: Chance = shown("Bells outside the limit")
    corrections_per_100: float = shown("Fitters in 100 who have to correct")
    limit_mm: float = shown("Largest TIR allowed")
    worst_case_tir_mm: float = shown("Worst case TIR")
    rss_tir_mm: float = shown("Root-sum-square TIR")
    mean_offset_mm: float = shown("Mean offset")
    mean_offset_clock_deg: float | None = shown("Mean offset toward", optional=True)
    tir_percentiles_mm: dict[str, float] = shown("Per cent of bells stay within this TIR")
    contributions: list[ContributionRow] = shown("Contributions")
    growth: list[GrowthRow] = shown("Growth by heat")
    method: Literal["exact", "simulated"] = shown("Method")
    standard_error: float = shown("Standard error of the chance (exact: a bound on its error)")
    chance_outside_simulated: Chance | None = shown(
        "Checked by simulation: outside the limit", optional=True
    )
    chance_error_simulated: float | None = shown("Standard error of the simulation", optional=True)
    seed: int | None = shown("Seed of the simulation", optional=True)


@dataclass(frozen=True, kw_only=True)
class Budget:
    """A case in mm: what `calc` takes, and what was assumed on the way."""

    contributors: Mapping[str, Contributor]
    growths: Mapping[str, Growth] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def solve(case: RadialBudgetCase) -> RadialBudgetAnswer:
    """Add the case up."""
    budget = budget_of(case)
    seed = SEED if case.seed is None else case.seed
    found = radial_budget(budget.contributors, limit_tir_mm=case.limit.mm, seed=seed)
    mean = math.hypot(*found.mean_mm)
    assumed = list(budget.assumed)
    check = None
    if found.method == "exact" and case.check == "yes":
        parts = list(budget.contributors.values())
        check = simulated(parts, limit_tir_mm=case.limit.mm, seed=seed)
    if (found.method == "simulated" or check is not None) and case.seed is None:
        assumed.append(f"The seed of the simulation is {SEED}.")
    return RadialBudgetAnswer(
        chance_within=found.chance_within,
        chance_outside=found.chance_outside,
        corrections_per_100=100 * found.chance_outside,
        limit_mm=case.limit.mm,
        worst_case_tir_mm=found.worst_case_tir_mm,
        rss_tir_mm=found.rss_tir_mm,
        mean_offset_mm=mean,
        mean_offset_clock_deg=clock_of(found.mean_mm) if mean > 0 else None,
        tir_percentiles_mm=dict(found.tir_percentiles_mm),
        contributions=[
            ContributionRow(
                name=each.name,
                edge_mm=budget.contributors[each.name].edge_mm,
                share=each.share,
                chance_outside_without=each.chance_outside_without,
            )
            for each in found.contributions
        ],
        growth=list(_growth_rows(budget, case.limit.mm, seed)),
        method=found.method,
        standard_error=found.standard_error,
        chance_outside_simulated=None if check is None else check.chance_outside,
        chance_error_simulated=None if check is None else check.standard_error,
        seed=found.seed if check is None else check.seed,
        assumed=assumed,
        how=f"{found.way[:1].upper()}{found.way[1:]}. A bell at the limit counts as within it.",
    )


def _growth_rows(budget: Budget, limit_mm: float, seed: int) -> Iterator[GrowthRow]:
    for name, found in budget.growths.items():
        free = float(np.hypot(*found.free_mm))
        worst, held, chance = None, None, None
        if found.held_mm is not None:
            others = [each for key, each in budget.contributors.items() if key != name]
            chances = [
                chance_outside([*others, Fixed(vector)], limit_tir_mm=limit_mm, seed=seed)
                for vector in found.held_mm
            ]
            lengths = np.hypot(*found.held_mm.T)
            held = found.held_mm[int(np.argmax(lengths))]
            worst, chance = float(lengths.max()), max(chances)
        yield GrowthRow(
            name=name,
            free_mm=free,
            free_clock_deg=clock_of(found.free_mm) if free > 0 else None,
            held_mm=worst,
            held_clock_deg=clock_of(held) if held is not None and worst else None,
            chance_outside_held=chance,
        )


# ── from the case as written to contributors in mm ───────────────────────────────────────


class BudgetCase(Protocol):
    """What of a case makes its contributors."""

    @property
    def contributors(self) -> Sequence[ContributorPart]: ...
    @property
    def dowel_a(self) -> Place | None: ...
    @property
    def dowel_b(self) -> Place | None: ...


def budget_of(case: BudgetCase) -> Budget:
    """The contributors of a case; every problem found is in the one error."""
    problems: list[Problem] = []
    influence = _influence(case, problems)
    contributors: dict[str, Contributor] = {}
    growths: dict[str, Growth] = {}
    for number, part in enumerate(case.contributors):
        where = f"contributors[{number}]"
        if part.name in contributors:
            problems.append(
                Problem(f"{where}.name", f'"{part.name}" is used twice', "name each once")
            )
            continue
        try:
            if isinstance(part, GrowthPart):
                growths[part.name] = _growth(part, case)
                contributors[part.name] = Fixed(growths[part.name].free_mm)
            else:
                contributors[part.name] = _placed(_contributor(part), part.where, influence)
        except InputError as error:
            problems += [problem.within(where) for problem in error.problems]
            contributors.setdefault(part.name, Fixed(np.zeros(2)))
    if problems:
        raise InputError.of(problems)
    return Budget(contributors=contributors, growths=growths, assumed=tuple(_assumed(case)))


def _influence(case: BudgetCase, problems: list[Problem]) -> RigidInfluence | None:
    if case.dowel_a is None and case.dowel_b is None:
        return None
    if case.dowel_a is None or case.dowel_b is None:
        missing = "dowel_a" if case.dowel_a is None else "dowel_b"
        problems.append(Problem(missing, "missing", "dowel_a and dowel_b go together"))
        return None
    try:
        return bore_influence(_mm(case.dowel_a), _mm(case.dowel_b))
    except InputError as error:
        problems += error.problems
        return None


def _placed(contributor: Contributor, where: str, influence: RigidInfluence | None) -> Contributor:
    if where == "bore":
        return contributor
    if influence is None:
        raise InputError("where", f'"{where}" needs the dowel holes', "give dowel_a and dowel_b")
    return contributor.through(influence.of_a if where == "dowel-a" else influence.of_b)


def _contributor(
    part: ZonePart | ShiftPart | LinePart | FloatPart | MeasuredPart,
) -> Contributor:
    if isinstance(part, ZonePart):
        return Zone(zone_mm=part.zone.mm, spread=part.spread)
    if isinstance(part, ShiftPart):
        return Fixed.at(part.clock_deg, part.size.mm)
    if isinstance(part, LinePart):
        return Line.at(part.clock_deg, part.plus_minus.mm, part.spread)
    if isinstance(part, MeasuredPart):
        return Measured(part.unit.mm * np.array(part.vectors, dtype=float))
    if part.hole is not None and part.pin is not None:
        clearance = Clearance(hole=_limits(part.hole), pin=_limits(part.pin))
    else:
        clearance = fit(part.fit or "")
    if part.rests == "down":
        return FloatResting(clearance=clearance)
    return FloatAnywhere(clearance=clearance)


def _limits(size: SizeLimits) -> Limits:
    return Limits(low_mm=size.low.mm, high_mm=size.high.mm)


def _growth(part: GrowthPart, case: BudgetCase) -> Growth:
    half_span = None
    bore = None if part.bore is None else _mm(part.bore)
    if case.dowel_a is not None and case.dowel_b is not None:
        half_span = (_mm(case.dowel_a) - _mm(case.dowel_b)) / 2
        bore = -(_mm(case.dowel_a) + _mm(case.dowel_b)) / 2 if bore is None else bore
    if bore is None:
        raise InputError("bore", "missing", "give it, or dowel_a and dowel_b")
    return growth(
        temperature_rise_k=part.temperature_rise.kelvin,
        bell_per_k=_expansion(part, "bell"),
        block_per_k=_expansion(part, "block"),
        bore_mm=bore,
        half_span_mm=half_span,
    )


def _expansion(part: GrowthPart, of: Literal["bell", "block"]) -> float:
    given = part.bell_expansion if of == "bell" else part.block_expansion
    material = part.bell_material if of == "bell" else part.block_material
    return given.per_kelvin if given is not None else EXPANSION_PER_K[str(material)]


def _mm(place: Place) -> Floats:
    return np.array([place[0].mm, place[1].mm])


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _assumed(case: BudgetCase) -> Iterator[str]:
    yield "The contributors are independent of each other."
    by_kind: dict[str, list[ContributorPart]] = {}
    for part in case.contributors:
        by_kind.setdefault(part.kind, []).append(part)
    zones = [part.name for part in by_kind.get("zone", ()) if "spread" not in part.model_fields_set]
    if zones:
        yield f"Normal, the zone six sigma on each axis: {', '.join(zones)}."
    lines = [part.name for part in by_kind.get("line", ()) if "spread" not in part.model_fields_set]
    if lines:
        yield f"Normal, plus or minus three sigma: {', '.join(lines)}."
    if "float" in by_kind:
        yield "Holes and pins are even between their limits; one pressed in has no play."
    loose = [part.name for part in case.contributors if getattr(part, "rests", "") is None]
    if loose:
        yield f"Anywhere in the clearance: {', '.join(loose)}."
    if "growth" in by_kind:
        yield "Bell and block are equally warm, and both dowels slip alike."
    yield from _materials(case)
    at_bore = [
        part.name
        for part in case.contributors
        if "where" not in part.model_fields_set and part.kind != "growth"
    ]
    if at_bore and case.dowel_a is not None:
        yield f"At the bore: {', '.join(at_bore)}."


def _materials(case: BudgetCase) -> Iterator[str]:
    materials = {
        material
        for part in case.contributors
        if isinstance(part, GrowthPart)
        for material in (part.bell_material, part.block_material)
        if material is not None
    }
    for material in sorted(materials):
        yield f"{material}: {EXPANSION_PER_K[material] * 1e6:g} ppm/K."


def say(answer: RadialBudgetAnswer, lead: Lead) -> str:
    """How many would have to correct."""
    limit = say_length(answer.limit_mm, lead=lead)
    within = say_chance(answer.chance_within)
    outside = answer.chance_outside
    if outside == 0:
        return f"No fitter would have to correct: no bell exceeds {limit} TIR."
    if outside < 1e-6:
        head = "Fewer than 1 fitter in a million"
    elif outside < 0.01:
        head = f"About 1 fitter in {_two_figures(1 / outside)}"
    elif outside > 0.995:
        head = "Nearly every fitter"
    else:
        head = f"About {round(100 * outside)} fitters in 100"
        head = head.replace("About 1 fitters", "About 1 fitter")
    return f"{head} would have to correct: {within} of bells land within {limit} TIR."


def _two_figures(count: float) -> int:
    """A count to two figures, as a person says it."""
    step: int = 10 ** max(0, math.floor(math.log10(count)) - 1)
    return round(count / step) * step


WORKSHEET = Worksheet(
    heading=heading("radial-budget"),
    case=RadialBudgetCase,
    answer=RadialBudgetAnswer,
    solve=solve,
    say=say,
    sources=(
        "R. D. Lord, The use of the Hankel transform in statistics I, Biometrika 41 (1954) 44-55",
        "A. B. Owen, Scrambled net variance, Annals of Statistics 25 (1997) 1541-1562 (simulation)",
        "ISO 286-1:2010 (fits by name)",
        "NADCA table A-3-2; ASTM B108; MIL-HDBK-5; Shigley, tables A-5 and A-24 (expansions)",
        "Normal as six sigma of the zone; a garage limit of 5 thou TIR: common practice, no source",
    ),
    example="""
# Everything that moves the bore off the crank axis, in one car after another.
# Directions are the bore's relative to the crank, seen from behind: 12 is up, 3 is right.
limit = "5 thou"                     # largest TIR allowed: twice the offset

# Where the dowel holes are, from the crank axis (right, up); only `where = "dowel-..."` and
# growth need them.
dowel_a = ["-170 mm", "-20 mm"]
dowel_b = ["170 mm", "-20 mm"]

[[contributors]]
name = "bore to the bell's dowel holes"
kind = "zone"                        # a hole's centre inside a circle of this diameter
zone = "4 thou"
spread = "normal"                    # 6 sigma; or "disc" (evenly inside), "edge" (on the circle)

[[contributors]]
name = "block's dowel hole a"
kind = "zone"
where = "dowel-a"                    # reaches the bore by turning and moving the bell
zone = "4 thou"

[[contributors]]
name = "block's dowel hole b"
kind = "zone"
where = "dowel-b"
zone = "4 thou"

[[contributors]]
name = "bell loose on its dowels"
kind = "float"
fit = "16 H7/g6"                     # ISO 286, size in mm; or hole and pin, each {low, high}
rests = "down"                       # it hangs; leave it out: anywhere in the clearance

[[contributors]]
name = "line-honed mains"
kind = "shift"                       # the same in every car
size = "1 thou"
clock_deg = 180                      # the crank came up, so the bore sits low

[[contributors]]
name = "bell against engine, sideways"
kind = "line"                        # an error along one line only
plus_minus = "0.5 thou"
clock_deg = 90
spread = "even"                      # or "normal": 3 sigma

[[contributors]]
name = "warm"
kind = "growth"
temperature_rise = "70 K"
bell_material = "aluminium A356-T6"
block_material = "grey iron"

[[contributors]]
name = "last batch, bore to nominal"
kind = "measured"                    # each vector is as likely as the next
unit = "thou"
vectors = [[0.2, -0.1], [-0.3, 0.2], [0.1, 0.4], [0.0, -0.2], [-0.1, 0.1]]
""",
)
