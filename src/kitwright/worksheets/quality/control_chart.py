"""Is the process steady, or has something changed?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

import numpy as np
from pydantic import Field

from kitwright.calc.quality.control_chart import (
    Chart,
    ControlChart,
    Kind,
    individuals,
    of_subgroups,
)
from kitwright.calc.quality.run_rules import Rule, RuleSet, rules_of
from kitwright.errors import InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer, AnswerPart, Case, TableUnit, shown
from kitwright.worksheets.quality.series import Subgroups, Values, equal_rows, one_of

WANTED_POINTS = 25


class ControlChartCase(Case):
    """Measurements in the order made."""

    unit: TableUnit = Field(description="Unit of the numbers")
    kind: Kind = Field(description="Kind of chart")
    values: Values | None = Field(default=None, description="Values, for individuals")
    subgroups: Subgroups | None = Field(
        default=None, description="Subgroups made together, of one size"
    )
    phase_1: Annotated[int, Field(ge=2)] | None = Field(
        default=None, description="How many first points set the limits"
    )
    rules: Annotated[list[RuleSet | Rule], Field(min_length=1, max_length=20)] | None = Field(
        default=None, description="Run rules: a published set, or rules by name"
    )


class ChartLimits(AnswerPart):
    """Control limits, in the case's unit."""

    low: float = shown("Low", in_unit=True)
    high: float = shown("High", in_unit=True)


class SignalRow(AnswerPart):
    """A pattern that chance alone seldom makes. Points are counted from 1."""

    rule: Rule = shown("Rule")
    where: int = shown("Complete at point")
    first: int = shown("Begins at")
    through: int = shown("Goes on to")
    phase: int = shown("Phase")
    source: str = shown("Source")


class DispersionAnswer(AnswerPart):
    """The chart of spread."""

    of: str = shown("Of")
    centre: float = shown("Centre", in_unit=True)
    limits: ChartLimits = shown("Limits")
    signals: list[SignalRow] = shown("Signals", hidden=True)
    points: list[float] = shown("Points", hidden=True)
    first: int = shown("Number of the first point", hidden=True)


class ControlChartAnswer(Answer):
    """Centre, limits and signals of both charts. Numbers are in the case's unit."""

    steady: bool = shown("Steady")
    unit: str = shown("Unit")
    kind: Kind = shown("Chart of")
    count: int = shown("Points")
    phase_1: int = shown("Points that set the limits")
    centre: float = shown("Centre", in_unit=True)
    limits: ChartLimits = shown("Limits")
    sigma: float = shown("Sigma of single values, within", in_unit=True)
    dispersion: DispersionAnswer = shown("Spread")
    signals: list[SignalRow] = shown("Signals", optional=True)
    spread_signals: list[SignalRow] = shown("Signals of the spread", optional=True)
    """Those of `dispersion`, again."""
    points: list[float] = shown("Points of the chart", hidden=True)


def solve(case: ControlChartCase) -> ControlChartAnswer:
    """Draw up the chart and look for signals."""
    given = one_of(case, ("values", "subgroups"))
    rules = _rules(case.rules)
    if case.kind == "individuals":
        if given != "values":
            kinds = 'give values, or kind "mean-range" or "mean-sigma"'
            raise InputError("kind", '"individuals" is a chart of values', kinds)
        values = np.array(case.values, dtype=float)
        chart = individuals(values, phase_1=case.phase_1, rules=rules)
    else:
        if given != "subgroups":
            expected = 'give subgroups, or kind "individuals"'
            raise InputError("kind", f'"{case.kind}" is a chart of subgroups', expected)
        table = equal_rows(case.subgroups or [])
        chart = of_subgroups(table, kind=case.kind, phase_1=case.phase_1, rules=rules)
    signals = _rows(chart, chart.phase_1)
    of_spread = _rows(chart.dispersion, chart.phase_1)
    spread = chart.dispersion
    return ControlChartAnswer(
        steady=not signals and not of_spread,
        unit=case.unit.name,
        kind=case.kind,
        count=len(chart.points),
        phase_1=chart.phase_1,
        centre=chart.centre,
        limits=ChartLimits(low=chart.low, high=chart.high),
        sigma=chart.sigma.value,
        signals=signals,
        spread_signals=of_spread,
        dispersion=DispersionAnswer(
            of=_SPREAD[case.kind],
            centre=spread.centre,
            limits=ChartLimits(low=spread.low, high=spread.high),
            signals=of_spread,
            points=spread.points.tolist(),
            first=spread.first,
        ),
        points=chart.points.tolist(),
        assumed=list(_assumed(case, chart)),
        how=(
            "Centre and limits come from the points of phase 1: the limits stand three sigma of a "
            f"point from the centre, sigma from the {_SIGMA[case.kind]}. A run is counted within "
            "one phase, on one side of a line it does not touch; a point beyond the limits is a "
            "signal of its own, another pattern is one signal as long as it goes on."
        ),
    )


_SPREAD: dict[Kind, str] = {
    "individuals": "moving ranges",
    "mean-range": "ranges",
    "mean-sigma": "standard deviations",
}
_SIGMA: dict[Kind, str] = {
    "individuals": "mean moving range over d2",
    "mean-range": "mean range over d2",
    "mean-sigma": "mean standard deviation over c4",
}


def _rules(asked: Sequence[RuleSet | Rule] | None) -> list[Rule]:
    """Rules by name, a set's in its place, each once."""
    wanted: list[Rule] = []
    for name in asked or ["Western Electric 1956"]:
        wanted += rules_of(name)
    return list(dict.fromkeys(wanted))


def _rows(chart: Chart, phase_1: int) -> list[SignalRow]:
    return [
        SignalRow(
            rule=signal.rule,
            where=signal.where,
            first=signal.first,
            through=signal.through,
            phase=1 if signal.where <= phase_1 else 2,
            source=signal.source,
        )
        for signal in chart.signals
    ]


def _assumed(case: ControlChartCase, chart: ControlChart) -> Iterator[str]:
    yield "The points stand in the order made."
    if case.phase_1 is None:
        yield "All points set the limits (phase 1 only)."
    if case.rules is None:
        yield "The run rules are the four of Western Electric, 1956."
    if chart.phase_1 < WANTED_POINTS:
        yield (
            f"The limits come from {chart.phase_1} points and are provisional until "
            f"{WANTED_POINTS} have set them (common practice)."
        )
    yield "On the chart of spread only a point beyond the limits is a signal."


_MORE_SHOWN = 3


def say(answer: ControlChartAnswer, lead: Lead) -> str:
    """Steady or not, and where to look first."""
    if answer.steady:
        return f"Steady: none of {answer.count} points signals."
    every = sorted([*answer.signals, *answer.spread_signals], key=lambda each: each.where)
    beyond = sorted({each.where for each in every if each.rule == "beyond limits"})
    kind = "signal" if len(every) == 1 else "signals"
    first = every[0]
    said = f"Not steady: {len(every)} {kind}, the first at point {first.where} ({first.rule})."
    if beyond and first.rule != "beyond limits":
        listed = ", ".join(map(str, beyond[:_MORE_SHOWN]))
        more = " and more" if len(beyond) > _MORE_SHOWN else ""
        points = "Point" if len(beyond) == 1 else "Points"
        lie = "lies" if len(beyond) == 1 else "lie"
        said += f" {points} {listed}{more} {lie} beyond the limits."
    return f"{said} Find what changed there before you adjust anything."


WORKSHEET = Worksheet(
    heading=heading("control-chart"),
    case=ControlChartCase,
    answer=ControlChartAnswer,
    solve=solve,
    say=say,
    sources=(
        "ISO 7870-2:2013, Shewhart control charts",
        "Shewhart, Economic Control of Quality of Manufactured Product (1931) (three sigma)",
        "Western Electric, Statistical Quality Control Handbook (1956) (four run rules)",
        "Nelson, Journal of Quality Technology 16 (1984) 237-239 (eight run rules)",
        "Tippett, Biometrika 17 (1925) 364-387 (the range; its constants are computed from it)",
    ),
    example="""
# Bore diameters, two of each crate, in the order made. The table says its unit once.
unit = "mm"
kind = "mean-range"       # or "mean-sigma"; "individuals" takes values = [50.003, ...] instead
subgroups = [
  [50.003, 50.006], [50.001, 50.005], [50.008, 50.004], [50.002, 50.007], [50.004, 50.006],
  [50.003, 50.005], [50.005, 50.004], [50.006, 50.002], [50.004, 50.007], [50.005, 50.003],
  [50.012, 50.014], [50.013, 50.010],
]

phase_1 = 10              # the first ten set the limits; leave it out and all do

# A published set ("Western Electric 1956" or "Nelson 1984"), or rules by name:
rules = ["Western Electric 1956", "6 in a row rising or falling"]
""",
)
