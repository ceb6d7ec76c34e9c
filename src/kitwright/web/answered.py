"""An answer as its page shows it, alone or beside the answer to the case that it varies."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.picture import Picture
from kitwright.units import Lead
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.reading import Files, from_toml, read
from kitwright.worksheets.showing import Figure, Grid, assumptions, figures, grids

VERDICTS: Final = ("within", "outside", "too close to call")


@dataclass(frozen=True, kw_only=True)
class Before:
    """What the first case was answered."""

    sentence: str
    verdict: str | None
    figures: Mapping[str, str] = field(default_factory=dict)
    """Name of a figure → what it was, where it is another now."""


@dataclass(frozen=True, kw_only=True)
class Answered:
    """An answer as its page shows it."""

    sentence: str
    verdict: str | None
    """The outcome of a decision near a limit, which has a mark of its own."""
    pictures: Sequence[Picture]
    figures: Sequence[Figure]
    grids: Sequence[Grid]
    how: str
    assumed: Sequence[str]
    sounds: Sequence[tuple[str, str]] = ()
    """What can be listened to: its name, and its address."""
    before: Before | None = None


def answered(
    worksheet: Worksheet,
    case: Case,
    answer: Answer,
    *,
    lead: Lead,
    keep: Callable[[bytes], str],
    before: Answer | None = None,
) -> Answered:
    """The answer to show; with `before`, the first case's answer, what has changed since.

    `keep` holds what can be listened to, and says under which digest.
    """
    rows = figures(answer, lead=lead)
    compared = None
    if before is not None:
        was = figures(before, lead=lead)
        now = {row.name: row.leading for row in rows}
        compared = Before(
            sentence=worksheet.say(before, lead),
            verdict=_verdict(was),
            figures={row.name: row.leading for row in was if now.get(row.name) != row.leading},
        )
    return Answered(
        sentence=worksheet.say(answer, lead),
        verdict=_verdict(rows),
        pictures=pictures_of(worksheet.name, case, answer, before=before, lead=lead),
        figures=rows,
        grids=grids(answer, lead=lead),
        how=answer.how,
        assumed=assumptions(worksheet.case, answer),
        sounds=_sounds(worksheet, case, answer, keep),
        before=compared,
    )


def _sounds(
    worksheet: Worksheet, case: Case, answer: Answer, keep: Callable[[bytes], str]
) -> list[tuple[str, str]]:
    if worksheet.sounds is None:
        return []
    return [
        (each.name, f"/worksheets/held/{keep(each.wav)}") for each in worksheet.sounds(case, answer)
    ]


def _verdict(rows: Sequence[Figure]) -> str | None:
    return next((row.leading for row in rows if row.leading in VERDICTS), None)


@lru_cache(maxsize=16)
def first_answer(name: str, text: str, files: Files) -> Answer:
    """The answer to the case that a what-if is compared with; the same one is asked many times.

    Raises
    ------
    InputError
        The text is no case of this worksheet, or has no answer.
    """
    worksheet = load(name)
    try:
        case = read(worksheet.case, from_toml(text.replace("\r\n", "\n")), files=files)
        found = worksheet.solve(case)
    except InputError as error:
        raise InputError.of([problem.within("what-if") for problem in error.problems]) from None
    assert isinstance(found, Answer)
    return found
