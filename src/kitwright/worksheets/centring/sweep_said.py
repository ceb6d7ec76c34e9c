"""The sweep worksheet in words: its sentence, its advice, its assumptions, its cautions."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from kitwright.calc.centring.sweep_dial import Dial
from kitwright.calc.centring.sweep_judge import ROUNDING_MM, Sweep
from kitwright.units import Lead, plain, say_clock, say_length, show_length
from kitwright.worksheets.centring.cautions import BY_HAND, MAKERS, STANDS
from kitwright.worksheets.centring.sweep_case import SweepAnswer, SweepCase

EIGHT: Final = 8
"""Places that tell offset from out of round, with three to spare."""
_SAME_MM: Final = 5e-6
_HALF: Final = {"bore": "offset", "face": "tilt's rise at the tip"}
_TELLS: Final = re.compile("[1-9]")

SOURCES: Final = (
    "US Army TM 5-2815-232-14, bore and face runout of the flywheel housing: method, crank's lift",
    "SAE J617 and J1033: limits by the size of the housing, where one is named as the limit",
    "JIS B 7503:2011, mechanical dial gauges: errors taken where none are given",
    "JCGM 100:2008 (GUM): uncertainty of a reading and its way into the answer",
    "ISO 14253-1 as it stood to 2013: three outcomes, the guard is the expanded uncertainty",
    "ISO 286-1:2010, Table 1: grade IT7, behind the out of round allowed for",
    "R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982): what does not belong",
)

CAUTIONS: Final = (STANDS, BY_HAND, MAKERS)

EXAMPLE: Final = """
# Where does this bore sit, and may it stay?
# Stand behind the engine, looking forward. Clock angles are where the dial's tip touches, in
# degrees clockwise from 12 o'clock. A reading is positive when the plunger is pushed in.
surface = "bore"                   # or "face"
unit = "thou"                      # of the readings
readings = [
    [0, 0], [45, 4], [90, 3.5], [135, 0], [180, -5], [225, -8.5], [270, -9], [315, -5.5],
    [360, 0],                      # back at 12 o'clock: did anything move?
]
limit = "5 thou"                   # the largest TIR allowed

# The dial. What is left out takes the errors that JIS B 7503 allows.
graduation = "0.5 thou"
repeatability = "0.2 thou"         # standard uncertainty of reading one place again
dial_error = "0.3 thou"            # maximum permissible error, from its certificate

# Corrections of a bore.
sag = "0.4 thou"                   # at 6 o'clock, zeroed at 12, inside a true ring
bearing_clearance = "2 thou"       # dial change at 12 o'clock when the crank is lifted

# A face instead:
# surface = "face"
# sweep_radius = "80 mm"           # from the crank axis to the dial's tip
# plane_distance = "180 mm"        # from the gearbox face forward to the pilot bearing
# bore_offset = "2 thou"           # from the bore's sweep
# bore_offset_clock_deg = 60
"""


# ── the sentence ─────────────────────────────────────────────────────────────────────────


def say(answer: SweepAnswer, lead: Lead) -> str:
    """What to do, in one or two sentences."""
    said = _verdict(answer, lead)
    first = next(steps(answer, lead))
    return f"{first} {said}" if doubted(answer) else said


def _verdict(answer: SweepAnswer, lead: Lead) -> str:
    tir, limit = _apart(answer.tir_mm, answer.limit_mm, lead)
    if answer.verdict == "within":
        return f"Leave it: {tir} TIR is within {limit}."
    if answer.verdict == "too close to call":
        give = _said(answer.tir_u95_mm, lead)
        said = f"Too close to call: {tir} TIR, give or take {give}, against {limit}."
        return f"{said} {list(steps(answer, lead))[-1]}"
    if answer.surface == "face":
        where = say_clock(answer.tilt_clock_deg or 0.0)
        return (
            f"Do not fit it yet: {tir} TIR is over {limit}, and the face stands furthest to the "
            f"rear at {where}."
        )
    oval = _said(answer.out_of_round_mm or 0.0, lead)
    if answer.cause == "out of round":
        return f"Moving it cannot cure it: {tir} TIR is over {limit}, and {oval} is out of round."
    move = _said(answer.move_mm or 0.0, lead)
    said = f"Move it {move} toward {say_clock(answer.move_clock_deg or 0.0)}: "
    said += f"{tir} TIR is over {limit}."
    if answer.cause == "both":
        said += f" Out of round by {oval}, which no move cures."
    return said


def _said(mm: float, lead: Lead | None) -> str:
    """As said at the bench, finer where that would say nothing; both units without a lead."""
    if lead is None:
        return str(show_length(mm))
    said = say_length(mm, lead=lead)
    return said if _TELLS.search(said) or not mm else _fine(mm, lead)


def _apart(value_mm: float, limit_mm: float, lead: Lead) -> tuple[str, str]:
    """Two lengths as said at the bench, finer where they would sound the same but are not."""
    said = say_length(value_mm, lead=lead), say_length(limit_mm, lead=lead)
    if said[0] != said[1] or abs(value_mm - limit_mm) < _SAME_MM:
        return said
    return _fine(value_mm, lead), _fine(limit_mm, lead)


def _fine(mm: float, lead: Lead) -> str:
    return show_length(mm, lead=lead, usual_mm=4).leading


# ── what to do next ──────────────────────────────────────────────────────────────────────


def steps(answer: SweepAnswer, lead: Lead | None = None) -> Iterator[str]:
    """What to do next, the first thing first; common practice, no source."""
    for suspect in answer.suspects:
        off = _said(abs(suspect.misfit_mm), lead)
        yield f"Read {say_clock(suspect.clock_deg)} again: it is {off} off the others' curve."
    if _has_moved(answer):
        moved = _said(abs(answer.closure_mm or 0.0), lead)
        yield f"Fasten the dial and sweep again: something moved {moved} while you went round."
    if _sum_fails(answer):
        differ = _said(abs(answer.sum_check_mm or 0.0), lead)
        form = "the bore is out of round" if answer.surface == "bore" else "the face is warped"
        found = f"12 + 6 and 3 + 9 differ by {differ}"
        yield f"Read eight places: {found}, so {form} or the dial slipped."
    if answer.verdict == "within":
        yield "Bolt up, and keep the readings with the car."
    elif answer.verdict == "too close to call" and answer.places < EIGHT:
        yield "Sweep it again at eight places, one every 45 degrees."
    elif answer.verdict == "too close to call":
        yield "Sweep it twice more and give all three, or use a finer dial."
    else:
        yield "Take the bell off; look for burrs, dirt and paint on both faces and at the dowels."
        again = "sweep it again at eight places" if answer.places < EIGHT else "sweep it again"
        yield f"Bolt it up evenly, to the maker's figure, and {again}."
        yield from _if_it_stays(answer)


def _if_it_stays(answer: SweepAnswer) -> Iterator[str]:
    if answer.surface == "face":
        yield "If it stays, the bell is cocked or its faces are not parallel: call the shop."
        yield "Sweep the bore again once the face is right."
        return
    if answer.cause in ("out of round", "both"):
        yield "If it stays out of round, the bore must be cut again: call the shop."
    yield "Sweep the face too: a cocked bell carries its bore off with it."
    if answer.cause != "out of round":
        yield "Only then turn eccentric dowels: the dowels worksheet says which, and where to."


def doubted(answer: SweepAnswer) -> bool:
    """Whether a reading does not belong or the sweep did not close: sweep again first."""
    return bool(answer.suspects) or _has_moved(answer)


def _has_moved(answer: SweepAnswer) -> bool:
    """Whether the sweep came back further off than its readings explain."""
    if answer.closure_mm is None or answer.closure_u95_mm is None:
        return False
    return abs(answer.closure_mm) > answer.closure_u95_mm + ROUNDING_MM


def _sum_fails(answer: SweepAnswer) -> bool:
    """Whether four quarters disagree, where no second harmonic says why."""
    if answer.sum_check_mm is None or answer.sum_check_u95_mm is None:
        return False
    known = answer.out_of_round_mm is not None or answer.warp_mm is not None
    return not known and abs(answer.sum_check_mm) > answer.sum_check_u95_mm + ROUNDING_MM


# ── how, and what was assumed ────────────────────────────────────────────────────────────


def how(case: SweepCase, answer: Sweep) -> str:
    """The method, in a few sentences."""
    sought = "offset" if case.surface == "bore" else "tilt"
    second = " and second harmonic" if answer.second_mm is not None else ""
    count = sum(map(len, (case.readings, *case.repeats)))
    said = f"Least squares of {sought}{second} to {count} readings"
    if case.repeats:
        said += f" of {1 + len(case.repeats)} sweeps, each with its own zero"
    if case.readings_b is not None:
        said += ", each half the difference of two dials"
    corrected = [
        word
        for word, given in (("sag", case.sag), ("bearing clearance", case.bearing_clearance))
        if given is not None
    ]
    if corrected:
        said += f", corrected for {' and '.join(corrected)}"
    said += ". The TIR judged is "
    if answer.second_mm is not None:
        said += "that of the fitted curve. "
    else:
        said += f"the larger of the readings' and twice the {_HALF[case.surface]}. "
    said += "Within or outside only if the whole expanded uncertainty (k = 2) is too."
    noise = f"{_mm(answer.dial.repeatability_mm)}, more than the repeatability, and that is used."
    if answer.noise == "residuals":
        said += f" The readings scatter about the curve by {noise}"
    elif answer.noise == "repeated readings":
        said += f" Readings of one place scatter by {noise}"
    elif answer.noise == "repeated sweeps":
        said += f" The sweeps differ as if one reading scattered by {noise}"
    return said


def assumed(case: SweepCase, answer: Sweep, *, usual: Dial, allowance_mm: float) -> Iterator[str]:
    """Each default that was used, in words."""
    graduation = f"a dial of {_mm(usual.graduation_mm)} graduation"
    if case.graduation is None:
        yield f"graduation: {_mm(usual.graduation_mm)}"
    if case.repeatability is None:
        yield f"repeatability: {_mm(usual.repeatability_mm)} (JIS B 7503:2011, {graduation})"
    if case.dial_error is None:
        yield f"dial_error: {_mm(usual.error_mm)} (JIS B 7503:2011, {graduation}, this swing)"
    if case.surface == "bore":
        if case.sag is None:
            yield "sag: none; the dial's holder is taken as stiff"
        if case.bearing_clearance is None:
            yield "bearing_clearance: none; the answer is for the crank where it lay"
        if case.sag is not None or case.bearing_clearance is not None:
            yield "sag and bearing_clearance are taken as exact"
        if case.bore_diameter is not None:
            left_out = float(answer.first_mm @ answer.first_mm) / case.bore_diameter.mm
            yield f"The bore's own curvature, {_mm(left_out)} at most in a reading, is left out"
    else:
        yield "The crank was held against one end of its end float at every reading"
        yield "sweep_radius and plane_distance are taken as exact"
        if case.plane_distance is not None and case.bore_offset is None:
            yield "bore_offset: none; the shift at the pilot bearing is that of the tilt alone"
        if case.bore_offset is not None and case.bore_offset_u95 is None:
            yield "bore_offset_u95: none; bore_offset is taken as exact"
    if answer.drift_mm > 0:
        yield (
            f"{_mm(answer.drift_mm)} of the closure is no scatter of readings: taken as a one-way "
            "drift, it may move offset or tilt's rise by 2/π of itself"
        )
    yield from _unseen(case, answer, allowance_mm)


def _unseen(case: SweepCase, answer: Sweep, allowance_mm: float) -> Iterator[str]:
    if answer.unseen is None:
        return
    word = "out of round" if case.surface == "bore" else "warp"
    if case.readings_b is not None:
        blind = "Half the difference of two dials cannot show warp"
    elif answer.places == 3:
        blind = f"Three places cannot show {word} at all: it moves the result by half its movement"
    elif answer.places == 4:
        blind = f"Four places show only part of {word}"
    else:
        blind = f"These places do not show {word} well enough to fit it"
    amount = f"up to {_mm(answer.unseen.allowed_mm)} indicator movement is allowed for"
    if answer.unseen.allowed_mm > allowance_mm + 1e-9:
        amount += ", as much as the readings show"
    elif case.form_allowance is None:
        amount += " (form_allowance: "
        amount += (
            "a bore to H7 of this size"
            if case.bore_diameter is not None
            else "a bore to H7 of 120 to 180 mm"
        )
        amount += ", its size tolerance all ovality"
        if case.surface == "face":
            amount += "; the face is taken as no truer, being cut in one setting with it: common "
            amount += "practice, no source"
        amount += ")"
    yield f"{blind}; {amount}"


def _mm(mm: float | None) -> str:
    return f"{plain(mm or 0.0, 4).rstrip('0').rstrip('.')} mm"
