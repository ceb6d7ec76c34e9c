"""Which zones are worth paying for?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal

from kitwright.calc.centring.contributors import Contributor, Zone
from kitwright.calc.centring.radial_budget import SEED, law_of
from kitwright.calc.centring.radial_law import RadialLaw
from kitwright.calc.centring.zone_cost import (
    CheapestZones,
    PricedZone,
    ZonePrice,
    cheapest_zones,
    price_of,
)
from kitwright.errors import InputError, Problem
from kitwright.units import Lead, say_length
from kitwright.worksheets.centring.radial_budget import budget_of
from kitwright.worksheets.centring.zone_cost_case import (
    MOST_PRICED,
    Correction,
    PricedZonePart,
    ZoneCostCase,
)
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Answer, AnswerPart, Chance, shown
from kitwright.worksheets.money import Money, Price, one_currency
from kitwright.worksheets.showing import say_chance

_ROOM: Final = 4.0  # how far a zone may go either way, where nothing else is said
_AT_BOUND: Final = 1e-6
_NAMED: Final = 4


class ZoneRow(AnswerPart):
    """One zone: today's, the one to draw, and the two prices for one bell."""

    name: str = shown("Contributor")
    today_mm: float = shown("Zone today")
    zone_mm: float = shown("Zone to draw")
    today_price: Price = shown("Price today")
    price: Price = shown("Price then")
    at_bound: Literal["least", "largest"] | None = shown("At its bound")


class ZoneCostAnswer(Answer):
    """The zones at least total price, against today's. Prices are for one bell."""

    zones: list[ZoneRow] = shown("Zones")
    chance_outside: Chance = shown("Outside with these zones")
    chance_outside_today: Chance = shown("Outside today")
    zones_price: Price = shown("Price of these zones")
    zones_price_today: Price = shown("Price of today's zones")
    correction_price: Price | None = shown("Price of one correction", optional=True)
    total_price: Price | None = shown("With corrections", optional=True)
    total_price_today: Price | None = shown("Today, with corrections", optional=True)
    saving: Price | None = shown("Saved a bell", optional=True)
    tighter_pays: bool | None = shown("A tighter drawing alone pays", optional=True)
    tighter_saving: Price | None = shown("Saved by only tightening", optional=True)
    break_even_price: Price | None = shown("Pays once a correction costs", optional=True)
    marginal_price: Price | None = shown("The last correction avoided costs", optional=True)
    limit_mm: float = shown("Largest TIR allowed")
    method: Literal["exact", "simulated"] = shown("Method")
    imbalance: float = shown("How far the zones are from balance, as a part of it", hidden=True)
    standard_error: float = shown("Standard error of the chances (exact: a bound on their error)")


@dataclass(frozen=True, kw_only=True)
class _Taken:
    """A case as `calc` takes it: prices in one currency, lengths in mm."""

    names: tuple[str, ...]
    priced: tuple[PricedZone, ...]
    others: tuple[Contributor, ...]
    limit_mm: float
    wanted: float | None
    correction: float
    currency: str
    seed: int
    assumed: tuple[str, ...]

    def cheapest(self, priced: Sequence[PricedZone], *, wanted: float | None) -> CheapestZones:
        return cheapest_zones(
            priced,
            self.others,
            limit_tir_mm=self.limit_mm,
            correction_price=self.correction,
            wanted_outside=wanted,
            seed=self.seed,
        )

    def law(self, zones_mm: Sequence[float]) -> RadialLaw:
        """The law of the offset with these zones."""
        zones = [
            replace(each.today, zone_mm=zone)
            for each, zone in zip(self.priced, zones_mm, strict=True)
        ]
        return law_of([*self.others, *zones], radius_mm=self.limit_mm / 2, seed=self.seed)

    @property
    def today_mm(self) -> list[float]:
        return [each.today.zone_mm for each in self.priced]

    def money(self, amount: float) -> Price:
        return Price.of(amount, self.currency)


def solve(case: ZoneCostCase) -> ZoneCostAnswer:
    """Find the zones."""
    taken = _taken(case)
    best = taken.cheapest(taken.priced, wanted=taken.wanted)
    laws = [taken.law(zones) for zones in (taken.today_mm, best.zones_mm)]
    today_outside, outside = (1 - law.chance_within(taken.limit_mm / 2) for law in laws)
    today_price = price_of(taken.priced, taken.today_mm)
    today_total = today_price + taken.correction * today_outside
    answer = {
        "zones": list(_rows(taken, best)),
        "chance_outside": outside,
        "chance_outside_today": today_outside,
        "zones_price": taken.money(best.zones_price),
        "zones_price_today": taken.money(today_price),
        "break_even_price": _break_even(taken, best, today_price, today_outside),
        "marginal_price": None if best.marginal_price is None else taken.money(best.marginal_price),
        "limit_mm": taken.limit_mm,
        "imbalance": best.imbalance,
        "method": max((law.method for law in laws), key=["exact", "simulated"].index),
        "standard_error": max(law.error(taken.limit_mm / 2) for law in laws),
        "assumed": list(taken.assumed),
        "how": _HOW,
    }
    if case.correction is not None:
        tighter = _only_tighter(taken, today_total)
        answer |= {
            "correction_price": taken.money(taken.correction),
            "total_price": taken.money(best.total_price),
            "total_price_today": taken.money(today_total),
            "saving": taken.money(today_total - best.total_price),
            "tighter_pays": tighter.exact > 0,
            "tighter_saving": tighter,
        }
    return ZoneCostAnswer.model_validate({**dict.fromkeys(ZoneCostAnswer.model_fields), **answer})


_HOW: Final = (
    "Sequential quadratic programming on the logarithms of the zones from several starts, with the "
    "chance of the radial budget and its exact slopes. At the optimum the price given up per "
    "chance taken is one number for every zone that is not at a bound."
)


def _rows(taken: _Taken, best: CheapestZones) -> Iterator[ZoneRow]:
    for name, each, zone in zip(taken.names, taken.priced, best.zones_mm, strict=True):
        bound: Literal["least", "largest"] | None = None
        if zone <= each.low_mm * (1 + _AT_BOUND):
            bound = "least"
        elif zone >= each.high_mm * (1 - _AT_BOUND):
            bound = "largest"
        yield ZoneRow(
            name=name,
            today_mm=each.today.zone_mm,
            zone_mm=zone,
            today_price=taken.money(each.price.at(each.today.zone_mm)),
            price=taken.money(each.price.at(zone)),
            at_bound=bound,
        )


def _only_tighter(taken: _Taken, today_total: float) -> Price:
    """What is saved at most where no zone may be larger than today's; never below zero."""
    priced = [
        replace(
            each,
            low_mm=min(each.low_mm, each.today.zone_mm),
            high_mm=min(each.high_mm, each.today.zone_mm),
        )
        for each in taken.priced
    ]
    best = taken.cheapest(priced, wanted=None)
    return taken.money(max(0.0, today_total - best.total_price))


def _break_even(
    taken: _Taken, best: CheapestZones, today_price: float, today_outside: float
) -> Price | None:
    """The price of a correction above which these zones beat today's, where they cost more."""
    dearer, fewer = best.zones_price - today_price, today_outside - best.chance_outside
    return taken.money(dearer / fewer) if dearer > 0 and fewer > 0 else None


# ── from the case as written ─────────────────────────────────────────────────────────────


def _taken(case: ZoneCostCase) -> _Taken:
    budget = budget_of(case)
    currency = _currency(case)
    names, priced, problems = [], [], []
    assumed = list(budget.assumed)
    others = dict(budget.contributors)
    for number, part in enumerate(case.contributors):
        if not isinstance(part, PricedZonePart) or (part.cost is None and part.quotes is None):
            continue
        zone = others.pop(part.name)
        assert isinstance(zone, Zone)
        try:
            price = _price(part)
            low, high, said = _bounds(part)
            priced.append(PricedZone(today=zone, price=price, low_mm=low, high_mm=high))
        except InputError as error:
            problems += [problem.within(f"contributors[{number}]") for problem in error.problems]
            continue
        names.append(part.name)
        assumed += said
    if len(names) > MOST_PRICED:
        problems.append(
            Problem("contributors", f"{len(names)} have a price", f"give {MOST_PRICED} at most")
        )
    if problems:
        raise InputError.of(problems)
    return _Taken(
        names=tuple(names),
        priced=tuple(priced),
        others=tuple(others.values()),
        limit_mm=case.limit.mm,
        wanted=case.chance_outside,
        correction=0.0 if case.correction is None else float(_correction(case.correction)),
        currency=currency,
        seed=SEED if case.seed is None else case.seed,
        assumed=tuple(assumed),
    )


def _currency(case: ZoneCostCase) -> str:
    given: list[Money | None] = []
    for part in case.contributors:
        if isinstance(part, PricedZonePart):
            given += [part.cost.a, part.cost.b] if part.cost else []
            given += [quote.price for quote in part.quotes or ()]
    if not given:
        raise InputError("contributors", "no zone has a price", "give one cost or quotes")
    if case.correction is not None:
        given += [case.correction.price, case.correction.rate, case.correction.parts]
    return one_currency(*given)


def _price(part: PricedZonePart) -> ZonePrice:
    if part.cost is not None:
        per_inverse = float(part.cost.b.amount.exact) * part.cost.unit.mm
        return ZonePrice(fixed=float(part.cost.a.amount.exact), per_inverse_mm=per_inverse)
    quotes = part.quotes or ()
    return ZonePrice.through([(q.zone.mm, float(q.price.amount.exact)) for q in quotes])


def _bounds(part: PricedZonePart) -> tuple[float, float, list[str]]:
    """Least and largest zone in mm, and what of it was assumed."""
    limits = part.zone_limits
    low = None if limits is None or limits.low is None else limits.low.mm
    high = None if limits is None or limits.high is None else limits.high.mm
    if low is not None and high is not None:
        return low, high, []
    if part.quotes is not None:
        zones = sorted(quote.zone.mm for quote in part.quotes)
        said = f"{part.name}: the zone stays between the two quoted."
    else:
        zones = [part.zone.mm / _ROOM, part.zone.mm * _ROOM]
        said = f"{part.name}: the zone stays between a quarter and four times today's."
    return zones[0] if low is None else low, zones[1] if high is None else high, [said]


def _correction(correction: Correction) -> Fraction:
    if correction.price is not None:
        return correction.price.amount.exact
    assert correction.hours is not None
    assert correction.rate is not None
    labour = Fraction(repr(correction.hours)) * correction.rate.amount.exact
    return labour + (0 if correction.parts is None else correction.parts.amount.exact)


# ── in words ─────────────────────────────────────────────────────────────────────────────


def say(answer: ZoneCostAnswer, lead: Lead) -> str:
    """What to draw, and whether it pays."""
    zones = _zones_said(answer, lead)
    outside = f"{say_chance(answer.chance_outside)} outside"
    if answer.saving is None or answer.total_price is None:
        said = f"Draw {zones}: {outside}, {answer.zones_price.text} a bell for these zones"
        today = answer.zones_price.exact - answer.zones_price_today.exact
        change = Price.of(abs(today), answer.zones_price.currency).text
        said += f", {change} {'more' if today > 0 else 'less'} than today."
        if answer.break_even_price is not None:
            said += (
                " A tighter drawing pays once a correction costs more than "
                f"{answer.break_even_price.text}."
            )
        return said
    alone = "" if answer.tighter_pays is None else _tighter_said(answer)
    if answer.saving.exact == 0:
        return f"Leave the drawing as it is: no other zones make a bell cheaper. {alone}"
    if answer.saving.exact < 0:
        more = Price.of(-answer.saving.exact, answer.saving.currency).text
        return (
            f"Draw {zones} for {outside}; it costs {more} a bell more than today, corrections "
            f"counted. {alone}"
        )
    return (
        f"Draw {zones}: {outside}, {answer.total_price.text} a bell with corrections, "
        f"{answer.saving.text} less than today. {alone}"
    )


def _tighter_said(answer: ZoneCostAnswer) -> str:
    if answer.tighter_pays and answer.tighter_saving is not None:
        return (
            f"A tighter drawing pays: tightening alone saves {answer.tighter_saving.text} a bell."
        )
    return "A tighter drawing does not pay."


def _zones_said(answer: ZoneCostAnswer, lead: Lead) -> str:
    listed = [f"{row.name} {say_length(row.zone_mm, lead=lead)}" for row in answer.zones]
    more = len(listed) - _NAMED
    return ", ".join(listed[:_NAMED] + ([f"and {more} more"] if more > 0 else []))


WORKSHEET = Worksheet(
    heading=heading("zone-cost"),
    case=ZoneCostCase,
    answer=ZoneCostAnswer,
    solve=solve,
    say=say,
    sources=(
        "The chance: as the radial-budget worksheet (R. D. Lord, Biometrika 41 (1954) 44-55)",
        "D. Kraft, A software package for sequential quadratic programming, DFVLR-FB 88-28 (1988)",
        "Price as one over the zone; about three hours a correction: common practice, no source",
    ),
    example="""
# Which zones are worth paying for? A radial budget, with what some of its zones cost in one bell.
limit = "5 thou"                     # largest TIR allowed: twice the offset

# Give a chance that is wanted, or what a correction in the field costs, or both.
# chance_outside = 0.01

dowel_a = ["-170 mm", "-20 mm"]
dowel_b = ["170 mm", "-20 mm"]

# One correction: a fitter's time and the eccentric dowels. Or price = {amount, currency}.
[correction]
hours = 3
rate = {amount = "110.00", currency = "USD"}
parts = {amount = "45.00", currency = "USD"}

[[contributors]]
name = "bore"
kind = "zone"
zone = "4 thou"                      # as the drawing has it today
# What the machinist asks for this hole, at two zones: the price goes as a + b / zone.
quotes = [
  {zone = "6 thou", price = {amount = "21.00", currency = "USD"}},
  {zone = "2 thou", price = {amount = "39.00", currency = "USD"}},
]

[[contributors]]
name = "bell's dowel holes"
kind = "zone"
zone = "3 thou"
# The same as a curve: a + b / zone, the zone in this unit.
cost.a = {amount = "9.00", currency = "USD"}
cost.b = {amount = "18.00", currency = "USD"}
cost.unit = "thou"
zone_limits = {low = "1 thou", high = "6 thou"}

[[contributors]]
name = "block's dowel hole a"        # no price: it is as it is
kind = "zone"
where = "dowel-a"
zone = "4 thou"

[[contributors]]
name = "block's dowel hole b"
kind = "zone"
where = "dowel-b"
zone = "4 thou"

[[contributors]]
name = "line-honed mains"
kind = "shift"
size = "1 thou"
clock_deg = 180
""",
)
