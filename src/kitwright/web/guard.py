"""What stands between the wire and the pages: plain ASGI, each guard one refusal.

The pages listen on this machine only, yet a browser on this machine also runs other people's
pages. Those must neither read ours (hosts: a name that was made to point here is refused) nor post
into them (origins), nor frame them (headers).
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from kitwright.errors import Problem
from kitwright.web.problems import incident, refusal, too_large

LOCAL_HOSTS: Final = ("127.0.0.1", "localhost", "[::1]")
MOST_BYTES: Final = 20_000_000

HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "font-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; "
        "media-src 'self' blob:; "  # what was handed in; what was just recorded and not yet sent
        "base-uri 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_READING: Final = frozenset({"GET", "HEAD", "OPTIONS"})


class StrictHeaders:
    """Every answer, also a refusal, carries the strict headers; none is kept without asking."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                headers.setdefault("Cache-Control", "no-cache")
            await send(message)

        await self.app(scope, receive, with_headers)


class KnownHosts:
    """Only our own names: a foreign name that resolves to this machine gets nothing."""

    def __init__(self, app: ASGIApp, hosts: Collection[str]) -> None:
        self.app = app
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        host = Headers(scope=scope).get("host", "") if scope["type"] == "http" else None
        if host is not None and _without_port(host) not in self.hosts:
            problem = Problem("", f'"{host[:80]}" is not an address of this shop')
            await refusal(Request(scope), 421, [problem])(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _without_port(host: str) -> str:
    """The name in a Host header.

    >>> _without_port("localhost:8000"), _without_port("[::1]:8000"), _without_port("[::1]")
    ('localhost', '[::1]', '[::1]')
    """
    head, _, port = host.rpartition(":")
    return (head if head and port.isdigit() else host).lower()


class OwnOrigin:
    """Nothing is changed at the wish of another site's page.

    A browser says where a request comes from (`Sec-Fetch-Site`; `Origin` on plain http and in
    older ones). Who says nothing is no browser, and has no user's trust to borrow.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in _READING or _own(Headers(scope=scope)):
            await self.app(scope, receive, send)
            return
        problem = Problem("", "this was sent by a page of another site", "open our own page")
        await refusal(Request(scope), 403, [problem])(scope, receive, send)


def _own(headers: Headers) -> bool:
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site in ("same-origin", "none"):
        return True
    if origin is None:
        return site is None
    return origin.partition("://")[2].lower() == headers.get("host", "").lower()


class BodyLimit:
    """No body larger than `most_bytes`, whether it says so or keeps coming."""

    def __init__(self, app: ASGIApp, most_bytes: int) -> None:
        self.app = app
        self.most = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        said = Headers(scope=scope).get("content-length", "0")
        words = f"more than {self.most / 1e6:g} MB at once"
        if not (said.isascii() and said.isdigit()) or int(said[:20]) > self.most:
            await refusal(Request(scope), 413, [too_large(words)])(scope, receive, send)
            return
        read = 0

        async def counted() -> Message:
            nonlocal read
            message = await receive()
            read += len(message.get("body", b""))
            if read > self.most:
                raise HTTPException(413, words)
            return message

        await self.app(scope, counted, send)


class LastNet:
    """What nobody raised on purpose: a plain answer with a number, the whole of it in the log."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        started = False

        async def noted(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, receive, noted)
        except Exception as error:
            if started or scope["type"] != "http":
                raise
            await incident(Request(scope), error)(scope, receive, send)
