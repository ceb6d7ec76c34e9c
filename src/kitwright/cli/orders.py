"""`kitwright orders` and `kitwright board`: what was promised, how surely it holds; a file in."""

from __future__ import annotations

import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from kitwright.cli.shop import database, now

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterator, Sequence

    from kitwright.shop.promising import Watched
    from kitwright.shop.week import Week

_FOLDER: Final = click.option(
    "--shop", "folder", default="demo-shop", type=click.Path(path_type=Path)
)


@click.group(invoke_without_command=True)
@_FOLDER
@click.option("--state", default="", help="Those in one state, as promised.")
@click.option("--text", default="", help="Those with these words in them.")
@click.option("--page", default=1, show_default=True, help="A hundred a page, the newest first.")
@click.pass_context
def orders(context: click.Context, folder: Path, state: str, text: str, page: int) -> None:
    """List orders with what was promised and how surely it holds; or import them."""
    if context.invoked_subcommand is not None:
        return
    from kitwright.books.entries import one_of  # noqa: PLC0415 - the list of commands does without
    from kitwright.books.moves import ORDER  # noqa: PLC0415
    from kitwright.shop.opening import open_shop  # noqa: PLC0415
    from kitwright.shop.order_view import listed  # noqa: PLC0415

    if state:
        one_of(state, tuple(ORDER.states), where="state")
    with open_shop(folder, database=database()) as books:
        found = listed(books, _today(), state=state, text=text, page=page)
    rows = [
        (
            view.order.label,
            view.customer.name,
            view.variant,
            view.order.state,
            _day(view.order.promised_for),
            _stands(watched),
        )
        for view, watched in found.rows
    ]
    for line in _columns(rows):
        click.echo(line)
    pages = f", page {found.page} of {found.pages}" if found.pages > 1 else ""
    click.echo(f"{found.count} {'order' if found.count == 1 else 'orders'}{pages}.")


@orders.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@_FOLDER
@click.option("--who", default=getpass.getuser, help="Who imports them; you, where left out.")
def import_command(file: Path, folder: Path, who: str) -> None:
    """Take every order of FILE (CSV) in, or none."""
    from kitwright.files.incoming import read_bytes  # noqa: PLC0415
    from kitwright.files.tables import read_csv  # noqa: PLC0415
    from kitwright.shop.opening import open_shop  # noqa: PLC0415
    from kitwright.shop.order_file import import_orders  # noqa: PLC0415

    table = read_csv(read_bytes(file), name=file.name)
    moment = now()
    with open_shop(folder, database=database()) as books:
        taken = import_orders(books, table, who=who, now=moment, today=_today())
    for each in taken:
        if each.promised_for is None:
            told = "open, nothing is promised"
        else:
            told = f"promised for {each.promised_for}, holds with {_chance(each.chance or 0.0)}"
        click.echo(f"{each.order.label}: {told}.")


@click.command()
@_FOLDER
def board(folder: Path) -> None:
    """Show every promise still to keep, those in danger first, and what the week brings."""
    from kitwright.shop.opening import open_shop  # noqa: PLC0415
    from kitwright.shop.week import look  # noqa: PLC0415

    with open_shop(folder, database=database()) as books:
        found = look(books, _today())
    for line in _board(found):
        click.echo(line)


def _board(found: Week) -> Iterator[str]:
    yield "Promises"
    rows = [
        (
            each.watched.order.label,
            each.view.customer.name,
            _day(each.watched.order.promised_for),
            _stands(each.watched),
            f"earliest {_day(each.watched.earliest)}",
            f"held up by {each.watched.slowest}" if each.watched.slowest else "",
        )
        for each in found.lines
    ]
    for line, each in zip(_columns(rows), found.lines, strict=True):
        yield line
        yield from (f"    {told}" for told in each.changed)
    if not rows:
        yield "  none"
    yield "To ship today"
    shipping = [
        (each.order.label, each.customer.name, f"bell {each.bell.serial}" if each.bell else "")
        for each in found.to_ship
    ]
    yield from _columns(shipping) if shipping else ["  nothing"]
    yield f"Batches due by {found.until}"
    due = [
        (
            each.batch.label,
            f"{each.batch.count} {each.design}",
            each.machinist,
            f"due {each.batch.due}",
            "overdue" if each.overdue else "",
        )
        for each in found.due
    ]
    yield from _columns(due) if due else ["  none"]


def _today() -> datetime.date:
    return now().astimezone().date()


def _day(day: datetime.date | None) -> str:
    return "no day" if day is None else day.isoformat()


def _stands(watched: Watched | None) -> str:
    if watched is None:
        return ""
    return (
        watched.outcome
        if watched.chance is None
        else (f"{watched.outcome}, {_chance(watched.chance)}")
    )


def _chance(chance: float) -> str:
    return f"{100 * chance:.0f} %"


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    if not rows:
        return []
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return [
        "  " + "  ".join(f"{cell:<{wide}}" for cell, wide in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
