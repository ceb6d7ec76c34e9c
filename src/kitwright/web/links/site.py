"""The application behind the links: token routes only, under the one address the shop set."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware

from kitwright import __version__
from kitwright.books.opening import Books
from kitwright.books.shop import get_shop
from kitwright.units import Lead
from kitwright.web import assets, problems
from kitwright.web.guard import BodyLimit, KnownHosts, LastNet, OwnOrigin, StrictHeaders
from kitwright.web.links import bells, fitter, machinist
from kitwright.web.pages import Frame
from kitwright.web.shop_state import Site

MOST_BYTES = 5_000_000
"""The largest body that an outsider may send."""


def create_links_site(
    books: Books,
    address: str,
    *,
    clock: Callable[[], datetime.datetime] = lambda: datetime.datetime.now(datetime.UTC),
) -> FastAPI:
    """The pages that links lead to.

    Parameters
    ----------
    books : the shop's
    address : under which outsiders reach it, as `books.links.plain_address` gives it; a request
        under any other host is refused
    clock : tells the time that decides whether a link still stands, and is written down
    """
    with books.reading() as connection:
        shop = get_shop(connection)
    lead: Lead = "in" if shop.lead == "in" else "mm"
    host = urlsplit(address).netloc
    name = host if host.endswith("]") else host.rpartition(":")[0] or host
    app = FastAPI(
        title="Kitwright",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        middleware=[
            Middleware(StrictHeaders),
            Middleware(GZipMiddleware, minimum_size=1000, compresslevel=5),  # a garage's poor line
            Middleware(KnownHosts, hosts=[name]),
            Middleware(OwnOrigin),
            Middleware(BodyLimit, most_bytes=MOST_BYTES),
            Middleware(LastNet),
        ],
    )
    app.state.shop = Site(name=shop.name, books=books, clock=clock)
    app.state.frame = Frame(shop_name=shop.name, lead=lead, menu=(), home="")
    app.state.fit_ups_told = {}
    problems.install(app)
    app.router.routes.extend(assets.routes())
    app.include_router(fitter.router)
    app.include_router(bells.router)
    app.include_router(machinist.router)
    return app
