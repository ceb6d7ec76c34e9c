"""Where do these blocks put a true bell's bore?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from kitwright.calc.centring.block_chance import (
    DRAWS,
    SEED,
    ChanceOutside,
    chance_outside,
    count_for_chance,
)
from kitwright.calc.centring.block_population import (
    LEAST,
    MOST,
    UNEVEN,
    Ellipse,
    Interval,
    Population,
    population,
)
from kitwright.calc.centring.clock import clock_of
from kitwright.calc.checks import Floats
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, say_clock, say_length
from kitwright.worksheets.centring.block_population_case import (
    BlockPopulationAnswer,
    BlockPopulationCase,
    ChanceSpan,
    EllipsePart,
    SampleRow,
    Span,
)
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.writing import toml_value

FEW = 10
"""Below so many the spread's interval reaches beyond half as much again, and the mean's region
beyond one standard deviation."""


def solve(case: BlockPopulationCase) -> BlockPopulationAnswer:
    """Learn from the case's samples."""
    found = population(_samples(case))
    outside = None
    if case.limit is not None:
        seed = SEED if case.seed is None else case.seed
        outside = chance_outside(found, limit_tir_mm=case.limit.mm, seed=seed)
    more_for_mean, more_for_chance = _more(case, found)
    noise = None
    if case.u95 is not None:
        noise = (case.u95.mm / 2) ** 2 / found.variance_mm2
    x, y = found.mean_mm.tolist()
    x_half, y_half = found.mean_half_mm.tolist()
    (xx, xy), (_, yy) = found.covariance_mm2.tolist()
    sigma_x, sigma_y = found.sigmas_mm
    return BlockPopulationAnswer(
        block=case.block,
        count=found.count,
        mean_x_mm=x,
        mean_x_half_mm=x_half,
        mean_y_mm=y,
        mean_y_half_mm=y_half,
        mean_mm=math.hypot(x, y),
        mean_clock_deg=clock_of([x, y]) if x or y else None,
        shifted=found.shifted,
        zone_mm=_span(found.sigma_mm, 6),
        sigma_mm=_span(found.sigma_mm),
        sigma_x_mm=_span(sigma_x),
        sigma_y_mm=_span(sigma_y),
        even=found.even,
        even_chance=found.even_chance,
        limit_mm=None if case.limit is None else case.limit.mm,
        chance_outside=None if outside is None else _chance(outside),
        chance_outside_next=None if outside is None else outside.next_block,
        noise_share=noise,
        mean_region=_ellipse(found.mean_region),
        prediction_region=_ellipse(found.prediction_region),
        covariance_mm2=[xx, xy, yy],
        more_for_mean=more_for_mean,
        more_for_accuracy=more_for_chance,
        contributors=f"contributors = {toml_value(contributors_of(found, case.block))}",
        samples=_rows(found, range(found.count)),
        suspects=_rows(found, found.suspects),
        notes=list(_notes(case, found, more_for_mean, more_for_chance)),
        seed=None if outside is None else outside.seed,
        assumed=list(_assumed(case)),
        how=_how(found, outside),
    )


def contributors_of(found: Population, block: str | None) -> list[dict[str, Any]]:
    """What a radial budget takes for the next block of this kind: rows of its contributors."""
    name = f"blocks, {block}" if block else "blocks"
    following = found.next_block
    rows: list[dict[str, Any]] = []
    shift = float(np.hypot(*following.shift_mm))
    if shift:
        rows.append(
            {
                "name": f"{name}: what they share",
                "kind": "shift",
                "size": f"{shift:.6g} mm",
                "clock_deg": round(clock_of(following.shift_mm), 2),
            }
        )
    rows.append(
        {
            "name": name,
            "kind": "zone",
            "zone": f"{following.zone_mm:.6g} mm",
            "spread": "normal",
        }
    )
    if following.line_mm is not None and following.line_clock_deg is not None:
        rows.append(
            {
                "name": f"{name}: more along one line",
                "kind": "line",
                "plus_minus": f"{following.line_mm:.6g} mm",
                "clock_deg": round(following.line_clock_deg, 2),
                "spread": "normal",
            }
        )
    return rows


# ── from the case as written to numbers, and back ────────────────────────────────────────


def _samples(case: BlockPopulationCase) -> Floats:
    """(n, 2) in mm; every problem found is in the one error."""
    problems: list[Problem] = []
    if case.accuracy is not None and case.limit is None:
        problems.append(Problem("limit", "missing", "a chance is asked for: give the TIR allowed"))
    swept, bells = case.sweeps or [], case.bells or []
    if case.samples is not None and (swept or bells):
        problems.append(Problem("samples", "given beside sweeps or bells", "give one or the other"))
    elif case.samples is None and not (swept or bells):
        problems.append(Problem("samples", "missing", "give them, or sweeps and bells"))
    elif case.samples is None and len(swept) != len(bells):
        problems.append(
            Problem("bells", f"{len(bells)} given", f"give one for each sweep: {len(swept)}")
        )
    if problems:
        raise InputError.of(problems)
    if case.samples is not None:
        return _mm(case, case.samples)
    return _mm(case, swept) - _mm(case, bells)


def _mm(case: BlockPopulationCase, rows: list[tuple[float, float]]) -> Floats:
    return np.array([[case.unit.to_mm(x), case.unit.to_mm(y)] for x, y in rows]).reshape(-1, 2)


def _more(case: BlockPopulationCase, found: Population) -> tuple[int | None, int | None]:
    """How many more fit-ups the wanted half-width and the wanted accuracy need."""
    for_mean = for_chance = None
    if case.half_width is not None:
        for_mean = found.count_for_mean(case.half_width.mm)
    if case.accuracy is not None and case.limit is not None:
        for_chance = count_for_chance(
            found,
            limit_tir_mm=case.limit.mm,
            accuracy=case.accuracy,
            seed=SEED if case.seed is None else case.seed,
        )
    more = [None if each is None else max(0, each - found.count) for each in (for_mean, for_chance)]
    return more[0], more[1]


def _rows(found: Population, wanted: Any) -> list[SampleRow]:
    distances = np.sqrt(found.distances)
    return [
        SampleRow(
            number=index + 1,
            x_mm=float(found.samples_mm[index, 0]),
            y_mm=float(found.samples_mm[index, 1]),
            distance=float(distances[index]),
        )
        for index in wanted
    ]


def _span(interval: Interval, times: float = 1) -> Span:
    return Span(
        value_mm=times * interval.value, low_mm=times * interval.low, high_mm=times * interval.high
    )


def _chance(outside: ChanceOutside) -> ChanceSpan:
    found = outside.estimate
    return ChanceSpan(estimate_chance=found.value, low_chance=found.low, high_chance=found.high)


def _ellipse(found: Ellipse) -> EllipsePart:
    return EllipsePart(long_mm=found.long_mm, short_mm=found.short_mm, clock_deg=found.clock_deg)


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _notes(
    case: BlockPopulationCase, found: Population, for_mean: int | None, for_chance: int | None
) -> Iterator[str]:
    if found.count < FEW:
        yield (
            f"{found.count} fit-ups are few: below {FEW} the spread may be half as much again, and "
            "the mean off by more than one standard deviation."
        )
    if not found.shifted:
        yield "A mean of zero is not ruled out: the mean's region holds the crank axis."
    if not found.even:
        yield (
            "The spread is not the same in every direction: an even one would look like this only "
            f"{say_chance(found.even_chance)} of the time."
        )
    if found.suspects:
        numbers = ", ".join(str(index + 1) for index in found.suspects)
        yield f"Look at sample {numbers} again: it lies too far off for the others."
    if case.u95 is not None and (case.u95.mm / 2) ** 2 > found.variance_mm2:
        yield "Measuring alone would spread more than this: look at its plus and minus again."
    if (case.half_width is not None and for_mean is None) or (
        case.accuracy is not None and for_chance is None
    ):
        yield f"More than {MOST:,} fit-ups would be needed for what is wanted."


def _assumed(case: BlockPopulationCase) -> Iterator[str]:
    yield "The samples are independent, one block each, and normal; all blocks are of one kind."
    yield "Every fit-up was swept, not only those that gave trouble."
    yield (
        "A sample holds the dowels' float and the noise of sweep and inspection: a budget that "
        "uses this adds neither again."
    )
    if case.u95 is not None:
        yield "The noise is shown as a share of the variance and taken off nothing."
    if case.limit is not None and case.seed is None:
        yield f"The seed of the draws is {SEED}."


def _how(found: Population, outside: ChanceOutside | None) -> str:
    even = (
        "one variance for every direction, from both coordinates"
        if found.even
        else "a variance for each principal axis"
    )
    said = (
        "Mean and covariance of the samples; regions by Hotelling's T², intervals of the spread by "
        f"chi-square, of each coordinate of the mean by Student's t; {even} (Mauchly's test at "
        f"{100 * UNEVEN:.0f} %). The contributors have the mean and the covariance of the next "
        "block, wider than the samples' by what they leave open."
    )
    if outside is not None:
        said += (
            f" The chance's interval is the middle 95 % of {DRAWS} laws drawn from what the "
            "samples leave open."
        )
    return said


def say(answer: BlockPopulationAnswer, lead: Lead) -> str:
    """Where the blocks put a true bell, and how well that is known."""
    blocks = f"{answer.block} blocks" if answer.block else "these blocks"
    zone = answer.zone_mm
    size, low, high = (
        say_length(each, lead=lead) for each in (zone.value_mm, zone.low_mm, zone.high_mm)
    )
    if answer.shifted and answer.mean_clock_deg is not None:
        shift = say_length(answer.mean_mm, lead=lead)
        where = f"put a true bell's bore {shift} toward {say_clock(answer.mean_clock_deg)}"
    else:
        where = "show no common shift"
    said = f"By {answer.count} fit-ups {blocks} {where}, in a zone of {size} ({low} to {high})."
    if answer.chance_outside_next is not None and answer.limit_mm is not None:
        limit = say_length(answer.limit_mm, lead=lead)
        said += (
            f" The next one is outside {limit} TIR with a chance of "
            f"{say_chance(answer.chance_outside_next)}, even with a true bell."
        )
    return said


WORKSHEET = Worksheet(
    heading=heading("block-population"),
    case=BlockPopulationCase,
    answer=BlockPopulationAnswer,
    solve=solve,
    say=say,
    sources=(
        "H. Hotelling, Annals of Mathematical Statistics 2 (1931) 360-378 (region of a mean)",
        "J. W. Mauchly, Annals of Mathematical Statistics 11 (1940) 204-209 (evenness)",
        "S. S. Wilks, Sankhya A 25 (1963) 407-426 (samples too far off)",
        "S. Geisser, J. Cornfield, J. Royal Statistical Society B 25 (1963) 368-376 (the draws)",
        "NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3 (interval of a spread)",
    ),
    example=f"""
# What fit-ups teach about the blocks. A sample is the first sweep's offset less the bell's own:
# x to the right, y up, seen from behind. New and line-honed blocks are asked apart. At least
# {LEAST} samples; {FEW} or more are worth planning with.
block = "line-honed"
unit = "thou"

samples = [
  [0.4, -2.8], [-0.7, -2.2], [1.2, -2.7], [-0.3, -3.4], [0.9, -1.6], [0.1, -2.5],
  [-1.1, -2.9], [0.6, -3.1], [-0.2, -1.9], [0.5, -2.4], [-0.4, -2.6], [0.8, -2.1],
]
# or, instead of samples, what was swept and what each bell had at inspection:
# sweeps = [[0.6, -2.9], [-0.5, -2.0], [1.0, -2.8]]
# bells = [[0.2, -0.1], [0.2, 0.2], [-0.2, -0.1]]

limit = "5 thou"                     # largest TIR allowed: asks how often it is exceeded
u95 = "0.5 thou"                     # of one sample (k = 2): shows what share is measuring
half_width = "0.3 thou"              # how well the mean is wanted
accuracy = 0.05                      # how well the chance outside is wanted: plus or minus
""",
)
