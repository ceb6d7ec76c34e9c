"""What the shop's page of a fit-up shows of its fitter: his link, what he wrote, the notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from kitwright.books import fitup_talk
from kitwright.books.fitup_talk import Note, Record
from kitwright.books.links import Link
from kitwright.books.opening import Books
from kitwright.shop import links as giving
from kitwright.shop.fitting import UNDOES
from kitwright.shop.fitup_course import version_of
from kitwright.shop.fitup_stages import BY_NAME
from kitwright.web.fitup_written import written
from kitwright.web.links_given import qr_svg


@dataclass(frozen=True, kw_only=True)
class Talk:
    """A fit-up as the shop follows it from afar."""

    version: str
    link: Link | None
    address: str | None
    qr: str | None
    notes: tuple[Note, ...]
    written: tuple[tuple[str, str, str, str], ...]
    """Stage, when, what, whether it counts."""


def talk_of(books: Books, number: int, now: datetime) -> Talk:
    """The link that stands, the notes, and what the fitter wrote, in order."""
    version = version_of(books, number)
    with books.reading() as connection:
        link = giving.standing_for_fit_up(connection, number, now)
        address = None if link is None else giving.whole_address(connection, link)
        records = fitup_talk.all_records_of(connection, number)
        notes = fitup_talk.notes_of(connection, number)
    return Talk(
        version=version,
        link=link,
        address=address,
        qr=None if address is None else qr_svg(address),
        notes=tuple(notes),
        written=tuple(_rows(records)),
    )


def _rows(records: Sequence[Record]) -> Iterator[tuple[str, str, str, str]]:
    undone = {record.undoes_id for record in records}
    for record in records:
        stage = BY_NAME[record.stage]
        when = record.happened.strftime("%Y-%m-%d %H:%M UTC")
        if UNDOES in record.said_json:
            yield stage.title, when, "taken back", ""
            continue
        said = "; ".join(f"{label}: {value}" for label, value in written(stage, record.said_json))
        yield stage.title, when, said, "taken back later" if record.id in undone else ""
