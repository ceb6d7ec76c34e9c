"""How much of what is measured is the gauge?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.quality.gauge_ranges import RangeStudy, by_ranges
from kitwright.calc.quality.gauge_study import (
    STUDY_SIGMAS,
    GaugeStudy,
    by_variance,
    one_person,
)
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, show_length, unit_size
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.quality.gauge_study_case import (
    ComponentRow,
    GaugeStudyAnswer,
    GaugeStudyCase,
    RangesAnswer,
    VarianceRow,
    Worth,
)
from kitwright.worksheets.quality.series import in_unit

GOOD, WITH_CARE = 10.0, 30.0
WANTED_CATEGORIES = 5
FEW_PERSONS = 3
_LISTED = 20

Cells = Mapping[tuple[str, str], Sequence[float]]


def solve(case: GaugeStudyCase) -> GaugeStudyAnswer:
    """Divide the spread between parts, persons and repeats."""
    cells: dict[tuple[str, str], list[float]] = {}
    for part_name, person_name, value in case.readings:
        cells.setdefault((part_name, person_name), []).append(value)
    parts = list(dict.fromkeys(part for part, _ in cells))
    persons = list(dict.fromkeys(person for _, person in cells))
    study, ranges, trials = _analysed(cells, parts, persons, case.pooled_above)
    spread = study.spread
    if spread.total <= 0 or spread.gauge <= 0:
        raise InputError("readings", "nothing varies", "read the gauge to a finer step")
    tolerance = None if case.tolerance is None else in_unit(case.tolerance, case.unit)
    of_tolerance = _percent_of(spread.gauge, tolerance)
    of_total = 100 * spread.gauge / spread.total
    u95 = 2 * spread.gauge
    least, most = study.repeatability_within(0.95)
    answer = GaugeStudyAnswer(
        worth=_worth(of_total if of_tolerance is None else of_tolerance),
        unit=case.unit.name,
        parts=len(parts),
        persons=len(persons),
        trials=trials,
        repeatability=spread.repeatability,
        repeatability_low=least,
        repeatability_high=most,
        reproducibility=spread.reproducibility,
        interaction=spread.interaction,
        gauge=spread.gauge,
        part=spread.part,
        total=spread.total,
        tolerance=tolerance,
        percent_of_tolerance=of_tolerance,
        percent_of_total=of_total,
        distinct_categories=spread.categories,
        interaction_pooled=study.pooled,
        interaction_p=study.interaction_p,
        suggested_u95=u95,
        tolerance_left_share=None if tolerance is None else max(0.0, 1 - 2 * u95 / tolerance),
        components=list(_components(study, tolerance)),
        variance_table=list(_variances(study)),
        by_ranges=ranges and _by_ranges(ranges, tolerance),
        out_of_line=list(_out_of_line(ranges, parts, persons, case.unit.name)),
        release=[],
        assumed=list(_assumed(case, study, persons, trials)),
        how=_how(study, len(persons), case.pooled_above),
    )
    return answer.model_copy(update={"release": list(_release(answer))})


def _analysed(
    cells: Cells, parts: Sequence[str], persons: Sequence[str], pooled_above: float
) -> tuple[GaugeStudy, RangeStudy | None, int | None]:
    """The study, the same by ranges where they show it, and how often each part was measured."""
    if len(parts) < 2:
        raise InputError("readings", "one part", "give two parts or more: ten is usual")
    counts = {len(values) for values in cells.values()}
    if len(persons) == 1:
        rows = [cells[part, persons[0]] for part in parts]
        sizes = np.array([len(row) for row in rows], dtype=float)
        study = one_person(np.concatenate([np.array(row) for row in rows]), sizes)
        if len(counts) > 1:
            return study, None, None
        return study, by_ranges(np.array(rows)[:, None, :]), len(rows[0])
    table = _full(cells, parts, persons)
    study = by_variance(table, pooled_above=pooled_above)
    trials = table.shape[2]
    return study, by_ranges(table) if trials > 1 else None, trials


def _full(cells: Cells, parts: Sequence[str], persons: Sequence[str]) -> Floats:
    """Parts by persons by trials; refused, a line each, where a cell has not its readings."""
    usual = Counter(len(values) for values in cells.values()).most_common(1)[0][0]
    uneven = [
        Problem(
            "readings",
            f'part "{part}", person "{person}": {_count(len(cells.get((part, person), ())))}',
            f"every person measures every part equally often, here {usual} times"
            if usual > 1
            else "every person measures every part",
        )
        for part in parts
        for person in persons
        if len(cells.get((part, person), ())) != usual
    ]
    if uneven:
        more = len(uneven) - _LISTED
        last = [Problem("readings", f"{more} more like these")] if more > 0 else []
        raise InputError.of(uneven[:_LISTED] + last)
    return np.array([[cells[part, person] for person in persons] for part in parts])


def _count(count: int) -> str:
    return "no reading" if count == 0 else "1 reading" if count == 1 else f"{count} readings"


def _percent_of(sigma: float, tolerance: float | None) -> float | None:
    return None if tolerance is None else 100 * STUDY_SIGMAS * sigma / tolerance


def _worth(percent: float) -> Worth:
    if percent <= GOOD:
        return "good"
    return "with care" if percent <= WITH_CARE else "not fit"


def _components(study: GaugeStudy, tolerance: float | None) -> Iterator[ComponentRow]:
    spread = study.spread
    sigmas = {
        "gauge": spread.gauge,
        "repeatability": spread.repeatability,
        "reproducibility": spread.reproducibility,
        "persons": spread.person if spread.interaction is not None else None,
        "part and person": spread.interaction,
        "parts": spread.part,
        "all": spread.total,
    }
    for source, sigma in sigmas.items():
        if sigma is not None:
            yield ComponentRow(
                source=source,
                sigma=sigma,
                six_sigma=STUDY_SIGMAS * sigma,
                percent_of_total=100 * sigma / spread.total,
                percent_of_tolerance=_percent_of(sigma, tolerance),
            )


def _variances(study: GaugeStudy) -> Iterator[VarianceRow]:
    """The table as it was judged; before it, pooled, what the interaction was judged by."""
    lines = list(study.table)
    if study.pooled:
        told = next(each for each in study.before_pooling if each.source == "part and person")
        lines.insert(2, told)
    for line in lines:
        pooled = study.pooled and line.source in ("part and person", "repeat")
        yield VarianceRow(
            source={"part and person": "part and person, pooled", "repeat": "repeat and pooled"}[
                line.source
            ]
            if pooled
            else line.source,
            degrees_of_freedom=line.degrees,
            sum_of_squares=line.squares,
            mean_square=line.mean_square,
            f=line.f,
            p=line.p,
        )


def _by_ranges(found: RangeStudy, tolerance: float | None) -> RangesAnswer | None:
    spread = found.spread
    if spread.gauge <= 0:
        return None
    return RangesAnswer(
        repeatability=spread.repeatability,
        reproducibility=spread.person,
        gauge=spread.gauge,
        part=spread.part,
        percent_of_tolerance=_percent_of(spread.gauge, tolerance),
        percent_of_total=100 * spread.gauge / spread.total,
        distinct_categories=spread.categories,
        mean_range=found.mean_range,
        range_limit=found.range_limit,
    )


def _out_of_line(
    found: RangeStudy | None, parts: Sequence[str], persons: Sequence[str], unit: str
) -> Iterator[str]:
    if found is None:
        return
    for part, person in found.beyond[:_LISTED]:
        yield (
            f"Part {parts[part]}, person {persons[person]}: the readings differ by more than "
            f"{found.range_limit:.3g} {unit}, which chance alone seldom does."
        )


def _release(answer: GaugeStudyAnswer) -> Iterator[str]:
    u95 = f"{answer.suggested_u95:.3g} {answer.unit}"
    yield (
        f"Judge with an expanded uncertainty of {u95} or more: twice the gauge's sigma. What this "
        "study cannot show (the calibration of the gauge, warmth, how the part is held) comes on "
        "top, root sum square."
    )
    if answer.tolerance_left_share is not None:
        if answer.tolerance_left_share > 0:
            yield (
                f"Limits drawn in by it leave {100 * answer.tolerance_left_share:.0f} % of the "
                "tolerance in which a part can be called within."
            )
        else:
            yield "Limits drawn in by it leave nothing: no part could be called within."
    if answer.distinct_categories < WANTED_CATEGORIES:
        yield (
            f"It tells {answer.distinct_categories} "
            f"{'group' if answer.distinct_categories == 1 else 'groups'} of these parts apart; "
            f"{WANTED_CATEGORIES} are wanted before control charts are made of its readings."
        )
    worse = answer.reproducibility is not None and answer.reproducibility > answer.repeatability
    if answer.worth != "good" and answer.reproducibility is not None:
        yield (
            "The persons differ more than the repeats: agree on how to hold and read it first."
            if worse
            else "The repeats differ more than the persons: look at the gauge and how it is held."
        )


def _assumed(
    case: GaugeStudyCase, study: GaugeStudy, persons: Sequence[str], trials: int | None
) -> Iterator[str]:
    yield "Parts, persons and repeats are a fair sample of those to come, measured in random order."
    if "pooled_above" not in case.model_fields_set and study.pooled is not None:
        yield "The interaction is pooled with the repeats where its p is above 0.25."
    if len(persons) == 1:
        yield "One person measured: what other persons would add does not show and is left out."
    elif len(persons) < FEW_PERSONS:
        yield "Two persons tell little of how much persons differ; three or more are usual."
    if trials == 1:
        yield (
            "Each was measured once: where persons differ on some parts only, it counts as "
            "repeatability."
        )
    basis = "all that was measured" if case.tolerance is None else "the tolerance"
    yield (
        f"Good up to 10 % of {basis}, with care up to 30 %, not fit above (AIAG); the gauge's "
        "spread is 6 sigma."
    )


def _how(study: GaugeStudy, persons: int, pooled_above: float) -> str:
    if persons == 1:
        return "One-way analysis of variance, parts random; one person."
    if study.pooled is None:
        return "Two-way analysis of variance, parts and persons random, one trial each."
    kept = f"pooled, its p above {pooled_above:g}" if study.pooled else "kept"
    return (
        "Two-way analysis of variance, parts and persons random, their interaction "
        f"{kept}. A component estimated below zero counts as zero."
    )


def say(answer: GaugeStudyAnswer, lead: Lead) -> str:
    """Whether the gauge will do, and what to judge with."""
    mm = float(unit_size(answer.unit))
    u95_mm = answer.suggested_u95 * mm
    u95 = show_length(u95_mm, lead=lead, uncertainty_mm=u95_mm / 10, usual_mm=6).leading
    verdict = {"good": "Good", "with care": "Usable with care", "not fit": "Not fit for this"}
    if answer.percent_of_tolerance is None:
        share = f"{answer.percent_of_total:.1f} % of all that was measured"
    else:
        share = f"{answer.percent_of_tolerance:.1f} % of the tolerance"
    return (
        f"{verdict[answer.worth]}: the gauge takes {share}. Judge with an expanded uncertainty "
        f"of {u95} or more."
    )


WORKSHEET = Worksheet(
    heading=heading("gauge-study"),
    case=GaugeStudyCase,
    answer=GaugeStudyAnswer,
    solve=solve,
    say=say,
    sources=(
        "AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. II and III (method, 10 and 30 %)",
        "Searle, Casella, McCulloch, Variance Components (1992) (one-way and two-way, random)",
        "Duncan, Quality Control and Industrial Statistics, 5th ed. (1986) (few ranges: d2*)",
    ),
    example="""
# Bore diameters less 100 mm: five bells, three persons, each twice, in random order.
# The table says its unit once; each row is part, person, reading.
unit = "mm"
tolerance = "0.035 mm"            # the full width on the drawing; may be left out
readings = [
  ["B-01", "Ann", 0.0121], ["B-01", "Ann", 0.0128], ["B-01", "Ben", 0.0131],
  ["B-01", "Ben", 0.0126], ["B-01", "Cy", 0.0119], ["B-01", "Cy", 0.0124],
  ["B-02", "Ann", 0.0185], ["B-02", "Ann", 0.0181], ["B-02", "Ben", 0.0189],
  ["B-02", "Ben", 0.0194], ["B-02", "Cy", 0.0180], ["B-02", "Cy", 0.0184],
  ["B-03", "Ann", 0.0077], ["B-03", "Ann", 0.0072], ["B-03", "Ben", 0.0083],
  ["B-03", "Ben", 0.0080], ["B-03", "Cy", 0.0074], ["B-03", "Cy", 0.0070],
  ["B-04", "Ann", 0.0142], ["B-04", "Ann", 0.0148], ["B-04", "Ben", 0.0150],
  ["B-04", "Ben", 0.0153], ["B-04", "Cy", 0.0141], ["B-04", "Cy", 0.0139],
  ["B-05", "Ann", 0.0226], ["B-05", "Ann", 0.0222], ["B-05", "Ben", 0.0231],
  ["B-05", "Ben", 0.0229], ["B-05", "Cy", 0.0219], ["B-05", "Cy", 0.0225],
]
""",
)
