"""Targets of many engines at once: bells matched to them, and what fit-ups teach of blocks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, Final

from kitwright.pictures.palette import Palette
from kitwright.pictures.target import Mark, Region, target
from kitwright.units import Lead

RING: Final = "The thin ring round it, where it shows, is how well it is known."
_NEXT: Final = 0.95
"""The share of next blocks inside the region drawn."""


def match_targets(
    case: Any, answer: Any, lead: Lead, palette: Palette
) -> Iterator[tuple[str, str]]:
    """Where each pair's bore will sit, matched and first come first; SVG and caption of each."""
    for pairs, total, title, caption in (
        (answer.pairs, answer.total, "Where the bores will sit", "Each bell in its matched car."),
        (
            answer.first_come_pairs,
            answer.first_come,
            "First come, first served",
            "The same cars, first come, first served.",
        ),
    ):
        marks = [
            Mark(
                x_mm=pair.offset_x_mm,
                y_mm=pair.offset_y_mm,
                u95_mm=pair.offset_u95_mm,
                label=pair.order,
                verdict=pair.verdict,
            )
            for pair in pairs
        ]
        svg = target(
            limit_tir_mm=case.limit.mm,
            marks=marks,
            note=f"{total.within:.2f} of {len(pairs)} expected within",
            lead=lead,
            palette=palette,
            title=title,
        )
        yield svg, f"{caption} {RING}"


def block_target(answer: Any, lead: Lead, palette: Palette) -> tuple[str, str]:
    """Where each block put a true bell's bore, and the region of the next; SVG and caption."""
    suspects = {each.number for each in answer.suspects}
    marks = [
        Mark(
            x_mm=each.x_mm,
            y_mm=each.y_mm,
            label=f"sample {each.number}",
            verdict="too close to call" if each.number in suspects else None,
        )
        for each in answer.samples
    ]
    svg = target(
        limit_tir_mm=answer.limit_mm,
        marks=marks,
        regions=[
            Region(
                x_mm=answer.mean_x_mm,
                y_mm=answer.mean_y_mm,
                covariance_mm2=_covariance(answer.prediction_region),
                chance=_NEXT,
                label="the next block",
            )
        ],
        note=f"{answer.count} fit-ups",
        lead=lead,
        palette=palette,
        title="Where these blocks put a true bell",
    )
    caption = "Each fit-up's first sweep less its bell's offset; 95 in 100 of the next lie inside."
    return svg, caption + _again(sorted(suspects))


def _again(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    return f" Hatched: to be looked at again ({', '.join(map(str, numbers))})."


def _covariance(region: Any) -> tuple[float, float, float]:
    """xx, xy, yy of the normal law whose region of this share has these half axes."""
    angle = math.radians(region.clock_deg)
    x, y = math.sin(angle), math.cos(angle)
    long, short = (
        half**2 / (-2 * math.log1p(-_NEXT)) for half in (region.long_mm, region.short_mm)
    )
    return long * x * x + short * y * y, (long - short) * x * y, long * y * y + short * x * x
