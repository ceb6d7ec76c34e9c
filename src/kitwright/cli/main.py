"""The command `kitwright`: its sub-commands load when they are called, its errors exit 1 or 2."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterable
from typing import Final

import click

from kitwright import __version__
from kitwright.errors import FaultError, InputError

_COMMANDS: Final = {
    "work": ("kitwright.cli.work", "work", "Solve a worksheet, or list them all."),
    "demo": ("kitwright.cli.shop", "demo", "Take the whole job through once, in a demo shop."),
    "serve": ("kitwright.cli.shop", "serve", "Open the shop's pages on this machine."),
    "import": ("kitwright.cli.shop", "import_inspection", "Import a batch's inspection file."),
    "batch": ("kitwright.cli.release", "batch", "Sum a batch up: yield, capability, what is held."),
    "sample": ("kitwright.cli.release", "sample", "Draw a batch's sample, or give its verdict."),
    "labels": ("kitwright.cli.labels", "labels", "Write labels to print: bells, crates, shelves."),
    "stock": ("kitwright.cli.stock", "stock", "Show the stock; receive, count, scrap kit parts."),
    "orders": ("kitwright.cli.orders", "orders", "List orders and how surely they hold; import."),
    "board": ("kitwright.cli.orders", "board", "Show the promises, those in danger first."),
    "fit-up": ("kitwright.cli.fitup", "fit_up", "Say where fit-ups stand; write their papers."),
    "verify": ("kitwright.cli.shop", "verify", "Check the shop's books against themselves."),
}


class _Lazy(click.Group):
    """Lists its commands without importing any of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module, name, _ = _COMMANDS[cmd_name]
        command = getattr(importlib.import_module(module), name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, _, about) in _COMMANDS.items()])


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, package_name="kitwright", message="Kitwright %(version)s")
def root() -> None:
    """Gearbox conversion kits: design the bell, prove it, sell it, and stand by the fitter."""


def main() -> None:
    """Run the command line. Exit 0 answered, 2 the input cannot be used, 1 a fault of ours."""
    try:
        root(prog_name="kitwright", standalone_mode=False)
    except InputError as error:
        _stop(error.lines, 2)
    except FaultError as error:
        _stop([f"a fault of ours, not of your input: {error}"], 1)
    except click.exceptions.Abort:
        _stop(["stopped"], 130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)


def _stop(lines: Iterable[str], status: int) -> None:
    for line in lines:
        click.echo(line, err=True)
    sys.exit(status)
