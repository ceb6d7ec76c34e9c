"""`kitwright stock`: what is there, and kit parts received, counted, scrapped, sent, taken back."""

from __future__ import annotations

import getpass
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from kitwright.cli.shop import database, now
from kitwright.errors import InputError, MissingError

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from kitwright.books.entries import Entry
    from kitwright.books.parts import StockPart
    from kitwright.shop.stock import StockView

_FOLDER: Final = click.option(
    "--shop", "folder", default="demo-shop", type=click.Path(path_type=Path)
)
_WHO: Final = click.option("--who", default=getpass.getuser, help="Who did it; you, if left out.")
_WHY: Final = click.option("--why", default="", help="The reason.")
_ON: Final = click.option("--on", default="", metavar="DAY", help="When it was; now, if left out.")
_ORDER: Final = click.option("--order", default="", metavar="LABEL", help="Of which order.")
_CUSTOMER: Final = click.option("--customer", default="", metavar="NAME", help="Of which customer.")


@click.group(invoke_without_command=True)
@_FOLDER
@click.option("--at", default="", metavar="DAY", help="At the end of an earlier day.")
@click.pass_context
def stock(context: click.Context, folder: Path, at: str) -> None:
    """Show what is there: kit parts, bells, castings."""
    if context.invoked_subcommand is not None:
        return
    from kitwright.shop.moving import past_day  # noqa: PLC0415
    from kitwright.shop.opening import open_shop  # noqa: PLC0415
    from kitwright.shop.stock import view  # noqa: PLC0415

    today = now().astimezone().date()
    day = past_day(at, today=today, where="at") if at else None
    with open_shop(folder, database=database()) as books:
        found = view(books, today=today, at=day)
    for line in _lines(found):
        click.echo(line)


def _lines(found: StockView) -> Iterator[str]:
    yield f"Parts{'' if found.now else f' at the end of {found.day.isoformat()}'}"
    head: tuple[str, ...] = ("", "", "free", "reserved", "on the shelf")
    rows = [
        (
            line.held.part.label,
            line.held.part.name,
            *map(str, (line.held.free, line.held.reserved, line.held.on_shelf)),
            *((f"{line.short} short" if line.short else "",) if found.now else ()),
        )
        for line in found.parts
    ]
    yield from _columns([(*head, "") if found.now else head, *rows], words=2)
    yield "Bells"
    yield from _columns(
        [
            (line.design, line.held.state, line.held.place, str(line.held.count))
            for line in found.bells
        ],
        words=3,
    )
    yield "Castings"
    yield from _columns(
        [
            ("", "", "came", "on the floor"),
            *(
                (line.held.label, line.design, str(line.held.came), str(line.held.on_floor))
                for line in found.crates
            ),
        ],
        words=2,
    )


def _columns(rows: Sequence[tuple[str, ...]], *, words: int) -> Iterator[str]:
    """Rows in columns, the first so many of words, the rest of numbers."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            f"{cell:<{width}}" if index < words else f"{cell:>{width}}"
            for index, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield f"  {'  '.join(cells)}".rstrip()


# ── moves ────────────────────────────────────────────────────────────────────────────────


def _move(name: str, *more: Callable[..., Any]) -> Callable[..., Any]:
    """A command `name PART COUNT` with what every move has, and these options."""

    def made(act: Callable[..., None]) -> click.Command:
        for option in (*more, _WHO, _WHY, _ON, _FOLDER):
            act = option(act)
        argued = click.argument("part")(click.argument("count")(act))
        # COUNT may be "-3", which is refused in our words and not taken for an option.
        return stock.command(name, context_settings={"ignore_unknown_options": True})(argued)

    return made


@contextmanager
def _writing(
    folder: Path, part: str, who: str, on: str
) -> Iterator[tuple[Connection, StockPart, Entry]]:
    """The part that is meant and an entry, in one transaction; then says what there is now."""
    from kitwright.books.parts import find_part  # noqa: PLC0415
    from kitwright.books.stock_at import part_stock  # noqa: PLC0415
    from kitwright.shop.moving import dated  # noqa: PLC0415
    from kitwright.shop.opening import open_shop  # noqa: PLC0415

    moment = now()
    entry = dated(on, who=who, now=moment, today=moment.astimezone().date())
    with open_shop(folder, database=database()) as books, books.writing() as connection:
        kept = find_part(connection, part)
        yield connection, kept, entry
        held = part_stock(connection, kept.id)
    click.echo(
        f"{kept.label}, {kept.name}: {held.on_shelf} on the shelf, {held.free} free,"
        f" {held.reserved} reserved."
    )


def _count(count: str, least: int = 1) -> int:
    from kitwright.shop.moving import whole_number  # noqa: PLC0415

    return whole_number(count, least=least)


@_move("receive", click.option("--supplier", default="", metavar="NAME", help="From whom."))
def receive(
    part: str, count: str, supplier: str, who: str, why: str, on: str, folder: Path
) -> None:
    """Take COUNT of PART in, from its own supplier or another."""
    from kitwright.books.part_handling import receive_parts  # noqa: PLC0415

    number = _count(count)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        owner = _party(connection, supplier, "supplier") if supplier else None
        receive_parts(connection, kept.id, number, entry, supplier_id=owner, why=why)


@_move("count")
def count_command(part: str, count: str, who: str, why: str, on: str, folder: Path) -> None:
    """Write down that COUNT of PART are on the shelf, reserved ones too."""
    from kitwright.books.part_handling import count_parts  # noqa: PLC0415

    number = _count(count, 0)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        difference = count_parts(connection, kept.id, number, entry, why=why)
        told = f"{difference:+d} put right" if difference else "as the books have it"
        click.echo(f"{number} counted, {told}.")


@_move("scrap")
def scrap(part: str, count: str, who: str, why: str, on: str, folder: Path) -> None:
    """Throw COUNT of PART away, for a reason."""
    from kitwright.books.part_handling import scrap_parts  # noqa: PLC0415

    number = _count(count)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        scrap_parts(connection, kept.id, number, entry, why=why)


@_move("return", _ORDER, _CUSTOMER)
def return_command(
    part: str,
    count: str,
    order: str,
    customer: str,
    who: str,
    why: str,
    on: str,
    folder: Path,
) -> None:
    """Take COUNT of PART back from an order or a customer, onto the shelf."""
    from kitwright.books.part_handling import take_parts_back  # noqa: PLC0415

    number = _count(count)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        whose = _whose(connection, order, customer)
        take_parts_back(connection, kept.id, number, entry, why=why, **whose)


@_move("send", _ORDER, _CUSTOMER)
def send(
    part: str,
    count: str,
    order: str,
    customer: str,
    who: str,
    why: str,
    on: str,
    folder: Path,
) -> None:
    """Send COUNT of PART to a customer, or after an order that went without."""
    from kitwright.books.part_handling import send_parts  # noqa: PLC0415

    number = _count(count)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        whose = _whose(connection, order, customer)
        send_parts(connection, kept.id, number, entry, why=why, **whose)


@_move("send-back", click.option("--supplier", default="", metavar="NAME", help="To whom."))
def send_back(
    part: str, count: str, supplier: str, who: str, why: str, on: str, folder: Path
) -> None:
    """Give COUNT of PART back to its supplier, for a reason."""
    from kitwright.books.part_handling import send_parts_back  # noqa: PLC0415

    number = _count(count)
    with _writing(folder, part, who, on) as (connection, kept, entry):
        owner = _party(connection, supplier, "supplier") if supplier else None
        send_parts_back(connection, kept.id, number, entry, supplier_id=owner, why=why)


def _whose(connection: Connection, order: str, customer: str) -> dict[str, int]:
    if order:
        from kitwright.books.orders import orders  # noqa: PLC0415

        found = [each.id for each in orders(connection) if each.label == order]
        if not found:
            raise MissingError("order", f'there is no order "{order}"', "name it as on its page")
        return {"order_id": found[0]}
    if not customer:
        raise InputError("order", "missing", "say --order LABEL or --customer NAME")
    return {"customer_id": _party(connection, customer, "customer")}


def _party(connection: Connection, name: str, role: str) -> int:
    from kitwright.books.shop import parties  # noqa: PLC0415

    for each in parties(connection, role):
        if each.name == name:
            return each.id
    raise MissingError(role, f'there is no {role} "{name}"', "write the whole name")
