"""Everything that can go wrong, as one tree.

KitwrightError
├── InputError        the input cannot be used: exit 2 in the terminal, 422 from the API
│   ├── FileError     a file cannot be used; every bad row and column is listed
│   ├── MoveError     the books do not allow this move (a serial sold twice, stock below zero)
│   └── MissingError  no such batch, bell, order, worksheet: 404 on pages and API
└── FaultError        a fault of ours: an answer that failed its own check; exit 1, 500

An `InputError` holds one or more `Problem`s, a line each: where, what was given, what is
expected. Faces print the lines as they are and add nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One line to a person: where, what was given, what is expected.

    >>> print(Problem("limit", '"5" has no unit', 'write "5 thou" or "0.127 mm"'))
    limit: "5" has no unit; write "5 thou" or "0.127 mm"
    """

    where: str
    given: str
    expected: str = ""

    def __str__(self) -> str:
        head = f"{self.where}: {self.given}" if self.where else self.given
        return f"{head}; {self.expected}" if self.expected else head

    def within(self, prefix: str) -> Problem:
        """The same problem seen from outside: `readings` inside `sweep` is `sweep.readings`."""
        joined = ".".join(part for part in (prefix, self.where) if part)
        return Problem(joined, self.given, self.expected)


class KitwrightError(Exception):
    """The root: whatever Kitwright raises on purpose."""


class InputError(KitwrightError):
    """The input cannot be used. `problems` has a line for each fault found.

    Raise it with one problem's three parts, or with `InputError.of(problems)` for several.
    """

    problems: tuple[Problem, ...]

    def __init__(self, where: str, given: str, expected: str = "") -> None:
        self.problems = (Problem(where, given, expected),)
        super().__init__(str(self.problems[0]))

    @classmethod
    def of(cls, problems: Iterable[Problem]) -> InputError:
        """One error for several problems."""
        listed = tuple(problems)
        error = cls(listed[0].where, listed[0].given, listed[0].expected)
        error.problems = listed
        error.args = ("\n".join(map(str, listed)),)
        return error

    @property
    def lines(self) -> Sequence[str]:
        """What a person reads, a line a problem."""
        return [str(problem) for problem in self.problems]


class FileError(InputError):
    """A file cannot be used; nothing of it was kept."""


class MoveError(InputError):
    """The books do not allow this move."""


class MissingError(InputError):
    """Nothing is kept under this name."""


class FaultError(KitwrightError):
    """A fault of ours: an answer failed a check that it must pass."""
