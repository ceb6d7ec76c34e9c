"""What the shop makes and sells, to read: conversions with their bells, kits, orders."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from kitwright.books import conversions, designs, fitups, kits
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Money
from kitwright.books.shop import get_shop
from kitwright.shop import orders
from kitwright.shop.judging import limits_in_words, rule_in_words
from kitwright.web.pages import frame_of, page
from kitwright.web.shop_state import books_of, shower, today_of

router = APIRouter(include_in_schema=False)


def money(amount: Money) -> str:
    """An amount as pages write it, with its currency's decimals.

    >>> money(Money(329500, "USD"))
    '3 295.00 USD'
    """
    return f"{amount.amount:,f}".replace(",", "\u202f") + f" {amount.currency}"


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
    with books_of(request).reading() as connection:
        names = {each.id: each for each in designs.designs(connection)}
        found = [
            {
                "kit": kit,
                "variants": [
                    {
                        "variant": variant,
                        "design": names[variant.design_id],
                        "price": money(variant.price),
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
    return page(request, "kits.html", current="kits", found=found)


@router.get("/orders")
def shown_orders(request: Request) -> Response:
    """Every order, newest first: for whom, what, promised when, with which bell."""
    found = [
        {"view": each, "price": money(each.order.price)} for each in orders.views(books_of(request))
    ]
    return page(request, "orders.html", current="orders", found=found, day=today_of(request))
