"""A shop's site: its own pages beside the worksheets, over its books."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection
from typing import Final

from fastapi import FastAPI

from kitwright.books.opening import Books
from kitwright.books.shop import get_shop
from kitwright.units import Lead
from kitwright.web import (
    batch_moves,
    batches,
    bells,
    board,
    catalogue,
    costing,
    fitup_paper,
    fitup_talk,
    fitups,
    labels,
    links_given,
    orders,
    releases,
    rules,
    scan,
    stock,
    supply_fillers,
    today,
)
from kitwright.web.app import create_app
from kitwright.web.choosing import FromDesigns
from kitwright.web.guard import LOCAL_HOSTS
from kitwright.web.pages import WORKSHEETS
from kitwright.web.pages import Entry as MenuEntry
from kitwright.web.shop_state import Site

MENU: Final = (
    MenuEntry("today", "/", "Today"),
    MenuEntry("batches", "/batches", "Batches"),
    MenuEntry("fit-ups", "/fit-ups", "Fit-ups"),
    MenuEntry("orders", "/orders", "Orders"),
    MenuEntry("board", "/board", "Board"),
    MenuEntry("stock", "/stock", "Stock"),
    MenuEntry("kits", "/kits", "Kits"),
    MenuEntry("conversions", "/conversions", "Conversions"),
    MenuEntry("rules", "/rules", "Rules"),
    MenuEntry("links", "/links", "Links"),
    WORKSHEETS,
)


def create_site(
    books: Books,
    *,
    hosts: Collection[str] = LOCAL_HOSTS,
    clock: Callable[[], datetime.datetime] = lambda: datetime.datetime.now(datetime.UTC),
) -> FastAPI:
    """The shop's application: its pages, the worksheets and the API.

    The books' shop gives the name at the head and the unit that leads; `clock` tells the time that
    is written down with each entry.
    """
    with books.reading() as connection:
        shop = get_shop(connection)
    lead: Lead = "in" if shop.lead == "in" else "mm"
    return create_app(
        Site(name=shop.name, books=books, clock=clock),
        lead=lead,
        routers=[
            today.router,
            batch_moves.router,
            batches.router,
            bells.router,
            releases.router,
            labels.router,
            fitups.router,
            fitup_paper.router,
            fitup_talk.router,
            catalogue.router,
            orders.router,
            board.router,
            costing.router,
            stock.router,
            scan.router,
            links_given.router,
            rules.router,
        ],
        menu=MENU,
        fillers={
            "choose-bell": FromDesigns(),
            "kit-cost": costing.FromKits(),
            **supply_fillers.FILLERS,
        },
        hosts=hosts,
    )
