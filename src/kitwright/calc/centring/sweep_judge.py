"""What a corrected sweep says: its first harmonic, its TIR, how well both are known, a verdict.

Standard uncertainties follow JCGM 100:2008 (GUM) 5.1.2: the covariance of one reading through the
design matrix. Expanded ones are k = 2. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_fit import (
    ENLARGED_AT_MOST,
    Fit,
    Rows,
    enlargement,
    fit,
    fixes_offset,
    indices,
    shows_second,
    swing,
)
from kitwright.calc.centring.sweep_form import Unseen, unseen
from kitwright.calc.centring.sweep_suspects import misfits
from kitwright.calc.checks import Floats

Verdict = Literal["within", "outside", "too close to call"]
Noise = Literal["given", "residuals", "repeated readings", "repeated sweeps"]

RESIDUALS_FROM: Final = 8
"""Rows from which their scatter about the curve may stand for the repeatability."""
ROUNDING_MM: Final = 1e-9
"""Numbers nearer than a millionth of a micron differ by binary rounding only."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """A reading that does not belong to the others, and the answer without it."""

    clock_deg: float
    sweep: int
    """Which sweep it is in: 0 the first, then its repeats."""
    misfit_mm: float
    """The reading less what the others foretell for its place."""
    chance: float
    """Chance that the worst of so many good readings stands out as far."""
    without: Sweep


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """What the readings say, before it is called a bore's offset or a face's tilt."""

    tir_corrected_mm: float
    """Highest less lowest reading; the mean of it over repeated sweeps."""
    tir_mm: float
    """The one judged."""
    tir_u95_mm: float
    verdict: Verdict
    first_mm: Floats  # (2,) x, y: the curve is -x sin t - y cos t + ...
    first_mm2: Floats  # (2, 2) its covariance
    second_mm: float | None
    """Second harmonic, full indicator movement; None where the angles cannot show it."""
    second_u95_mm: float | None
    sum_check_mm: float | None
    """(12 + 6) - (3 + 9), where read; common practice, no source."""
    sum_check_u95_mm: float | None
    closure_mm: float | None
    """Of several sweeps the largest."""
    closure_u95_mm: float | None
    """What repeatability and graduation explain of it."""
    drift_mm: float
    """What they do not."""
    residual_mm: float
    """Root mean square of the rows about the curve."""
    dial: Dial
    """As used: its repeatability may come from the readings."""
    noise: Noise
    """Where that repeatability comes from."""
    places: int
    unseen: Unseen | None
    """None where a second harmonic is fitted."""
    suspects: tuple[Suspect, ...]


def judge(
    sweeps: Sequence[Rows],
    *,
    limit_mm: float,
    dial: Dial,
    form_allowance_mm: float,
    even_cancel: bool = False,
    name_suspects: bool = True,
) -> Sweep:
    """Fit, judge and weigh one sweep or several of the same surface.

    Parameters
    ----------
    sweeps : corrected readings; each must fix an offset by itself
    limit_mm : the largest TIR allowed, above zero
    dial : of one value as given in the rows
    form_allowance_mm : full indicator movement to allow for where readings cannot show it
    even_cancel : the values are differences in which even harmonics cancel

    Raises
    ------
    InputError
        Angles too close together to fix an offset; the line names `readings` or `repeats[i]`.
    """
    rows = list(sweeps)
    for number, sweep in enumerate(rows):
        fixes_offset(sweep, where="readings" if number == 0 else f"repeats[{number - 1}]")
    second = not even_cancel and shows_second(rows)
    found = fit(rows, second=second)
    used, noise = _used(dial, found, rows)
    closure = max((r.closure_mm for r in rows if r.closure_mm is not None), key=abs, default=None)
    closure_u = np.sqrt(2) * used.quiet_u_mm
    covariance = _covariance(found, rows, used)
    drift = 0.0 if closure is None else float(np.sqrt(max(closure**2 - closure_u**2, 0.0)))
    # a one-way drift d moves x, y by 2d/π at most (a step half way round), taken as k = 2
    covariance[:2, :2] += (drift / np.pi) ** 2 * np.eye(2)

    tir, tir_u95, hidden = _tir(
        found, rows, used, covariance, allowance_mm=form_allowance_mm, cancels=even_cancel
    )
    if hidden is not None:
        covariance[:2, :2] += hidden.shape_mm2
    quarters = [check for r in rows if (check := _sum_check(r)) is not None]
    noise_u = np.hypot(used.repeatability_mm / np.sqrt(max(len(quarters), 1)), used.lasting_u_mm)
    answer = Sweep(
        tir_corrected_mm=_span(rows),
        tir_mm=tir,
        tir_u95_mm=tir_u95,
        verdict=verdict_of(tir, u95_mm=tir_u95, limit_mm=limit_mm),
        first_mm=found.shape[:2],
        first_mm2=covariance[:2, :2],
        second_mm=2 * float(np.hypot(*found.shape[2:])) if second else None,
        second_u95_mm=4 * along(covariance[2:, 2:], found.shape[2:]) if second else None,
        sum_check_mm=float(np.mean(quarters)) if quarters else None,
        sum_check_u95_mm=4 * float(noise_u) if quarters else None,
        closure_mm=closure,
        closure_u95_mm=None if closure is None else 2 * float(closure_u),
        drift_mm=drift,
        residual_mm=float(np.sqrt(np.mean(found.residual_mm**2))),
        dial=used,
        noise=noise,
        places=len(np.unique(indices(rows))),
        unseen=hidden,
        suspects=(),
    )
    if not name_suspects:
        return answer
    suspects = []
    for misfit in misfits(found, noise_mm=dial.quiet_u_mm):
        number, row = _place_of(rows, misfit.row)
        others = [r.without(row) if n == number else r for n, r in enumerate(rows)]
        if enlargement([others[number]], second=False) > ENLARGED_AT_MOST:
            continue  # the others fix nothing that this one could be held against
        without = judge(
            others,
            limit_mm=limit_mm,
            dial=dial,
            form_allowance_mm=form_allowance_mm,
            even_cancel=even_cancel,
            name_suspects=False,
        )
        suspects.append(
            Suspect(
                clock_deg=float(rows[number].clock_deg[row]),
                sweep=number,
                misfit_mm=misfit.misfit_mm,
                chance=misfit.chance,
                without=without,
            )
        )
    return replace(answer, suspects=tuple(suspects))


def verdict_of(tir_mm: float, *, u95_mm: float, limit_mm: float) -> Verdict:
    """The guard is the whole expanded uncertainty, both ways (ISO 14253-1 as it stood to 2013).

    >>> verdict_of(0.127, u95_mm=0.0, limit_mm=0.127), verdict_of(0.127, u95_mm=0.01, limit_mm=0.12)
    ('within', 'too close to call')
    """
    if tir_mm + u95_mm <= limit_mm + ROUNDING_MM:
        return "within"
    if tir_mm - u95_mm > limit_mm + ROUNDING_MM:
        return "outside"
    return "too close to call"


def _tir(
    found: Fit,
    rows: list[Rows],
    dial: Dial,
    covariance: Floats,
    *,
    allowance_mm: float,
    cancels: bool,
) -> tuple[float, float, Unseen | None]:
    """The TIR judged, its expanded uncertainty, and what the readings cannot show of it."""
    if found.has_second:
        curve = swing(found.shape)
        slope = curve.slope()[0]
        # a curve that is flat has no slope, but a TIR as uncertain as any round bore's
        u = max(float(np.sqrt(slope @ covariance @ slope)), 2 * along(covariance, found.shape))
        return float(curve.full_mm[0]), 2 * u, None
    of_offset = 2 * float(np.hypot(*found.shape))
    tir = max(_span(rows), of_offset)
    hidden = unseen(found, rows, tir_mm=tir, allowance_mm=allowance_mm, cancels=cancels)
    # the larger of two figures is known no better than the worse known of them
    two_readings_u = np.sqrt(2) * np.hypot(
        dial.repeatability_mm / np.sqrt(len(rows)), dial.lasting_u_mm
    )
    u = max(two_readings_u, 2 * along(covariance, found.shape))
    return tir, abs(hidden.shown_tir_mm) + float(np.hypot(2 * u, hidden.tir_mm)), hidden


def _span(rows: list[Rows]) -> float:
    return float(np.mean([r.span_mm for r in rows]))


def along(covariance: Floats, vector: Floats) -> float:
    """Standard uncertainty of x, y along a vector; the largest there is for a vector of zero."""
    length = float(np.hypot(*vector[:2]))
    block = covariance[:2, :2]
    if length < ROUNDING_MM:
        variance = float(np.linalg.eigvalsh(block)[-1])
    else:
        unit = vector[:2] / length
        variance = float(unit @ block @ unit)
    return float(np.sqrt(max(variance, 0.0)))


def _used(dial: Dial, found: Fit, rows: list[Rows]) -> tuple[Dial, Noise]:
    """The dial with the largest repeatability that there is evidence for."""
    evidence: dict[Noise, float] = {"given": dial.repeatability_mm}
    if len(found.residual_mm) >= RESIDUALS_FROM and found.freedom > 0:
        evidence["residuals"] = float(np.sqrt(np.sum(found.residual_mm**2) / found.freedom))
    freedom = sum(r.scatter_freedom for r in rows)
    if freedom:
        evidence["repeated readings"] = float(np.sqrt(sum(r.scatter_mm2 for r in rows) / freedom))
    if len(rows) > 1:
        evidence["repeated sweeps"] = _between(rows)
    noise = max(evidence, key=lambda name: evidence[name])
    if evidence[noise] <= dial.repeatability_mm + ROUNDING_MM:
        return dial, "given"
    return replace(dial, repeatability_mm=evidence[noise]), noise


def _between(rows: list[Rows]) -> float:
    """The repeatability of one reading that would spread the sweeps' own offsets as they do."""
    alone = [fit([r], second=shows_second([r])) for r in rows]
    offsets = np.array([found.shape[:2] for found in alone])
    spread = np.sum((offsets - offsets.mean(axis=0)) ** 2) / (2 * (len(rows) - 1))
    unit = [np.sum(f.gain[:2] ** 2 / r.count) / 2 for f, r in zip(alone, rows, strict=True)]
    return float(np.sqrt(spread / np.mean(unit)))


def _covariance(found: Fit, rows: list[Rows], dial: Dial) -> Floats:
    """Repeatability row by row; the lasting part is the same for all rows of one place."""
    count = np.concatenate([r.count for r in rows])
    place = indices(rows)
    by_place = np.zeros((place.max() + 1, len(found.shape)))
    np.add.at(by_place, place, found.gain.T)
    fleeting = (found.gain / count) @ found.gain.T
    return np.asarray(
        dial.repeatability_mm**2 * fleeting + dial.lasting_u_mm**2 * by_place.T @ by_place
    )


def _sum_check(rows: Rows) -> float | None:
    twelve, three, six, nine = (rows.read_at(clock) for clock in (0.0, 90.0, 180.0, 270.0))
    if twelve is None or three is None or six is None or nine is None:
        return None
    return (twelve + six) - (three + nine)


def _place_of(rows: list[Rows], row: int) -> tuple[int, int]:
    for number, r in enumerate(rows):
        if row < len(r.count):
            return number, row
        row -= len(r.count)
    raise IndexError(row)
