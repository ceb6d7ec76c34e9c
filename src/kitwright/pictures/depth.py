"""The pictures of the depth stage's answers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

from kitwright.calc.depth.hand_room import Seat, stance
from kitwright.calc.depth.openings import Outline
from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.hand_room import Field, cut_view, wall_view
from kitwright.pictures.palette import Palette
from kitwright.pictures.picture import Picture
from kitwright.pictures.release_gap import Span, spans
from kitwright.units import Lead, show_length
from kitwright.worksheets.showing import say_chance

_LINKS_SHOWN: Final = 12


def axial_budget(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Where the spread comes from: of the gap, then of each other requirement."""
    for name, whole in [("the gap", answer), *((row.name, row) for row in answer.requirements)]:
        largest = sorted(whole.contributions, key=lambda each: -each.share)[:_LINKS_SHOWN]
        rows = [
            Bar(name=each.name, value=each.share, words=say_chance(each.share)) for each in largest
        ]
        caption = f"What each link adds to the variance of {name}."
        if len(largest) < len(whole.contributions):
            caption += f" The largest {len(largest)} of {len(whole.contributions)}."
        title = f"Where the spread of {name} comes from"
        yield Picture(svg=bars(rows, palette=palette, title=title), caption=caption)


def release_gap(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
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
    yield Picture(svg=svg, caption=f"{caption}.")


def hand_room(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The opening as you look at the wall, then a cut through it where the tool swings."""
    view = answer.view
    along_x = view.swings_along == "x"
    x, y = view.adjuster_mm
    seat = Seat(
        s_mm=x if along_x else y,
        q_mm=y if along_x else x,
        depth_mm=view.depth_mm,
        wall_mm=view.wall_mm,
    )
    swing = head = None
    if view.swing_from_deg is not None:
        first, last = math.radians(view.swing_from_deg), math.radians(view.swing_to_deg)
        low, _ = stance(first, view.handle_width_mm, seat)
        _, high = stance(last, view.handle_width_mm, seat)
        if answer.swing_deg is not None:
            swing = _field(low, high, view.handle_thickness_mm, seat.q_mm, along_x=along_x)
        sizes = (view.head_width_mm, view.head_thickness_mm)
        width, thickness = sizes if view.way == "flat" else sizes[::-1]
        low, high = stance(math.radians(view.enter_deg), width, seat)
        head = _field(low, high, thickness, seat.q_mm, along_x=along_x)
    smallest = None
    if answer.verdict != "fits" and answer.smallest is not None:
        small = answer.smallest
        smallest = Field(
            x_from=small.x_mm - small.width_mm / 2,
            x_to=small.x_mm + small.width_mm / 2,
            y_from=small.y_mm - small.height_mm / 2,
            y_to=small.y_mm + small.height_mm / 2,
        )
    svg = wall_view(
        view.outline_mm,
        adjuster=(x, y),
        swing=swing,
        head=head,
        smallest=smallest,
        title="The opening, seen from outside",
        lead=lead,
        palette=palette,
    )
    caption = "The opening as you look at the wall: the crank runs across, the adjuster is behind."
    yield Picture(svg=svg, caption=caption)
    if view.swing_from_deg is None:
        return
    outline = Outline(view.outline_mm)
    svg = cut_view(
        (outline if along_x else outline.turned()).free(seat.q_mm, seat.q_mm),
        seat,
        handle_width=view.handle_width_mm,
        head_width=view.head_width_mm,
        length=view.length_mm,
        angles_deg=sorted({view.swing_from_deg, view.swing_to_deg}),
        title="A cut through the opening",
        lead=lead,
        palette=palette,
    )
    caption = "A cut through opening and adjuster: the tool where its swing begins and ends."
    yield Picture(svg=svg, caption=caption)


def _field(low: float, high: float, thickness: float, q: float, *, along_x: bool) -> Field:
    along_s, along_q = (low, high), (q - thickness / 2, q + thickness / 2)
    (x_from, x_to), (y_from, y_to) = (along_s, along_q) if along_x else (along_q, along_s)
    return Field(x_from=x_from, x_to=x_to, y_from=y_from, y_to=y_to)
