"""Which bell for this customer?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.calc.shell.ranking import Criterion, Ranking, rank
from kitwright.errors import InputError, Problem
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import Price, one_currency
from kitwright.worksheets.shell.choose_bell_case import (
    ChooseBellAnswer,
    ChooseBellCase,
    CountedRow,
    DesignPart,
    RankedRow,
    TurnRow,
    WeightsPart,
)
from kitwright.worksheets.shell.choose_bell_out import BOOK, counts, excluded, judged
from kitwright.worksheets.shell.choose_bell_said import (
    CAUTIONS,
    EXAMPLE,
    HOW,
    SOURCES,
    ring_said,
    say,
    why,
)

CLOSE: Final = 0.1
"""Weights are a matter of feeling: where a tenth of each decides, they do not."""


@dataclass(frozen=True)
class _Weighed:
    """The bells that are left and how they were ordered."""

    left: Sequence[DesignPart]
    criteria: tuple[Criterion, ...]
    ranking: Ranking

    @property
    def ordered(self) -> list[DesignPart]:
        return [self.left[i] for i in self.ranking.order]


def solve(case: ChooseBellCase) -> ChooseBellAnswer:
    """Put out what is out, then order what is left."""
    currency = _check(case)
    out = excluded(case)
    gone = {row.name for row in out}
    left = [design for design in case.designs if design.name not in gone]
    weights, assumed = _weights(case)
    answer = {
        "excluded": out,
        "rules": judged(case),
        "to_check": list(_to_check(case)),
        "how": HOW,
    }
    if not left:
        empty = dict.fromkeys(ChooseBellAnswer.model_fields)
        lists: dict[str, list[str]] = {name: [] for name in ("why", "ranked", "counted", "turns")}
        return ChooseBellAnswer.model_validate({**empty, **lists, **answer, "assumed": assumed})
    criteria, dropped = _criteria(left, weights)
    weighed = _Weighed(left, criteria, rank(criteria))
    ordered, room = weighed.ordered, weighed.ranking.room
    first = ordered[0]
    return ChooseBellAnswer.model_validate(
        {
            **answer,
            "recommended": first.name,
            "price": Price.of(first.price.amount.exact, currency),
            "mass_kg": first.mass_kg,
            "weights_may_move_percent": None if room is None else 100 * room,
            "close": None if room is None else room < CLOSE,
            "why": why(ordered, [each.name for each in criteria if each.weight > 0]),
            "ranked": list(_ranked(weighed, currency)),
            "counted": list(_counted(weighed)),
            "turns": list(_turns(weighed)),
            "assumed": [*assumed, *dropped, *_ranges(weighed)],
        }
    )


def _check(case: ChooseBellCase) -> str:
    problems = []
    names = [design.name for design in case.designs]
    problems += [
        Problem(f"designs[{number}].name", f'"{name}" is used twice', "name each once")
        for number, name in enumerate(names)
        if name in names[:number]
    ]
    if (case.needed_width is None) != (case.needed_height is None):
        problems.append(
            Problem("needed_width", "half an opening", "give needed_width and needed_height")
        )
    given = case.weights
    if given is not None and not any((given.price, given.mass, given.ring, given.hand_room)):
        problems.append(Problem("weights", "all are zero", "give one above zero"))
    if problems:
        raise InputError.of(problems)
    return one_currency(case.budget, *(design.price for design in case.designs))


def _weights(case: ChooseBellCase) -> tuple[WeightsPart, list[str]]:
    if case.weights is not None:
        return case.weights, []
    quiet = case.noise_wish != "does not matter"
    roomy = case.hand_room_wish != "does not matter"
    weights = WeightsPart(
        price=1.0, mass=1.0, ring=1.0 if quiet else 0.0, hand_room=1.0 if roomy else 0.0
    )
    counted = ["price", "mass", *(["ring"] if quiet else []), *(["hand room"] if roomy else [])]
    return weights, [f"Weights: {', '.join(counted)} count the same."]


def _criteria(
    left: Sequence[DesignPart], weights: WeightsPart
) -> tuple[tuple[Criterion, ...], list[str]]:
    """The figures that every bell left has; a figure that one lacks counts for none."""
    told: list[tuple[str, float, Literal["less", "more"], list[float | None]]] = [
        ("price", weights.price, "less", [float(each.price.amount.exact) for each in left]),
        ("mass", weights.mass, "less", [each.mass_kg for each in left]),
        ("ring", weights.ring, "less", [_ring_s(each) for each in left]),
        ("hand room", weights.hand_room, "more", [_opening_mm2(each) for each in left]),
    ]
    made, dropped = [], []
    for name, weight, better, values in told:
        known = [value for value in values if value is not None]
        if len(known) == len(values):
            made.append(Criterion(name=name, weight=weight, better=better, values=tuple(known)))
        elif weight > 0:
            lacking = [each.name for each, value in zip(left, values, strict=True) if value is None]
            dropped.append(f"{name.capitalize()} does not count: not known of {_and(lacking)}.")
    if not any(each.weight for each in made):
        made = [
            Criterion(name=each.name, weight=1.0, better=each.better, values=each.values)
            for each in made
            if each.name in ("price", "mass")
        ]
        dropped.append("No figure that weighs is known of every bell: price and mass count alike.")
    return tuple(made), dropped


def _ring_s(design: DesignPart) -> float | None:
    """The middle of a range, by ratio."""
    return None if design.ring is None else float((design.ring[0] * design.ring[1]) ** 0.5)


def _opening_mm2(design: DesignPart) -> float | None:
    if design.opening_width is None or design.opening_height is None:
        return None
    return design.opening_width.mm * design.opening_height.mm


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# ── rows ─────────────────────────────────────────────────────────────────────────────────


def _ranked(weighed: _Weighed, currency: str) -> Iterator[RankedRow]:
    for place, index in enumerate(weighed.ranking.order, start=1):
        each = weighed.left[index]
        certificate = None
        if each.certified and each.certificate_last_day is not None:
            number = f"{each.certificate}, " if each.certificate else ""
            certificate = f"{number}to {each.certificate_last_day.isoformat()}"
        yield RankedRow(
            rank=place,
            name=each.name,
            material=each.material,
            price=Price.of(each.price.amount.exact, currency),
            mass_kg=each.mass_kg,
            ring=None if each.ring is None else ring_said(each.ring),
            opening=_opening_said(each),
            certificate=certificate,
            ships_on=each.ships_on,
            score=float(weighed.ranking.scores[index]),
        )


def _opening_said(design: DesignPart) -> str | None:
    if design.opening_width is None or design.opening_height is None:
        return None
    return f"{design.opening_width.text} by {design.opening_height.text}"


def _counted(weighed: _Weighed) -> Iterator[CountedRow]:
    ranking = weighed.ranking
    for index in ranking.order:
        design = weighed.left[index]
        for column, each in enumerate(weighed.criteria):
            if each.weight == 0:
                continue
            times, share = float(ranking.times_best[index, column]), float(ranking.shares[column])
            yield CountedRow(
                name=design.name,
                figure=each.name,
                value=_value_said(design, each.name),
                times_best=times,
                weight_share=share,
                factor=times**-share,
            )


def _value_said(design: DesignPart, figure: str) -> str:
    if figure == "price":
        return design.price.text
    if figure == "mass":
        return f"{design.mass_kg:g} kg"
    if figure == "ring":
        return "" if design.ring is None else ring_said(design.ring)
    return _opening_said(design) or ""


def _turns(weighed: _Weighed) -> Iterator[TurnRow]:
    if len(weighed.left) == 1:
        return

    def name(index: int | None) -> str | None:
        return None if index is None else weighed.left[index].name

    for turn in weighed.ranking.turns:
        yield TurnRow(
            figure=turn.figure,
            weight=turn.weight,
            below=turn.below,
            below_first=name(turn.below_first),
            above=turn.above,
            above_first=name(turn.above_first),
        )


def _ranges(weighed: _Weighed) -> Iterator[str]:
    """A ring known as a range counts by its middle; whether its ends would change the first."""
    if not any(each.name == "ring" and each.weight > 0 for each in weighed.criteria):
        return
    wide = [each.name for each in weighed.left if each.ring and each.ring[0] < each.ring[1]]
    if not wide:
        return
    yield f"The ring of {_and(wide)} is known as a range and counts by its middle."
    first = weighed.ranking.order[0]
    ends = [
        each.ring[1 if number == first else 0]
        for number, each in enumerate(weighed.left)
        if each.ring is not None
    ]
    criteria = [
        Criterion(name=each.name, weight=each.weight, better=each.better, values=tuple(ends))
        if each.name == "ring"
        else each
        for each in weighed.criteria
    ]
    other = rank(criteria).order[0]
    if other != first:
        yield f"At the ends of these ranges {weighed.left[other].name} could come first."


def _to_check(case: ChooseBellCase) -> Iterator[str]:
    if not case.rules:
        yield (
            f"No rule is given. If the car is raced anywhere, {BOOK} of the sanctioning body first."
        )
    for body in dict.fromkeys(rule.body for rule in case.rules):
        yield f"{body}: {BOOK}; what is copied here may be out of date."
    yield from (
        f"{rule.named} demands {rule.spec}: see that the bell's certificate says the same."
        for rule in case.rules
        if rule.spec and rule.demands == "certified shell" and counts(rule, case)[0]
    )
    yield "The certificate on the bell itself: its number, its specification, its last day."
    if case.wanted_by is not None:
        unknown = [each.name for each in case.designs if each.ships and each.ships_on is None]
        if unknown:
            yield f"The day on which {_and(unknown)} can ship: it is not known here."
    if case.needed_width is not None:
        unknown = [each.name for each in case.designs if each.opening_width is None]
        if unknown:
            yield f"The opening of {_and(unknown)}: it is not known here."


WORKSHEET = Worksheet(
    heading=heading("choose-bell"),
    case=ChooseBellCase,
    answer=ChooseBellAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
