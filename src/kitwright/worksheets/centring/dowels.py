"""Which eccentric dowels, turned to where, put it right?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from kitwright.calc.centring.clock import clock_of, clock_vector
from kitwright.calc.centring.dowel_binding import bind_mm
from kitwright.calc.centring.dowels import Candidate, DowelChoice, choose_dowels
from kitwright.calc.centring.rigid import RigidInfluence, bore_influence
from kitwright.calc.centring.second_sweep import (
    Learned,
    Setting,
    expected_readings,
    learn,
    next_turn,
)
from kitwright.calc.checks import Floats
from kitwright.errors import InputError
from kitwright.units import show_length
from kitwright.worksheets.centring.dowels_case import (
    CandidateRow,
    Compared,
    DowelsAnswer,
    DowelsCase,
    LearnedAnswer,
    NextTurnAnswer,
    Reading,
)
from kitwright.worksheets.centring.dowels_said import CAUTIONS, EXAMPLE, HOW, SOURCES, say
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet

ANGLE_ERROR_DEG: Final = 5.0
SWEEP_U95_MM: Final = 0.01
LEAVE: Final = "leave it alone"
EIGHT: Final = tuple(45.0 * turn for turn in range(8))


@dataclass(frozen=True, kw_only=True)
class _Taken:
    """A case in mm, defaults filled in."""

    offset: Floats
    offset_u95_mm: float
    dowel_a: tuple[float, float]
    dowel_b: tuple[float, float]
    limit_mm: float
    sizes_mm: tuple[float, ...]
    hole_clearance_mm: float
    angle_error_deg: float
    most_turn_rad: float | None

    @property
    def influence(self) -> RigidInfluence:
        return bore_influence(self.dowel_a, self.dowel_b)

    def choose(
        self, offset: Floats, offset_u95_mm: float, sizes_mm: tuple[float, ...]
    ) -> DowelChoice:
        return choose_dowels(
            offset,
            dowel_a=self.dowel_a,
            dowel_b=self.dowel_b,
            sizes_mm=sizes_mm,
            limit_tir_mm=self.limit_mm,
            hole_clearance_mm=self.hole_clearance_mm,
            angle_error_deg=self.angle_error_deg,
            offset_u_mm=offset_u95_mm / 2,
            most_turn_rad=self.most_turn_rad,
        )


def solve(case: DowelsCase) -> DowelsAnswer:
    """Rank the settings, choose one, and say what the second sweep should show or has shown."""
    taken = _taken(case)
    choice = taken.choose(taken.offset, taken.offset_u95_mm, taken.sizes_mm)
    now = choice.candidates[choice.leave_alone]
    compared = list(_compared(case, taken, choice))
    after = _after(case, taken)
    return DowelsAnswer(
        limit_mm=taken.limit_mm,
        tir_now_mm=now.predicted_tir_mm,
        chance_now=now.chance_within,
        recommended=choice.recommended,
        outcome=choice.outcome,
        reason=_reason(choice, taken),
        compared=compared,
        second_sweep=_second_sweep(choice, taken),
        learned=after.learned,
        next_turn=after.next_turn,
        within_after=after.within,
        notes=list(_notes(case, choice, taken, compared)),
        candidates=[CandidateRow(**_row(candidate)) for candidate in choice.candidates],
        assumed=_assumed(case, taken),
        how=HOW,
    )


def _taken(case: DowelsCase) -> _Taken:
    if (case.bolt_radius is None) != (case.bolt_clearance is None):
        missing = "bolt_radius" if case.bolt_radius is None else "bolt_clearance"
        raise InputError(missing, "missing", "bolt_radius and bolt_clearance go together")
    most_turn_rad = None
    if case.bolt_radius is not None and case.bolt_clearance is not None:
        most_turn_rad = case.bolt_clearance.mm / 2 / case.bolt_radius.mm
    error = ANGLE_ERROR_DEG if case.angle_error_deg is None else case.angle_error_deg
    return _Taken(
        offset=case.offset.mm * clock_vector(case.offset_clock_deg),
        offset_u95_mm=0.0 if case.offset_u95 is None else case.offset_u95.mm,
        dowel_a=(case.dowel_a[0].mm, case.dowel_a[1].mm),
        dowel_b=(case.dowel_b[0].mm, case.dowel_b[1].mm),
        limit_mm=case.limit.mm,
        sizes_mm=tuple(size.mm for size in case.sizes),
        hole_clearance_mm=0.0 if case.hole_clearance is None else case.hole_clearance.mm,
        angle_error_deg=error,
        most_turn_rad=most_turn_rad,
    )


def _row(candidate: Candidate) -> dict[str, Any]:
    return {name: getattr(candidate, name) for name in CandidateRow.model_fields}


def _reason(choice: DowelChoice, taken: _Taken) -> str | None:
    limit, now = show_length(taken.limit_mm), choice.candidates[choice.leave_alone]
    if choice.outcome == "within already":
        tir = show_length(now.predicted_tir_mm)
        return f"{LEAVE}: {tir} TIR is within {limit}, its uncertainty allowed for"
    if choice.outcome == "no surer":
        surer = f"no setting is likelier to be within {limit} than it is now"
        return f"{'do not turn yet' if now.predicted_tir_mm > taken.limit_mm else LEAVE}: {surer}"
    if choice.outcome == "out of reach":
        least = show_length(choice.closest.predicted_tir_mm)
        return f"it cannot be done with these dowels: the closest leaves {least} TIR of {limit}"
    return None


def _compared(case: DowelsCase, taken: _Taken, choice: DowelChoice) -> Iterator[Compared]:
    rows = [
        ("as recommended", choice.recommended),
        ("leave it alone", choice.leave_alone),
        ("other sizes", choice.other_sizes),
    ]
    for words, index in rows:
        if index is None:
            continue
        candidate = choice.candidates[index]
        moved = math.hypot(
            candidate.predicted_offset_x_mm - taken.offset[0],
            candidate.predicted_offset_y_mm - taken.offset[1],
        )
        at_bolts = None
        if case.bolt_radius is not None:
            at_bolts = moved + abs(candidate.turn_mrad) / 1000 * case.bolt_radius.mm
        yield Compared(
            choice=words,
            index=index,
            a_size_mm=candidate.a_size_mm,
            b_size_mm=candidate.b_size_mm,
            predicted_tir_mm=candidate.predicted_tir_mm,
            chance_within=candidate.chance_within,
            chance_binds=candidate.chance_binds,
            bolt_shift_mm=at_bolts,
        )


def _second_sweep(choice: DowelChoice, taken: _Taken) -> list[Reading]:
    if choice.recommended is None:
        return []
    best = choice.candidates[choice.recommended]
    expected = expected_readings(
        taken.influence,
        Setting(
            a_size_mm=best.a_size_mm,
            a_clock_deg=best.a_clock_deg,
            b_size_mm=best.b_size_mm,
            b_clock_deg=best.b_clock_deg,
        ),
        (best.predicted_offset_x_mm, best.predicted_offset_y_mm),
        EIGHT,
        angle_error_deg=taken.angle_error_deg,
        offset_u_mm=taken.offset_u95_mm / 2,
    )
    return [
        Reading(
            clock_deg=row.clock_deg, reading_mm=row.reading_mm, reading_u95_mm=row.reading_u95_mm
        )
        for row in expected
    ]


def _notes(
    case: DowelsCase, choice: DowelChoice, taken: _Taken, compared: Sequence[Compared]
) -> Iterator[str]:
    if choice.outcome != "turn":
        return
    now = choice.candidates[choice.leave_alone]
    if now.predicted_tir_mm - 2 * taken.offset_u95_mm <= taken.limit_mm:
        yield "As it sits it is too close to call: sweep again before you turn anything."
    if taken.hole_clearance_mm == 0 and taken.angle_error_deg > 0:
        yield "Without hole_clearance any error of turning binds: measure dowel and hole."
    at_bolts = compared[0].bolt_shift_mm
    if case.bolt_clearance is not None and at_bolts is not None:
        room = case.bolt_clearance.mm / 2
        if at_bolts > room:
            yield (
                f"Shift and turn together move the bell {show_length(at_bolts)} at a bolt; one in "
                f"the middle of its hole leaves {show_length(room)}."
            )


def _assumed(case: DowelsCase, taken: _Taken) -> list[str]:
    lines = ["each dowel points where its slot does, but for the error of turning it"]
    if case.hole_clearance is None:
        lines.append("hole_clearance: none; any error of turning then binds")
    if case.angle_error_deg is None:
        lines.append(f"angle_error_deg: {ANGLE_ERROR_DEG:g}; common practice, no source")
    if case.offset_u95 is None:
        lines.append("offset_u95: none; the chances leave the sweep's own error out")
    if case.bolt_radius is None:
        lines.append("bolt_radius: not given; the bell may turn as far as the dowels ask")
    if case.turned is not None and not taken.offset_u95_mm:
        lines.append(f"what the turn teaches is weighed with offset_u95 = {SWEEP_U95_MM:g} mm")
    if case.turned is not None and case.offset_after_u95 is None:
        lines.append("offset_after_u95: that of the first sweep")
    return lines


# ── after a turn ─────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class _After:
    learned: LearnedAnswer | None = None
    next_turn: NextTurnAnswer | None = None
    within: bool | None = None


def _after(case: DowelsCase, taken: _Taken) -> _After:
    given = {
        "turned": case.turned,
        "offset_after": case.offset_after,
        "offset_after_clock_deg": case.offset_after_clock_deg,
    }
    if case.turned is None or case.offset_after is None or case.offset_after_clock_deg is None:
        if case.offset_after_u95 is None and not any(v is not None for v in given.values()):
            return _After()
        missing = next(name for name, value in given.items() if value is None)
        raise InputError(missing, "missing", f"{', '.join(given)} go together")
    setting = Setting(
        a_size_mm=case.turned.a_size.mm,
        a_clock_deg=case.turned.a_clock_deg if case.turned.a_size.mm else None,
        b_size_mm=case.turned.b_size.mm,
        b_clock_deg=case.turned.b_clock_deg if case.turned.b_size.mm else None,
    )
    u95 = taken.offset_u95_mm or SWEEP_U95_MM
    after_u95 = u95
    if case.offset_after_u95 is not None:
        after_u95 = case.offset_after_u95.mm or SWEEP_U95_MM
    learned = learn(
        taken.influence,
        setting,
        taken.offset,
        case.offset_after.mm * clock_vector(case.offset_after_clock_deg),
        angle_error_deg=taken.angle_error_deg,
        before_u_mm=u95 / 2,
        after_u_mm=after_u95 / 2,
    )
    within = 2 * (case.offset_after.mm + after_u95) <= taken.limit_mm
    turn = None
    if not within:
        drawer = (*taken.sizes_mm, setting.a_size_mm, setting.b_size_mm)
        choice = taken.choose(np.array(learned.plain_mm), u95, drawer)
        turn = next_turn(choice, setting, learned, limit_tir_mm=taken.limit_mm)
    return _After(
        learned=_learned(learned, taken.hole_clearance_mm),
        within=within,
        next_turn=None
        if turn is None
        else NextTurnAnswer(
            **_row(turn.candidate), a_turn_deg=turn.a_turn_deg, b_turn_deg=turn.b_turn_deg
        ),
    )


def _learned(learned: Learned, hole_clearance_mm: float) -> LearnedAnswer:
    return LearnedAnswer(
        moved_mm=math.hypot(*learned.moved_mm),
        moved_clock_deg=clock_of(learned.moved_mm),
        expected_move_mm=math.hypot(*learned.expected_mm),
        expected_move_clock_deg=clock_of(learned.expected_mm),
        a_error_deg=learned.a_error_deg,
        a_error_u95_deg=learned.a_error_u95_deg,
        b_error_deg=learned.b_error_deg,
        b_error_u95_deg=learned.b_error_u95_deg,
        unexplained_mm=math.hypot(*learned.unexplained_mm),
        mismatch_mm=learned.mismatch_mm,
        bind_mm=float(bind_mm(learned.mismatch_mm, hole_clearance_mm=hole_clearance_mm)),
        plain_offset_mm=math.hypot(*learned.plain_mm),
        plain_offset_clock_deg=clock_of(learned.plain_mm),
    )


WORKSHEET = Worksheet(
    heading=heading("dowels"),
    case=DowelsCase,
    answer=DowelsAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
