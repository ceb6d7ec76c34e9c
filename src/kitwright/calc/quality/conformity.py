"""Conformity: may a measured value be accepted, given how well it was measured?

Lengths are in any one unit. Outcomes are codes: `WITHIN`, `OUTSIDE`, `UNDECIDED`. A limit, drawn
in or not, includes its own value; two numbers that differ only in their last binary figures
count as equal, so that 0.3 - 0.1 is 0.2 here as it is on paper.

References
----------
.. [1] JCGM 106:2012, The role of measurement uncertainty in conformity assessment.
.. [2] ISO 14253-1:1998 and 2013: the guard is the expanded uncertainty U = 2u.
.. [3] ISO 14253-1:2017, 5.2: the guard leaves a chance of 95 % at one limit, 1.645 u.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kitwright.calc.checks import Floats, finite, not_negative, positive
from kitwright.calc.quality.chances import NODES, WEIGHTS, normal_chances, rice_chances
from kitwright.errors import FaultError, InputError

Rule = Literal["guard by U", "guard by 1.645 u"]
Verdict = Literal["within", "outside", "too close to call"]

WITHIN: Final = 1
UNDECIDED: Final = 0
OUTSIDE: Final = -1
VERDICTS: Final[dict[int, Verdict]] = {
    OUTSIDE: "outside",
    UNDECIDED: "too close to call",
    WITHIN: "within",
}
GUARD_IN_U95: Final[dict[Rule, float]] = {"guard by U": 1.0, "guard by 1.645 u": 1.645 / 2}
"""Rule → guard as a share of the expanded uncertainty (k = 2)."""


@dataclass(frozen=True, kw_only=True)
class Decision:
    """Outcomes of measurements, and the chance that each true value conforms.

    Every array has the shape that the measurements and limits broadcast to. The chances are
    reckoned when they are first asked for: deciding thousands of bells needs none.
    """

    codes: NDArray[np.int8]
    """`WITHIN`, `OUTSIDE` or `UNDECIDED`."""
    reckon: Callable[[], tuple[Floats, Floats]] = field(repr=False, compare=False)
    """Gives both chances."""

    @cached_property
    def _chances(self) -> tuple[Floats, Floats]:
        return self.reckon()

    @property
    def chance_conforms(self) -> Floats:
        """Chance that the true value is within the limits."""
        return self._chances[0]

    @property
    def chance_outside(self) -> Floats:
        """Chance that it is not; keeps its figures where `chance_conforms` rounds to 1."""
        return self._chances[1]

    @property
    def verdicts(self) -> NDArray[np.str_]:
        """The outcomes in words."""
        return np.array(list(VERDICTS.values()))[self.codes - OUTSIDE]


@dataclass(frozen=True, kw_only=True)
class LengthDecision(Decision):
    """Outcomes against a low and a high limit."""

    guarded_low: Floats
    """Least value called within; -inf without a low limit."""
    guarded_high: Floats
    """Greatest value called within; below `guarded_low` where none can be."""


@dataclass(frozen=True, kw_only=True)
class PositionDecision(Decision):
    """Outcomes of positions against a zone."""

    offset: Floats
    """Distance from the true place."""
    guarded_offset: Floats
    """Greatest offset called within; negative where none can be."""


@dataclass(frozen=True, kw_only=True)
class Prior:
    """What is known of the process before the measurement: normal, this mean and sigma."""

    mean: float
    sigma: float

    def __post_init__(self) -> None:
        finite(self.mean, where="prior.mean")
        positive(self.sigma, where="prior.sigma")


@dataclass(frozen=True, kw_only=True)
class ProcessRisks:
    """Chances over all that the process makes [1]_ (9.5); the three outcomes add up to 1."""

    conforms: float
    """Chance that a part conforms."""
    within: float
    """Chance that a part is called within."""
    outside: float
    """Chance that a part is called outside."""
    undecided: float
    """Chance that a part is too close to call."""
    users: float
    """Chance that a part is called within and does not conform (consumer's risk)."""
    makers: float
    """Chance that a part conforms and is not called within (producer's risk)."""
    makers_outside: float
    """Chance that a part conforms and is called outside: the part of `makers` that is final."""


def decide_length(
    value: ArrayLike,
    *,
    u95: ArrayLike,
    low: ArrayLike = -np.inf,
    high: ArrayLike = np.inf,
    rule: Rule = "guard by U",
) -> LengthDecision:
    """Decide measured lengths against their limits.

    A value is within when it is inside both limits drawn in by the guard, outside when it is
    beyond a limit drawn out by the guard, and else too close to call. The true value is taken
    as normal about the measured one with u = u95/2 [1]_ (clause 7).

    Parameters
    ----------
    value, u95, low, high : array_like, any shapes that broadcast; one unit
        A missing limit is -inf or inf. `u95` is the expanded uncertainty (k = 2); zero works.
    rule : the guard, all of U [2]_ or 1.645 u [3]_

    Raises
    ------
    InputError
        A value or u95 that is not finite, a negative u95, limits that are swapped or all missing.

    Examples
    --------
    >>> decide_length([0.1, 0.12, 0.14], u95=0.01, high=0.127).verdicts.tolist()
    ['within', 'too close to call', 'outside']
    """
    v, u, lo, hi = _lengths(value, u95, low, high)
    guard = _guard(u, rule)
    slack = 4 * np.spacing(_largest(v, lo, hi, guard))
    within = (v >= lo + guard - slack) & (v <= hi - guard + slack)
    outside = (v < lo - guard - slack) | (v > hi + guard + slack)
    return LengthDecision(
        codes=_codes(within, outside),
        reckon=partial(normal_chances, v, u / 2, lo, hi, slack),
        guarded_low=lo + guard,
        guarded_high=hi - guard,
    )


def decide_position(
    x: ArrayLike, y: ArrayLike, *, u95: ArrayLike, zone: ArrayLike, rule: Rule = "guard by U"
) -> PositionDecision:
    """Decide positions, measured from their true place, against a zone.

    The offset hypot(x, y) is judged against half the zone's diameter, drawn in and out by the
    guard. A limit on the TIR of a perfect bore is a zone of that diameter. The true place is
    taken as circular-normal about the measured one with u = u95/2 along each axis, so the
    true offset follows Rice's distribution; the lesser of the two chances is integrated.

    Parameters
    ----------
    x, y, u95, zone : array_like, any shapes that broadcast; one unit
        `u95` is the expanded uncertainty (k = 2) along an axis; `zone` is a diameter above zero.

    Raises
    ------
    InputError
        A number that is not finite, a negative u95, a zone that is not above zero.

    Examples
    --------
    >>> decide_position(0.03, 0.04, u95=0.01, zone=0.127).verdicts.tolist()
    ['within']
    """
    px, py, u, diameter = _broadcast(x=x, y=y, u95=u95, zone=zone)
    for name, numbers in (("x", px), ("y", py), ("zone", diameter)):
        _refuse(~np.isfinite(numbers), numbers, name, "is not finite", "measure it again")
    _check_u95(u)
    _refuse(diameter <= 0, diameter, "zone", "is not above zero", "give more than zero")
    r, limit = np.hypot(px, py), diameter / 2
    guard = _guard(u, rule)
    slack = 4 * np.spacing(_largest(r, limit, guard))
    within = r <= limit - guard + slack
    outside = r > limit + guard + slack
    return PositionDecision(
        codes=_codes(within, outside),
        reckon=partial(rice_chances, r, u / 2, limit, slack),
        offset=r,
        guarded_offset=limit - guard,
    )


def chance_given_process(
    value: ArrayLike,
    *,
    u95: ArrayLike,
    low: ArrayLike = -np.inf,
    high: ArrayLike = np.inf,
    prior: Prior,
) -> tuple[Floats, Floats]:
    """The chances that the true value conforms and that it does not, knowing the process.

    Prior and measurement, both normal, are weighed by their inverse variances [1]_ (6.2, 7).
    The second is the user's risk if this part is accepted, the first the maker's if it is not.
    """
    v, u95s, lo, hi = _lengths(value, u95, low, high)
    u = u95s / 2
    total = np.hypot(u, prior.sigma)
    pull = (u / total) ** 2
    mean = v + pull * (prior.mean - v)
    slack = 4 * np.spacing(_largest(v, lo, hi))
    return normal_chances(mean, u * (prior.sigma / total), lo, hi, slack)


def process_risks(
    *, u95: float, low: float = -np.inf, high: float = np.inf, guard: float, prior: Prior
) -> ProcessRisks:
    """How often the process and this measurement together go wrong.

    True value and reading are jointly normal; every chance is the integral, over the true
    values concerned, of the process's density times the chance of the reading, by Gauss-Legendre
    panels no wider than the narrower of the two spreads. All terms are positive, so that a risk
    of 1e-12 keeps its figures.

    Parameters
    ----------
    u95, low, high, guard : one unit
        The guard draws the limits in for "within", out for "outside"; 0 is plain acceptance.
    """
    _, _, lows, highs = _lengths(prior.mean, u95, low, high)
    lo, hi = float(lows[0]) - prior.mean, float(highs[0]) - prior.mean
    u = float(u95) / 2
    not_negative(guard, where="guard")
    conforms = float(normal_chances(np.zeros(1), prior.sigma, lo, hi, 0.0)[0][0])
    edges = (lo - guard, lo + guard, hi - guard, hi + guard)

    def mass(x_from: float, x_to: float) -> Floats:
        """Chances of (within, outside, undecided) together with a true value in between."""
        x, weights = _panels(x_from, x_to, edges, u, prior.sigma)
        accepted, _ = normal_chances(x, u, edges[1], edges[2], 0.0)
        _, refused = normal_chances(x, u, edges[0], edges[3], 0.0)
        near_low, _ = normal_chances(x, u, edges[0], min(edges[1], edges[3]), 0.0)
        near_high, _ = normal_chances(x, u, max(edges[2], edges[1]), edges[3], 0.0)
        return np.array([accepted, refused, near_low + near_high]) @ weights

    good = mass(lo, hi)
    bad = mass(-np.inf, lo) + mass(hi, np.inf)
    misses = max(abs(good.sum() - conforms), abs(good.sum() + bad.sum() - 1))
    if not misses <= 1e-10:
        raise FaultError(f"process risks: the outcomes miss their sum by {misses:g}")
    within, outside, undecided = (good + bad).tolist()
    return ProcessRisks(
        conforms=conforms,
        within=within,
        outside=outside,
        undecided=undecided,
        users=float(bad[0]),
        makers=float(good[1] + good[2]),
        makers_outside=float(good[1]),
    )


# ── the numbers behind ───────────────────────────────────────────────────────────────────


def _panels(
    x_from: float, x_to: float, edges: tuple[float, ...], u: float, sigma: float
) -> tuple[Floats, Floats]:
    """Nodes over [x_from, x_to] and weights that carry the normal density about zero."""
    steps = np.arange(-38.0, 39.0)
    marks = [sigma * steps, *(edge + u * steps for edge in edges if np.isfinite(edge))]
    ends = np.clip([x_from, x_to], marks[0][0], marks[0][-1])
    breaks = np.unique(np.concatenate(marks))
    breaks = np.concatenate(([ends[0]], breaks[(breaks > ends[0]) & (breaks < ends[1])], [ends[1]]))
    half = np.diff(breaks)[:, None] / 2
    x = ((breaks[:-1, None] + breaks[1:, None]) / 2 + half * NODES).ravel()
    density = np.exp(-((x / sigma) ** 2) / 2) / (sigma * np.sqrt(2 * np.pi))
    return x, density * (half * WEIGHTS).ravel()


def _codes(within: NDArray[np.bool_], outside: NDArray[np.bool_]) -> NDArray[np.int8]:
    return within.astype(np.int8) * np.int8(WITHIN) + outside.astype(np.int8) * np.int8(OUTSIDE)


def _guard(u95: Floats, rule: Rule) -> Floats:
    if rule not in GUARD_IN_U95:
        raise InputError("rule", f'"{rule}" is not known', f"write {' or '.join(GUARD_IN_U95)}")
    return u95 * GUARD_IN_U95[rule]


def _largest(*lengths: Floats) -> Floats:
    """The largest finite magnitude of each row: what its rounding is measured by."""
    sizes = [np.where(np.isfinite(length), np.abs(length), 0.0) for length in lengths]
    return np.asarray(np.max(np.broadcast_arrays(*sizes), axis=0))


# ── what is refused ──────────────────────────────────────────────────────────────────────


def _lengths(
    value: ArrayLike, u95: ArrayLike, low: ArrayLike, high: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats]:
    v, u, lo, hi = _broadcast(value=value, u95=u95, low=low, high=high)
    _refuse(~np.isfinite(v), v, "value", "is not finite", "measure it again")
    _check_u95(u)
    _refuse(np.isnan(lo) | (lo == np.inf), lo, "low", "is not a limit", "give a number")
    _refuse(np.isnan(hi) | (hi == -np.inf), hi, "high", "is not a limit", "give a number")
    _refuse(lo > hi, lo, "low", "is above the high limit", "swap the limits")
    none = np.isinf(lo) & np.isinf(hi)
    _refuse(none, lo, "limits", "has neither low nor high", "give low, high or both")
    return v, u, lo, hi


def _broadcast(**named: ArrayLike) -> list[Floats]:
    arrays = [np.atleast_1d(np.asarray(given, dtype=float)) for given in named.values()]
    try:
        shape = np.broadcast_shapes(*(array.shape for array in arrays))
    except ValueError:
        shapes = ", ".join(f"{name} {a.shape}" for name, a in zip(named, arrays, strict=True))
        raise InputError("value", f"shapes do not agree: {shapes}", "give one of each") from None
    return [np.broadcast_to(array, shape) for array in arrays]


def _check_u95(u: Floats) -> None:
    _refuse(~np.isfinite(u), u, "u95", "is not finite", "give the expanded uncertainty")
    _refuse(u < 0, u, "u95", "is negative", "give zero or more")


def _refuse(bad: NDArray[np.bool_], numbers: Floats, name: str, fault: str, expected: str) -> None:
    if bad.any():
        first = tuple(np.argwhere(bad)[0].tolist())
        where = f"{name}[{', '.join(map(str, first))}]" if numbers.size > 1 else name
        raise InputError(where, f"{numbers[first]:g} {fault}", expected)
