"""What the shop makes and sells, to read: conversions with their bells, and kits."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import conversions, designs, fitups, kits
from kitwright.books.characteristics import characteristics
from kitwright.books.promises import loose_variants, mark_loose
from kitwright.books.shop import get_shop
from kitwright.errors import InputError, MissingError, Problem
from kitwright.shop import orders
from kitwright.shop.judging import limits_in_words, rule_in_words
from kitwright.web.order_said import money
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import (
    Posted,
    beside,
    books_of,
    done,
    entry_of,
    shower,
    today_of,
    who_of,
)

router = APIRouter(include_in_schema=False)


@router.get("/conversions")
def shown_conversions(request: Request) -> Response:
    """Every conversion: what it joins, its limits, its patterns, its bells and their drawings."""
    lead = frame_of(request).lead
    with books_of(request).reading() as connection:
        engines = {each.id: each.name for each in conversions.engines(connection)}
        gearboxes = {each.id: each.name for each in conversions.gearboxes(connection)}
        found = [
            {
                "conversion": each,
                "engine": engines[each.engine_id],
                "gearbox": gearboxes[each.gearbox_id],
                "cars": [car.name for car in conversions.cars(connection, each.id)],
                "patterns": {
                    face: conversions.pattern(connection, each.id, face)
                    for face in ("block", "gearbox")
                },
                "populations": conversions.populations(connection, each.id),
                "corrections": fitups.corrections(connection, each.id),
                "designs": [
                    {
                        "design": design,
                        "price": money(design.price),
                        "revision": revision,
                        "drawn": [
                            (about.name, about.kind, limits_in_words(about, lead=lead), about.frame)
                            for about in (
                                characteristics(connection, revision.id) if revision else []
                            )
                        ],
                    }
                    for design in designs.designs(connection, each.id)
                    for revision in [designs.in_force(connection, design.id)]
                ],
            }
            for each in conversions.conversions(connection)
        ]
        rule = rule_in_words(get_shop(connection))
    return page(
        request,
        "conversions.html",
        current="conversions",
        found=found,
        rule=rule,
        day=today_of(request),
        show=shower(lead),
    )


@router.get("/kits")
def shown_kits(request: Request) -> Response:
    """Every kit: its variants with their bells, prices, options and bill."""
    return _kits(request)


def _kits(request: Request, asked: int = 0, problems: Sequence[Problem] = ()) -> Response:
    with books_of(request).reading() as connection:
        names = {each.id: each for each in designs.designs(connection)}
        loose = loose_variants(connection)
        found = [
            {
                "kit": kit,
                "variants": [
                    {
                        "variant": variant,
                        "design": names[variant.design_id],
                        "price": money(variant.price),
                        "loose": variant.id in loose,
                        "free": len(orders.free_bells(connection, variant.design_id)),
                        "options": [
                            (option.name, money(option.price))
                            for option in kits.options(connection, variant.id)
                        ],
                        "bill": [
                            (part.name, str(part.count), money(part.cost))
                            for part in kits.bill(connection, variant.id)
                        ],
                    }
                    for variant in kits.variants(connection, kit.id)
                ],
            }
            for kit in kits.kits(connection)
        ]
    return page(
        request,
        "kits.html",
        current="kits",
        status=422 if problems else 200,
        found=found,
        who=who_of(request),
        asked=asked,
        told=beside(problems),
    )


@router.post("/kits/variants/{number}/loose")
def marked_loose(request: Request, number: int, sent: Posted) -> Response:
    """Mark a variant as a bell alone, which may be held back for kits."""
    try:
        if not sent.text("who"):
            raise InputError("who", "missing", "say who decides")
        entry = entry_of(request, sent.text("who"))
        with books_of(request).writing() as connection:
            mark_loose(connection, number, entry)
    except MissingError:
        raise
    except InputError as error:
        return _kits(request, number, error.problems)
    return done(request, f"/kits#variant-{number}", sent.text("who"))
