"""Whatever is done to parts, in any order: the ledger balances and never goes below nothing."""

from __future__ import annotations

import itertools
from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.books import kits, order_parts, orders, part_handling, part_movements, parts
from kitwright.books.entries import Entry, Money
from kitwright.books.stock_at import part_stock, stock_at
from kitwright.books.verifying import verify
from kitwright.errors import InputError

COUNTS = st.integers(1, 7)
WHY = "because"

ACTS = st.one_of(
    st.tuples(st.just("receive"), COUNTS),
    st.tuples(st.just("scrap"), COUNTS),
    st.tuples(st.just("back"), COUNTS),
    st.tuples(st.just("send"), COUNTS),
    st.tuples(st.just("home"), COUNTS),
    st.tuples(st.just("count"), st.integers(0, 12)),
    st.tuples(st.just("reserve"), st.integers(0, 1)),
    st.tuples(st.just("free"), st.integers(0, 1)),
    st.tuples(st.just("ship"), st.integers(0, 1)),
)

_LABELS = itertools.count(1)


def expected(kind: str, n: int, model: Counter[str]) -> Counter[str] | None:
    """What an act does to a plain model of the places; None where it must be refused."""
    after = Counter(model)
    free, aside, asked = model["free"], model[f"aside {n}"], 3
    match kind:
        case "receive":
            after["free"] += n
        case "scrap" | "back":
            if free < n:
                return None
            after["free"] -= n
            after["scrap"] += n * (kind == "scrap")
        case "send":
            if free < n:
                return None
            after["free"] -= n
            after["customer"] += n
        case "home":
            if model["customer"] < n:
                return None
            after["customer"] -= n
            after["free"] += n
        case "count":
            reserved = model["aside 0"] + model["aside 1"]
            if n < reserved:
                return None
            after["free"] = n - reserved
        case "reserve" | "ship":
            taken = min(asked - aside, free)
            after["free"] -= taken
            after[f"aside {n}"] += taken
            if kind == "ship":
                after["customer"] += after[f"aside {n}"]
                after[f"aside {n}"] = 0
        case "free":
            after["free"] += aside
            after[f"aside {n}"] = 0
    return after


def act(c, workshop, part, order_ids, kind, n, entry):
    match kind:
        case "receive":
            part_handling.receive_parts(c, part, n, entry)
        case "scrap":
            part_handling.scrap_parts(c, part, n, entry, why=WHY)
        case "back":
            part_handling.send_parts_back(c, part, n, entry, why=WHY)
        case "send":
            part_handling.send_parts(c, part, n, entry, customer_id=workshop.customer)
        case "home":
            part_handling.take_parts_back(c, part, n, entry, customer_id=workshop.customer)
        case "count":
            part_handling.count_parts(c, part, n, entry, why=WHY)
        case "reserve":
            order_parts.reserve(c, order_ids[n], entry)
        case "free":
            order_parts.free(c, [order_ids[n]], entry, why=WHY)
        case "ship":
            order_parts.send(c, order_ids[n], entry)


def fresh_part(c, workshop):
    """A part of its own for each example, with two orders that each ask for three."""
    number = next(_LABELS)
    kit = kits.add_kit(c, f"kit {number}", workshop.conversion)
    variant = kits.add_variant(c, kit, "street", design_id=workshop.design, price=Money(1, "USD"))
    kits.add_part(c, kit, f"dowel {number}", count=3, cost=Money(1, "USD"))
    part = parts.add_part(c, f"P-{number}", f"dowel {number}", supplier_id=workshop.supplier)
    order_ids = [
        orders.open_order(
            c,
            f"PO-{number}-{which}",
            customer_id=workshop.customer,
            variant_id=variant,
            price=Money(1, "USD"),
            entry=workshop.entry(),
        )
        for which in range(2)
    ]
    return part, order_ids


@given(acts=st.lists(st.tuples(ACTS, st.integers(0, 30)), max_size=14))
@settings(max_examples=12)
def test_any_sequence_of_moves(workshop, acts):
    """Each act does what a plain model says, or is refused where the model says so."""
    model: Counter[str] = Counter()
    with workshop.books.writing() as c:
        part, order_ids = fresh_part(c, workshop)
        day = workshop.entry().recorded
        ends = {}
        for (kind, n), hours in acts:
            day += timedelta(hours=hours)
            after = expected(kind, n, model)
            if after is None:
                with pytest.raises(InputError):
                    act(c, workshop, part, order_ids, kind, n, Entry("Ada", day))
            else:
                act(c, workshop, part, order_ids, kind, n, Entry("Ada", day))
                model = after
            ends[day.date()] = model["free"]
            held = part_stock(c, part)
            assert (held.free, held.reserved, held.sent, held.scrapped) == (
                model["free"],
                model["aside 0"] + model["aside 1"],
                model["customer"],
                model["scrap"],
            )
            spots = part_movements.spots_of(c, part)
            assert sum(spots.values()) == 0
            assert held.received + held.counted == held.on_shelf + held.sent + held.scrapped
        for on, free in ends.items():
            (then,) = [each for each in stock_at(c, on).parts if each.part.id == part]
            assert then.free == free, on
        last = [each for each in stock_at(c, day.date()).parts if each.part.id == part]
        assert last == [part_stock(c, part)]
        order_parts.free(c, order_ids, Entry("Ada", day), why=WHY)
    assert verify(workshop.books) == []


@given(acts=st.lists(st.tuples(ACTS, st.integers(0, 300)), min_size=3, max_size=10))
@settings(max_examples=12)
def test_moves_written_down_in_any_order_of_time(workshop, acts):
    """Dated before or after each other as they may be: no moment ever shows less than nothing."""
    with workshop.books.writing() as c:
        part, order_ids = fresh_part(c, workshop)
        start = workshop.entry().recorded
        recorded = start + timedelta(days=20)
        for (kind, n), hours in acts:
            entry = Entry("Ada", recorded, start + timedelta(hours=hours))
            try:
                act(c, workshop, part, order_ids, kind, n, entry)
            except InputError:
                continue
        moments = {line.happened for line in part_movements.movements_of_part(c, part)}
        for moment in moments:
            for spot, count in part_movements.spots_of(c, part, moment).items():
                assert count >= 0 or spot.place.name in ("supplier", "count"), (moment, spot)
        order_parts.free(c, order_ids, Entry("Ada", recorded), why=WHY)
    assert verify(workshop.books) == []
