"""Where things can be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from kitwright.books.tables.parts import PART_PLACES
from kitwright.books.tables.stock import PLACES, WITH_PARTY
from kitwright.errors import InputError

_KNOWN: Final = tuple(dict.fromkeys((*PLACES, *PART_PLACES)))


@dataclass(frozen=True)
class Place:
    """A place, and whose it is where it is somebody's (a supplier's, machinist's, customer's)."""

    name: str
    party_id: int | None = None

    def __post_init__(self) -> None:
        if self.name not in _KNOWN:
            raise InputError("place", f'"{self.name}" is not known', f"write {', '.join(_KNOWN)}")
        if (self.name in WITH_PARTY) != (self.party_id is not None):
            whose = "say whose" if self.name in WITH_PARTY else "it is nobody's"
            raise InputError("place", f'"{self.name}" of party {self.party_id}', whose)

    def __str__(self) -> str:
        return self.name if self.party_id is None else f"{self.name} {self.party_id}"


FLOOR: Final = Place("floor")
"""The shop's floor: castings that wait for a batch."""
BIRTH: Final = Place("birth")
"""Where a casting ends and a bell begins; nothing stays here."""
SHELF: Final = Place("shelf")
"""The shop's shelf: bells, and kit parts that no order has reserved."""
RESERVED: Final = Place("reserved")
"""Kit parts set aside; the order is named beside."""
SCRAP: Final = Place("scrap")
COUNT: Final = Place("count")
"""Where a count takes what it finds too few of, and brings from what it finds too many of."""


def supplier(party_id: int) -> Place:
    """With this supplier."""
    return Place("supplier", party_id)


def machinist(party_id: int) -> Place:
    """With this machinist."""
    return Place("machinist", party_id)


def customer(party_id: int) -> Place:
    """With this customer."""
    return Place("customer", party_id)
