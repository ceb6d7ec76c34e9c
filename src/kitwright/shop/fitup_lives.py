"""What a bell's life has of its fit-ups: links given and withdrawn, steps, notes, the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from kitwright.books import fitup_talk, fitups, links
from kitwright.books.fitup_talk import Note
from kitwright.books.fitups import FitUp, FitUpStep
from kitwright.books.links import Link
from kitwright.shop.fitup_told import by_day, notes_in_words, told
from kitwright.units import Lead


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of a bell's life."""

    when: datetime
    who: str
    what: str
    detail: str


def lives_of(connection: Connection, serial: str, lead: Lead) -> list[Line]:
    """What happened at every fit-up of a bell, in order; steps are gathered by day and person."""
    found = fitups.fit_ups_of(connection, serial)
    numbers = [each.id for each in found]
    steps = fitups.steps_of_many(connection, numbers)
    records = fitup_talk.all_records_of_many(connection, numbers)
    notes = fitup_talk.notes_of_many(connection, numbers)
    given = links.of_fit_ups(connection, numbers)
    lines: list[Line] = []
    for each in found:
        named = f"Fit-up {each.id}"
        lines += _steps(each, named, steps[each.id])
        lines += _links(named, given[each.id])
        under_way = [line for line in told(steps[each.id], records[each.id], lead) if not line.ends]
        lines += [
            Line(when=line.when, who=line.who, what=f"Done at fit-up {each.id}", detail=line.what)
            for line in by_day(under_way)
        ]
        lines += _notes(each, notes[each.id])
    return sorted(lines, key=lambda line: line.when)


def _steps(found: FitUp, named: str, steps: Sequence[FitUpStep]) -> Iterator[Line]:
    first, last = steps[0], steps[-1]
    yield Line(
        when=first.happened,
        who=first.who,
        what=f"{named} opened",
        detail=f"{found.fitter}, {found.block} block",
    )
    if last.state in fitups.ENDED:
        yield Line(
            when=last.happened, who=last.who, what=f"{named} {last.state}", detail=last.why or ""
        )


def _links(named: str, given: Sequence[Link]) -> Iterator[Line]:
    for link in given:
        yield Line(
            when=link.happened,
            who=link.who,
            what=f"{named}: link given",
            detail=f"until {link.expires.date().isoformat()}",
        )
        if link.withdrawn is not None:
            yield Line(
                when=link.withdrawn,
                who=link.withdrawn_who or "",
                what=f"{named}: link withdrawn",
                detail=link.withdrawn_why or "",
            )


def _notes(found: FitUp, notes: Sequence[Note]) -> Iterator[Line]:
    if notes:
        yield Line(
            when=notes[-1].happened,
            who=notes[-1].who,
            what=f"Fit-up {found.id}: {notes_in_words(notes)}",
            detail="",
        )
