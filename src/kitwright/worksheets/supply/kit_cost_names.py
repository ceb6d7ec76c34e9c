"""Whether the names in a kit-cost case agree: each once, and none that is not listed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kitwright.errors import InputError, Problem
from kitwright.worksheets.supply.kit_cost_case import KitCostCase, UsePart


def check_names(case: KitCostCase) -> None:
    """Refuse a case whose names do not agree, with a line for each fault."""
    problems = list(_problems(case))
    if problems:
        raise InputError.of(problems)


def _problems(case: KitCostCase) -> Iterator[Problem]:
    for where, names in (
        ("parts", [part.name for part in case.parts]),
        ("bells", [bell.name for bell in case.bells]),
        ("variants", [variant.name for variant in case.variants]),
        ("options", [option.name for option in case.options]),
    ):
        for number, name in enumerate(names):
            if name in names[:number]:
                yield Problem(
                    f"{where}[{number}].name", f'"{name}" is listed twice', "name it once"
                )
    if case.base is not None and case.base not in {each.name for each in case.variants}:
        yield Problem("base", f'"{case.base}" is not a variant', "name one of them")
    bells = {bell.name for bell in case.bells}
    for number, variant in enumerate(case.variants):
        if variant.bell is not None and variant.bell not in bells:
            where = f"variants[{number}].bell"
            yield Problem(where, f'"{variant.bell}" is not listed', "list it among the bells")
    yield from _parts(case)
    yield from _rates(case)


def _parts(case: KitCostCase) -> Iterator[Problem]:
    """Each part is bought or made, and every part that is used is listed."""
    parts = {part.name for part in case.parts}
    yield from _unknown("shared", case.shared, parts)
    for number, variant in enumerate(case.variants):
        yield from _unknown(f"variants[{number}].parts", variant.parts, parts)
    for number, option in enumerate(case.options):
        yield from _unknown(f"options[{number}].parts", option.parts, parts)
    for number, part in enumerate(case.parts):
        here = f"parts[{number}]"
        yield from _unknown(f"{here}.made_of", part.made_of, parts)
        if part.price is None and not part.made_of:
            yield Problem(f"{here}.price", "missing", "give it, or what the part is made of")
        if part.price is not None and part.made_of:
            given = "given with made_of"
            yield Problem(f"{here}.price", given, "leave it out: an assembly costs its parts")
        if part.assembling is not None and not part.made_of:
            given = "given without made_of"
            yield Problem(f"{here}.assembling", given, "say what it is made of, or leave it out")


def _rates(case: KitCostCase) -> Iterator[Problem]:
    seen = set()
    for number, rate in enumerate(case.rates):
        if rate.source == rate.target:
            yield Problem(f"rates[{number}].to", f"{rate.target} in itself", "name another")
        known = (rate.source, rate.target, rate.date)
        if known in seen:
            given = f"{rate.source} in {rate.target} is listed twice for {rate.date.isoformat()}"
            yield Problem(f"rates[{number}]", given, "keep the right one")
        seen.add(known)


def _unknown(where: str, rows: Sequence[UsePart], parts: set[str]) -> Iterator[Problem]:
    for number, row in enumerate(rows):
        if row.part not in parts:
            here = f"{where}[{number}].part"
            yield Problem(here, f'"{row.part}" is not listed', "list it among the parts")
        if row.alternative is not None and row.alternative not in parts:
            here = f"{where}[{number}].alternative"
            yield Problem(here, f'"{row.alternative}" is not listed', "list it among the parts")
