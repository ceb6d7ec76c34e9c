"""Run rules: patterns on a control chart that chance alone seldom makes.

References
----------
.. [1] Shewhart, Economic Control of Quality of Manufactured Product (1931): a point beyond three
   sigma.
.. [2] Western Electric, Statistical Quality Control Handbook (1956), 25-28: four tests.
.. [3] Nelson, Journal of Quality Technology 16 (1984) 237-239: eight tests.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from kitwright.calc.checks import Floats

Rule = Literal[
    "beyond limits",
    "2 of 3 beyond 2 sigma",
    "4 of 5 beyond 1 sigma",
    "8 in a row on one side",
    "9 in a row on one side",
    "6 in a row rising or falling",
    "14 in a row alternating",
    "15 in a row within 1 sigma",
    "8 in a row beyond 1 sigma",
]
RuleSet = Literal["Western Electric 1956", "Nelson 1984"]

SETS: Final[MappingProxyType[RuleSet, tuple[Rule, ...]]] = MappingProxyType(
    {
        "Western Electric 1956": (
            "beyond limits",
            "2 of 3 beyond 2 sigma",
            "4 of 5 beyond 1 sigma",
            "8 in a row on one side",
        ),
        "Nelson 1984": (
            "beyond limits",
            "9 in a row on one side",
            "6 in a row rising or falling",
            "14 in a row alternating",
            "2 of 3 beyond 2 sigma",
            "4 of 5 beyond 1 sigma",
            "15 in a row within 1 sigma",
            "8 in a row beyond 1 sigma",
        ),
    }
)
"""Each published set, in its own order."""

_ROUNDING: Final = 1e-9  # sigmas: nearer to a line is on it


@dataclass(frozen=True, kw_only=True)
class Signal:
    """One pattern. Points are counted from 1; `first` to `where` make the pattern."""

    rule: Rule
    first: int
    where: int
    """The point at which the pattern is complete."""
    through: int
    """The last point up to which it goes on without a break."""
    source: str


def rules_of(name: Rule | RuleSet) -> tuple[Rule, ...]:
    """The rules of a set, or the one rule of this name.

    >>> rules_of("beyond limits")
    ('beyond limits',)
    """
    for published, rules in SETS.items():
        if name == published:
            return rules
    return (cast("Rule", name),)


def source_of(rule: Rule) -> str:
    """Where a rule was published."""
    nelson = SETS["Nelson 1984"]
    named = []
    if rule == "beyond limits":
        named.append("Shewhart 1931")
    if rule in SETS["Western Electric 1956"]:
        named.append(f"Western Electric 1956, test {_WESTERN[rule]}")
    if rule in nelson:
        named.append(f"Nelson 1984, test {nelson.index(rule) + 1}")
    return "; ".join(named)


def signals(scores: Floats, rules: Iterable[Rule], *, first: int = 1) -> list[Signal]:
    """Every pattern among points in the order made, by the point that completes it.

    A point beyond the limits is a signal of its own. Another pattern is one signal for as long as
    each further point completes it again. A point on a line is neither above nor below it.

    Parameters
    ----------
    scores : shape (n,); distances from the centre in sigmas of a point
    rules : which patterns are looked for
    first : number of the first point
    """
    found = []
    for rule in dict.fromkeys(rules):
        length, fires = _PATTERNS[rule]
        done = np.flatnonzero(fires(scores)) + first
        apart = np.ones(len(done), bool)
        if rule != "beyond limits":
            apart[1:] = np.diff(done) > 1
        starts = np.flatnonzero(apart)
        ends = np.append(starts[1:], len(done))[: len(starts)] - 1
        source = source_of(rule)
        found += [
            Signal(
                rule=rule,
                first=max(where - length + 1, first),
                where=where,
                through=through,
                source=source,
            )
            for where, through in zip(done[starts].tolist(), done[ends].tolist(), strict=True)
        ]
    return sorted(found, key=lambda signal: signal.where)


# ── the patterns ─────────────────────────────────────────────────────────────────────────

Flags = NDArray[np.bool_]


def _beyond(sigmas: float) -> tuple[Callable[[Floats], Flags], Callable[[Floats], Flags]]:
    edge = sigmas + _ROUNDING
    return (lambda z: z > edge), (lambda z: z < -edge)


def _all_of(flags: Flags, length: int) -> Flags:
    """Where a run of `length` such points ends, or goes on."""
    return np.asarray(_count(flags, length) == length)


def _count(flags: Flags, length: int) -> NDArray[np.intp]:
    """How many of the last `length` points, fewer at the start."""
    total = np.concatenate(([0], np.cumsum(flags)))
    ends = np.arange(1, len(total))
    return total[ends] - total[np.maximum(ends - length, 0)]


def _several(needed: int, of: int, sigmas: float) -> Callable[[Floats], Flags]:
    """So many of the last points beyond on one side, the newest among them."""
    above, below = _beyond(sigmas)

    def fires(z: Floats) -> Flags:
        out = [side(z) for side in (above, below)]
        high, low = (flags & (_count(flags, of) >= needed) for flags in out)
        return high | low

    return fires


def _one_side(length: int) -> Callable[[Floats], Flags]:
    above, below = _beyond(0.0)
    return lambda z: _all_of(above(z), length) | _all_of(below(z), length)


def _trend(z: Floats) -> Flags:
    steps = np.diff(z, prepend=z[:1])
    return _all_of(steps > _ROUNDING, 5) | _all_of(steps < -_ROUNDING, 5)  # 6 points, 5 steps


def _alternating(z: Floats) -> Flags:
    steps = np.diff(z, prepend=z[:1])
    signs = np.sign(np.where(np.abs(steps) > _ROUNDING, steps, 0.0))
    turns = np.concatenate(([False], signs[1:] * signs[:-1] < 0))
    return _all_of(turns, 12)  # 14 points, 13 steps, 12 turns


def _far(z: Floats) -> Flags:
    return np.abs(z) > 1 + _ROUNDING


_PATTERNS: Final[dict[Rule, tuple[int, Callable[[Floats], Flags]]]] = {
    "beyond limits": (1, lambda z: np.abs(z) > 3 + _ROUNDING),
    "2 of 3 beyond 2 sigma": (3, _several(2, 3, 2.0)),
    "4 of 5 beyond 1 sigma": (5, _several(4, 5, 1.0)),
    "8 in a row on one side": (8, _one_side(8)),
    "9 in a row on one side": (9, _one_side(9)),
    "6 in a row rising or falling": (6, _trend),
    "14 in a row alternating": (14, _alternating),
    "15 in a row within 1 sigma": (15, lambda z: _all_of(np.abs(z) < 1 - _ROUNDING, 15)),
    "8 in a row beyond 1 sigma": (8, lambda z: _all_of(_far(z), 8)),
}
_WESTERN: Final = {rule: number + 1 for number, rule in enumerate(SETS["Western Electric 1956"])}
