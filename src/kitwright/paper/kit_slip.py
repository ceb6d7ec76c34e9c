"""The slip that goes with a kit: the fitter's link as a code, what to have at hand, cautions."""

from __future__ import annotations

import datetime
from typing import Any, Final

from kitwright.books.links import Link
from kitwright.paper.labels import bell_address
from kitwright.paper.pieces import TitleBlock, caution_data
from kitwright.paper.typesetting import Paper, qr_svg, typeset
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitups import FitUpView
from kitwright.worksheets.centring.cautions import MAKERS
from kitwright.worksheets.declaration import Caution

OPENS: Final = (
    "It opens this fit-up and nothing else, step by step: what to do, where to write down what "
    "you read, what to turn, when to stop and call. What you type stays on your phone until "
    "there is a line. Whoever has this slip can read and send for this fit-up: keep it to "
    "yourself."
)
NO_ADDRESS: Final = (
    "The shop answers no links yet. This code is the bell's serial and nothing else. Ask "
    "the shop for the fit-up on paper, or call it with your readings."
)
NO_LINK: Final = (
    "No link to this fit-up stands. This code says which bell this is and nothing else. Ask "
    "the shop for a link, or for the fit-up on paper."
)


def kit_slip_pdf(
    found: FitUpView,
    *,
    date: datetime.date,
    link: Link | None = None,
    address: str | None = None,
    paper: Paper = "a4",
) -> bytes:
    """One page.

    Parameters
    ----------
    date : of the print
    link : the fitter's link that stands, where there is one
    address : under which outsiders reach links; without one the code is the serial alone
    """
    return typeset(
        "kit-slip",
        kit_slip_data(found, date=date, link=link, address=address),
        title=f"Slip of the kit with bell {found.fit_up.serial}",
        date=date,
        paper=paper,
    )


def kit_slip_data(
    found: FitUpView, *, date: datetime.date, link: Link | None, address: str | None
) -> dict[str, Any]:
    """What the template prints."""
    about = (
        ("Fitter", found.fit_up.fitter),
        ("Car", found.car),
        ("Engine", found.engine),
        ("Gearbox", found.gearbox),
        ("Block", found.fit_up.block),
    )
    block = TitleBlock(
        what=f"Slip of the kit, fit-up {found.fit_up.id}",
        name_label="Bell",
        name=found.fit_up.serial,
        shop=found.shop.name,
        date=date,
    )
    code = code_of(found, link=link, address=address)
    opens = link is not None and address is not None
    return {
        "info": block.data(),
        "serial": found.fit_up.serial,
        "about": [pair for pair in about if pair[1]],
        "qr": qr_svg(code),
        "code": code,
        "head": "Open this with your phone before you start" if opens else "Before you start",
        "until": f"Good until {link.expires.date().isoformat()}." if opens and link else "",
        "said": OPENS if opens else NO_ADDRESS if address is None else NO_LINK,
        "cautions": caution_data(in_short()),
        "call": found.shop.name,
        "needed": at_hand(),
    }


def code_of(found: FitUpView, *, link: Link | None, address: str | None) -> str:
    """What a paper's code carries: the fitter's link, or else what the bell's own label says."""
    if link is not None and address is not None:
        return f"{address}{link.path}"
    return bell_address(found.fit_up.serial, address)


def in_short() -> list[Caution]:
    """The gravest cautions of all stages, each once, and that the makers come first."""
    every = (caution for stage in STAGES for caution in stage.cautions)
    return [*dict.fromkeys(each for each in every if each.word != "CAUTION"), MAKERS]


def at_hand() -> list[str]:
    """What the stages need, each once, in the order in which it is first needed."""
    stages = (stage for stage in STAGES if stage.works not in ("verdict", "result"))
    return list(dict.fromkeys(line for stage in stages for line in stage.needed))
