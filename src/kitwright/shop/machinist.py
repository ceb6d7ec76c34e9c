"""What a machinist sees: his own batches, an answer for each bell, what to shift. No customers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from sqlalchemy import Connection

from kitwright.books import designs, inspections, machine_axes, standing, stock
from kitwright.books.characteristics import Characteristic
from kitwright.books.designs import Design, Revision
from kitwright.books.entries import Entry
from kitwright.books.inspections import Newest
from kitwright.books.machine_axes import DIAMETER, MachineAxes
from kitwright.books.opening import Books
from kitwright.books.shop import Party, Shop, get_party, get_shop
from kitwright.books.tables import bell_now
from kitwright.calc.checks import Floats
from kitwright.calc.quality.setting import LEAST, Setting, setting
from kitwright.errors import MissingError
from kitwright.shop.judging import judge

_SOLD: Final = frozenset({"allocated", "shipped", "fitted", "returned"})
WORTH: Final = 0.1
"""A shift below this share of what the drawing allows is not worth making (common practice, no
source)."""
_BY_INSPECTION: Final = {
    "release": "within",
    "hold": "too close to call",
    "reject": "outside",
}


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One bell for its machinist: its state as far as it concerns him, and the plain answer."""

    serial: str
    state: str
    verdict: str | None
    """Of its newest measurement as a whole; None where it has none."""
    reason: str | None
    """What is not plainly within."""


@dataclass(frozen=True, kw_only=True)
class Offset:
    """One characteristic, or one axis of a position: where the machine stands, what to shift.

    `axis` is "" for a length, "right" or "up" for a position.
    """

    about: Characteristic
    axis: str
    setting: Setting
    allowed_mm: float
    """What the drawing allows either way."""
    machine: str | None
    """The machine's axis ("X"), or "diameter"; None where it was not declared."""
    shift_mm: float | None
    """Along that axis, or of the diameter; None where nothing was declared."""

    @property
    def worth_it(self) -> bool:
        """Is it off by more than chance explains, and by enough to be worth a shift?"""
        return self.setting.off and abs(self.setting.shift) >= WORTH * self.allowed_mm


@dataclass(frozen=True, kw_only=True)
class BatchForMachinist:
    """A batch as its machinist sees it."""

    shop: Shop
    machinist: Party
    batch: stock.Batch
    revision: Revision
    design: Design
    characteristics: tuple[Characteristic, ...]
    answers: tuple[Answer, ...]
    measured: Newest
    axes: MachineAxes | None
    offsets: tuple[Offset, ...]

    @property
    def takes(self) -> bool:
        """May he hand in measurements now?"""
        return any(each.state in ("made", "held") for each in self.answers)


def batches_of(connection: Connection, machinist_id: int) -> list[tuple[stock.Batch, Design]]:
    """His batches and their designs, newest first."""
    drawn = {each.id: each for each in designs.designs(connection)}
    design_of = {each.id: drawn[each.design_id] for each in designs.revisions(connection)}
    return [
        (each, design_of[each.revision_id])
        for each in reversed(stock.batches(connection))
        if each.machinist_id == machinist_id
    ]


def own_batch(connection: Connection, machinist_id: int, batch_id: int) -> stock.Batch:
    """A batch of his.

    Raises
    ------
    MissingError
        There is no such batch, or it is another machinist's: he is told the same.
    """
    found = [each for each, _ in batches_of(connection, machinist_id) if each.id == batch_id]
    if not found:
        raise MissingError("batch", "this link opens no such batch")
    return found[0]


def view(books: Books, machinist_id: int, batch_id: int) -> BatchForMachinist:
    """Everything about a batch that its machinist may see."""
    with books.reading() as connection:
        batch = own_batch(connection, machinist_id, batch_id)
        shop = get_shop(connection)
        revision = designs.get_revision(connection, batch.revision_id)
        newest = inspections.newest_values(connection, batch_id)
        axes = machine_axes.declared(connection, machinist_id, revision.design_id)
        bells = standing.where(connection, bell_now.c.batch_id == batch_id)
        judged = judge(newest, shop)
        answers = [
            Answer(
                serial=bell.serial,
                state="released" if bell.state in _SOLD else bell.state,
                verdict=_BY_INSPECTION[kind] if number else None,
                reason=why if number else None,
            )
            for bell, kind, why, number in zip(
                bells, judged.kinds(shop), judged.reasons(), newest.inspection_ids, strict=True
            )
        ]
        return BatchForMachinist(
            shop=shop,
            machinist=get_party(connection, machinist_id, "machinist"),
            batch=batch,
            revision=revision,
            design=designs.get_design(connection, revision.design_id),
            characteristics=newest.characteristics,
            answers=tuple(answers),
            measured=newest,
            axes=axes,
            offsets=tuple(offsets(newest, axes)),
        )


def declare_axes(
    books: Books, machinist_id: int, batch_id: int, given: MachineAxes, *, entry: Entry
) -> None:
    """Keep which way his machine's axes point for the design of a batch of his."""
    with books.writing() as connection:
        batch = own_batch(connection, machinist_id, batch_id)
        design_id = designs.get_revision(connection, batch.revision_id).design_id
        machine_axes.declare(connection, machinist_id, design_id, given, entry)


# ── what to shift ────────────────────────────────────────────────────────────────────────


def offsets(newest: Newest, axes: MachineAxes | None) -> list[Offset]:
    """Where the machine stands for each characteristic that can be aimed at, in serial order.

    Left out are characteristics measured on too few bells, and those with one limit only: they
    have no middle to aim at.
    """
    found = []
    for k, about in enumerate(newest.characteristics):
        for axis, values, target, allowed in _aimed(about, newest.mm[:, k]):
            made = values[np.isfinite(values)]
            if len(made) < LEAST:
                continue
            stands = setting(made, target=target)
            machine, shift = _on_machine(about, axis, stands.shift, axes)
            found.append(
                Offset(
                    about=about,
                    axis=axis,
                    setting=stands,
                    allowed_mm=allowed,
                    machine=machine,
                    shift_mm=shift,
                )
            )
    return found


def _aimed(about: Characteristic, mm: Floats) -> Sequence[tuple[str, Floats, float, float]]:
    if about.kind == "position":
        assert about.x_mm is not None
        assert about.y_mm is not None
        assert about.zone_mm is not None
        reach = about.zone_mm / 2
        return [("right", mm[:, 0], about.x_mm, reach), ("up", mm[:, 1], about.y_mm, reach)]
    if about.low_mm is None or about.high_mm is None:
        return []
    middle, reach = (about.low_mm + about.high_mm) / 2, (about.high_mm - about.low_mm) / 2
    return [("", mm[:, 0], middle, reach)]


def _on_machine(
    about: Characteristic, axis: str, shift: float, axes: MachineAxes | None
) -> tuple[str | None, float | None]:
    if axes is None:
        return None, None
    ways: Mapping[str, str] = {"right": axes.right, "up": axes.up}
    way = ways.get(axis) or axes.lengths.get(about.name)
    if way is None:
        return None, None
    if way == DIAMETER:
        return DIAMETER, shift
    return way[0], shift if way[1] == "+" else -shift or 0.0
