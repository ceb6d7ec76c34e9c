"""Commands on a batch: sum it up, draw its sample, give the verdict."""

from __future__ import annotations

import getpass
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kitwright.cli.shop import database, now
from kitwright.errors import InputError
from kitwright.shop.opening import open_shop

if TYPE_CHECKING:
    from kitwright.books.opening import Books
    from kitwright.shop.samples import SampleView
    from kitwright.shop.summary_tables import Told

_SHOP = click.option("--shop", "folder", default="demo-shop", type=click.Path(path_type=Path))


def batch_number(books: Books, label: str) -> int:
    """The number of the batch that is labelled so.

    Raises
    ------
    InputError
        There is none.
    """
    from kitwright.books.stock import batches  # noqa: PLC0415

    with books.reading() as connection:
        found = [each.id for each in batches(connection) if each.label == label]
    if not found:
        raise InputError("batch", f'there is no batch "{label}"', "name it as on its page")
    return found[0]


@click.command()
@click.argument("label")
@_SHOP
@click.option("--pdf", type=click.Path(path_type=Path), help="Write the report to this file too.")
def batch(label: str, folder: Path, pdf: Path | None) -> None:
    """Sum up the batch LABEL: yield, capability, signals, what is held and what would decide it."""
    from kitwright.shop.samples import views  # noqa: PLC0415
    from kitwright.shop.summary import summarise  # noqa: PLC0415
    from kitwright.shop.summary_tables import (  # noqa: PLC0415
        budgets_table,
        processes_table,
        shares_table,
        signals_list,
        too_close_table,
    )

    with open_shop(folder, database=database()) as books:
        number = batch_number(books, label)
        shown, sampled = summarise(books, number), views(books, number)
    click.echo(shown.say())
    for each in sampled:
        click.echo(f"{each.sample.named.capitalize()}: {each.say()}")
    tables = (
        shares_table(shown),
        budgets_table(shown),
        too_close_table(shown.too_close, lead=shown.lead),
        processes_table(shown),
    )
    for table in tables:
        if table.rows:
            click.echo("\n".join(["", *_lines(table)]))
    if signals := signals_list(shown):
        click.echo("\nSignals, bells in the order born:")
        click.echo("\n".join(f"  {signal}" for signal in signals))
    if pdf is not None:
        from kitwright.paper.batch_report import batch_report_pdf  # noqa: PLC0415

        today = now().astimezone().date()
        try:
            pdf.write_bytes(batch_report_pdf(shown, sampled, date=today))
        except OSError as error:
            raise InputError("pdf", f"{pdf}: {error.strerror}", "choose another file") from None


def _lines(table: Told) -> Iterator[str]:
    """A table in columns; a last one that holds sentences is not filled up."""
    yield f"{table.title}:"
    rows = [table.columns, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.columns))]
    for row in rows:
        cells = [f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)]
        yield f"  {'  '.join(cells)}".rstrip()


@click.command()
@click.argument("label")
@_SHOP
@click.option("--n", type=int, help="Bells in the sample, for a plan of your own.")
@click.option("--c", type=int, help="Bad bells allowed in it.")
@click.option("--aql", type=float, help="Or a level of the tables of ISO 2859-1, per cent bad.")
@click.option("--seed", type=int, help="Any whole number; one is made where left out, and kept.")
@click.option("--judge", is_flag=True, help="Give the sample that was drawn its verdict.")
@click.option("--who", default=getpass.getuser, help="Who draws or judges; you, where left out.")
def sample(
    label: str,
    folder: Path,
    n: int | None,
    c: int | None,
    aql: float | None,
    seed: int | None,
    judge: bool,
    who: str,
) -> None:
    """Draw a sample from the bells of the batch LABEL that wait, or judge the one that was drawn.

    Measure and import what is drawn, then give the verdict: an accepted sample releases the bells
    that it left out, a rejected one means that every bell is measured.
    """
    from kitwright.books.entries import Entry  # noqa: PLC0415
    from kitwright.calc.quality.random_sample import LARGEST_SEED  # noqa: PLC0415
    from kitwright.shop import samples  # noqa: PLC0415

    caution = samples.caution()
    entry = Entry(who=who, recorded=now())
    with open_shop(folder, database=database()) as books:
        number = batch_number(books, label)
        if judge:
            if any(each is not None for each in (n, c, aql, seed)):
                raise InputError("judge", "given with a plan", "draw first, judge later")
            waiting = samples.open_sample(samples.views(books, number))
            if waiting is None:
                raise InputError("sample", "none waits for its verdict", "draw one first")
            done = samples.judge(books, waiting.sample.id, entry)
        else:
            asked = samples.asked_for(n=n, c=c, aql=aql)
            chosen = secrets.randbelow(LARGEST_SEED + 1) if seed is None else seed
            done = samples.draw(books, number, asked, seed=chosen, entry=entry)
    click.echo(f"{caution.word}: {caution.text}")
    click.echo(f"{done.sample.named.capitalize()}: {done.say()}")
    _tell_bells(done)


def _tell_bells(done: SampleView) -> None:
    for serial, kind in done.outcomes.items():
        click.echo(f"  {serial}{'' if kind is None else f': {kind}'}")
    if done.sample.verdict == "accept":
        click.echo(
            f"The others of the {len(done.lot)} are released by the rule “{done.sample.rule}”."
        )
    elif done.sample.verdict == "reject":
        click.echo("Measure every bell of the batch.")
