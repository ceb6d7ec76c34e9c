"""Gauge studies: how much of what is measured is the gauge and the people who use it.

Parts are measured by persons, each several times. The analysis of variance takes part, person,
their interaction and the repeat as random [1]_ [2]_; a component whose estimate comes out below
zero is zero. Numbers are in any one unit.

References
----------
.. [1] AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III B: the interaction is pooled
   with the repeats where it does not show.
.. [2] Searle, Casella, McCulloch, Variance Components (1992), ch. 3 and 4: one-way with unequal
   counts, two-way crossed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final, Literal

import numpy as np
from scipy.special import chdtri, fdtrc

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

POOLED_ABOVE: Final = 0.25
"""The interaction is pooled with the repeats where its p is above this."""
CATEGORIES: Final = 1.41
"""Distinct categories are this many times sigma of the parts over sigma of the gauge [1]_."""
STUDY_SIGMAS: Final = 6.0
"""What is taken for the whole spread of a gauge, in sigmas."""
_ROUNDING: Final = 1e-13  # of the readings' size: repeats nearer than this are equal

Source = Literal["part", "person", "part and person", "repeat", "all"]


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the table of variance."""

    source: Source
    degrees: int
    squares: float
    """Sum of squares."""
    f: float | None = None
    p: float | None = None

    @property
    def mean_square(self) -> float | None:
        """Sum of squares over degrees of freedom; none for the total."""
        return None if self.source == "all" else self.squares / self.degrees


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Standard deviations of one analysis; None where the study cannot show one."""

    repeatability: float
    """Of one person's repeats on one part."""
    person: float | None
    """Between the persons' means."""
    interaction: float | None
    """Of persons who differ on some parts only; None where pooled or not to be told."""
    part: float
    """Between parts."""

    @property
    def reproducibility(self) -> float | None:
        """Of persons, their interaction with the parts included where it was kept."""
        return None if self.person is None else sqrt(self.person**2 + (self.interaction or 0) ** 2)

    @property
    def gauge(self) -> float:
        """Repeatability and reproducibility together."""
        return sqrt(self.repeatability**2 + (self.reproducibility or 0) ** 2)

    @property
    def total(self) -> float:
        """Of single readings on parts like these."""
        return sqrt(self.gauge**2 + self.part**2)

    @property
    def categories(self) -> int:
        """How many groups of parts the gauge can tell apart, at least one."""
        return max(1, int(CATEGORIES * self.part / self.gauge))


@dataclass(frozen=True, kw_only=True)
class GaugeStudy:
    """The variance of a study, and what it comes from."""

    table: tuple[Line, ...]
    """Lines as they were judged: with the interaction pooled where `pooled`."""
    before_pooling: tuple[Line, ...]
    """The table with the interaction in a line of its own, where it can be told."""
    spread: Spread
    pooled: bool | None
    """Whether the interaction was pooled; None where it cannot be told."""
    interaction_p: float | None
    repeat_degrees: int
    """Degrees of freedom of the repeatability."""

    def repeatability_within(self, confidence: float) -> tuple[float, float]:
        """Two-sided interval of the repeatability by chi-square."""
        tail = (1 - confidence) / 2
        squares = self.repeat_degrees * self.spread.repeatability**2
        least = sqrt(squares / chdtri(self.repeat_degrees, tail))
        return least, sqrt(squares / chdtri(self.repeat_degrees, 1 - tail))


def by_variance(table: Floats, *, pooled_above: float = POOLED_ABOVE) -> GaugeStudy:
    """Analyse a full study: every person measured every part equally often.

    Parameters
    ----------
    table : array, shape (parts, persons, trials); parts >= 2, persons >= 2, trials >= 1
        With one trial the interaction cannot be told from the repeats and counts as one.

    Raises
    ------
    InputError
        Too few of them, or repeats that do not differ anywhere.

    Examples
    --------
    >>> study = by_variance(np.array([[[1.0, 1.2], [1.1, 1.3]], [[2.0, 2.1], [2.2, 2.2]]]))
    >>> study.pooled, round(study.spread.gauge, 4)
    (True, 0.1214)
    """
    parts, persons, trials = table.shape
    if parts < 2 or persons < 2:
        raise InputError("readings", f"{parts} parts, {persons} persons", "give two of each")
    deviations = table - table.mean()
    by_part = deviations.mean(axis=(1, 2))
    by_person = deviations.mean(axis=(0, 2))
    cells = deviations.mean(axis=2)
    crossed = cells - by_part[:, None] - by_person
    squares_part = persons * trials * float((by_part**2).sum())
    squares_person = parts * trials * float((by_person**2).sum())
    squares_crossed = trials * float((crossed**2).sum())
    squares_repeat = float(((deviations - cells[:, :, None]) ** 2).sum())
    total = Line(
        source="all", degrees=parts * persons * trials - 1, squares=float((deviations**2).sum())
    )
    crossed_degrees = (parts - 1) * (persons - 1)
    repeat_degrees = parts * persons * (trials - 1)
    seen = squares_repeat if trials > 1 else squares_crossed
    _refuse_no_spread(table, seen, trials > 1)

    interaction_p, pooled, full = None, None, None
    if trials > 1:
        repeat = Line(source="repeat", degrees=repeat_degrees, squares=squares_repeat)
        interaction = _against(
            Line(source="part and person", degrees=crossed_degrees, squares=squares_crossed),
            repeat,
        )
        interaction_p = interaction.p
        pooled = interaction_p is not None and interaction_p > pooled_above
        full = (interaction, repeat)
    rest: tuple[Line, ...]
    if full is not None and not pooled:
        rest = full
    else:
        rest = (
            Line(
                source="repeat",
                degrees=crossed_degrees + repeat_degrees,
                squares=squares_crossed + squares_repeat,
            ),
        )
    factors = (
        Line(source="part", degrees=parts - 1, squares=squares_part),
        Line(source="person", degrees=persons - 1, squares=squares_person),
    )

    def whole(lines: tuple[Line, ...]) -> tuple[Line, ...]:
        return *(_against(factor, lines[0]) for factor in factors), *lines, total

    base, repeat = rest[0], rest[-1]
    kept = len(rest) == 2
    spread = Spread(
        repeatability=_root(_mean(repeat)),
        person=_root((_mean(factors[1]) - _mean(base)) / (parts * trials)),
        interaction=_root((_mean(base) - _mean(repeat)) / trials) if kept else None,
        part=_root((_mean(factors[0]) - _mean(base)) / (persons * trials)),
    )
    return GaugeStudy(
        table=whole(rest),
        before_pooling=whole(full) if full is not None else (),
        spread=spread,
        pooled=pooled,
        interaction_p=interaction_p,
        repeat_degrees=repeat.degrees,
    )


def one_person(values: Floats, counts: Floats) -> GaugeStudy:
    """Analyse one person's study: readings part after part, `counts` of them for each part.

    Counts may differ; with unequal ones the parts' component divides by
    (N - sum(n²)/N)/(parts - 1) [2]_. What other persons would add does not show.

    Raises
    ------
    InputError
        One part, no part measured twice, or repeats that do not differ anywhere.
    """
    sizes = counts.astype(int)
    if len(sizes) < 2:
        raise InputError("readings", "one part", "give two parts or more")
    count, groups = len(values), len(sizes)
    if count == groups:
        raise InputError(
            "readings", "one person, each part measured once", "measure every part again"
        )
    deviations = values - values.mean()
    means = np.add.reduceat(deviations, np.cumsum(sizes) - sizes) / sizes
    squares_repeat = float(((deviations - np.repeat(means, sizes)) ** 2).sum())
    _refuse_no_spread(values, squares_repeat, repeats=True)
    repeat = Line(source="repeat", degrees=count - groups, squares=squares_repeat)
    part = Line(source="part", degrees=groups - 1, squares=float((sizes * means**2).sum()))
    each = (count - float((sizes**2).sum()) / count) / (groups - 1)
    table = (
        _against(part, repeat),
        repeat,
        Line(source="all", degrees=count - 1, squares=float((deviations**2).sum())),
    )
    return GaugeStudy(
        table=table,
        before_pooling=(),
        spread=Spread(
            repeatability=_root(_mean(repeat)),
            person=None,
            interaction=None,
            part=_root((_mean(part) - _mean(repeat)) / each),
        ),
        pooled=None,
        interaction_p=None,
        repeat_degrees=repeat.degrees,
    )


def _mean(line: Line) -> float:
    return line.squares / line.degrees


def _root(variance: float) -> float:
    return sqrt(max(0.0, variance))


def _against(line: Line, base: Line) -> Line:
    """The line with F and p against another; none where that one is zero."""
    if base.squares <= 0:
        return line
    f = _mean(line) / _mean(base)
    p = float(fdtrc(line.degrees, base.degrees, f))
    return Line(source=line.source, degrees=line.degrees, squares=line.squares, f=f, p=p)


def _refuse_no_spread(values: Floats, squares: float, repeats: bool) -> None:
    size = max(float(np.abs(values).max()), float(np.ptp(values)))
    if squares <= values.size * (_ROUNDING * size) ** 2:
        what = "no repeat differs from another" if repeats else "no person differs on any part"
        raise InputError("readings", what, "read the gauge to a finer step")
