"""The cases of the supply worksheets as the books fill them."""

from __future__ import annotations

import datetime
from typing import Any, Final

from kitwright.books import designs, kits, promises, stock
from kitwright.books.opening import Books
from kitwright.money import from_minor
from kitwright.shop import promising
from kitwright.shop.outlook import hold_back_case, supply_of

USUAL_LOT: Final = 20
USUAL_CRATE: Final = 30
CRATE_DAYS: Final = 28
MACHINING_DAYS: Final = 35
"""Where no batch and no crate of the design has come yet (common practice, no source)."""
_RUNS: Final = 2000


def promise_of_variant(books: Books, variant_id: int, *, today: datetime.date) -> dict[str, Any]:
    """The case `promise` for one more order of a variant."""
    with books.reading() as connection:
        return dict(promising.quote(connection, variant_id, today).case)


def variants_offered(books: Books) -> list[tuple[int, str]]:
    """Every variant with its kit."""
    with books.reading() as connection:
        names = {each.id: each.name for each in kits.kits(connection)}
        return [
            (each.id, f"{names[each.kit_id]}, {each.name}") for each in kits.variants(connection)
        ]


def designs_offered(books: Books) -> list[tuple[int, str]]:
    """Every design that has a bell in force."""
    with books.reading() as connection:
        return [
            (each.id, each.name)
            for each in designs.designs(connection)
            if designs.in_force(connection, each.id) is not None
        ]


def hold_back_of(books: Books, design_id: int, today: datetime.date) -> dict[str, Any]:
    """The case `hold-back` of a design's bells."""
    with books.reading() as connection:
        designs.get_design(connection, design_id)
        service = promises.get_rule(connection).service
        return hold_back_case(supply_of(connection, design_id, today), service=service)


def year_of(books: Books, design_id: int, today: datetime.date) -> dict[str, Any]:
    """The case `year` of a design: what is there, what is known, and a way of doing it proposed.

    The batch and the crate are as the newest ones were; a batch is sent when bells on hand and
    under way would not last until new ones come, with the reserve of `hold-back` left.
    """
    with books.reading() as connection:
        design = designs.get_design(connection, design_id)
        own = {each.id for each in designs.revisions(connection, design_id)}
        supply = supply_of(connection, design_id, today)
        batches = [each for each in stock.batches(connection) if each.revision_id in own]
        crates = stock.crates(connection, design_id)
        rule = promises.get_rule(connection)
        gate = promising.gate_of(supply, service=rule.service)
    lot = batches[-1].count if batches else USUAL_LOT
    crate = crates[-1].count if crates else USUAL_CRATE
    cost = crates[-1].cost if crates else design.price
    each_cost = -(-cost.minor // crates[-1].count) if crates else cost.minor
    _, weeks, _ = supply.replenishment
    case: dict[str, Any] = {
        "today": today.isoformat(),
        "bells": supply.free,
        "waiting": len(supply.waiting),
        "castings": sum(one.on_floor for one in crates),
        "batches": [dict(one) for one in supply.batches],
        **({"history": list(supply.kits_by_week)} if supply.kits_by_week
           else {"kits_per_week": 0.0}),
        "yield_history": [dict(one) for one in supply.yields],
        "days_late": supply.batches[0]["days_late"] if supply.batches else [],
        "machining_days": max(1, round(weeks * 7)) if supply.yields else MACHINING_DAYS,
        "crate": crate,
        "crate_days": CRATE_DAYS,
        "casting_cost": {"amount": str(from_minor(each_cost, cost.currency)),
                         "currency": cost.currency},
        "send_at": gate.reserve + round(gate.expected_demand),
        "lot": lot,
        "crates_at": lot,
        "reserve": gate.reserve,
        "service": rule.service,
        "runs": _RUNS,
    }  # fmt: skip
    return {name: value for name, value in case.items() if value != []}
