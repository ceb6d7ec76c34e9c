"""Where does this bore sit, and may it stay?"""

from __future__ import annotations

from typing import Any

import numpy as np

from kitwright.calc.centring.clock import clock_of, clock_vector
from kitwright.calc.centring.sweep import sweep_bore, sweep_face
from kitwright.calc.centring.sweep_dial import USUAL_GRADUATION_MM, Dial, jis_dial
from kitwright.calc.centring.sweep_form import usual_form_allowance
from kitwright.calc.centring.sweep_judge import Sweep
from kitwright.worksheets.centring.sweep_case import (
    Readings,
    SuspectRow,
    SweepAnswer,
    SweepCase,
)
from kitwright.worksheets.centring.sweep_said import (
    CAUTIONS,
    EXAMPLE,
    SOURCES,
    assumed,
    how,
    say,
    steps,
)
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.fields import Length

__all__ = ["WORKSHEET", "SweepAnswer", "SweepCase", "solve"]


Table = list[tuple[float, float]]
"""Clock angle in degrees, reading in mm."""


def solve(case: SweepCase) -> SweepAnswer:
    """Correct, fit and judge the sweep."""
    readings = _table(case, case.readings)
    repeats = [_table(case, given) for given in case.repeats]
    span_mm = max(float(np.ptp(np.asarray(table)[:, 1])) for table in (readings, *repeats))
    usual = jis_dial(_mm(case.graduation, USUAL_GRADUATION_MM), span_mm=span_mm)
    allowance_mm = _mm(
        case.form_allowance,
        usual_form_allowance(None if case.bore_diameter is None else case.bore_diameter.mm),
    )
    taken: dict[str, Any] = {
        "limit_mm": case.limit.mm,
        "dial": Dial(
            repeatability_mm=_mm(case.repeatability, usual.repeatability_mm),
            graduation_mm=usual.graduation_mm,
            error_mm=_mm(case.dial_error, usual.error_mm),
        ),
        "form_allowance_mm": allowance_mm,
        "repeats": repeats,
    }
    found, own = (_bore if case.surface == "bore" else _face)(case, readings, taken)
    answer = SweepAnswer(
        surface=case.surface,
        verdict=found.verdict,
        tir_mm=found.tir_mm,
        tir_u95_mm=found.tir_u95_mm,
        limit_mm=case.limit.mm,
        **own,
        tir_corrected_mm=found.tir_corrected_mm,
        sum_check_mm=found.sum_check_mm,
        sum_check_u95_mm=found.sum_check_u95_mm,
        closure_mm=found.closure_mm,
        closure_u95_mm=found.closure_u95_mm,
        places=found.places,
        residual_mm=found.residual_mm,
        reading_u_mm=found.dial.reading_u_mm,
        suspects=_suspects(case, found),
        advice=[],
        assumed=list(assumed(case, found, usual=usual, allowance_mm=allowance_mm)),
        how=how(case, found),
    )
    return answer.model_copy(update={"advice": list(steps(answer))})


def _bore(case: SweepCase, readings: Table, taken: dict[str, Any]) -> tuple[Sweep, dict[str, Any]]:
    found = sweep_bore(
        readings,
        **taken,
        sag_mm=_mm(case.sag, 0.0),
        bearing_clearance_mm=_mm(case.bearing_clearance, 0.0),
        bore_diameter_mm=None if case.bore_diameter is None else case.bore_diameter.mm,
    )
    (xx, xy), (_, yy) = found.sweep.first_mm2.tolist()
    return found.sweep, {
        "cause": found.cause,
        "offset_mm": found.offset_mm,
        "offset_u95_mm": found.offset_u95_mm,
        "offset_clock_deg": found.offset_clock_deg,
        "offset_clock_u95_deg": found.offset_clock_u95_deg,
        "offset_x_mm": found.offset_x_mm,
        "offset_y_mm": found.offset_y_mm,
        "offset_covariance_mm2": [xx, xy, yy],
        "tir_from_offset_mm": found.tir_from_offset_mm,
        "out_of_round_mm": found.sweep.second_mm,
        "out_of_round_u95_mm": found.sweep.second_u95_mm,
        "move_mm": found.offset_mm,
        "move_clock_deg": found.move_clock_deg,
        "tir_as_read_mm": found.tir_as_read_mm,
    }


def _face(case: SweepCase, readings: Table, taken: dict[str, Any]) -> tuple[Sweep, dict[str, Any]]:
    offset = _mm(case.bore_offset, 0.0) * clock_vector(case.bore_offset_clock_deg or 0.0)
    found = sweep_face(
        readings,
        **taken,
        sweep_radius_mm=_mm(case.sweep_radius, 0.0),
        plane_distance_mm=None if case.plane_distance is None else case.plane_distance.mm,
        bore_offset_mm=(float(offset[0]), float(offset[1])),
        bore_offset_u95_mm=_mm(case.bore_offset_u95, 0.0),
        readings_b=None if case.readings_b is None else _table(case, case.readings_b),
    )
    return found.sweep, {
        "tilt_mrad": found.tilt_mrad,
        "tilt_u95_mrad": found.tilt_u95_mrad,
        "tilt_clock_deg": found.tilt_clock_deg,
        "warp_mm": found.sweep.second_mm,
        "warp_u95_mm": found.sweep.second_u95_mm,
        "pilot_shift_mm": found.pilot_shift_mm,
        "pilot_shift_u95_mm": found.pilot_shift_u95_mm,
        "pilot_shift_clock_deg": found.pilot_shift_clock_deg,
        "float_mm": found.float_mm,
        "tir_as_read_mm": found.tir_as_read_mm,
    }


def _suspects(case: SweepCase, found: Sweep) -> list[SuspectRow]:
    rows = []
    for suspect in found.suspects:
        without, offset = suspect.without, suspect.without.first_mm
        of_bore = case.surface == "bore"
        rows.append(
            SuspectRow(
                clock_deg=suspect.clock_deg,
                sweep=suspect.sweep + 1 if case.repeats else None,
                misfit_mm=suspect.misfit_mm,
                chance=suspect.chance,
                tir_without_mm=without.tir_mm,
                tir_without_u95_mm=without.tir_u95_mm,
                verdict_without=without.verdict,
                offset_without_mm=float(np.hypot(*offset)) if of_bore else None,
                offset_without_clock_deg=clock_of(offset) if of_bore else None,
            )
        )
    return rows


def _table(case: SweepCase, readings: Readings) -> Table:
    return [(clock_deg, case.unit.to_mm(reading)) for clock_deg, reading in readings]


def _mm(given: Length | None, otherwise_mm: float) -> float:
    return otherwise_mm if given is None else given.mm


WORKSHEET = Worksheet(
    heading=heading("sweep"),
    case=SweepCase,
    answer=SweepAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
