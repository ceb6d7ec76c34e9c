"""The pictures of the centring stage's answers: targets, dowels, readings, contributions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.bores import Region
from kitwright.pictures.clock import DowelSetting, dowel_pair, readings
from kitwright.pictures.palette import Palette
from kitwright.pictures.picture import Picture
from kitwright.pictures.target import Mark, Ring, target
from kitwright.units import Lead, say_length
from kitwright.worksheets.showing import say_chance

_RING: Final = "The thin ring round it, where it shows, is how well it is known."


def _vector(size_mm: float, clock_deg: float) -> tuple[float, float]:
    angle = math.radians(clock_deg)
    return size_mm * math.sin(angle), size_mm * math.cos(angle)


def sweep(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Where the bore sits, where the shaft meets the pilot bearing, the readings."""
    if answer.offset_x_mm is not None:
        move = None
        if answer.move_mm and answer.move_clock_deg is not None:
            move = _vector(answer.move_mm, answer.move_clock_deg)
        note = ""
        if answer.cause in ("out of round", "both") and answer.out_of_round_mm:
            note = f"out of round {say_length(answer.out_of_round_mm, lead=lead)}"
        bore = Mark(
            x_mm=answer.offset_x_mm,
            y_mm=answer.offset_y_mm,
            u95_mm=answer.offset_u95_mm,
            label="bore centre",
            verdict=answer.verdict,
        )
        svg = target(
            limit_tir_mm=case.limit.mm,
            marks=[bore],
            move=move,
            note=note,
            lead=lead,
            palette=palette,
            title="Where the bore sits",
        )
        caption = f"The bore's centre against the crank axis. {_RING}"
        if move is not None:
            caption += " The arrow is the way to move the bell."
        yield Picture(svg=svg, caption=caption)
    if answer.pilot_shift_mm is not None:
        x, y = _vector(answer.pilot_shift_mm, answer.pilot_shift_clock_deg or 0.0)
        shaft = Mark(x_mm=x, y_mm=y, u95_mm=answer.pilot_shift_u95_mm, label="shaft's tip")
        svg = target(
            limit_tir_mm=None,
            marks=[shaft],
            lead=lead,
            palette=palette,
            title="Where the shaft meets the pilot bearing",
        )
        caption = f"Where the shaft's tip comes to at the pilot bearing. {_RING}"
        yield Picture(svg=svg, caption=caption)
    svg = readings(
        case.readings, unit=case.unit.name, title="The readings round the clock", palette=palette
    )
    caption = "The first sweep's readings." if case.repeats else "The readings as they were taken."
    yield Picture(svg=svg, caption=caption)


def dowels(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The bore before and after, and how the dowels are set."""
    start, u95 = _vector(case.offset.mm, case.offset_clock_deg), case.offset_u95
    best = None if answer.recommended is None else answer.candidates[answer.recommended]
    if answer.learned is not None:  # a turn was made: the second sweep is where the bore sits now
        start = _vector(case.offset_after.mm, case.offset_after_clock_deg)
        u95, best = case.offset_after_u95, answer.next_turn
    now = Mark(
        x_mm=start[0], y_mm=start[1], u95_mm=None if u95 is None else u95.mm, label="as it is"
    )
    if best is None:
        svg = target(
            limit_tir_mm=case.limit.mm,
            marks=[now],
            lead=lead,
            palette=palette,
            title="Where the bore sits",
        )
        yield Picture(svg=svg, caption="The bore's centre as it is.")
        return
    end = (best.predicted_offset_x_mm, best.predicted_offset_y_mm)
    svg = target(
        limit_tir_mm=case.limit.mm,
        marks=[now, Mark(x_mm=end[0], y_mm=end[1], label="after")],
        move=(end[0] - start[0], end[1] - start[1]),
        lead=lead,
        palette=palette,
        title="The bore before and after",
    )
    slot_a, slot_b = answer.slots_deg(case.turned)
    a, b = (
        DowelSetting(name=name, x_mm=x.mm, y_mm=y.mm, size_mm=size, clock_deg=clock)
        for name, (x, y), size, clock in (
            ("dowel a", case.dowel_a, best.a_size_mm, slot_a),
            ("dowel b", case.dowel_b, best.b_size_mm, slot_b),
        )
    )
    yield Picture(svg=svg, caption="The bore's centre as it is, and where these dowels put it.")
    yield Picture(
        svg=dowel_pair(a, b, lead=lead, palette=palette, title="How the dowels are set"),
        caption="Both dowels as you see them from behind: turn each slot to its hour.",
    )


_RINGS: Final = ("50", "90", "99")
_CONTRIBUTORS_SHOWN: Final = 12


def radial_budget(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Where bores will sit, and who moves them."""
    rings = [
        Ring(chance=float(share) / 100, radius_mm=answer.tir_percentiles_mm[share] / 2)
        for share in _RINGS
        if share in answer.tir_percentiles_mm
    ]
    outside = say_chance(answer.chance_outside)
    svg = target(
        limit_tir_mm=case.limit.mm,
        rings=rings,
        note=f"{outside} outside the limit",
        lead=lead,
        palette=palette,
        title="Where bores will sit",
    )
    yield Picture(svg=svg, caption="Of 100 bores, 50, 90 and 99 lie inside the rings.")
    if answer.contributions:
        yield contributions(answer, palette)


def contributions(answer: Any, palette: Palette, before: Any = None) -> Picture:
    """What each contributor adds; with `before` what it added there too, the largest of both."""
    now = {each.name: each.share for each in answer.contributions}
    was = {} if before is None else {each.name: each.share for each in before.contributions}
    size = {
        name: max(now.get(name, -math.inf), was.get(name, -math.inf)) for name in {**now, **was}
    }
    names = sorted(size, key=lambda name: -size[name])[:_CONTRIBUTORS_SHOWN]
    caption = "What each contributor adds to the mean square offset."
    if before is None:
        rows = [Bar(name=name, value=now[name], words=say_chance(now[name])) for name in names]
    else:
        caption += " Each bar is a share of its own whole: where one shrinks, the others grow."
        rows = [
            Bar(
                name=name,
                value=was.get(name, 0.0),
                words=say_chance(was[name]) if name in was else "was not there",
                after=now.get(name, 0.0),
                after_words=say_chance(now[name]) if name in now else "taken out",
            )
            for name in names
        ]
    if len(names) < len(size):
        caption += f" The largest {len(names)} of {len(size)}."
    if any(min(now.get(name, 0.0), was.get(name, 0.0)) < 0 for name in names):
        caption += " A bar to the left takes some of it away."
    svg = bars(rows, before="before", after="now", palette=palette, title="What makes the offset")
    return Picture(svg=svg, caption=caption)


_NEXT: Final = 0.95
"""The share of next blocks inside the region drawn."""


def match(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Where each pair's bore will sit, matched and first come first."""
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
        yield Picture(svg=svg, caption=f"{caption} {_RING}")


def block_population(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Where each block put a true bell's bore, and the region of the next."""
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
    yield Picture(svg=svg, caption=caption + _again(sorted(suspects)))


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
