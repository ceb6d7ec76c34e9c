"""A thing in hand, as its page shows it: where it is, and the moves that it may make now."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from kitwright.shop.scanning import Named


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A move that is allowed now.

    `least` is the least count that it takes, None where it moves the one thing itself; `reasoned`
    says that it needs a reason.
    """

    name: str
    words: str
    least: int | None = None
    reasoned: bool = False
    order_id: int | None = None

    @property
    def key(self) -> str:
        """What a form sends to ask for it."""
        return self.name if self.order_id is None else f"{self.name}:{self.order_id}"


@dataclass(frozen=True, kw_only=True)
class Last:
    """The newest movement, and whether its opposite may be made from here."""

    number: int
    said: str
    when: datetime.datetime
    who: str
    why: str | None
    undoable: bool


@dataclass(frozen=True, kw_only=True)
class Item:
    """One bell, crate or part."""

    named: Named
    what: str
    """In a few words: its design, or its name."""
    where: str
    """Where it is, in a sentence; of things by count, how many are where."""
    state: str = ""
    """A bell's."""
    notes: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    last: Last | None = None
    seen: int = 0
    """How often it was moved and decided on."""
    since: str = ""
    """What somebody else did meanwhile, for the refusal of whoever comes second."""
