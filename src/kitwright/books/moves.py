"""Which moves are allowed: pure data, and what follows from it.

Everything that lives (a bell, a batch, a revision, an order, a fit-up) has one table of moves.
A move's kind alone says where it ends, so the newest line of a ledger says the state.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from kitwright.errors import MoveError


@dataclass(frozen=True)
class Move:
    """From any state in `starts`, `kind` leads to `ends`."""

    kind: str
    starts: tuple[str, ...]
    ends: str


@dataclass(frozen=True)
class Moves:
    """The life of one kind of thing: the state it is born in, and every move it may make."""

    what: str
    born: str
    table: tuple[Move, ...]

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind of move."""
        return tuple(dict.fromkeys(move.kind for move in self.table))

    @property
    def states(self) -> tuple[str, ...]:
        """Every state, the one it is born in first."""
        return tuple(dict.fromkeys((self.born, *(move.ends for move in self.table))))

    @property
    def ends(self) -> dict[str, str]:
        """Kind → the state it leads to."""
        return {move.kind: move.ends for move in self.table}

    @property
    def pairs(self) -> frozenset[tuple[str, str]]:
        """Every (state, kind of move) that is allowed."""
        return frozenset((state, move.kind) for move in self.table for state in move.starts)

    def allowed(self, state: str) -> tuple[str, ...]:
        """The kinds of move that may be made from `state`."""
        return tuple(move.kind for move in self.table if state in move.starts)

    def after(self, state: str, kind: str, *, where: str = "", last: str = "") -> str:
        """The state that follows.

        Parameters
        ----------
        where
            Which one it is about ("bell K-0007"); the kind of thing where not given.
        last
            Who brought it there and when, for the refusal's line.

        Raises
        ------
        MoveError
            The table does not allow it; the line says what it does.
        """
        for move in self.table:
            if move.kind == kind and state in move.starts:
                return move.ends
        raise MoveError(where or self.what, *self.refusal(state, kind, last=last))

    def refusal(self, state: str, kind: str, *, last: str = "") -> tuple[str, str]:
        """What is wrong with this move, and what may be done instead."""
        by = f" ({last})" if last else ""
        known = "" if kind in self.kinds else f', and "{kind}" is no move of a {self.what}'
        nexts = ", ".join(self.allowed(state))
        expected = f"allowed: {nexts}" if nexts else "nothing more can be done to it"
        return f'"{kind}" is refused, it is {state}{by}{known}', expected


_AFTER_RELEASE: Final = ("released", "allocated", "shipped", "fitted")

BELL: Final = Moves(
    "bell",
    "made",
    (
        Move("release", ("made",), "released"),
        Move("hold", ("made", "returned", "withdrawn"), "held"),
        Move("reject", ("made", "held"), "rejected"),
        Move("remeasure", ("held",), "made"),
        Move("concede", ("held", "rejected"), "released"),
        Move("rework", ("rejected",), "made"),
        Move("scrap", ("rejected", "withdrawn"), "scrapped"),
        Move("allocate", ("released",), "allocated"),
        Move("free", ("allocated",), "released"),
        Move("ship", ("allocated",), "shipped"),
        Move("fit", ("shipped",), "fitted"),
        Move("return", ("shipped", "fitted"), "returned"),
        Move("withdraw", _AFTER_RELEASE, "withdrawn"),
    ),
)

NEED_REASON: Final = frozenset({"concede", "rework", "scrap", "withdraw"})
"""Decisions on a bell that say why."""

NEED_ORDER: Final = frozenset({"allocate", "ship"})
"""Decisions on a bell that name an order."""

PLACES: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "made": frozenset({"machinist", "shelf"}),
        "held": frozenset({"machinist", "shelf"}),
        "rejected": frozenset({"machinist", "shelf"}),
        "released": frozenset({"machinist", "shelf"}),
        "allocated": frozenset({"machinist", "shelf"}),
        "shipped": frozenset({"customer"}),
        "fitted": frozenset({"customer"}),
        "returned": frozenset({"shelf"}),
        "withdrawn": frozenset({"machinist", "shelf", "customer"}),
        "scrapped": frozenset({"scrap"}),
    }
)
"""A bell's state → the places where it can be."""

CARRIES: Final[Mapping[str, tuple[tuple[str, ...], str]]] = MappingProxyType(
    {
        "ship": (("shelf",), "customer"),
        "return": (("customer",), "shelf"),
        "scrap": (("machinist", "shelf", "customer"), "scrap"),
    }
)
"""Decisions that carry the bell along: from one of these places, to that one."""

ROUTES: Final[Mapping[str, frozenset[tuple[str, str]]]] = MappingProxyType(
    {
        "casting": frozenset(
            {
                ("supplier", "floor"),
                ("floor", "supplier"),
                ("floor", "birth"),
                ("floor", "scrap"),
                ("scrap", "floor"),
            }
        ),
        "bell": frozenset(
            {
                ("birth", "machinist"),
                ("machinist", "shelf"),
                ("shelf", "machinist"),
                ("shelf", "customer"),
                ("customer", "shelf"),
                ("machinist", "scrap"),
                ("shelf", "scrap"),
                ("customer", "scrap"),
            }
        ),
        "part": frozenset(
            {
                ("supplier", "shelf"),
                ("shelf", "supplier"),
                ("shelf", "reserved"),
                ("reserved", "shelf"),
                ("reserved", "customer"),
                ("shelf", "customer"),
                ("customer", "shelf"),
                ("shelf", "scrap"),
                ("scrap", "shelf"),
                ("count", "shelf"),
                ("shelf", "count"),
            }
        ),
    }
)
"""Item → from where to where it may go. At `birth` a casting ends and a bell begins."""

BOTTOMLESS: Final = frozenset({"supplier", "count"})
"""Places from which more may come than went there."""


def _steps(what: str, born: str, table: Mapping[str, tuple[str, ...]]) -> Moves:
    """Moves whose kind is the state they lead to: state → where from."""
    return Moves(what, born, tuple(Move(to, starts, to) for to, starts in table.items()))


REVISION: Final = _steps("revision", "draft", {"in force": ("draft",), "superseded": ("in force",)})

# A step into the state it is already in writes a new date down: due, promised.
BATCH: Final = _steps(
    "batch",
    "planned",
    {
        "planned": ("planned",),
        "sent": ("planned", "sent"),
        "back": ("sent",),
        "judged": ("back",),
    },
)

ORDER: Final = _steps(
    "order",
    "open",
    {
        "promised": ("open", "promised", "allocated"),
        "allocated": ("promised",),
        "shipped": ("allocated",),
        "closed": ("shipped",),
        "cancelled": ("open", "promised", "allocated"),
    },
)

FIT_UP: Final = _steps(
    "fit-up",
    "opened",
    {
        "measuring": ("opened", "measuring", "advice", "corrected"),
        "advice": ("measuring",),
        "corrected": ("advice", "corrected"),
        "succeeded": ("advice", "corrected"),
        "failed": ("opened", "measuring", "advice", "corrected"),
    },
)


def after(state: str, kind: str) -> str:
    """The state of a bell after a decision of this kind.

    >>> after("made", "release")
    'released'
    >>> after("released", "ship")
    Traceback (most recent call last):
    kitwright.errors.MoveError: bell: "ship" is refused, it is released; allowed: allocate, withdraw
    """
    return BELL.after(state, kind)
