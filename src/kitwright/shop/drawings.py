"""What the shop keeps, drawn: bores on the target, and bolts in the order of tightening."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kitwright.books import conversions
from kitwright.books.opening import Books
from kitwright.calc.centring.block_population import t_squared
from kitwright.pictures.bolts import Bolt, bolt_order
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.picture import Picture
from kitwright.pictures.target import Mark, Region, target
from kitwright.shop.batches import BatchView
from kitwright.shop.bells import BORE, BellView
from kitwright.shop.corrections import SOLD
from kitwright.shop.fitups import DOWEL_HOLES
from kitwright.shop.judging import verdict_of
from kitwright.units import Lead


@dataclass(frozen=True, kw_only=True)
class BatchPicture:
    """A batch's bores on the target, and how many of its measured bells are released."""

    picture: Picture
    sold: int


def bores_of_batch(found: BatchView, *, lead: Lead, palette: Palette = PAGE) -> BatchPicture | None:
    """Every measured bore of a batch; None where its drawing has no bore, or none is measured."""
    names = [each.name for each in found.newest.characteristics]
    if BORE not in names:
        return None
    k = names.index(BORE)
    about = found.newest.characteristics[k]
    mm = found.newest.mm[:, k] - [about.x_mm or 0.0, about.y_mm or 0.0]
    measured = np.flatnonzero(np.isfinite(mm).all(axis=1)).tolist()
    if not measured:
        return None
    marks = [
        Mark(
            x_mm=float(mm[row, 0]),
            y_mm=float(mm[row, 1]),
            label=found.newest.serials[row],
            verdict=verdict_of(int(found.judged.codes[row, k])),
        )
        for row in measured
    ]
    svg = target(
        limit_tir_mm=about.zone_mm,
        marks=marks,
        regions=_region(mm[measured]) if len(measured) > 2 else [],
        lead=lead,
        palette=palette,
        title=f"The bores of batch {found.batch.label}",
    )
    caption = "Each disc is a bell's bore as inspected; its serial shows when you point at it."
    states = {bell.serial: bell.state for bell in found.bells}
    return BatchPicture(
        picture=Picture(svg=svg, caption=caption),
        sold=sum(states[found.newest.serials[row]] in SOLD for row in measured),
    )


def _region(mm: np.ndarray) -> list[Region]:
    """Where the next such bell lies, in 95 % of all such batches (Hotelling's T²)."""
    n = len(mm)
    # a region draws a known covariance; the sample's is widened to what predicts the next bell
    wider = t_squared(n) * (1 + 1 / n) / (-2 * math.log(0.05))
    covariance = wider * np.cov(mm.T)
    middle = mm.mean(axis=0)
    return [
        Region(
            x_mm=float(middle[0]),
            y_mm=float(middle[1]),
            covariance_mm2=(
                float(covariance[0, 0]),
                float(covariance[0, 1]),
                float(covariance[1, 1]),
            ),
            label="the next such bell, 95 %",
        )
    ]


def bore_of_bell(found: BellView, *, lead: Lead) -> Picture | None:
    """One bell's bore; None where it is not measured."""
    bore = found.bore
    if bore is None or bore.x_mm is None or bore.y_mm is None:
        return None
    svg = target(
        limit_tir_mm=bore.about.zone_mm,
        marks=[
            Mark(
                x_mm=bore.x_mm - (bore.about.x_mm or 0.0),
                y_mm=bore.y_mm - (bore.about.y_mm or 0.0),
                u95_mm=bore.u95_mm,
                label=found.standing.serial,
                verdict=bore.verdict,
            )
        ],
        lead=lead,
        title=f"The bore of bell {found.standing.serial}",
    )
    return Picture(
        svg=svg, caption="The bore's centre as inspected; the thin ring is how well it is known."
    )


def bolts_of_conversion(
    books: Books, conversion_id: int, *, palette: Palette = PAGE
) -> dict[str, str]:
    """Face → its bolts in the order of tightening, as SVG, where its pattern is written down."""
    drawn = {}
    with books.reading() as connection:
        for face in ("block", "gearbox"):
            holes = conversions.pattern(connection, conversion_id, face)
            found = [
                Bolt(x_mm=hole.x_mm, y_mm=hole.y_mm, dowel=hole.name in DOWEL_HOLES)
                for hole in holes
            ]
            if not all(hole.dowel for hole in found):
                drawn[face] = bolt_order(
                    found, title="The bolts, in the order of tightening", palette=palette
                )
    return drawn
