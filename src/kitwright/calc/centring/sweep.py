"""Sweeps of a bore and of a face: where it sits, and whether it may stay.

Axes and signs: seen from behind the engine, clock angles t clockwise from 12 o'clock, a reading
positive when the plunger is pushed in. Lengths are millimetres.

References
----------
.. [1] US Army TM 5-2815-232-14, bore runout of the flywheel housing: a sweep zeroed at 6 o'clock,
       corrected by the crank's lift, whole at 12 and half at 3 and 9. The corrections here are
       the same but for a constant.
.. [2] JCGM 100:2008 (GUM): uncertainties.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from kitwright.calc.centring.clock import clock_of
from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_fit import rows_of
from kitwright.calc.centring.sweep_judge import ROUNDING_MM, Sweep, along, judge
from kitwright.calc.checks import Floats, finite, finite_rows, not_negative, positive
from kitwright.errors import InputError

Cause = Literal["offset", "out of round", "both"]

_PLAIN: Final = 0.1
"""Offset over radius, and tilt in rad, beyond which neither is small and a unit is wrong."""


@dataclass(frozen=True, kw_only=True)
class BoreSweep:
    """Where a bore sits against the crank axis."""

    sweep: Sweep
    tir_as_read_mm: float
    offset_x_mm: float
    offset_y_mm: float
    offset_mm: float
    offset_clock_deg: float
    """0 for no offset."""
    offset_u95_mm: float
    """Along the offset."""
    offset_clock_u95_deg: float | None
    """None where the offset is no larger than its uncertainty across."""
    cause: Cause | None
    """What makes the TIR too large; None within the limit, and where it cannot be told."""

    @property
    def tir_from_offset_mm(self) -> float:
        """What a perfect bore would read there."""
        return 2 * self.offset_mm

    @property
    def move_clock_deg(self) -> float:
        """The way to move the bell by `offset_mm`."""
        return (self.offset_clock_deg + 180) % 360


@dataclass(frozen=True, kw_only=True)
class FaceSweep:
    """How a face stands against the crank axis."""

    sweep: Sweep
    tir_as_read_mm: float
    tilt_mrad: float
    tilt_clock_deg: float
    """Where the face stands furthest to the rear; 0 for no tilt."""
    tilt_u95_mrad: float
    pilot_shift_mm: float | None
    """How far from the crank axis a shaft square to the face meets the pilot bearing."""
    pilot_shift_clock_deg: float | None
    pilot_shift_u95_mm: float | None
    float_mm: float | None
    """Swing of the half sum of two dials: crank float and warp together."""


def correct_bore(
    readings: ArrayLike,
    *,
    sag_mm: float = 0.0,
    bearing_clearance_mm: float = 0.0,
    where: str = "readings",
) -> Floats:
    """Readings of a bore as a stiff holder on a crank centred in its bearings would show them.

    Parameters
    ----------
    readings : array_like, shape (n, 2), n >= 3
        Clock angle in degrees, reading in mm.
    sag_mm : what the dial shows at 6 o'clock when zeroed at 12 inside a true ring
    bearing_clearance_mm : dial change at 12 o'clock when the crank is lifted to its stop

    Examples
    --------
    >>> correct_bore([[0, 0], [90, 0], [180, 0]], bearing_clearance_mm=0.05)[:, 1].round(6).tolist()
    [0.025, 0.0, -0.025]
    """
    table = finite_rows(readings, columns=2, least=3, where=where).copy()
    up = np.cos(np.radians(table[:, 0]))
    table[:, 1] += bearing_clearance_mm / 2 * up - sag_mm / 2 * (1 - up)
    return table


def sweep_bore(
    readings: ArrayLike,
    *,
    limit_mm: float,
    dial: Dial,
    form_allowance_mm: float,
    sag_mm: float = 0.0,
    bearing_clearance_mm: float = 0.0,
    bore_diameter_mm: float | None = None,
    repeats: Sequence[ArrayLike] = (),
) -> BoreSweep:
    """Where a bore sits: reading = c - offset·u(t), by least squares, and what that is worth.

    Six or more well-spread places also show a second harmonic; the TIR judged is then the
    fitted curve's. With fewer it is the larger of the readings' and twice the offset.

    Parameters
    ----------
    readings : array_like, shape (n, 2), n >= 3
        Clock angle in degrees, reading in mm, in any order.
    limit_mm : the largest TIR allowed
    form_allowance_mm : out of round to allow for where readings cannot show it
    sag_mm, bearing_clearance_mm : see `correct_bore`
    bore_diameter_mm : refuses readings too large for the bore
    repeats : further sweeps of the same bore, each with its own zero

    Raises
    ------
    InputError
        Fewer than three rows, numbers that are not finite, a limit that is not above zero,
        angles too close together, or an offset of more than a tenth of the bore's radius.
    """
    positive(limit_mm, where="limit")
    finite(sag_mm, where="sag")
    not_negative(bearing_clearance_mm, where="bearing_clearance")
    not_negative(form_allowance_mm, where="form_allowance")
    read = [("readings", readings), *((f"repeats[{i}]", r) for i, r in enumerate(repeats))]
    as_read, rows = [], []
    for where, given in read:
        table = correct_bore(
            given, sag_mm=sag_mm, bearing_clearance_mm=bearing_clearance_mm, where=where
        )
        as_read.append(np.ptp(np.asarray(given, dtype=float)[:, 1]))
        rows.append(rows_of(table, where=where))
    found = judge(rows, limit_mm=limit_mm, dial=dial, form_allowance_mm=form_allowance_mm)
    x, y = _without_rounding(found.first_mm).tolist()
    offset = float(np.hypot(x, y))
    if bore_diameter_mm is not None and offset > _PLAIN * bore_diameter_mm / 2:
        raise InputError(
            "bore_diameter",
            f"{bore_diameter_mm:g} mm is too small for an offset of {offset:.3g} mm",
            "check the units of both",
        )
    across = 2 * along(found.first_mm2, np.array([-y, x]))
    return BoreSweep(
        sweep=found,
        tir_as_read_mm=float(np.mean(as_read)),
        offset_x_mm=x,
        offset_y_mm=y,
        offset_mm=offset,
        offset_clock_deg=clock_of((x, y)),
        offset_u95_mm=2 * along(found.first_mm2, found.first_mm),
        offset_clock_u95_deg=(
            float(np.degrees(np.arcsin(across / offset))) if across < offset else None
        ),
        cause=_cause(found, offset_tir_mm=2 * offset, limit_mm=limit_mm),
    )


def _cause(found: Sweep, *, offset_tir_mm: float, limit_mm: float) -> Cause | None:
    """Which part is beyond the limit by itself, or else without which it would clearly be less."""
    if found.verdict == "within" or found.second_mm is None:
        return None
    over = limit_mm + ROUNDING_MM
    parts = (offset_tir_mm > over, found.second_mm > over)
    if not any(parts):
        gain = found.tir_u95_mm + ROUNDING_MM
        parts = (found.tir_mm - found.second_mm > gain, found.tir_mm - offset_tir_mm > gain)
    if parts[0] == parts[1] and not all(parts):
        parts = (offset_tir_mm >= found.second_mm, offset_tir_mm < found.second_mm)
    if all(parts):
        return "both"
    return "offset" if parts[0] else "out of round"


def sweep_face(
    readings: ArrayLike,
    *,
    limit_mm: float,
    dial: Dial,
    form_allowance_mm: float,
    sweep_radius_mm: float,
    plane_distance_mm: float | None = None,
    bore_offset_mm: tuple[float, float] = (0.0, 0.0),
    bore_offset_u95_mm: float = 0.0,
    readings_b: ArrayLike | None = None,
    repeats: Sequence[ArrayLike] = (),
) -> FaceSweep:
    """How a face stands: reading = c + s(t), s its rearward height on the swept circle.

    Parameters
    ----------
    readings : array_like, shape (n, 2), n >= 3
        Clock angle in degrees where the tip stands, reading in mm, in any order.
    sweep_radius_mm : from the crank axis to the tip
    plane_distance_mm : from the gearbox face forward to the pilot bearing
    bore_offset_mm : x, y of the bore, with its `bore_offset_u95_mm` along any direction
    readings_b : array_like, shape (n, 2)
        A second dial 180 degrees away on the same holder, by the first dial's angles. Half the
        difference of the two is free of the crank's end float, and of warp.
    repeats : further sweeps of the same face, each with its own zero; not with `readings_b`

    Raises
    ------
    InputError
        As for `sweep_bore`; a second dial's angles that are not the first's; a tilt above 0.1.
    """
    positive(limit_mm, where="limit")
    positive(sweep_radius_mm, where="sweep_radius")
    not_negative(form_allowance_mm, where="form_allowance")
    tables = [finite_rows(readings, columns=2, least=3, where="readings")]
    as_read = [np.ptp(tables[0][:, 1])]
    swing_of_sum = None
    if readings_b is None:
        for i, given in enumerate(repeats):
            tables.append(finite_rows(given, columns=2, least=3, where=f"repeats[{i}]"))
            as_read.append(np.ptp(tables[-1][:, 1]))
    else:
        half, half_sum = _two_dials(tables[0], readings_b)
        tables, swing_of_sum = [half], float(np.ptp(half_sum))
        root = np.sqrt(2)
        dial = Dial(
            repeatability_mm=float(dial.repeatability_mm / root),
            graduation_mm=float(dial.graduation_mm / root),
            error_mm=float(dial.error_mm / root),
        )
    found = judge(
        [
            rows_of(table, where="readings" if i == 0 else f"repeats[{i - 1}]")
            for i, table in enumerate(tables)
        ],
        limit_mm=limit_mm,
        dial=dial,
        form_allowance_mm=form_allowance_mm,
        even_cancel=readings_b is not None,
    )
    rise = -_without_rounding(found.first_mm)  # s(t) = rise·u(t)
    if np.hypot(*rise) > _PLAIN * sweep_radius_mm:
        raise InputError(
            "sweep_radius",
            f"{sweep_radius_mm:g} mm is too small for readings that rise {np.hypot(*rise):.3g} mm",
            "check the units of both",
        )
    tilt = rise / sweep_radius_mm
    shift = clock = shift_u95 = None
    if plane_distance_mm is not None:
        not_negative(plane_distance_mm, where="plane_distance")
        # A shaft square to a face that stands rearward at 12 drops behind it and rises before it.
        vector = np.asarray(bore_offset_mm) + plane_distance_mm * tilt
        spread = found.first_mm2 * (plane_distance_mm / sweep_radius_mm) ** 2
        spread = spread + (bore_offset_u95_mm / 2) ** 2 * np.eye(2)
        shift = float(np.hypot(*vector))
        clock = clock_of(vector)
        shift_u95 = 2 * along(spread, vector)
    return FaceSweep(
        sweep=found,
        tir_as_read_mm=float(np.mean(as_read)),
        tilt_mrad=1000 * float(np.hypot(*tilt)),
        tilt_clock_deg=clock_of(rise),
        tilt_u95_mrad=2000 * along(found.first_mm2, found.first_mm) / sweep_radius_mm,
        pilot_shift_mm=shift,
        pilot_shift_clock_deg=clock,
        pilot_shift_u95_mm=shift_u95,
        float_mm=swing_of_sum,
    )


def _without_rounding(vector: Floats) -> Floats:
    """A vector that is nothing but binary rounding as nothing: it has no direction."""
    return vector if np.hypot(*vector) >= ROUNDING_MM else np.zeros(2)


def _two_dials(first: Floats, readings_b: ArrayLike) -> tuple[Floats, Floats]:
    """Half the difference of two dials as readings (n, 2), and half their sum (n,)."""
    second = finite_rows(readings_b, columns=2, least=3, where="readings_b")
    one = first[np.argsort(first[:, 0], kind="stable")]
    two = second[np.argsort(second[:, 0], kind="stable")]
    if one.shape != two.shape or np.abs(one[:, 0] - two[:, 0]).max() > 1e-6:
        raise InputError(
            "readings_b",
            "its angles are not those of readings",
            "give a row for each, by the first dial's angle",
        )
    half = np.column_stack([one[:, 0], (one[:, 1] - two[:, 1]) / 2])
    return half, (one[:, 1] + two[:, 1]) / 2
