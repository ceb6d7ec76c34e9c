"""Rules on certified shells: the shop's own copies, each with its source and its day.

A rule changes by a new line with its reason, and is withdrawn by one; no line is ever removed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, func, select

from kitwright.books import rows
from kitwright.books.entries import LONGEST_TEXT, Entry, day, one_of, reason, sentence, words
from kitwright.books.tables import rule, rule_line
from kitwright.books.tables.rules import DEMANDS
from kitwright.books.transactions import all_or_nothing
from kitwright.calc.checks import positive
from kitwright.errors import InputError, MissingError, MoveError, Problem

GREATEST: Final = 1e6
"""No engine here has more power in kW or turns faster in rpm."""


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What a rule demands, from what on, and where and when it was copied.

    `demands` is "certified shell" or "no certified shell"; `from_what` is in the book's own words;
    the two limits in numbers are what of it can be compared.
    """

    demands: str
    source: str
    copied_on: date
    spec: str | None = None
    from_what: str | None = None
    from_power_kw: float | None = None
    from_speed_rpm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A rule as its newest line has it, or as one of its lines had it."""

    id: int
    body: str
    use: str
    number: int
    state: str
    demands: str
    spec: str | None
    from_what: str | None
    from_power_kw: float | None
    from_speed_rpm: float | None
    source: str
    copied_on: date
    happened: datetime
    recorded: datetime
    who: str
    why: str | None

    @property
    def named(self) -> str:
        return f"{self.body}, {self.use}"

    @property
    def terms(self) -> Terms:
        """What it demands."""
        return Terms(**{name: getattr(self, name) for name in Terms.__dataclass_fields__})


@all_or_nothing
def add_rule(connection: Connection, body: str, use: str, terms: Terms, entry: Entry) -> int:
    """Copy a rule into the books; give its number.

    Raises
    ------
    InputError
        Something is missing or cannot be, or the body has a rule for this use already.
    """
    problems, kept = _terms(terms, entry)
    names: dict[str, str] = {}
    for name, given in (("body", body), ("use", use)):
        try:
            names[name] = words(given, where=name)
        except InputError as error:
            problems[:0] = error.problems
    if problems:
        raise InputError.of(problems)
    taken = select(rule.c.id).where(rule.c.body == names["body"], rule.c.use == names["use"])
    if connection.execute(taken).first() is not None:
        given = f'"{names["use"]}" has a rule of {names["body"]} already'
        raise InputError("use", given, "change that one, or name the use otherwise")
    number = rows.add(connection, rule, named="use", **names)
    _write(connection, number, 1, "stands", kept, entry, None)
    return number


def change_rule(
    connection: Connection, rule_id: int, terms: Terms, entry: Entry, *, why: str, seen: int
) -> None:
    """Put a new line in place of the newest; `seen` is the number of the one that was shown.

    A withdrawn rule stands again by it.

    Raises
    ------
    MissingError, InputError, MoveError
        No such rule; something missing, or no reason; another line was written since.
    """
    found = get_rule(connection, rule_id)
    problems, kept = _terms(terms, entry)
    problems += _reason(why, "a changed rule")
    if problems:
        raise InputError.of(problems)
    if found.state == "stands" and kept == asdict(found.terms):
        raise InputError("rule", "nothing is changed", "change something, or leave it")
    _next(connection, found, "stands", kept, entry, why, seen)


def withdraw_rule(
    connection: Connection, rule_id: int, entry: Entry, *, why: str, seen: int
) -> None:
    """Take a rule out of use; its lines stay.

    Raises
    ------
    MissingError, InputError, MoveError
        No such rule; no reason; it is withdrawn already, or another line was written since.
    """
    found = get_rule(connection, rule_id)
    if problems := _reason(why, "a withdrawn rule"):
        raise InputError.of(problems)
    if found.state == "withdrawn":
        raise MoveError(found.named, "is withdrawn already", "load the page again")
    _next(connection, found, "withdrawn", asdict(found.terms), entry, why, seen)


def get_rule(connection: Connection, rule_id: int) -> Rule:
    """The rule of this number as it is now."""
    found = _rules(connection, rule.c.id == rows.key_of(rule_id))
    if not found:
        raise MissingError("rule", f"there is no rule number {rule_id}")
    return found[0]


def rules(connection: Connection, *, standing: bool = False) -> list[Rule]:
    """Every rule as it is now, by body and use; with `standing`, none that is withdrawn."""
    return _rules(connection, *((rule_line.c.state == "stands",) if standing else ()))


def lines(connection: Connection, rule_id: int) -> list[Rule]:
    """A rule's lines, the newest first."""
    query = _query().where(rule.c.id == rows.key_of(rule_id)).order_by(rule_line.c.number.desc())
    return rows.read(connection, query, Rule)


def _query() -> Any:
    return select(
        rule, *(column for column in rule_line.c if column.name not in ("id", "rule_id"))
    ).join(rule_line, rule_line.c.rule_id == rule.c.id)


def _rules(connection: Connection, *conditions: ColumnElement[bool]) -> list[Rule]:
    newest = (
        select(rule_line.c.rule_id, func.max(rule_line.c.number).label("number"))
        .group_by(rule_line.c.rule_id)
        .subquery()
    )
    query = (
        _query()
        .join(
            newest,
            (newest.c.rule_id == rule_line.c.rule_id) & (newest.c.number == rule_line.c.number),
        )
        .where(*conditions)
        .order_by(rule.c.body, rule.c.use)
    )
    return rows.read(connection, query, Rule)


def _next(
    connection: Connection,
    found: Rule,
    state: str,
    kept: dict[str, Any],
    entry: Entry,
    why: str,
    seen: int,
) -> None:
    # whoever writes a line of this rule waits here for whoever does so now
    connection.execute(select(rule.c.id).where(rule.c.id == found.id).with_for_update())
    now = get_rule(connection, found.id)
    if now.number != seen:
        raise MoveError(
            found.named, f"was changed by {now.who} meanwhile", "load the page and look again"
        )
    _write(connection, found.id, now.number + 1, state, kept, entry, why)


def _write(
    connection: Connection,
    rule_id: int,
    number: int,
    state: str,
    kept: dict[str, Any],
    entry: Entry,
    why: str | None,
) -> None:
    rows.add(
        connection,
        rule_line,
        rule_id=rule_id,
        number=number,
        state=state,
        why=sentence(why, where="why"),
        **kept,
        **entry.line,
    )


def _terms(given: Terms, entry: Entry) -> tuple[list[Problem], dict[str, Any]]:
    """The columns of a line, and everything that is wrong with them."""
    checks: dict[str, Callable[[], Any]] = {
        "demands": lambda: one_of(given.demands, DEMANDS, where="demands"),
        "spec": lambda: sentence(given.spec, where="spec"),
        "from_what": lambda: sentence(given.from_what, where="from_what"),
        "from_power_kw": lambda: _limit(given.from_power_kw, where="from_power_kw"),
        "from_speed_rpm": lambda: _limit(given.from_speed_rpm, where="from_speed_rpm"),
        "source": lambda: words(given.source, where="source", most=LONGEST_TEXT),
        "copied_on": lambda: _copied(given.copied_on, entry),
    }
    problems: list[Problem] = []
    kept: dict[str, Any] = {}
    for name, check in checks.items():
        try:
            kept[name] = check()
        except InputError as error:
            problems += error.problems
    return problems, kept


def _limit(value: float | None, *, where: str) -> float | None:
    if value is None:
        return None
    if positive(value, where=where) > GREATEST:
        raise InputError(where, f"{value:g}", f"give at most {GREATEST:g}")
    return float(value)


def _copied(value: date, entry: Entry) -> date:
    """A day that is not ahead; where it is tomorrow already, somewhere on earth, it is today."""
    if day(value, where="copied_on") > entry.recorded.date() + timedelta(days=1):
        raise InputError("copied_on", f"{value.isoformat()} lies ahead", "give the day of copying")
    return value


def _reason(why: str, needed_by: str) -> list[Problem]:
    try:
        reason(why, where="why", needed_by=needed_by)
    except InputError as error:
        return list(error.problems)
    return []
