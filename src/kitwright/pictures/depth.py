"""The pictures of the depth stage's answers: SVG and caption of each."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.palette import Palette
from kitwright.pictures.release_gap import Span, spans
from kitwright.units import Lead, show_length
from kitwright.worksheets.showing import say_chance

_LINKS_SHOWN: Final = 12


def axial_budget_bars(answer: Any, palette: Palette) -> Iterator[tuple[str, str]]:
    """Where the spread comes from: of the gap, then of each other requirement."""
    for name, whole in [("the gap", answer), *((row.name, row) for row in answer.requirements)]:
        largest = sorted(whole.contributions, key=lambda each: -each.share)[:_LINKS_SHOWN]
        rows = [
            Bar(name=each.name, value=each.share, words=say_chance(each.share)) for each in largest
        ]
        caption = f"What each link adds to the variance of {name}."
        if len(largest) < len(whole.contributions):
            caption += f" The largest {len(largest)} of {len(whole.contributions)}."
        yield bars(rows, palette=palette, title=f"Where the spread of {name} comes from"), caption


def release_gap_spans(answer: Any, lead: Lead, palette: Palette) -> tuple[str, str]:
    """The gap as it is, with its shims, and worn, over the limits."""

    def words(mm: float) -> str:
        return show_length(mm, lead=lead, uncertainty_mm=answer.gap_u95_mm).leading

    bare, shimmed, worn = answer.gap_mm, answer.gap_shimmed_mm, answer.gap_worn_mm
    rows = [Span(name="gap as it is", words=words(bare), from_mm=0, to_mm=bare)]
    if answer.shims_used:
        shims = show_length(answer.shims_total_mm, lead=lead).leading
        name = "shims behind the bearing"
        rows.append(Span(name=name, words=shims, from_mm=bare, to_mm=shimmed, kind="move"))
        rows.append(Span(name="gap with them", words=words(shimmed), from_mm=0, to_mm=shimmed))
    low, high = answer.gap.low_mm, answer.gap.high_mm
    rows.append(
        Span(
            name="limits of the gap",
            words=answer.gap.said(lead),
            from_mm=-math.inf if low is None else low,
            to_mm=math.inf if high is None else high,
            kind="limits",
        )
    )
    caption = "The fingers on the left, the bearing's face on the right"
    if worn is not None:
        start = shimmed - worn
        rows.append(Span(name="disc worn", words=words(worn), from_mm=start, to_mm=shimmed))
        caption += "; as the disc wears, the fingers come toward the bearing"
    svg = spans(rows, title="The gap between fingers and bearing", palette=palette)
    return svg, f"{caption}."
