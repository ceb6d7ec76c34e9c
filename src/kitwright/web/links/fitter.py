"""The fitter's page behind his link: one document, a door for what he sends, and where it stands.

The page keeps what is typed on the phone and sends it item by item; the rules of that are in
`shop.fitting`, the words of the stages in `shop.fitup_stages`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from kitwright import __version__
from kitwright.books.links import Link
from kitwright.shop import send_keys
from kitwright.shop.drawings import bolts_of_conversion
from kitwright.shop.fitting import Item, receive
from kitwright.shop.fitup_course import Course, course_of, version_of
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitup_stages import Field as StageField
from kitwright.shop.fitups import FitUpView
from kitwright.units import Lead, say_length
from kitwright.web.assets import static
from kitwright.web.links.door import opened
from kitwright.web.links.fitter_shown import state_of, unseen
from kitwright.web.pages import frame_of, rendered
from kitwright.web.shop_state import books_of, site_of

router = APIRouter(include_in_schema=False)

STYLES: Final = ("fitter.css",)
SCRIPTS: Final = tuple(f"fitter-{part}.js" for part in ("kept", "line", "dial", "form", "page"))

KEPT: Final = "private, max-age=604800"
"""A phone may show the page again without a line; what it shows it then asks for anew."""

LEADS: Final[tuple[Lead, Lead]] = ("in", "mm")
_MOST_SEEN: Final = 40
_DATA: Final = "[what the page is told]"


def _plain(field: StageField) -> dict[str, Any]:
    """A field as the page's script builds it; what is usual is left out."""
    usual = StageField(name="", label="", kind="check")
    every = {**asdict(field), "options": [list(option) for option in field.options]}
    return {name: value for name, value in every.items() if value not in (getattr(usual, name), [])}


_FIELDS: Final[dict[str, Any]] = {
    stage.name: [_plain(field) for field in stage.fields] for stage in STAGES
} | {
    "bore-again": "bore",  # has the same
    "dowels": [
        {"name": f"{name}_{part}", "label": f"{words} {name}{where}", "kind": kind}
        for name, where in (("a", ", on the left"), ("b", ", on the right"))
        for part, words, kind in (("size", "Dowel", "size"), ("clock_deg", "Slot of", "slot"))
    ],
}


class Sending(BaseModel):
    """One item as the page sends it, and what it has already."""

    model_config = ConfigDict(extra="forbid")

    send_key: Annotated[str, Field(max_length=80)]
    stage: Annotated[str, Field(max_length=40)]
    values: dict[str, Any]
    typed_at: AwareDatetime | None = None
    lead: Lead = "mm"
    seen: Annotated[list[str], Field(max_length=_MOST_SEEN)] = []
    keys: Annotated[int, Field(ge=0, le=send_keys.STOCK)] = 0


@dataclass
class Told:
    """What was made of one version of a fit-up; the page only when it is asked for."""

    version: str
    course: Course
    state: dict[str, Any]
    page: str = ""


@router.get("/f/{token}")
def document(request: Request, token: str) -> Response:
    """The page, with all of its stages and where the fit-up stands."""
    link = opened(request, token, "fit-up")
    lead = frame_of(request).lead
    told = _told(request, link, lead)
    if not told.page:
        found = told.course.view
        told.page = rendered(
            "fitter.html",
            shop=frame_of(request).shop_name,
            lead=lead,
            stages=STAGES,
            found=found,
            bolts=bolts_of_conversion(books_of(request), found.conversion.id),
            limits=_limits(found),
            data=_DATA,
            styles=STYLES,
            scripts=SCRIPTS,
        )
    data = {
        **_stands(told),
        "keys": send_keys.stock(link.token),
        "made": site_of(request).clock().isoformat(),
        "lead": lead,
        "fields": _FIELDS,
    }
    html = told.page.replace(_DATA, _for_page(data), 1)
    return HTMLResponse(html, headers={"Cache-Control": KEPT})


@router.get("/f/{token}/state")
def state(
    request: Request,
    token: str,
    lead: Lead = "mm",
    version: Annotated[str, Query(max_length=60)] = "",
    seen: Annotated[str, Query(max_length=1000)] = "",
    keys: Annotated[int, Query(ge=0, le=send_keys.STOCK)] = 0,
) -> Response:
    """Where the fit-up stands; next to nothing where the page has it all."""
    link = opened(request, token, "fit-up")
    assert link.fit_up_id is not None
    more = {"keys": send_keys.stock(link.token, keys), "page": page_stamp()}
    told = _told(request, link, lead)
    if version == told.version:
        return JSONResponse({"version": version, **more})
    return JSONResponse({**_stands(told, seen.split(",")), **more})


@router.post("/f/{token}/send")
def send(request: Request, token: str, sent: Sending) -> Response:
    """Take one item in and say where the fit-up stands now."""
    link = opened(request, token, "fit-up")
    item = Item(send_key=sent.send_key, stage=sent.stage, values=sent.values, typed=sent.typed_at)
    receive(books_of(request), link, item, now=site_of(request).clock())
    return JSONResponse(
        {
            **_stands(_told(request, link, sent.lead), sent.seen),
            "accepted": sent.send_key,
            "keys": send_keys.stock(link.token, sent.keys),
        }
    )


def _told(request: Request, link: Link, lead: Lead) -> Told:
    """The fit-up as its page is told.

    The drawings are the dear part, and the books only grow: what was made of a version is kept as
    long as that version stands. The version is read first, so that it is never too new.
    """
    assert link.fit_up_id is not None
    books = books_of(request)
    version = f"{version_of(books, link.fit_up_id)}.{lead}"
    kept: dict[tuple[int, Lead], Told] = request.app.state.fit_ups_told
    found = kept.get((link.fit_up_id, lead))
    if found is None or found.version != version:
        course = course_of(books, link.fit_up_id)
        found = Told(version, course, state_of(course, lead))
        kept[link.fit_up_id, lead] = found
    return found


def _stands(told: Told, seen: Sequence[str] = ()) -> dict[str, Any]:
    """Where the fit-up stands, without what the page has."""
    return {
        "version": told.version,
        "page": page_stamp(),
        **unseen(told.state, frozenset(seen)),
    }


@cache
def page_stamp() -> str:
    """Another one whenever the page's own files, or the words of its steps, are others."""
    files = " ".join(static(name) for name in (*STYLES, *SCRIPTS))
    return hashlib.sha256(f"{__version__} {files} {STAGES!r}".encode()).hexdigest()[:12]


def _for_page(data: Any) -> str:
    """JSON for a script element of a page; what could end the element is written as its number."""
    text = json.dumps(data, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _limits(fit_up: FitUpView) -> dict[str, tuple[str, str, str]]:
    """What a stage shows beside its words: label, in inches, in mm."""
    found = fit_up.conversion
    serial = fit_up.fit_up.serial

    def both(label: str, *lengths_mm: float) -> tuple[str, str, str]:
        inch, mm = (
            " to ".join(say_length(each, lead=lead) for each in lengths_mm) for lead in LEADS
        )
        return label, inch, mm

    return {
        "serial": ("The bell's serial", serial, serial),
        "tir": both("Limit, TIR", found.tir_mm),
        "gap": both("Limits of the gap", found.gap_low_mm, found.gap_high_mm),
        "pilot": both("The shaft's tip may stand off the pilot's middle by", found.pilot_mm),
    }
