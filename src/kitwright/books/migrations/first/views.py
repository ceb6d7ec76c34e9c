"""Where each bell stands now, from the newest line of each ledger."""

from __future__ import annotations

from typing import Final

from alembic import op

_BELL_NOW: Final = """
CREATE VIEW bell_now AS
SELECT
    bell.id AS bell_id,
    bell.serial,
    bell.batch_id,
    bell.crate_id,
    batch.revision_id,
    revision.design_id,
    CASE decision.kind
        WHEN 'release' THEN 'released'
        WHEN 'hold' THEN 'held'
        WHEN 'reject' THEN 'rejected'
        WHEN 'remeasure' THEN 'made'
        WHEN 'concede' THEN 'released'
        WHEN 'rework' THEN 'made'
        WHEN 'scrap' THEN 'scrapped'
        WHEN 'allocate' THEN 'allocated'
        WHEN 'free' THEN 'released'
        WHEN 'ship' THEN 'shipped'
        WHEN 'fit' THEN 'fitted'
        WHEN 'return' THEN 'returned'
        WHEN 'withdraw' THEN 'withdrawn'
        ELSE 'made'
    END AS state,
    coalesce(decision.number, 0) AS decisions,
    decision.kind,
    decision.order_id,
    decision.happened,
    decision.recorded,
    decision.who,
    coalesce(movement.number, 0) AS movements,
    movement.to_place AS place,
    movement.to_party_id AS party_id
FROM bell
JOIN batch ON batch.id = bell.batch_id
JOIN revision ON revision.id = batch.revision_id
LEFT JOIN decision ON decision.bell_id = bell.id
    AND decision.number = (SELECT max(number) FROM decision WHERE bell_id = bell.id)
LEFT JOIN movement ON movement.bell_id = bell.id
    AND movement.number = (SELECT max(number) FROM movement WHERE bell_id = bell.id)
"""


def create() -> None:
    """The view."""
    op.execute(_BELL_NOW)
