"""The shop's pages and API as one application, for this machine only."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Protocol

from fastapi import APIRouter, FastAPI
from starlette.middleware import Middleware
from starlette.responses import RedirectResponse

from kitwright import __version__
from kitwright.units import Lead
from kitwright.web import api, assets, problems, worksheets
from kitwright.web.guard import (
    LOCAL_HOSTS,
    MOST_BYTES,
    BodyLimit,
    KnownHosts,
    LastNet,
    OwnOrigin,
    StrictHeaders,
)
from kitwright.web.held import Held
from kitwright.web.pages import WORKSHEETS, Entry, Frame


class Shop(Protocol):
    """What the frame of the pages needs of a shop."""

    @property
    def name(self) -> str: ...


def create_app(
    shop: Shop | None = None,
    *,
    lead: Lead,
    routers: Sequence[APIRouter] = (),
    menu: Sequence[Entry] = (WORKSHEETS,),
    fillers: Mapping[str, worksheets.Filler] | None = None,
    hosts: Collection[str] = LOCAL_HOSTS,
    most_bytes: int = MOST_BYTES,
) -> FastAPI:
    """The application.

    Parameters
    ----------
    shop : whose pages these are, kept as `app.state.shop`; without one there are worksheets only
    lead : the unit written first
    routers : pages beside the worksheets, such as a shop's own
    menu : the entries at the head of every page
    fillers : a worksheet's name and what fills its case from a shop's books
    hosts : names under which a browser may ask; any other is refused
    most_bytes : the largest body that is read
    """
    app = FastAPI(
        title="Kitwright",
        version=__version__,
        description="Worksheets of a gearbox conversion kit. A case goes in, an answer comes out.",
        docs_url=None,  # both load their scripts from elsewhere
        redoc_url=None,
        openapi_url="/api/openapi.json",
        middleware=[
            Middleware(StrictHeaders),
            Middleware(KnownHosts, hosts=hosts),
            Middleware(OwnOrigin),
            Middleware(BodyLimit, most_bytes=most_bytes),
            Middleware(LastNet),
        ],
    )
    app.state.shop = shop
    app.state.held = Held()
    app.state.fillers = dict(fillers or {})
    app.state.frame = Frame(
        shop_name="Kitwright" if shop is None else shop.name, lead=lead, menu=menu
    )
    problems.install(app)
    app.router.routes.extend(assets.routes())
    for router in routers:
        app.include_router(router)
    app.include_router(worksheets.router)
    api.install(app)
    if shop is None:
        app.add_api_route("/", _first_page, include_in_schema=False)
    return app


def _first_page() -> RedirectResponse:
    return RedirectResponse("/worksheets")
