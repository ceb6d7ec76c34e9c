"""The column types of the first version, written out so that no later change reaches them."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

ID: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TEXT: Final = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def entry() -> tuple[sa.Column[str], ...]:
    """When it happened, when it was written down, and who wrote it."""
    return tuple(sa.Column(name, TEXT, nullable=False) for name in ("happened", "recorded", "who"))
