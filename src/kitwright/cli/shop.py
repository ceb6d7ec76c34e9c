"""Commands on a shop: the demo, its pages, importing an inspection, checking the books."""

from __future__ import annotations

import datetime
import getpass
import os
from pathlib import Path

import click

from kitwright.errors import InputError
from kitwright.shop.opening import SETTING, open_shop

_FOLDER = click.argument("folder", default="demo-shop", type=click.Path(path_type=Path))


def database() -> str:
    """The database that the setting names; empty where it names none."""
    return os.environ.get(SETTING, "")


def now() -> datetime.datetime:
    """The time, told here alone."""
    return datetime.datetime.now(datetime.UTC)


@click.command()
@_FOLDER
def demo(folder: Path) -> None:
    """Take the whole job through once, in a demo shop of our own invention.

    FOLDER is made anew; only an earlier demo is ever replaced.
    """
    from kitwright.demo.story import run  # noqa: PLC0415 - the other commands do without

    # Its last day ends before noon: nothing in the demo's books may lie ahead of the clock.
    last = (now() - datetime.timedelta(hours=12)).date()
    made = run(folder, today=last, tell=click.echo, database=database())
    click.echo("")
    click.echo(f"In {made.folder}/:")
    for path in made.files:
        click.echo(f"  {path.name}")
    click.echo("")
    click.echo(f"Open the shop's pages with `make serve`, or `kitwright serve {folder}`.")


@click.command()
@_FOLDER
@click.option("--port", default=8710, show_default=True, type=click.IntRange(1, 65535))
@click.option("--links", metavar="ADDRESS", help="Where outsiders reach their links.")
@click.option("--links-listen", default="", metavar="HOST:PORT", help="Where to listen for them.")
@click.option("--who", default=getpass.getuser, help="Who sets the address; you, where left out.")
def serve(folder: Path, port: int, links: str | None, links_listen: str, who: str) -> None:
    """Open the pages of the shop in FOLDER, on this machine only.

    With --links, what fitters and machinists reach by their links is answered at ADDRESS, as
    http://192.0.2.7:8711. Behind a proxy, or where the name in ADDRESS is not this machine's own,
    say with --links-listen where to listen.
    """
    from kitwright.books.entries import Entry  # noqa: PLC0415
    from kitwright.books.links import set_address  # noqa: PLC0415
    from kitwright.web.links.site import create_links_site  # noqa: PLC0415
    from kitwright.web.serving import LinksDoor, listening_at  # noqa: PLC0415
    from kitwright.web.serving import serve as serve_app  # noqa: PLC0415
    from kitwright.web.site import create_site  # noqa: PLC0415

    with open_shop(folder, database=database()) as books:
        door = None
        if links is not None:
            with books.writing() as connection:
                address = set_address(connection, links, Entry(who=who, recorded=now()))
            at, outside = listening_at(address, links_listen)
            door = LinksDoor(
                app=create_links_site(books, address), address=address, host=at, port=outside
            )
        elif links_listen:
            raise InputError("links-listen", "there is no address for links", "give --links too")
        serve_app(create_site(books), port=port, links=door)


@click.command("import")
@click.argument("batch")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--shop", "folder", default="demo-shop", type=click.Path(path_type=Path))
@click.option("--instrument", required=True, help="What the bells were measured with.")
@click.option("--who", default=getpass.getuser, help="Who hands it in; you, where left out.")
def import_inspection(batch: str, file: Path, folder: Path, instrument: str, who: str) -> None:
    """Import the inspection FILE (CSV, XLSX or QIF) of BATCH, and decide each of its bells."""
    from kitwright.books.entries import Entry  # noqa: PLC0415
    from kitwright.books.stock import batches  # noqa: PLC0415
    from kitwright.files.incoming import handed_in, read_bytes  # noqa: PLC0415
    from kitwright.shop.batches import import_inspection as take_in  # noqa: PLC0415

    handed = handed_in(file.name, read_bytes(file))
    with open_shop(folder, database=database()) as books:
        with books.reading() as connection:
            found = [each for each in batches(connection) if each.label == batch]
        if not found:
            raise InputError("batch", f'there is no batch "{batch}"', "name it as on its page")
        entry = Entry(who=who, recorded=now())
        done = take_in(books, found[0].id, handed, instrument=instrument, entry=entry)
    for kind, count in sorted(done.counts.items()):
        click.echo(f"{kind}: {count}")
    for serial, why in done.reasons.items():
        click.echo(f"  {serial}: {why}")


@click.command()
@_FOLDER
def verify(folder: Path) -> None:
    """Check the books of the shop in FOLDER: states and places against the ledgers."""
    from kitwright.books.verifying import verify as faults_of  # noqa: PLC0415

    with open_shop(folder, database=database()) as books:
        faults = faults_of(books)
    for fault in faults:
        click.echo(fault, err=True)
    if faults:
        raise InputError("books", f"{len(faults)} faults found", "restore a sound copy")
    click.echo("The books are sound.")
