"""A kit's bill of materials, assemblies within assemblies, down to what is bought; and its cost.

Every bought line is worked out exactly and rounded once to the currency's smallest unit, halves to
the even one; every sum is a sum of such lines, so that a bill adds up to its last figure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from kitwright.errors import InputError

MOST_LINES: Final = 2000
MOST_LEVELS: Final = 20
MOST_MINOR: Final = 10**15


@dataclass(frozen=True, kw_only=True)
class Use:
    """So many of a part."""

    part: str
    count: int


@dataclass(frozen=True, kw_only=True)
class BillPart:
    """A part that is bought at `cost`, or made of others, with `cost` for putting it together.

    The cost of one is exact, in smallest units of one currency.
    """

    cost: Fraction
    made_of: tuple[Use, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of a bill: so many of a part in one kit, and what they cost.

    A line at a level is the sum of those beneath it, one level down, up to the next at its own.
    """

    level: int
    part: str
    count: int
    cost: int
    bought: bool


ASSEMBLING: Final = "putting it together"


def _too_deep(name: str) -> InputError:
    given = f'"{name}" goes more than {MOST_LEVELS} levels deep'
    return InputError("parts", given, "make it flatter")


@dataclass(frozen=True)
class Bill:
    """The parts that kits are made of, by name."""

    parts: Mapping[str, BillPart]

    def __post_init__(self) -> None:
        loop = self.loop()
        if loop:
            raise InputError(
                "parts",
                f"{' is made of '.join(loop)}",
                "an assembly cannot contain itself: take one of these out",
            )
        levels: dict[str, int] = {}
        for name in self._in_order():
            levels[name] = 1 + max((levels[u.part] for u in self.parts[name].made_of), default=0)
            if levels[name] > MOST_LEVELS:
                raise _too_deep(name)

    def loop(self) -> list[str]:
        """A chain of parts that comes back to where it began, or nothing.

        Raises
        ------
        InputError
            A part is made of one that is not listed, or parts lie too deep in one another.
        """
        done: set[str] = set()
        for name in self.parts:
            found = self._loop_from([name], done)
            if found:
                return found
        return []

    def _loop_from(self, chain: list[str], done: set[str]) -> list[str]:
        name = chain[-1]
        if name in done:
            return []
        if name in chain[:-1]:
            return chain[chain.index(name) :]
        if name not in self.parts:
            raise InputError("parts", f'"{name}" is not listed', "list it with its price")
        if len(chain) > MOST_LEVELS:
            raise _too_deep(chain[0])
        for use in self.parts[name].made_of:
            found = self._loop_from([*chain, use.part], done)
            if found:
                return found
        done.add(name)
        return []

    def cost_of_one(self, name: str) -> Fraction:
        """What one of a part costs, exactly."""
        return self._costs()[name]

    def lines(self, uses: Sequence[Use]) -> list[Line]:
        """The bill of what is used, each assembly followed by its own lines, rounded once each.

        Raises
        ------
        InputError
            A part is not listed; more lines, or more money, than a bill may have.
        """
        for use in uses:
            if use.part not in self.parts:
                raise InputError("parts", f'"{use.part}" is not listed', "list it with its price")
        sizes = self._sizes()
        if sum(sizes[use.part] for use in uses) > MOST_LINES:
            raise InputError("parts", f"more than {MOST_LINES} lines in a kit", "make it flatter")
        found = [line for use in uses for line in self._lines(use, 0, 1)]
        if any(line.cost > MOST_MINOR for line in found):
            raise InputError("parts", "a line costs more than any kit", "check counts and prices")
        return found

    def _lines(self, use: Use, level: int, times: int) -> Iterator[Line]:
        part, count = self.parts[use.part], use.count * times
        if not part.made_of:
            cost = round(part.cost * count)
            yield Line(level=level, part=use.part, count=count, cost=cost, bought=True)
            return
        within = [line for inner in part.made_of for line in self._lines(inner, level + 1, count)]
        if part.cost:
            cost = round(part.cost * count)
            within.append(
                Line(level=level + 1, part=ASSEMBLING, count=count, cost=cost, bought=True)
            )
        cost = sum(line.cost for line in within if line.level == level + 1)
        yield Line(level=level, part=use.part, count=count, cost=cost, bought=False)
        yield from within

    def _in_order(self) -> Iterator[str]:
        """Every part after those that it is made of."""
        done: set[str] = set()
        for first in self.parts:
            waiting = [first]
            while waiting:
                name = waiting[-1]
                missing = [u.part for u in self.parts[name].made_of if u.part not in done]
                if missing:
                    waiting += missing
                    continue
                waiting.pop()
                if name not in done:
                    done.add(name)
                    yield name

    def _costs(self) -> dict[str, Fraction]:
        costs: dict[str, Fraction] = {}
        for name in self._in_order():
            part = self.parts[name]
            costs[name] = part.cost + sum(costs[use.part] * use.count for use in part.made_of)
        return costs

    def _sizes(self) -> dict[str, int]:
        sizes: dict[str, int] = {}
        for name in self._in_order():
            sizes[name] = 2 + sum(sizes[use.part] for use in self.parts[name].made_of)
        return sizes


@dataclass(frozen=True, kw_only=True)
class Margin:
    """What is left of a price, in smallest units."""

    price: int
    cost: int

    @property
    def amount(self) -> int:
        return self.price - self.cost

    @property
    def share(self) -> float | None:
        """Of the price; None where nothing is asked."""
        return self.amount / self.price if self.price else None

    def price_for(self, share: Fraction) -> int:
        """The least price that leaves this share of it.

        >>> Margin(price=0, cost=700).price_for(Fraction(3, 10))
        1000
        """
        return -int(-self.cost / (1 - share) // 1)
