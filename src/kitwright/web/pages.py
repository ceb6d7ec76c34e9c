"""One way to make a page: the template, what every page shows, and what this one adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, NamedTuple

from starlette.requests import Request
from starlette.responses import HTMLResponse

from kitwright.units import Lead
from kitwright.web.look import environment

LIGHTS: Final = ("day", "night")


class Entry(NamedTuple):
    """An entry of the menu: the name that its pages say, where it leads, its word."""

    name: str
    path: str
    word: str


WORKSHEETS: Final = Entry("worksheets", "/worksheets", "Worksheets")


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What every page shows of the shop it belongs to; kept as `app.state.frame`.

    `home` is the first page; empty where there is none, as for those who come by a link.
    """

    shop_name: str
    lead: Lead
    menu: Sequence[Entry] = (WORKSHEETS,)
    home: str = "/"


_templates: Final = cache(environment)


def frame_of(request: Request) -> Frame:
    """The frame of the app that answers this request."""
    frame = request.app.state.frame
    assert isinstance(frame, Frame)
    return frame


def page(
    request: Request, template: str, *, current: str = "", status: int = 200, **context: Any
) -> HTMLResponse:
    """The page of `template`; `current` names the entry of the menu that it belongs to."""
    frame = frame_of(request)
    light = request.cookies.get("light")
    about = {
        "shop": frame.shop_name,
        "lead": frame.lead,
        "menu": frame.menu,
        "home": frame.home,
        "page": current,
        "light": light if light in LIGHTS else None,
    }
    return HTMLResponse(rendered(template, **{**about, **context}), status_code=status)


def rendered(template: str, **context: Any) -> str:
    """A template filled, as text: a page, or a piece of one."""
    return _templates().get_template(template).render(context)
