"""A calendar day as people type it: as ISO 8601 writes it with its dashes, and nothing else."""

from __future__ import annotations

import re
from datetime import date
from typing import Final

from kitwright.errors import InputError

_WRITTEN: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


def read_day(text: str, *, where: str, expected: str = "write it as 2026-03-01") -> date:
    """The day that is written, blanks round it allowed.

    Raises
    ------
    InputError
        Nothing is written, or no day; `expected` is what its line says to do.

    Examples
    --------
    >>> read_day("2026-05-04", where="due")
    datetime.date(2026, 5, 4)
    """
    written = text.strip()
    try:
        if _WRITTEN.fullmatch(written):
            return date.fromisoformat(written)
    except ValueError:  # such as the 30th of February
        pass
    given = f'"{written[:40]}" is not a day' if written else "missing"
    raise InputError(where, given, expected)
