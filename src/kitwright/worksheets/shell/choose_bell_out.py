"""What puts a bell out before any figure is weighed: rules, certificates, budget, days, room."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from kitwright.units import say_length
from kitwright.worksheets.shell.choose_bell_case import (
    ChooseBellCase,
    DesignPart,
    ExcludedRow,
    RulePart,
    RuleRow,
)

BOOK = "check the current book"


def said_of(rule: RulePart) -> str:
    """Where a rule was copied from and when."""
    copied = f"copied {rule.copied_on.isoformat()}" if rule.copied_on else "copied on no known day"
    return f"{rule.source or 'no source named'}, {copied}; {BOOK}"


def judged(case: ChooseBellCase) -> list[RuleRow]:
    """Every rule, and whether it counts here."""
    rows = []
    for rule in case.rules:
        does, why = counts(rule, case)
        spec = f", {rule.spec}" if rule.spec else ""
        rows.append(
            RuleRow(
                rule=rule.named,
                demands=f"{rule.demands}{spec}",
                counts="yes" if does else "no",
                why=why,
                source=said_of(rule),
            )
        )
    return rows


def counts(rule: RulePart, case: ChooseBellCase) -> tuple[bool, str]:
    """Whether a rule counts here, and why; where its limits cannot be compared it does."""
    if rule.applies != "by its limits":
        return rule.applies == "yes", "as you say"
    words = f' ("{rule.from_what}")' if rule.from_what else ""
    if rule.from_power_kw is None and rule.from_speed_rpm is None:
        return True, f"it has no limit in numbers{words}, so it counts"
    reached, missing, told = [], [], []
    for what, limit, given, unit in (
        ("power", rule.from_power_kw, case.power_kw, "kW"),
        ("speed", rule.from_speed_rpm, case.speed_rpm, "rpm"),
    ):
        if limit is None:
            continue
        if given is None:
            missing.append(what)
        else:
            reached.append(given >= limit)
            told.append(f"{what} {given:g} of {limit:g} {unit}")
    if any(reached):
        return True, ", ".join(told) + words
    if missing:
        return True, f"{' and '.join(missing)} not given, so it counts{words}"
    return False, ", ".join(told) + words


def excluded(case: ChooseBellCase) -> list[ExcludedRow]:
    """A row for each reason, in the order in which bells are on offer."""
    return [
        ExcludedRow(name=design.name, reason=reason, rule=rule)
        for design in case.designs
        for reason, rule in _reasons(design, case)
    ]


def _reasons(design: DesignPart, case: ChooseBellCase) -> Iterator[tuple[str, str | None]]:
    if not design.certified:
        for rule in case.rules:
            if rule.demands == "certified shell" and counts(rule, case)[0]:
                spec = f" ({rule.spec})" if rule.spec else ""
                yield (
                    f"a certified shell{spec} is demanded, and this is none",
                    f"{rule.named}: {said_of(rule)}",
                )
    last = design.certificate_last_day
    if last is not None and last < case.day_of_use:
        first = case.day_of_use.isoformat()
        yield f"its certificate's last day is {last.isoformat()}, the first use {first}", None
    if case.budget is not None and design.price.amount.exact > case.budget.amount.exact:
        yield f"{design.price.text} is over the budget of {case.budget.text}", None
    yield from ((reason, None) for reason in _days(design, case.wanted_by))
    yield from ((reason, None) for reason in _room(design, case))


def _days(design: DesignPart, wanted_by: date | None) -> Iterator[str]:
    if not design.ships:
        yield "it cannot be shipped: none is free and none is under way"
    elif wanted_by is not None and design.ships_on is not None and design.ships_on > wanted_by:
        yield f"it ships on {design.ships_on.isoformat()}, wanted by {wanted_by.isoformat()}"


def _room(design: DesignPart, case: ChooseBellCase) -> Iterator[str]:
    for way, has, needed in (
        ("along the crank", design.opening_width, case.needed_width),
        ("round the bell", design.opening_height, case.needed_height),
    ):
        if has is not None and needed is not None and has.exact < needed.exact:
            yield (
                f"its opening is {say_length(has.mm)} {way}, and {say_length(needed.mm)} are needed"
            )
