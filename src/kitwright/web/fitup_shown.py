"""What the shop's page of a fit-up shows of its fitter: his steps, his links, the notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from kitwright.books import links
from kitwright.books.fitup_talk import Note, Record
from kitwright.books.links import Link
from kitwright.books.opening import Books
from kitwright.shop import links as giving
from kitwright.shop.fitup_course import WORDS, Course, Status, course_of, version_of
from kitwright.shop.fitup_stages import STAGES, Stage
from kitwright.shop.fitup_told import sentence
from kitwright.shop.fitup_verdicts import verdict_of
from kitwright.shop.fitup_watch import Watched, watch_one
from kitwright.units import Lead
from kitwright.web.fitup_written import written
from kitwright.web.links_given import qr_svg

SHAPES: dict[Status, str] = {
    "done": "filled",
    "not needed": "filled",
    "again": "hatched",
    "stop": "open",
}
"""The mark of a stage by where it stands; the others have none."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One record of a stage: when, by whom, what was written, what the worksheet answered."""

    number: int
    when: str
    who: str
    written: tuple[tuple[str, str], ...]
    said: str
    verdict: str
    undone: str
    """When it was taken back and by whom; empty where it counts."""


@dataclass(frozen=True, kw_only=True)
class StageShown:
    """A stage, where it stands, and everything that was written down at it, in order."""

    name: str
    title: str
    word: str
    shape: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, kw_only=True)
class LinkShown:
    """A link to the fit-up, with its whole address where it stands and the shop has set one."""

    link: Link
    stands: bool
    address: str | None
    qr: str | None


@dataclass(frozen=True, kw_only=True)
class Talk:
    """A fit-up as the shop follows it from afar."""

    version: str
    course: Course
    watched: Watched
    links: tuple[LinkShown, ...]
    address_set: bool
    notes: tuple[Note, ...]
    stages: tuple[StageShown, ...]


def talk_of(books: Books, number: int, now: datetime, lead: Lead) -> Talk:
    """The links, the notes, and what the fitter wrote, in order."""
    version = version_of(books, number)  # before what it marks, so that it is never too new
    course = course_of(books, number)
    with books.reading() as connection:
        given = links.of_fit_up(connection, number)
        addresses = [giving.whole_address(connection, each) for each in given]
        address_set = links.get_address(connection) is not None
    return Talk(
        version=version,
        course=course,
        watched=watch_one(books, number),
        links=tuple(
            _link(link, address, now) for link, address in zip(given, addresses, strict=True)
        ),
        address_set=address_set,
        notes=course.notes,
        stages=tuple(_stage(course, stage, lead) for stage in STAGES),
    )


def clock(time: datetime) -> str:
    """A time as the shop's clock shows it."""
    return time.astimezone().strftime("%Y-%m-%d %H:%M")


def _link(link: Link, address: str | None, now: datetime) -> LinkShown:
    stands = link.stands(now)
    shown = address if stands else None
    return LinkShown(
        link=link, stands=stands, address=shown, qr=None if shown is None else qr_svg(shown)
    )


def _stage(course: Course, stage: Stage, lead: Lead) -> StageShown:
    status = course.status[stage.name]
    return StageShown(
        name=stage.name,
        title=stage.title,
        word=WORDS[status],
        shape=SHAPES.get(status, ""),
        lines=tuple(_lines(course, stage, lead)),
    )


def _lines(course: Course, stage: Stage, lead: Lead) -> Iterator[Line]:
    undone: dict[int | None, Record] = {
        each.undoes_id: each for each in course.every if each.undoes_id is not None
    }
    for record in course.every:
        if record.stage != stage.name or record.undoes_id is not None:
            continue
        back = undone.get(record.id)
        yield Line(
            number=record.id,
            when=clock(record.happened),
            who=record.who,
            written=tuple(written(stage, record.said_json)),
            said=sentence(record, lead),
            verdict="" if record.worksheet is None else verdict_of(record),
            undone="" if back is None else f"{clock(back.happened)}, {back.who}",
        )
