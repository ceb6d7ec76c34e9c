"""The application on an address of this machine."""

from __future__ import annotations

import socket
from typing import Any

import click
import uvicorn

from kitwright.errors import InputError


def serve(app: Any, *, host: str = "127.0.0.1", port: int = 8710) -> None:
    """Answer until stopped. Prints the address once it is taken.

    Raises
    ------
    InputError
        The address is taken or not one of this machine.
    """
    try:
        listening = socket.create_server((host, port), family=_family(host))
    except OSError as error:
        raise InputError(
            "port", f"{host}:{port} cannot be used: {error.strerror}", "choose another"
        ) from None
    with listening:
        taken = listening.getsockname()[1]
        shown = f"[{host}]" if ":" in host else host
        click.echo(f"Kitwright is at http://{shown}:{taken}/ (Ctrl+C stops it)")
        config = uvicorn.Config(
            app, access_log=False, log_level="warning", server_header=False, lifespan="off"
        )
        uvicorn.Server(config).run(sockets=[listening])


def _family(host: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in host else socket.AF_INET
