"""Does the process hold the drawing?"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, isfinite

import numpy as np

from kitwright.calc.checks import Floats
from kitwright.calc.quality.capability import (
    NORMAL_P,
    Capability,
    Index,
    Interval,
    Outside,
    assess,
)
from kitwright.calc.quality.control_chart import individuals, of_subgroups
from kitwright.calc.quality.normality import LEAST, NormalTest
from kitwright.calc.quality.spread import (
    Sigma,
    from_ranges,
    from_sigmas,
    pooled,
)
from kitwright.calc.quality.zone_capability import ZoneCapability, assess_positions
from kitwright.errors import InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.quality.capability_case import (
    CapabilityAnswer,
    CapabilityCase,
    Holds,
    IndexAnswer,
    IntervalAnswer,
    LimitNumbers,
    NormalTestAnswer,
    QuantileAnswer,
    ToleranceAnswer,
)
from kitwright.worksheets.quality.series import equal_rows, in_unit, one_of
from kitwright.worksheets.showing import say_chance

THREE_SIGMA_OUTSIDE = 0.0026997960632601866
"""Outside three sigma on both sides of a normal process: what an index of 1 means."""


def solve(case: CapabilityCase) -> CapabilityAnswer:
    """Weigh the process against its limits or its zone."""
    given = one_of(case, ("values", "subgroups", "positions"))
    if given == "positions":
        return _of_positions(case)
    if case.limits is None:
        raise InputError("limits", "missing", f"{given} need it")
    if case.zone is not None:
        raise InputError("zone", "belongs to positions", "leave it out")
    limits = case.limits
    low = -inf if limits.low is None else in_unit(limits.low, case.unit)
    high = inf if limits.high is None else in_unit(limits.high, case.unit)
    values, within, beyond = _of_values(case) if given == "values" else _of_subgroups(case)
    found = assess(
        values,
        within=within,
        low=low,
        high=high,
        confidence=case.confidence,
        coverage=case.coverage,
    )
    tolerance, by_quantiles = found.tolerance, found.by_quantiles
    free = tolerance.free
    return CapabilityAnswer(
        holds=_holds(found.outside),
        unit=case.unit.name,
        count=found.count,
        limits=LimitNumbers(
            low=low if isfinite(low) else None, high=high if isfinite(high) else None
        ),
        zone=None,
        mean=found.mean,
        sigma_within=found.within.value,
        sigma_overall=found.overall.value,
        cp=_index(found.by_within.width),
        cpk=_whole(found.by_within.nearer),
        pp=_index(found.by_overall.width),
        ppk=_whole(found.by_overall.nearer),
        cpk_safe=_interval(found.by_within.safe),
        ppk_safe=_interval(found.by_overall.safe),
        **_chances(found.outside, found.normal),
        chance_below=None if low == -inf else found.outside.below,
        chance_above=None if high == inf else found.outside.above,
        counted_outside=found.counted,
        normal_test=_test(found.normal_test),
        quantiles=by_quantiles
        and QuantileAnswer(
            method=by_quantiles.method,
            low_quantile=by_quantiles.lowest,
            median=by_quantiles.median,
            high_quantile=by_quantiles.highest,
            pp=by_quantiles.width,
            ppk=by_quantiles.nearer,
        ),
        tolerance_interval=ToleranceAnswer(
            coverage_share=case.coverage,
            confidence_chance=case.confidence,
            low=tolerance.low,
            high=tolerance.high,
            factor=tolerance.factor,
            one_sided_low=tolerance.one_low,
            one_sided_high=tolerance.one_high,
            one_sided_factor=tolerance.one_factor,
            free_low=None if free is None else free.low,
            free_high=None if free is None else free.high,
        ),
        beyond_limits=beyond,
        covariance=None,
        **_strip(values),
        assumed=list(_assumed(case, given, found)),
        how=_HOW_VALUES,
    )


def _of_values(case: CapabilityCase) -> tuple[Floats, Sigma, int | None]:
    if case.within_by is not None:
        raise InputError("within_by", "belongs to subgroups", "leave it out")
    values = np.array(case.values, dtype=float)
    chart = individuals(values, rules=["beyond limits"])
    return values, chart.sigma, len(chart.signals)


def _of_subgroups(case: CapabilityCase) -> tuple[Floats, Sigma, int | None]:
    rows = case.subgroups or []
    sizes = np.array([len(row) for row in rows], dtype=float)
    values = np.concatenate([np.array(row, dtype=float) for row in rows])
    if sizes.max() < 2:
        raise InputError(
            "subgroups", "every subgroup is of one", "give the numbers as values, in the order made"
        )
    if all(len(set(row)) == 1 for row in rows):
        raise InputError(
            "subgroups", "nothing varies within any of them", "measure to a finer step"
        )
    if case.within_by in ("mean range", "mean sigma"):
        table = equal_rows(rows)
        within = from_ranges(table) if case.within_by == "mean range" else from_sigmas(table)
    else:
        within = pooled(values, sizes)
    beyond = None
    if (sizes == sizes[0]).all():
        chart = of_subgroups(
            values.reshape(len(rows), -1), kind="mean-sigma", rules=["beyond limits"]
        )
        beyond = len(chart.signals)
    return values, within, beyond


def _of_positions(case: CapabilityCase) -> CapabilityAnswer:
    if case.zone is None:
        raise InputError("zone", "missing", "positions need it")
    for name in ("limits", "within_by"):
        if getattr(case, name) is not None:
            raise InputError(name, "does not belong to positions", "leave it out")
    places = np.array(case.positions, dtype=float)
    zone = in_unit(case.zone, case.unit)
    found = assess_positions(places, zone=zone, confidence=case.confidence)
    return CapabilityAnswer(
        holds=_holds(found.outside),
        unit=case.unit.name,
        count=found.count,
        limits=None,
        zone=zone,
        mean=list(found.mean),
        sigma_within=list(found.within),
        sigma_overall=list(found.overall),
        cp=_index(found.cp),
        cpk=_whole(found.cpk),
        pp=_index(found.pp),
        ppk=_whole(found.ppk),
        cpk_safe=None,
        ppk_safe=None,
        **_chances(found.outside, found.normal),
        chance_below=None,
        chance_above=None,
        counted_outside=found.counted,
        normal_test=_test(found.normal_test),
        quantiles=None,
        tolerance_interval=None,
        beyond_limits=None,
        covariance=list(found.covariance),
        strip=[],
        strip_from=None,
        strip_to=None,
        assumed=list(_assumed(case, "positions", found)),
        how=_HOW_POSITIONS,
    )


def _holds(outside: Outside) -> Holds:
    """Whether all, or none, of what the interval allows keeps within three sigma's share."""
    if outside.interval.high <= THREE_SIGMA_OUTSIDE:
        return "yes"
    return "no" if outside.interval.low > THREE_SIGMA_OUTSIDE else "too few values to tell"


def _chances(outside: Outside, normal: Outside) -> dict[str, object]:
    return {
        "chance_outside": outside.chance,
        "chance_outside_low": outside.interval.low,
        "chance_outside_high": outside.interval.high,
        "chance_inside": 1 - outside.chance,
        "chance_method": outside.method,
        "chance_outside_normal": normal.chance,
    }


def _whole(index: Index) -> IndexAnswer:
    return IndexAnswer(value=index.value, low=index.low, high=index.high)


def _index(index: Index | None) -> IndexAnswer | None:
    return None if index is None else _whole(index)


def _interval(interval: Interval) -> IntervalAnswer:
    return IntervalAnswer(low=interval.low, high=interval.high)


def _test(test: NormalTest | None) -> NormalTestAnswer | None:
    if test is None:
        return None
    return NormalTestAnswer(name="Anderson-Darling", statistic=test.statistic, p=test.p)


def _strip(values: Floats) -> dict[str, object]:
    """Values counted in equal steps, for the picture."""
    steps = int(np.clip(np.sqrt(len(values)) * 2, 8, 40))
    low, high = float(values.min()), float(values.max())
    counts, _ = np.histogram(values, bins=steps, range=(low, high))
    return {"strip": counts.tolist(), "strip_from": low, "strip_to": high}


# ── what is said ─────────────────────────────────────────────────────────────────────────

_HOW_VALUES = (
    "Cp and Cpk by the sigma within (from one value to the next, or within subgroups), Pp and "
    "Ppk by the sigma of all values. The intervals of Cp and Pp are by chi-square, those of Cpk "
    "and Ppk by Bissell's formula; those for few values are by noncentral t, exact with one limit "
    "and at least as sure with two. The tolerance factors are exact. Where values fail the "
    "test of normality, the chance outside is the share counted, with its exact interval, which "
    "needs no curve; Pp and Ppk by quantiles (0.135 %, 50 %, 99.865 %) come from the Pearson "
    "curve of their four moments where it fits, or are counted from 10 000 values on."
)
_HOW_POSITIONS = (
    "The chance that a normal place, with the mean and covariance of the positions, lies inside "
    "the circle of the zone; its interval is a generalized one above, a test inverted below. Each "
    "index is that of a single characteristic with the same chance outside: Cp and Pp as if "
    "centred, Cpk and Ppk where the positions are. Where positions fail the test of normality, the "
    "chance outside is the share counted, with its exact interval."
)


def _assumed(case: CapabilityCase, given: str, found: Capability | ZoneCapability) -> Iterator[str]:
    asked = case.model_fields_set
    if "confidence" not in asked:
        yield "Every interval has a confidence of 95 %."
    if "coverage" not in asked and given != "positions":
        yield "The tolerance interval holds 95 % of the process."
    rows = case.subgroups or []
    if given == "subgroups" and case.within_by is None:
        yield "Sigma within is pooled over the subgroups."
    if given == "subgroups" and any(len(row) == 1 for row in rows):
        yield "A subgroup of one says nothing about the spread within; it counts in the mean."
    if given == "values":
        yield "The values stand in the order made; sigma within is their mean moving range over d2."
    if given == "positions":
        yield "The positions stand in the order made, measured from the true place."
    if given != "subgroups" or case.within_by in ("mean range", "mean sigma"):
        yield "The interval of the sigma within is a chi of matched mean and variance."
    test = found.normal_test
    if test is None:
        yield f"Fewer than {LEAST} parts cannot be tested for being normal; taken as normal."
    elif test.p >= NORMAL_P:
        yield "The parts pass as normal, and their chance is reckoned as normal."
    else:
        yield (
            "The parts are not normal (p under 5 %): their chance outside is counted; cp, cpk, pp, "
            "ppk and the tolerance interval with a factor are shown as if they were normal."
        )
    yield "The process stays as it was while these parts were made."
    yield "It holds the drawing where at most 0.27 % lie outside: three sigma on both sides."


def say(answer: CapabilityAnswer, lead: Lead) -> str:
    """Whether the process holds the drawing, and how surely."""
    chance, most = say_chance(answer.chance_outside), say_chance(answer.chance_outside_high)
    about = f"{chance} of its parts lie outside, {most} at most"
    said = {
        "yes": f"The process holds the drawing: {about}.",
        "no": (
            f"The process does not hold the drawing: {chance} of its parts lie outside, "
            f"{say_chance(answer.chance_outside_low)} at least."
        ),
        "too few values to tell": (
            f"{answer.count} parts are too few to tell: {about}. Measure more before you trust it."
        ),
    }[answer.holds]
    if answer.beyond_limits and answer.chance_method == "normal":  # a skewed tail is no change
        points = "point is" if answer.beyond_limits == 1 else "points are"
        said += (
            f" But it is not steady: {answer.beyond_limits} {points} beyond the limits of its own "
            "chart. Find out why first."
        )
    return said


WORKSHEET = Worksheet(
    heading=heading("capability"),
    case=CapabilityCase,
    answer=CapabilityAnswer,
    solve=solve,
    say=say,
    sources=(
        "ISO 22514-2:2017 (capability and performance; values that are not normal, by quantiles)",
        "ISO 22514-6:2013 (characteristics in the plane)",
        "Bissell, Applied Statistics 39 (1990) 331-340 (interval of Cpk)",
        "ISO 16269-6:2014 (tolerance intervals)",
        "D'Agostino and Stephens, Goodness-of-Fit Techniques (1986) (Anderson-Darling's p)",
        "Clements, Quality Progress 22 (1989) 95-100 (indices by the quantiles of Pearson curves)",
        "Wilks, Annals of Mathematical Statistics 12 (1941) 91-96 (limits without a curve)",
        "Clopper and Pearson, Biometrika 26 (1934) 404-413 (interval of a counted share)",
        "Krishnamoorthy and Mathew, Statistical Tolerance Regions (2009) (interval in the plane)",
        "Carpenter, Journal of the Royal Statistical Society B 61 (1999) 159-172 (its lower end)",
    ),
    example="""
# Bore diameters of twelve bells, in the order made. The table says its unit once.
unit = "mm"
values = [
  50.003, 50.006, 50.001, 50.005, 50.008, 50.004, 50.002, 50.007, 50.004, 50.006, 50.003, 50.005,
]
limits = {low = "49.990 mm", high = "50.020 mm"}   # either may be left out

confidence = 0.95      # of every interval
coverage = 0.95        # share of the process that the tolerance interval holds

# Instead of values:
#   subgroups = [[50.003, 50.006], [50.001, 50.005]]     # made together, with
#   within_by = "pooled"                                 # or "mean range" or "mean sigma"
# or positions from the true place, with a zone (a diameter) in place of limits:
#   positions = [[0.01, -0.02], [0.00, 0.01], [-0.01, 0.02]]
#   zone = "0.127 mm"
""",
)
