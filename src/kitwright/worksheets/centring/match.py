"""Which bell for which engine?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from kitwright.calc.centring.clock import clock_of
from kitwright.calc.centring.match import (
    Odds,
    Pairing,
    best_match,
    first_come,
    odds_of_pairs,
)
from kitwright.calc.checks import Floats
from kitwright.calc.quality.conformity import VERDICTS
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, say_length
from kitwright.worksheets.centring.match_case import (
    BellPart,
    ChangeRow,
    EnginePart,
    MatchAnswer,
    MatchCase,
    PairRow,
    TableLength,
    Total,
)
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet

PROVEN_GAP = 1e-9
"""Fit-ups: a smaller gap is rounding."""


@dataclass(frozen=True, kw_only=True)
class _Shelf:
    """A case in mm, its names looked up."""

    odds: Odds
    kept: list[tuple[int, int]]
    engines_left: list[int]
    bells_left: list[int]

    @property
    def kept_left(self) -> list[tuple[int, int]]:
        """Kept pairs of which neither side has gone."""
        return [
            (engine, bell)
            for engine, bell in self.kept
            if engine in self.engines_left and bell in self.bells_left
        ]


def solve(case: MatchCase) -> MatchAnswer:
    """Match the case."""
    shelf = _shelf(case)
    whole = best_match(shelf.odds, kept=shelf.kept)
    best = whole
    if case.without is not None:
        best = best_match(
            shelf.odds,
            engines=shelf.engines_left,
            bells=shelf.bells_left,
            kept=shelf.kept_left,
            preferred=whole.pairs,
        )
    served = first_come(
        shelf.odds, engines=shelf.engines_left, bells=shelf.bells_left, kept=shelf.kept_left
    )
    changes = None
    if case.without is not None:
        changes = list(_changes(case, whole, best))
    return MatchAnswer(
        count=len(best.pairs),
        limit_mm=case.limit.mm,
        total=_total(best),
        first_come=_total(served),
        proven=best.gap <= PROVEN_GAP,
        gap=best.gap,
        pairs=list(_rows(case, best, shelf.kept_left)),
        changes=changes,
        left_over=[
            case.bells[bell].serial for bell in shelf.bells_left if bell not in set(best.bells)
        ],
        waiting=[
            case.engines[engine].order
            for engine in shelf.engines_left
            if engine not in set(best.engines)
        ],
        first_come_pairs=list(_rows(case, served, shelf.kept_left)),
        assumed=list(_assumed(case)),
        how=(
            "The bore's offset in the car is bell plus engine; the expected TIR is twice its "
            "length. The chance is that of a circular-normal place about it, both uncertainties "
            "in quadrature. Of all ways to pair them, the one with the most fit-ups expected "
            "within, and of those that tie, with the least expected TIR; prices of linear "
            "programming prove that no other has more."
        ),
    )


def _total(pairing: Pairing) -> Total:
    return Total(within=pairing.within, outside=pairing.outside, expected_tir_mm=pairing.tir_mm)


def _rows(case: MatchCase, pairing: Pairing, kept: Sequence[tuple[int, int]]) -> Iterator[PairRow]:
    odds = pairing.odds
    for pair in pairing.pairs:
        x, y = odds.offset_mm[pair].tolist()
        yield PairRow(
            order=case.engines[pair[0]].order,
            serial=case.bells[pair[1]].serial,
            expected_tir_mm=float(odds.expected_tir_mm[pair]),
            chance_within=float(odds.chance_within[pair]),
            verdict=VERDICTS[int(odds.codes[pair])],
            offset_clock_deg=clock_of([x, y]) if x or y else None,
            offset_x_mm=x,
            offset_y_mm=y,
            offset_u95_mm=float(odds.u95_mm[pair]),
            kept=pair in kept if case.keep else None,
        )


def _changes(case: MatchCase, before: Pairing, after: Pairing) -> Iterator[ChangeRow]:
    had, has = dict(before.pairs), dict(after.pairs)
    for engine in sorted(had.keys() | has.keys()):
        old, new = (
            None if bell is None else case.bells[bell].serial
            for bell in (had.get(engine), has.get(engine))
        )
        if old != new:
            yield ChangeRow(order=case.engines[engine].order, before=old, after=new)


# ── from the case as written to numbers and indices ──────────────────────────────────────


def _shelf(case: MatchCase) -> _Shelf:
    """The case in mm; every problem found is in the one error."""
    problems: list[Problem] = []
    bell_of = _places("bells", "serial", [bell.serial for bell in case.bells], problems)
    engine_of = _places("engines", "order", [each.order for each in case.engines], problems)
    bells_mm, bells_u95 = _measured(case, "bells", case.bells, problems)
    engines_mm, engines_u95 = _measured(case, "engines", case.engines, problems)
    kept = list(_kept(case, engine_of, bell_of, problems))
    gone_bells = gone_engines = set[int]()
    if case.without is not None:
        gone_bells = _gone("serials", case.without.serials, bell_of, problems)
        gone_engines = _gone("orders", case.without.orders, engine_of, problems)
    if not problems:
        for name, all_of, gone in (
            ("serials", case.bells, gone_bells),
            ("orders", case.engines, gone_engines),
        ):
            if len(gone) == len(all_of):
                problems.append(Problem(f"without.{name}", "none is left", "leave one or more"))
    if problems:
        raise InputError.of(problems)
    return _Shelf(
        odds=odds_of_pairs(
            bells_mm,
            engines_mm,
            limit_tir_mm=case.limit.mm,
            bells_u95_mm=bells_u95,
            engines_u95_mm=engines_u95,
        ),
        kept=kept,
        engines_left=[each for each in range(len(case.engines)) if each not in gone_engines],
        bells_left=[each for each in range(len(case.bells)) if each not in gone_bells],
    )


def _places(
    where: str, field: str, names: Sequence[str], problems: list[Problem]
) -> dict[str, int]:
    places: dict[str, int] = {}
    for index, name in enumerate(names):
        if name in places:
            problems.append(
                Problem(f"{where}[{index}].{field}", f'"{name}" is listed twice', "list it once")
            )
        places.setdefault(name, index)
    return places


def _measured(
    case: MatchCase,
    where: str,
    parts: Sequence[BellPart | EnginePart],
    problems: list[Problem],
) -> tuple[Floats, Floats]:
    """(n, 2) vectors and (n,) expanded uncertainties in mm; a bell without one has none."""

    def mm(length: TableLength | None, place: str) -> float:
        try:
            return 0.0 if length is None else length.mm_in(case.unit)
        except InputError as error:
            problems.extend(problem.within(place) for problem in error.problems)
            return 0.0

    rows = [
        [
            *(mm(each, f"{where}[{index}].vector[{axis}]") for axis, each in enumerate(one.vector)),
            mm(one.u95, f"{where}[{index}].u95"),
        ]
        for index, one in enumerate(parts)
    ]
    table = np.array(rows)
    return table[:, :2], table[:, 2]


def _kept(
    case: MatchCase, engine_of: dict[str, int], bell_of: dict[str, int], problems: list[Problem]
) -> Iterator[tuple[int, int]]:
    seen = set[str]()
    for index, pair in enumerate(case.keep):
        known = True
        for field, name, places in (
            ("order", pair.order, engine_of),
            ("serial", pair.serial, bell_of),
        ):
            where = f"keep[{index}].{field}"
            if name not in places:
                problems.append(Problem(where, f'"{name}" is not in the list', "list it first"))
                known = False
            elif f"{field} {name}" in seen:
                problems.append(Problem(where, f'"{name}" is kept twice', "keep it once"))
                known = False
            seen.add(f"{field} {name}")
        if known:
            yield engine_of[pair.order], bell_of[pair.serial]


def _gone(
    field: str, names: Iterable[str], places: dict[str, int], problems: list[Problem]
) -> set[int]:
    gone = set[int]()
    for index, name in enumerate(names):
        if name in places:
            gone.add(places[name])
        else:
            problems.append(
                Problem(
                    f"without.{field}[{index}]",
                    f'"{name}" is not in the list',
                    "list it among the others too",
                )
            )
    return gone


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _assumed(case: MatchCase) -> Iterator[str]:
    yield (
        "First come, first served: each order takes the next bell off the shelf, both in the "
        "order given."
    )
    yield "Expanded uncertainties have k = 2 and are the same along both axes."
    if any(bell.u95 is None for bell in case.bells):
        yield "A bell without a plus or minus is just as it was measured."
    yield "An engine's vector was swept with the dowels that the bell will sit on."
    if case.without is not None:
        yield "A kept pair that has lost its bell or its order is kept no longer."
    yield "Every bell is swept in its car all the same: a match is no measurement."


def say(answer: MatchAnswer, lead: Lead) -> str:
    """What the match is worth."""
    limit = say_length(answer.limit_mm, lead=lead)
    count = answer.count
    pairs = "the one pair" if count == 1 else f"the {count} pairs"
    said = (
        f"Pair them as listed: of {pairs}, {answer.total.within:.2f} "
        f"{'is' if count == 1 else 'are'} expected within {limit} TIR"
    )
    if answer.total.within - answer.first_come.within < 0.005:
        said += "; first come, first served would do as well."
    else:
        said += f"; first come, first served would bring {answer.first_come.within:.2f}."
    if answer.changes:
        orders = len(answer.changes)
        said += f" {orders} order{'s' if orders > 1 else ''} changed."
    poor = [pair.order for pair in answer.pairs if pair.chance_within < 0.5]
    if poor:
        named = poor[0] if len(poor) == 1 else f"{len(poor)} of them"
        said += f" Plan eccentric dowels for {named}, or wait for a better bell."
    return said


WORKSHEET = Worksheet(
    heading=heading("match"),
    case=MatchCase,
    answer=MatchAnswer,
    solve=solve,
    say=say,
    sources=(
        "H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955) 83-97 (pairing, proof by prices)",
        "D. F. Crouse, IEEE Transactions on Aerospace and Electronic Systems 52 (2016) 1679-1696",
        "JCGM 106:2012, The role of measurement uncertainty in conformity assessment (the chance)",
        "S. O. Rice, Bell System Technical Journal 24 (1945) 46-156 (the offset's distribution)",
    ),
    example="""
# Bells on the shelf and engines that wait for one, each with its measured offset: x to the
# right, y up, seen from behind. A bell's is its bore against a true block (its inspection); an
# engine's is what block and crank add (a sweep on a bell of known offset, that offset taken off).
limit = "5 thou"                     # largest TIR allowed: twice the offset
# Write each length with its unit; or say `unit = "thou"` here once, and bare numbers below.

bells = [
  {serial = "HC-0107", vector = ["0.2 thou", "0.1 thou"], u95 = "0.2 thou"},
  {serial = "HC-0108", vector = ["-0.6 thou", "-0.9 thou"], u95 = "0.2 thou"},
  {serial = "HC-0109", vector = ["0.8 thou", "-0.3 thou"], u95 = "0.2 thou"},
  {serial = "HC-0110", vector = ["-0.1 thou", "1.2 thou"], u95 = "0.2 thou"},
  {serial = "HC-0111", vector = ["0.5 thou", "0.9 thou"], u95 = "0.2 thou"},
]

engines = [                          # the first and the third line-honed: their cranks came up
  {order = "O-211", vector = ["0.3 thou", "-2.9 thou"], u95 = "0.6 thou"},
  {order = "O-212", vector = ["-1.4 thou", "0.2 thou"], u95 = "0.6 thou"},
  {order = "O-213", vector = ["0.9 thou", "-2.4 thou"], u95 = "0.6 thou"},
  {order = "O-214", vector = ["0.4 thou", "0.3 thou"], u95 = "0.6 thou"},
]

# Pairs that stay as they are, because the bell is packed: leave it out where there is none.
keep = [{order = "O-214", serial = "HC-0107"}]

# When a bell is rejected or an order goes, name it: the answer lists what changes.
# without = {serials = ["HC-0110"], orders = []}
""",
)
