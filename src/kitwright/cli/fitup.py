"""`kitwright fit-up`: where fit-ups stand, and their papers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kitwright.cli.shop import database, now
from kitwright.errors import InputError
from kitwright.shop.opening import open_shop

if TYPE_CHECKING:
    from kitwright.books.opening import Books
    from kitwright.paper.typesetting import Paper
    from kitwright.shop.fitup_watch import Watched

_PDF = click.Path(path_type=Path)


@click.command("fit-up")
@click.argument("number", required=False, type=int)
@click.option("--shop", "folder", default="demo-shop", type=_PDF)
@click.option("--blank", type=_PDF, help="Write the whole fit-up, to fill in by hand, as a PDF.")
@click.option("--slip", type=_PDF, help="Write the slip that goes with the kit as a PDF.")
@click.option("--letter", is_flag=True, help="On letter paper; A4 where left out.")
def fit_up(
    number: int | None, folder: Path, blank: Path | None, slip: Path | None, letter: bool
) -> None:
    """Say where the fit-up NUMBER stands; without a number, which ones wait and for whom."""
    if number is None and (blank or slip):
        raise InputError("number", "missing", "say which fit-up's papers you want")
    with open_shop(folder, database=database()) as books:
        if number is None:
            click.echo("\n".join(_list(books)))
            return
        click.echo("\n".join(_stands(books, number)))
        if blank is not None or slip is not None:
            _papers(books, number, blank, slip, "us-letter" if letter else "a4")


def _papers(books: Books, number: int, blank: Path | None, slip: Path | None, paper: Paper) -> None:
    from kitwright.paper.of_fit_up import blank_of, slip_of  # noqa: PLC0415

    if blank is not None:
        _write(blank, "blank", blank_of(books, number, now=now(), paper=paper))
    if slip is not None:
        _write(slip, "slip", slip_of(books, number, now=now(), paper=paper))


def _list(books: Books) -> Iterator[str]:
    from kitwright.shop.fitup_watch import of_turn, watch  # noqa: PLC0415

    found = watch(books)
    for head, waits in (
        ("Waiting for the shop", of_turn(found, "shop")),
        ("Waiting for the fitter", of_turn(found, "fitter")),
    ):
        yield f"{head}:{'' if waits else ' none.'}"
        yield from (f"  {_named(each)}: {each.asked}" for each in waits)
    yield f"Ended: {len(of_turn(found, 'ended'))}."


def _named(found: Watched) -> str:
    return f"fit-up {found.fit_up.id}, bell {found.fit_up.serial}"


def _stands(books: Books, number: int) -> Iterator[str]:
    from kitwright.shop.fitup_course import WORDS, course_of  # noqa: PLC0415
    from kitwright.shop.fitup_stages import STAGES  # noqa: PLC0415
    from kitwright.shop.fitup_told import told  # noqa: PLC0415
    from kitwright.shop.fitup_watch import watch_one  # noqa: PLC0415
    from kitwright.units import Lead  # noqa: PLC0415

    found, course = watch_one(books, number), course_of(books, number)
    named = _named(found)
    yield f"{named[0].upper()}{named[1:]}; {found.fit_up.fitter}, {found.fit_up.block} block."
    turns = {
        "shop": f"Waiting for the shop: {found.asked}.",
        "fitter": f"Waiting for the fitter: {found.asked}.",
        "ended": f"It has {found.fit_up.state}.",
    }
    yield turns[found.turn]
    lead: Lead = "in" if course.view.shop.lead == "in" else "mm"
    if course.records:
        yield "\nSteps:"
        for place, stage in enumerate(STAGES, start=1):
            yield f"  {place:>2}. {stage.title:<24} {WORDS[course.status[stage.name]]}"
    happened = told(course.view.steps, course.every, lead)
    if happened:
        yield "\nWhat happened:"
        for line in happened:
            yield f"  {line.when.astimezone().date().isoformat()}, {line.who}: {line.what}"
    if course.notes:
        yield "\nNotes:"
        for note in course.notes:
            said = " ".join(note.said.split())
            yield f"  {note.happened.astimezone().date().isoformat()}, {note.who}: {said}"


def _write(path: Path, option: str, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise InputError(option, f"{path}: {error.strerror}", "choose another file") from None
    click.echo(f"wrote {path}")
