"""`kitwright labels`: labels of bells, crates and shelves, on sheets or from a roll."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kitwright.errors import FileError, InputError
from kitwright.paper.label_layout import FIELDS, read_layout
from kitwright.shop.opening import SETTING, open_shop

if TYPE_CHECKING:
    from kitwright.books.opening import Books
    from kitwright.paper.labels import Label

_ABOUT = {
    "paper": "a4 or us-letter.",
    "columns": "Labels across a sheet.",
    "rows": "Labels down a sheet.",
    "top": "Margin above the first row.",
    "bottom": "Margin below the last row.",
    "left": "Margin left of the first column.",
    "right": "Margin right of the last column.",
    "gap_across": "Between two columns.",
    "gap_down": "Between two rows.",
    "skip": "Labels of the first sheet that are used already.",
    "width": "Of a label from a roll, one to a page.",
    "height": "Of a label from a roll.",
}


def _layout_options(command: Any) -> Any:
    for name, usual in reversed(list(FIELDS.items())):
        flag = f"--{name.replace('_', '-')}"
        option = click.option(flag, default=usual, help=_ABOUT[name], show_default=bool(usual))
        command = option(command)
    return command


@click.command()
@click.argument("what", nargs=-1, metavar="[BATCH|SERIAL|CRATE|PART]...")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The PDF to write.")
@click.option("--shelf", multiple=True, help='A label for a shelf or drawer: "A3; dowels, 7 thou".')
@click.option("--shop", "folder", default="demo-shop", type=click.Path(path_type=Path))
@click.option(
    "--address", help="Where a bell's code leads, in place of the links'; \"\" is nowhere."
)
@click.option("--bare", is_flag=True, help="Name and code only.")
@click.option("--outline", is_flag=True, help="A line round each label, to cut along.")
@_layout_options
def labels(
    what: Sequence[str],
    out: Path,
    shelf: Sequence[str],
    folder: Path,
    address: str | None,
    bare: bool,
    outline: bool,
    **layout: str,
) -> None:
    """Write labels to print: of each batch, serial, crate or part named, and of shelves.

    A grid on sheets; with --width and --height, one label a page. Lengths carry their unit.
    """
    from kitwright.paper.labels import labels_pdf, shelf_labels  # noqa: PLC0415

    try:
        chosen = read_layout(layout)
    except InputError as error:
        raise _as_options(error) from None
    found: list[Label] = []
    if what:
        with open_shop(folder, database=os.environ.get(SETTING, "")) as books:
            found += _labels_of(books, what, address)
    if shelf:
        found += shelf_labels("\n".join(shelf))
    if not found:
        raise InputError("labels", "nothing is named", "name a batch, a serial, a crate or a part")
    data = labels_pdf(found, chosen, bare=bare, outline=outline)
    try:
        out.write_bytes(data)
    except OSError as error:
        raise FileError(str(out), f"cannot be written: {error.strerror}") from None
    click.echo(f"wrote {out}, {len(found)} label{'' if len(found) == 1 else 's'}")


def _labels_of(books: Books, what: Sequence[str], address: str | None) -> Iterator[Label]:
    from kitwright.books.links import get_address, plain_address  # noqa: PLC0415
    from kitwright.paper.labels import bell_label, crate_label, part_label  # noqa: PLC0415
    from kitwright.shop.labelled import LabelledCrate, LabelledPart, find_labelled  # noqa: PLC0415

    if address is None:
        with books.reading() as connection:
            address = get_address(connection)
    elif address:
        address = plain_address(address, where="address")
    for words in what:
        named = find_labelled(books, words)
        if isinstance(named, LabelledCrate):
            yield crate_label(named)
        elif isinstance(named, LabelledPart):
            yield part_label(named)
        else:
            yield from (bell_label(bell, address=address) for bell in named)


def _as_options(error: InputError) -> InputError:
    """The same error, its fields named as the terminal names them."""
    return InputError.of(
        type(problem)(problem.where.replace("_", "-"), problem.given, problem.expected)
        for problem in error.problems
    )
