"""What comes into the books, checked: who and when, words, counts, days, money."""

from __future__ import annotations

import json
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final

from kitwright.errors import InputError, Problem
from kitwright.money import check_currency, from_minor

LONGEST_WORDS: Final = 200
LONGEST_TEXT: Final = 4000
GREATEST: Final = 10**15
"""No count and no amount of money is greater."""


@dataclass(frozen=True)
class Entry:
    """Who writes a line into the books, when it happened and when it is written down.

    Both times carry their zone; `happened` is the same as `recorded` where left out, and never
    later.

    Raises
    ------
    InputError
        Nobody is named, a time has no zone, or it lies ahead of its being written down.
    """

    who: str
    recorded: datetime
    happened: datetime | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "who", words(self.who, where="who"))
        recorded = moment(self.recorded, where="recorded")
        happened = recorded if self.happened is None else moment(self.happened, where="happened")
        if happened > recorded:
            raise InputError(
                "happened",
                f"{said(happened)} is later than {said(recorded)}, when it is written down",
                "write down what has happened",
            )
        object.__setattr__(self, "recorded", recorded)
        object.__setattr__(self, "happened", happened)

    @property
    def line(self) -> dict[str, Any]:
        """The columns of a kept line."""
        return {"who": self.who, "happened": self.happened, "recorded": self.recorded}


def said(value: datetime) -> str:
    """A time as a line of ours says it.

    >>> said(datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC))
    '2026-03-01 09:30 UTC'
    """
    return value.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")


def moment(value: object, *, where: str) -> datetime:
    """A time with its zone, in UTC."""
    if not isinstance(value, datetime):
        raise InputError(where, f'"{value}" is not a time', "give a date and time with its zone")
    if value.tzinfo is None or value.utcoffset() is None:
        raise InputError(where, f"{value.isoformat()} has no time zone", "give it in UTC")
    try:
        return value.astimezone(UTC)
    except OverflowError:
        raise InputError(where, f"{value} is out of range", "give a year from 1 to 9999") from None


def day(value: object, *, where: str) -> date:
    """A calendar day."""
    if not isinstance(value, date) or isinstance(value, datetime):
        raise InputError(where, f'"{value}" is not a day', "give a date, as 2026-03-01")
    return value


def words(value: object, *, where: str, most: int = LONGEST_WORDS) -> str:
    """A name or a sentence, without the blanks round it; not empty, not endless, no controls."""
    if not isinstance(value, str) or not value.strip():
        raise InputError(where, "missing", "write it down")
    stripped = value.strip()
    if len(stripped) > most:
        raise InputError(where, f"{len(stripped)} characters", f"write at most {most}")
    for character in stripped:
        if character not in "\n\t" and unicodedata.category(character) in ("Cc", "Cs"):
            raise InputError(where, f"holds the character {character!r}", "leave it out")
    return stripped


def sentence(value: str | None, *, where: str) -> str | None:
    """A reason where there is one; a blank one is none."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    return words(value, where=where, most=LONGEST_TEXT)


def reason(value: str | None, *, where: str, needed_by: str) -> str:
    """A reason that must be there."""
    given = sentence(value, where=where)
    if given is None:
        raise InputError(where, "missing", f"{needed_by} needs a reason")
    return given


def whole(value: object, *, where: str, least: int = 0) -> int:
    """A whole number that the database can hold."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise InputError(where, f'"{value}" is not a whole number', f"give {least} or more")
    if not least <= value <= GREATEST:
        expected = f"give {least} or more" if value < least else f"give at most {GREATEST}"
        raise InputError(where, f"{value}", expected)
    return value


def one_of(value: str, known: Sequence[str], *, where: str) -> str:
    """One of the words that are known."""
    if value not in known:
        raise InputError(where, f'"{value}" is not known', f"write {' or '.join(known)}")
    return value


def each_once(values: Iterable[str], *, where: str) -> None:
    """Refuse a list that names something twice, naming each that it does."""
    twice = [value for value, times in Counter(values).items() if times > 1]
    if twice:
        raise InputError.of(
            Problem(f"{where} {value}", "listed twice", "list it once") for value in twice
        )


def plain_json(value: Any, *, where: str) -> Any:
    """Data that JSON can hold, kept as JSON gives it back."""
    try:
        return json.loads(json.dumps(value, allow_nan=False))
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError(where, f"cannot be kept: {error}", "give plain finite data") from None


# ── money ────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Money:
    """An amount in whole minor units (cents; yen, which have none below them) of a currency.

    >>> Money(129900, "EUR")
    Money(minor=129900, currency='EUR')
    """

    minor: int
    currency: str

    @property
    def amount(self) -> Decimal:
        """The amount with its currency's decimals, exactly.

        >>> [str(Money(129900, each).amount) for each in ("EUR", "JPY", "KWD")]
        ['1299.00', '129900', '129.900']
        """
        return from_minor(self.minor, self.currency)

    def columns(self, name: str) -> dict[str, Any]:
        """The two columns of a kept amount, which may not be negative; `name` leads the error."""
        return {
            f"{name}_minor": whole(self.minor, where=name),
            f"{name}_currency": check_currency(self.currency, where=f"{name} currency"),
        }
