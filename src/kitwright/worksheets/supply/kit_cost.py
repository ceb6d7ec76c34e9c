"""What does each kit cost, and what is left?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from kitwright.calc.supply.bell_cost import BellCost
from kitwright.calc.supply.kit_bill import Bill, BillPart, Line, Margin, Use
from kitwright.money import ROUNDING
from kitwright.units import Lead
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.money import Price
from kitwright.worksheets.showing import say_chance
from kitwright.worksheets.supply.kit_cost_case import (
    AlternativeRow,
    BellPart,
    BellRow,
    KitCostAnswer,
    KitCostCase,
    LineRow,
    OptionRow,
    StepRow,
    UsePart,
    VariantPart,
    VariantRow,
)
from kitwright.worksheets.supply.kit_cost_example import EXAMPLE
from kitwright.worksheets.supply.kit_cost_names import check_names
from kitwright.worksheets.supply.kit_cost_till import Till
from kitwright.worksheets.supply.lot_plan_case import exact

BELL: Final = "bell"


def solve(case: KitCostCase) -> KitCostAnswer:
    """Work out every kit."""
    check_names(case)
    till = Till.of(case)
    bells = {bell.name: _bell_lines(till, bell) for bell in case.bells}
    bill = _bill(till, case)
    costed = [_Costed.of(till, bill, bells, variant) for variant in case.variants]
    options = [
        (option, bill.lines(_uses(option.parts)), till.minor(option.price))
        for option in case.options
    ]
    lines = [row for each in costed for row in each.rows(till)]
    lines += [till.line(option.name, line) for option, made, _ in options for line in made]
    return KitCostAnswer(
        currency=case.currency,
        told=list(_told(till, costed)),
        variants=[each.row(till, case.wanted_margin) for each in costed],
        steps=list(_steps(till, case, costed)),
        options=[
            _option(till, option.name, Margin(price=price, cost=_sum(made)))
            for option, made, price in options
        ],
        bells=[
            BellRow(bell=name, line=line, cost=till.price(cost))
            for name, made in bells.items()
            for line, cost in made
        ],
        lines=lines,
        alternatives=list(_alternatives(till, case, bill)),
        rates=till.rates(),
        assumed=list(_assumed(case, till)),
        how=_HOW,
    )


_HOW: Final = (
    "Each bought line is its count times its price at the rate of the day, exactly, and rounded "
    "once; every sum is a sum of such lines, so that a bill adds up to its last figure. A good "
    "bell pays for its share of the rejects: of many castings, each good one for 1 / yield - 1."
)


# ── bells and bills ──────────────────────────────────────────────────────────────────────


def _bell_lines(till: Till, bell: BellPart) -> list[tuple[str, int]]:
    """What makes the cost of a good one, each rounded once."""
    price, made = till.exactly(bell.price), bell.machining
    freight = Fraction(0)
    if bell.freight is not None:
        freight = till.exactly(bell.freight.price) / bell.freight.castings
    cost = BellCost(
        price=price,
        freight=freight,
        duty=price * exact(bell.duty_percent or 0.0) / 100,
        set_up=till.exactly(made.set_up if made else None),
        batch=made.batch if made else 1,
        machining=till.exactly(made.price if made else None),
        inspection=till.exactly(bell.inspection),
        good_share=exact(made.share_good) if made else Fraction(1),
        scrap=till.exactly(made.scrap if made else None),
        packing=till.exactly(bell.packing),
    )
    return [(name, round(each)) for name, each in cost.lines()]


def _bill(till: Till, case: KitCostCase) -> Bill:
    parts = {}
    for part in case.parts:
        bought = till.exactly(part.price) / part.price_of
        cost = till.exactly(part.assembling) if part.made_of else bought
        parts[part.name] = BillPart(cost=cost, made_of=tuple(_uses(part.made_of)))
    return Bill(parts)


def _uses(rows: Sequence[UsePart]) -> list[Use]:
    return [Use(part=row.part, count=row.count) for row in rows]


def _sum(lines: Sequence[Line]) -> int:
    return sum(line.cost for line in lines if not line.level)


@dataclass(frozen=True, kw_only=True)
class _Costed:
    """A variant with its bill, in smallest units."""

    name: str
    bell: str | None
    bell_lines: Sequence[tuple[str, int]]
    lines: Sequence[Line]
    price: int

    @classmethod
    def of(
        cls,
        till: Till,
        bill: Bill,
        bells: dict[str, list[tuple[str, int]]],
        variant: VariantPart,
    ) -> _Costed:
        return cls(
            name=variant.name,
            bell=variant.bell,
            bell_lines=bells[variant.bell] if variant.bell is not None else [],
            lines=bill.lines(_uses([*till.case.shared, *variant.parts])),
            price=till.minor(variant.price),
        )

    @property
    def bell_cost(self) -> int:
        return sum(cost for _, cost in self.bell_lines)

    @property
    def parts_cost(self) -> int:
        return _sum(self.lines)

    @property
    def margin(self) -> Margin:
        return Margin(price=self.price, cost=self.bell_cost + self.parts_cost)

    def rows(self, till: Till) -> Iterator[LineRow]:
        if self.bell is not None:
            cost = till.price(self.bell_cost)
            yield LineRow(of=self.name, level=0, part=f"{BELL}: {self.bell}", count=1, cost=cost)
            for name, each in self.bell_lines:
                yield LineRow(of=self.name, level=1, part=name, count=1, cost=till.price(each))
        for line in self.lines:
            yield till.line(self.name, line)

    def row(self, till: Till, wanted: float | None) -> VariantRow:
        margin = self.margin
        return VariantRow(
            variant=self.name,
            bell=self.bell,
            price=till.price(margin.price),
            cost=till.price(margin.cost),
            bell_cost=till.price(self.bell_cost),
            parts_cost=till.price(self.parts_cost),
            margin=till.price(margin.amount),
            margin_share=margin.share,
            price_wanted=(None if wanted is None else till.price(margin.price_for(exact(wanted)))),
        )


# ── what is set beside one another ───────────────────────────────────────────────────────


def _steps(till: Till, case: KitCostCase, costed: Sequence[_Costed]) -> Iterator[StepRow]:
    base = next((each for each in costed if each.name == case.base), costed[0])
    for each in costed:
        if each is base:
            continue
        price = each.margin.price - base.margin.price
        cost = each.margin.cost - base.margin.cost
        yield StepRow(
            variant=each.name,
            base=base.name,
            price_step=till.price(price),
            cost_step=till.price(cost),
            bell_step=till.price(each.bell_cost - base.bell_cost),
            parts_step=till.price(each.parts_cost - base.parts_cost),
            margin_step=till.price(each.margin.amount - base.margin.amount),
            cost_share=cost / price if price else None,
        )


def _option(till: Till, name: str, margin: Margin) -> OptionRow:
    return OptionRow(
        option=name,
        price=till.price(margin.price),
        cost=till.price(margin.cost),
        margin=till.price(margin.amount),
        margin_share=margin.share,
    )


def _alternatives(till: Till, case: KitCostCase, bill: Bill) -> Iterator[AlternativeRow]:
    """What each alternative would save where its part is used directly."""
    users: list[tuple[str, Sequence[UsePart]]] = [("every variant", case.shared)]
    users += [(variant.name, variant.parts) for variant in case.variants]
    users += [(option.name, option.parts) for option in case.options]
    users += [(part.name, part.made_of) for part in case.parts]
    for name, rows in users:
        for row in rows:
            if row.alternative is not None:
                saved = bill.cost_of_one(row.part) - bill.cost_of_one(row.alternative)
                yield AlternativeRow(
                    of=name,
                    part=row.part,
                    alternative=row.alternative,
                    saves=till.price(round(saved * row.count)),
                )


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _told(till: Till, costed: Sequence[_Costed]) -> Iterator[str]:
    for used in till.used:
        if till.is_old(used):
            yield (
                f"The rate of {used.rate.source} in {used.rate.target} is {used.days} days old: "
                "look it up again."
            )
    for each in costed:
        if each.margin.amount < 0:
            yield f"{each.name} costs more than it is sold for."


def _assumed(case: KitCostCase, till: Till) -> Iterator[str]:
    yield ROUNDING
    for used in till.used:
        if used.turned:
            yield (
                f"{used.rate.target} in {used.rate.source} is one over the rate of "
                f"{used.rate.source} in {used.rate.target}."
            )
    if "oldest_rate_days" not in case.model_fields_set and till.used:
        yield f"A rate is old after {case.oldest_rate_days} days."
    if case.base is None and len(case.variants) > 1:
        yield f"Variants are set against the first, {case.variants[0].name}."
    certain = [bell.name for bell in case.bells if bell.machining and not _has_yield(bell)]
    if certain:
        yield f"Every casting comes out good: {', '.join(certain)}."
    yield "What is not written down costs nothing: rent, time in the shop, advice, returns."


def _has_yield(bell: BellPart) -> bool:
    return bell.machining is not None and "share_good" in bell.machining.model_fields_set


def say(answer: KitCostAnswer, lead: Lead) -> str:
    """What each variant costs and leaves, and what the step is made of."""
    said = []
    for row in answer.variants[:_SAID]:
        share = "" if row.margin_share is None else f" ({say_chance(row.margin_share)})"
        said.append(f"{row.variant} costs {row.cost.text} and leaves {row.margin.text}{share}")
    more = len(answer.variants) - _SAID
    sentence = _named("; ".join(said)) + (f"; and {more} more" if more > 0 else "") + "."
    if answer.steps:
        step = max(answer.steps, key=lambda row: abs(row.price_step.exact))
        sentence += f" {_named(step.variant)} is sold for {_more(step.price_step)} than {step.base}"
        if step.cost_share is None or not 0 <= step.cost_share <= 1:
            sentence += f" and costs {_more(step.cost_step)}."
        else:
            share = say_chance(step.cost_share)
            sentence += f": {step.cost_step.text} of it, {share}, is cost."
    return " ".join([sentence, *answer.told])


_SAID: Final = 3


def _named(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _more(step: Price) -> str:
    size = Price.of(abs(step.exact), step.currency).text
    return f"{size} {'less' if step.exact < 0 else 'more'}" if step.exact else "no more"


WORKSHEET = Worksheet(
    heading=heading("kit-cost"),
    case=KitCostCase,
    answer=KitCostAnswer,
    solve=solve,
    say=say,
    sources=(
        "ISO 4217, Codes for the representation of currencies (how many decimals each has)",
        "ISO 80000-1:2009, annex B (rounding: halves to the even one)",
        "Landed cost, margin on the price, rejects paid by good bells: common practice, no source",
    ),
    example=EXAMPLE,
)
