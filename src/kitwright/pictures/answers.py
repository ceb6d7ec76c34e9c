"""The pictures of a worksheet's answer, by the worksheet's name.

A worksheet without pictures has none; nothing is drawn for a value that is not known.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.bores import Region
from kitwright.pictures.chart import Panel, control_chart
from kitwright.pictures.clock import DowelSetting, dowel_pair, readings
from kitwright.pictures.depth import axial_budget_bars, hand_room_views, release_gap_spans
from kitwright.pictures.energies import bell_scores, containment_energies
from kitwright.pictures.engine_targets import RING, block_target, match_targets
from kitwright.pictures.limits import limit_line
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.quality import gauge_picture, plan_picture
from kitwright.pictures.shell import bell_pitches, bell_shapes
from kitwright.pictures.sound import heard_pictures, tap_pictures
from kitwright.pictures.strip import strip
from kitwright.pictures.supply import (
    hold_back_steps,
    kit_cost_bars,
    lot_plan_picture,
    promise_steps,
    year_fan,
)
from kitwright.pictures.target import Mark, Ring, target
from kitwright.units import Lead, say_length
from kitwright.worksheets.showing import say_chance


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A drawing as SVG text, and the line beneath it."""

    svg: str
    caption: str
    moving: Moving | None = None


Drawing = Callable[[Any, Any, Lead, Palette], list["Picture"]]
"""From a case and its answer, the unit written first and the inks, to pictures."""


@dataclass(frozen=True, kw_only=True)
class Moving:
    """What lets a page move a picture; where it cannot, the drawing stands as it is.

    `element` is the name of a custom element, and of the script that defines it; it is given
    `data`, JSON text, and the drawing.
    """

    element: str
    data: str


def pictures_of(
    name: str,
    case: Any,
    answer: Any,
    *,
    before: Any = None,
    lead: Lead = "mm",
    palette: Palette = PAGE,
) -> list[Picture]:
    """The pictures of this worksheet's answer, the most telling first; none where it has none.

    `case` and `answer` are the worksheet's own; `lead` is the unit written. With `before`, the
    answer to another case of the same worksheet, a picture that can compare the two comes first.
    """
    drawing = _BY_NAME.get(name)
    drawn = [] if drawing is None else drawing(case, answer, lead, palette)
    if before is not None and name == "radial-budget":
        return [_contributions(answer, palette, before=before), *drawn[:1]]
    return drawn


def _vector(size_mm: float, clock_deg: float) -> tuple[float, float]:
    angle = math.radians(clock_deg)
    return size_mm * math.sin(angle), size_mm * math.cos(angle)


def _sweep(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    drawn = []
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
        caption = f"The bore's centre against the crank axis. {RING}"
        if move is not None:
            caption += " The arrow is the way to move the bell."
        drawn.append(Picture(svg=svg, caption=caption))
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
        caption = f"Where the shaft's tip comes to at the pilot bearing. {RING}"
        drawn.append(Picture(svg=svg, caption=caption))
    svg = readings(
        case.readings, unit=case.unit.name, title="The readings round the clock", palette=palette
    )
    caption = "The first sweep's readings." if case.repeats else "The readings as they were taken."
    drawn.append(Picture(svg=svg, caption=caption))
    return drawn


def _dowels(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
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
        return [Picture(svg=svg, caption="The bore's centre as it is.")]
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
    return [
        Picture(svg=svg, caption="The bore's centre as it is, and where these dowels put it."),
        Picture(
            svg=dowel_pair(a, b, lead=lead, palette=palette, title="How the dowels are set"),
            caption="Both dowels as you see them from behind: turn each slot to its hour.",
        ),
    ]


_RINGS: Final = ("50", "90", "99")
_CONTRIBUTORS_SHOWN: Final = 12


def _radial_budget(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
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
    drawn = [
        Picture(
            svg=svg,
            caption="Of 100 bores, 50, 90 and 99 lie inside the rings.",
        )
    ]
    if answer.contributions:
        drawn.append(_contributions(answer, palette))
    return drawn


def _contributions(answer: Any, palette: Palette, before: Any = None) -> Picture:
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


def _match(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    drawn = match_targets(case, answer, lead, palette)
    return [Picture(svg=svg, caption=caption) for svg, caption in drawn]


def _block_population(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = block_target(answer, lead, palette)
    return [Picture(svg=svg, caption=caption)]


def _axial_budget(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    drawn = axial_budget_bars(answer, palette)
    return [Picture(svg=svg, caption=caption) for svg, caption in drawn]


def _release_gap(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = release_gap_spans(answer, lead, palette)
    return [Picture(svg=svg, caption=caption)]


def _hand_room(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    drawn = hand_room_views(answer, lead, palette)
    return [Picture(svg=svg, caption=caption) for svg, caption in drawn]


def _conformity(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg = limit_line(
        value_mm=answer.value_mm,
        u95_mm=answer.u95_mm,
        low_mm=answer.limits.low_mm,
        high_mm=answer.limits.high_mm,
        guard_mm=answer.guard_mm,
        verdict=answer.verdict,
        lead=lead,
        palette=palette,
        title="The value between its limits",
    )
    return [
        Picture(
            svg=svg,
            caption="The value with its plus and minus; a value in a hatched band is too close "
            "to call.",
        )
    ]


_POSITIONS_SHOWN: Final = 400


def _capability(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    if case.positions is None:
        svg = strip(
            answer.strip,
            lowest=answer.strip_from,
            highest=answer.strip_to,
            low=answer.limits.low,
            high=answer.limits.high,
            mean=answer.mean,
            unit=answer.unit,
            palette=palette,
            title="Values between their limits",
        )
        return [Picture(svg=svg, caption="How the measured values lie between the limits.")]
    mm, radius = case.unit.mm, answer.zone / 2
    shown = case.positions[-_POSITIONS_SHOWN:]
    marks = [
        Mark(
            x_mm=x * mm,
            y_mm=y * mm,
            verdict="within" if math.hypot(x, y) <= radius else "outside",
        )
        for x, y in shown
    ]
    xx, xy, yy = (each * mm * mm for each in answer.covariance)
    region = Region(
        x_mm=answer.mean[0] * mm,
        y_mm=answer.mean[1] * mm,
        covariance_mm2=(xx, xy, yy),
        label="95 % of all",
    )
    svg = target(
        limit_tir_mm=answer.zone * mm,
        marks=marks,
        regions=[region],
        note=f"{say_chance(answer.chance_outside)} outside the zone",
        lead=lead,
        palette=palette,
        title="Positions in their zone",
    )
    caption = "Where the positions lie, and where 95 % of all will."
    if len(shown) < len(case.positions):
        caption += f" The last {len(shown)} of {len(case.positions)}."
    return [Picture(svg=svg, caption=caption)]


_PLOTTED: Final = {"individuals": "Values", "mean-range": "Means", "mean-sigma": "Means"}


def _control_chart(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    panels = [
        Panel(
            name=name,
            points=chart.points,
            first=first,
            centre=chart.centre,
            low=chart.limits.low,
            high=chart.limits.high,
            signals=[signal.where for signal in chart.signals],
        )
        for name, chart, first in (
            (_PLOTTED[answer.kind], answer, 1),
            (answer.dispersion.of.capitalize(), answer.dispersion, answer.dispersion.first),
        )
    ]
    svg = control_chart(
        panels, unit=answer.unit, phase_1=answer.phase_1, palette=palette, title="Control chart"
    )
    return [Picture(svg=svg, caption="Points in the order made; a ring marks a signal.")]


def _sampling_plan(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = plan_picture(answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _gauge_study(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = gauge_picture(case, answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _kit_cost(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    drawn = kit_cost_bars(answer, palette)
    return [Picture(svg=svg, caption=caption) for svg, caption in drawn]


def _lot_plan(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = lot_plan_picture(case, answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _promise(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = promise_steps(case, answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _hold_back(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = hold_back_steps(answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _modes(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption, data = bell_shapes(answer, palette)
    shapes = Picture(svg=svg, caption=caption, moving=Moving(element="mode-shapes", data=data))
    svg, caption = bell_pitches(answer, palette)
    return [shapes, Picture(svg=svg, caption=caption)]


def _year(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = year_fan(case, answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _containment(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
    svg, caption = containment_energies(answer, palette)
    return [Picture(svg=svg, caption=caption)]


def _drawn_by(draw: Callable[[Any, Palette], list[tuple[str, str]]]) -> Drawing:
    def drawn(case: Any, answer: Any, lead: Lead, palette: Palette) -> list[Picture]:
        return [Picture(svg=svg, caption=caption) for svg, caption in draw(answer, palette)]

    return drawn


_BY_NAME: Final[dict[str, Drawing]] = {
    "sweep": _sweep,
    "dowels": _dowels,
    "radial-budget": _radial_budget,
    "match": _match,
    "block-population": _block_population,
    "axial-budget": _axial_budget,
    "release-gap": _release_gap,
    "hand-room": _hand_room,
    "conformity": _conformity,
    "capability": _capability,
    "control-chart": _control_chart,
    "sampling-plan": _sampling_plan,
    "gauge-study": _gauge_study,
    "modes": _modes,
    "tap": _drawn_by(tap_pictures),
    "heard": _drawn_by(heard_pictures),
    "containment": _containment,
    "choose-bell": _drawn_by(bell_scores),
    "kit-cost": _kit_cost,
    "lot-plan": _lot_plan,
    "promise": _promise,
    "hold-back": _hold_back,
    "year": _year,
}
