"""The tables, by subject. `metadata` holds them all."""

from kitwright.books.tables.columns import metadata
from kitwright.books.tables.designs import (
    block_population,
    characteristic,
    conversion,
    conversion_car,
    design,
    hole,
    revision,
    revision_step,
)
from kitwright.books.tables.links import (
    fit_up_note,
    fit_up_record,
    link,
    link_address,
    link_withdrawal,
)
from kitwright.books.tables.machinists import machine_axes
from kitwright.books.tables.orders import (
    fit_up,
    fit_up_step,
    kit,
    kit_part,
    order,
    order_option,
    order_step,
    variant,
    variant_option,
)
from kitwright.books.tables.parts import (
    bill_part,
    inspection_count,
    part,
    part_movement,
    sending,
)
from kitwright.books.tables.promises import loose_variant, promise_basis, supply_rule
from kitwright.books.tables.rates import currency_rate
from kitwright.books.tables.rules import rule, rule_line
from kitwright.books.tables.samples import sample, sample_bell, sample_verdict
from kitwright.books.tables.shop import car, engine, gearbox, party, shop
from kitwright.books.tables.stock import (
    batch,
    batch_step,
    bell,
    crate,
    decision,
    inspection,
    inspection_value,
    movement,
)
from kitwright.books.tables.views import bell_now

__all__ = [
    "batch",
    "batch_step",
    "bell",
    "bell_now",
    "bill_part",
    "block_population",
    "car",
    "characteristic",
    "conversion",
    "conversion_car",
    "crate",
    "currency_rate",
    "decision",
    "design",
    "engine",
    "fit_up",
    "fit_up_note",
    "fit_up_record",
    "fit_up_step",
    "gearbox",
    "hole",
    "inspection",
    "inspection_count",
    "inspection_value",
    "kit",
    "kit_part",
    "link",
    "link_address",
    "link_withdrawal",
    "loose_variant",
    "machine_axes",
    "metadata",
    "movement",
    "order",
    "order_option",
    "order_step",
    "part",
    "part_movement",
    "party",
    "promise_basis",
    "revision",
    "revision_step",
    "rule",
    "rule_line",
    "sample",
    "sample_bell",
    "sample_verdict",
    "sending",
    "shop",
    "supply_rule",
    "variant",
    "variant_option",
]
