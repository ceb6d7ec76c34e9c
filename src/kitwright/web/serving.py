"""The application on an address of this machine."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlsplit

import click
import uvicorn

from kitwright.errors import InputError

_PORTS: Final = 65536
_STOP_SECONDS: Final = 10


@dataclass(frozen=True, kw_only=True)
class LinksDoor:
    """What outsiders reach: its application, the address on their links, and where to listen."""

    app: Any
    address: str
    host: str
    port: int


def listening_at(address: str, given: str = "") -> tuple[str, int]:
    """Where the links are answered: as `given` ("127.0.0.1:8711"), or where the address points.

    Raises
    ------
    InputError
        `given` is not a host and a port.
    """
    if given:
        host, _, port = given.rpartition(":")
        if not host or not port.isdecimal() or not 0 < int(port) < _PORTS:
            raise InputError(
                "links-listen", f'"{given[:80]}" is no host and port', 'write "127.0.0.1:8711"'
            )
        return host.strip("[]"), int(port)
    parts = urlsplit(address)
    usual = 443 if parts.scheme == "https" else 80
    return parts.hostname or "", parts.port or usual


def serve(
    app: Any, *, host: str = "127.0.0.1", port: int = 8710, links: LinksDoor | None = None
) -> None:
    """Answer until stopped. Prints the address once it is taken.

    With `links`, a second application answers on its own address at the same time.

    Raises
    ------
    InputError
        The address is taken or not one of this machine.
    """
    with ExitStack() as stack:
        listening = stack.enter_context(_listen("port", host, port))
        if links is not None:
            outside = _listen("links-listen", links.host, links.port)
            stack.enter_context(outside)
            stack.enter_context(_in_a_thread(_server(links.app), outside))
            click.echo(f"Links are answered at {links.address}/")
        taken = listening.getsockname()[1]
        shown = f"[{host}]" if ":" in host else host
        click.echo(f"Kitwright is at http://{shown}:{taken}/ (Ctrl+C stops it)")
        _server(app).run(sockets=[listening])


def _listen(where: str, host: str, port: int) -> socket.socket:
    try:
        return socket.create_server((host, port), family=_family(host))
    except OSError as error:
        told = f"{host}:{port} cannot be used: {error.strerror or error}"
        raise InputError(where, told, "choose another") from None


def _server(app: Any) -> uvicorn.Server:
    return uvicorn.Server(
        uvicorn.Config(
            app, access_log=False, log_level="warning", server_header=False, lifespan="off"
        )
    )


@contextmanager
def _in_a_thread(server: uvicorn.Server, listening: socket.socket) -> Iterator[None]:
    """The server answers beside the main one, and stops with it."""
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(timeout=_STOP_SECONDS)


def _family(host: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in host else socket.AF_INET
