"""`kitwright work`: worksheets at the terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click

from kitwright.errors import FileError, InputError
from kitwright.units import Lead
from kitwright.worksheets.contents import CONTENTS, STAGES

_LARGEST_CASE: Final = 16_000_000


@click.command()
@click.argument("name", required=False)
@click.argument("case", required=False)
@click.option("--example", is_flag=True, help="Print a commented case, ready to edit.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer as one JSON object.")
@click.option("--pdf", "pdf", metavar="FILE", help="Write the sheet to print.")
@click.option("--sound", "sound", metavar="FILE", help="Write what can be listened to, as WAV.")
@click.option(
    "--lead",
    type=click.Choice(["mm", "in"]),
    default="mm",
    show_default=True,
    help="The unit that is written first.",
)
def work(
    name: str | None,
    case: str | None,
    example: bool,
    as_json: bool,
    pdf: str | None,
    sound: str | None,
    lead: Lead,
) -> None:
    """Solve the worksheet NAME for CASE, a .toml or .json file (- reads JSON from standard input).

    Without a name: every worksheet, a line each, by stage of the job.
    """
    if name is None:
        _list()
        return
    from kitwright.worksheets.declaration import load  # noqa: PLC0415 - only when it is needed

    worksheet = load(name)
    if example:
        click.echo(worksheet.example.strip())
        return
    if case is None:
        raise InputError("CASE", "missing", f"try `kitwright work {name} --example > case.toml`")
    from kitwright.worksheets.reading import read  # noqa: PLC0415

    given = read(worksheet.case, read_case_file(case), files=files_beside(case))
    if sound is not None and worksheet.sounds is None:
        raise InputError("--sound", f"{name} has nothing to listen to", "leave it out")
    answer = worksheet.solve(given)
    if sound is not None and worksheet.sounds is not None:
        _write(sound, worksheet.sounds(given, answer)[0].wav)
        click.echo(f"wrote {sound}", err=as_json)
    if pdf is not None:
        from kitwright.paper.worksheet_sheet import worksheet_pdf  # noqa: PLC0415

        _write(pdf, worksheet_pdf(worksheet, given, answer, lead=lead))
        click.echo(f"wrote {pdf}", err=as_json)
    if as_json:
        from kitwright.worksheets.writing import flat  # noqa: PLC0415

        click.echo(json.dumps(flat(worksheet, answer), ensure_ascii=False, allow_nan=False))
    elif pdf is None and sound is None:
        from kitwright.cli.terminal import answer_text  # noqa: PLC0415

        click.echo(answer_text(worksheet, answer, lead=lead))


def _list() -> None:
    width = max(len(entry.name) for entry in CONTENTS)
    for stage in STAGES:
        entries = [entry for entry in CONTENTS if entry.stage == stage]
        if entries:
            click.echo(stage.capitalize())
        for entry in entries:
            click.echo(f"  {entry.name:<{width}}  {entry.question}")


def read_case_file(case: str) -> Any:
    """What a case file says: TOML or JSON by its ending, JSON from standard input for `-`."""
    from kitwright.worksheets.reading import from_json, from_toml  # noqa: PLC0415

    if case == "-":
        whence = "standard input"
        return from_json(_decoded(sys.stdin.buffer.read(_LARGEST_CASE + 1), whence), where=whence)
    path = Path(case)
    if path.suffix not in (".toml", ".json"):
        raise FileError(case, "the ending is not known", "give a .toml or a .json file, or -")
    try:
        with path.open("rb") as file:
            text = _decoded(file.read(_LARGEST_CASE + 1), case)
    except OSError as error:
        raise FileError(case, f"cannot be read: {error.strerror}", "check the name") from None
    return from_json(text, where=case) if path.suffix == ".json" else from_toml(text, where=case)


def files_beside(case: str) -> Callable[[str], bytes]:
    """How the files that a case names are opened: their paths start where the case lies, or here
    where it comes from standard input."""
    folder = Path() if case == "-" else Path(case).parent

    def opened(name: str) -> bytes:
        from kitwright.files.incoming import read_bytes  # noqa: PLC0415 - few cases name a file

        return read_bytes(folder / name)

    return opened


def _decoded(data: bytes, where: str) -> str:
    if len(data) > _LARGEST_CASE:
        raise FileError(where, "larger than 16 MB", "a case is a page, not a book")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(where, f"not UTF-8 at byte {error.start}", "save it as UTF-8") from None


def _write(path: str, data: bytes) -> None:
    try:
        Path(path).write_bytes(data)
    except OSError as error:
        raise FileError(path, f"cannot be written: {error.strerror}", "choose another") from None
