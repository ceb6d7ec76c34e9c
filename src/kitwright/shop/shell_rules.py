"""Rules on certified shells as the shop types them: added, changed, withdrawn, each once."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from typing import Final

from kitwright.books import rules
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.rules import Rule, Terms
from kitwright.books.sendings import first_time
from kitwright.days import read_day
from kitwright.errors import InputError, Problem

CHECK: Final = "check the current book"
OLD_AFTER: Final = datetime.timedelta(days=365)
"""A copy older than a season is worth a word of its own."""


def add(books: Books, typed: Mapping[str, str], *, entry: Entry, send_key: str | None) -> None:
    """Copy a rule; the same sending twice copies it once."""
    terms = _terms(typed, also=("body", "use"))
    body, use = typed.get("body", ""), typed.get("use", "")
    with books.writing() as connection:
        if first_time(connection, send_key, f"rule {body}, {use}", entry):
            rules.add_rule(connection, body, use, terms, entry)


def change(
    books: Books, rule_id: int, typed: Mapping[str, str], *, entry: Entry, send_key: str | None
) -> None:
    """Put a new line in the newest one's place."""
    terms = _terms(typed)
    with books.writing() as connection:
        if first_time(connection, send_key, f"rule {rule_id} changed", entry):
            rules.change_rule(
                connection, rule_id, terms, entry, why=typed.get("why", ""), seen=_seen(typed)
            )


def withdraw(
    books: Books, rule_id: int, typed: Mapping[str, str], *, entry: Entry, send_key: str | None
) -> None:
    """Take a rule out of use."""
    with books.writing() as connection:
        if first_time(connection, send_key, f"rule {rule_id} withdrawn", entry):
            rules.withdraw_rule(
                connection, rule_id, entry, why=typed.get("why", ""), seen=_seen(typed)
            )


def typed_of(rule: Rule) -> dict[str, str]:
    """A rule as its form shows it."""
    terms = rule.terms
    return {
        "demands": terms.demands,
        "spec": terms.spec or "",
        "from_what": terms.from_what or "",
        "from_power_kw": "" if terms.from_power_kw is None else f"{terms.from_power_kw:.12g}",
        "from_speed_rpm": "" if terms.from_speed_rpm is None else f"{terms.from_speed_rpm:.12g}",
        "source": terms.source,
        "copied_on": terms.copied_on.isoformat(),
    }


def is_old(rule: Rule, *, today: datetime.date) -> bool:
    """Whether its copy is more than a year old."""
    return today - rule.copied_on > OLD_AFTER


def limits_said(rule: Rule) -> str:
    """From what on, in the book's words and in numbers."""
    numbers = [
        f"{value:g} {unit}"
        for value, unit in ((rule.from_power_kw, "kW"), (rule.from_speed_rpm, "rpm"))
        if value is not None
    ]
    told = f"in numbers {' or '.join(numbers)}" if numbers else ""
    words = rule.from_what or ""
    return f"{words} ({told})" if words and told else words or told


def _terms(typed: Mapping[str, str], *, also: tuple[str, ...] = ()) -> Terms:
    """What was typed; everything that cannot be read or is missing, at once."""
    problems = [
        Problem(name, "missing", expected)
        for name, expected in (
            ("body", "name the sanctioning body"),
            ("use", "name the class or use"),
            ("source", "say which book, edition and paragraph"),
        )
        if (name == "source" or name in also) and not typed.get(name, "").strip()
    ]
    limits: dict[str, float | None] = {}
    for name in ("from_power_kw", "from_speed_rpm"):
        try:
            limits[name] = _number(typed.get(name, ""), where=name)
        except InputError as error:
            problems += error.problems
    try:
        copied_on = read_day(
            typed.get("copied_on", ""), where="copied_on", expected="write it as 2026-05-04"
        )
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError.of(problems)
    return Terms(
        demands=typed.get("demands", ""),
        source=typed.get("source", ""),
        copied_on=copied_on,
        spec=typed.get("spec"),
        from_what=typed.get("from_what"),
        from_power_kw=limits["from_power_kw"],
        from_speed_rpm=limits["from_speed_rpm"],
    )


def _number(text: str, *, where: str) -> float | None:
    if not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(where, f'"{text[:40]}" is not a number', "write a plain number, or none")
    return value


def _seen(typed: Mapping[str, str]) -> int:
    text = typed.get("seen", "")
    return int(text) if re.fullmatch(r"\d{1,9}", text, re.ASCII) else 0
