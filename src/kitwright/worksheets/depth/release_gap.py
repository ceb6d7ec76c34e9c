"""Is the release bearing where it must be?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from kitwright.calc.depth.release_gap import ReleaseGap, Stroke, Wear, release_gap
from kitwright.calc.depth.repeats import (
    GRADUATION_MM,
    LONE_READING_U95_MM,
    Distance,
    combined,
)
from kitwright.calc.depth.shims import Shim
from kitwright.calc.quality.conformity import OUTSIDE, UNDECIDED, VERDICTS, WITHIN
from kitwright.errors import InputError
from kitwright.units import show_length
from kitwright.worksheets.contents import heading
from kitwright.worksheets.declaration import Worksheet
from kitwright.worksheets.depth.limits import Gap, GapAnswer
from kitwright.worksheets.depth.release_gap_case import (
    Measured,
    ReleaseGapAnswer,
    ReleaseGapCase,
    ShimsUsed,
)
from kitwright.worksheets.depth.release_gap_said import (
    CAUTIONS,
    EXAMPLE,
    HOW,
    SOURCES,
    STROKE_LEFT,
    WORN,
    gap_reason,
    rest_reason,
    say,
)
from kitwright.worksheets.fields import Length

COMMON_GAP: Final = Gap(low=Length("1/8 in"), high=Length("1/4 in"))
"""Before bleeding: common practice, no source; the bearing maker's figure rules."""


def solve(case: ReleaseGapCase) -> ReleaseGapAnswer:
    """Find the gap, choose shims, and judge what follows."""
    for name, other in (("stroke", "release_travel"), ("release_travel", "stroke")):
        if getattr(case, name) is None and getattr(case, other) is not None:
            raise InputError(name, "missing", f"{other} needs it")
    gap = case.gap or COMMON_GAP
    fingers, bearing = _distance(case, "face_to_fingers"), _distance(case, "face_to_bearing")
    wear = stroke = None
    if case.clutch is not None:
        wear = Wear(disc_wear_mm=case.clutch.disc_wear.mm, finger_ratio=case.clutch.finger_ratio)
    if case.stroke is not None and case.release_travel is not None:
        stroke = Stroke(stroke_mm=case.stroke.mm, release_travel_mm=case.release_travel.mm)
    found = release_gap(
        fingers,
        bearing,
        low_mm=gap.low_mm,
        high_mm=gap.high_mm,
        shims=[Shim(thickness_mm=part.thickness.mm, count=part.count) for part in case.shims],
        wear=wear,
        stroke=stroke,
    )
    best = found.best
    least, most = found.wanted_mm
    return ReleaseGapAnswer(
        verdict=VERDICTS[best.code],
        gap_mm=found.gap_mm,
        gap_u95_mm=found.u95_mm,
        gap=GapAnswer.of(gap),
        shims_used=[
            ShimsUsed(thickness_mm=part.thickness.mm, count=count)
            for part, count in zip(case.shims, best.pile.counts, strict=True)
            if count
        ],
        shims_total_mm=best.pile.total_mm,
        gap_shimmed_mm=best.gap_mm,
        gap_worn_mm=best.worn_mm,
        stroke_left_mm=best.stroke_left_mm,
        shims_from_mm=max(0.0, least) if most >= 0 and math.isfinite(least) else None,
        shims_to_mm=most if most >= 0 and math.isfinite(most) else None,
        face_to_fingers_mm=fingers.mm,
        face_to_fingers_u95_mm=2 * fingers.u_mm,
        face_to_bearing_mm=bearing.mm,
        face_to_bearing_u95_mm=2 * bearing.u_mm,
        reasons=list(_reasons(found, gap)),
        assumed=list(_assumed(case)),
        how=HOW,
    )


def _distance(case: ReleaseGapCase, name: Measured) -> Distance:
    """The mean of the readings, with the straightedge's thickness allowed for."""
    readings: list[Length] = getattr(case, name)
    edge = case.straightedge
    by = Fraction(0)
    if edge is not None and edge.over in (name, "both"):
        by = edge.thickness.exact if edge.reading == "short" else -edge.thickness.exact
    u95 = None if case.reading_u95 is None else case.reading_u95.mm
    distance = combined(
        [float(reading.exact + by) for reading in readings], reading_u95_mm=u95, where=name
    )
    if distance.mm < 0:
        said = f"{show_length(distance.mm)} is negative"
        raise InputError(name, said, "check the readings and the straightedge")
    return distance


# ── in words ─────────────────────────────────────────────────────────────────────────────


def _reasons(found: ReleaseGap, gap: Gap) -> Iterator[str]:
    """Why the verdict is what it is: first what is against, then what is for."""

    def length(mm: float) -> str:
        return str(show_length(mm))

    best = found.best
    told = [(best.gap_code, gap_reason(best.gap_code, best.gap_mm, GapAnswer.of(gap), length))]
    for what, mm, code in (
        (WORN, best.worn_mm, best.worn_code),
        (STROKE_LEFT, best.stroke_left_mm, best.stroke_code),
    ):
        if mm is not None and code is not None:
            told.append((code, rest_reason(code, what, mm, length)))
    for code in (OUTSIDE, UNDECIDED, WITHIN):
        yield from (words for each, words in told if each == code)


def _assumed(case: ReleaseGapCase) -> Iterator[str]:
    if case.gap is None:
        yield (
            "The limits of the gap are 1/8 to 1/4 in: common practice, no source; the bearing "
            "maker's figure rules."
        )
    edge = case.straightedge
    if edge is not None and "reading" not in edge.model_fields_set:
        yield "The straightedge's thickness is added: the readings came out short of the distance."
    if case.reading_u95 is None:
        yield from _readings_assumed(case)
    yield "Shims are as thick as they are marked."
    if case.clutch is None:
        yield "Wear is not judged: the clutch's figures are not given."
    else:
        yield "The fingers rise toward the bearing in step with the wear of the whole disc."
    if case.stroke is None:
        yield "Stroke is not judged: the bearing's figures are not given."


def _readings_assumed(case: ReleaseGapCase) -> Iterator[str]:
    counts = {len(case.face_to_fingers), len(case.face_to_bearing)}
    if 1 in counts:
        yield (
            f"A distance read once is known to ± {LONE_READING_U95_MM:g} mm (k = 2): common "
            "practice, no source."
        )
    if counts != {1}:
        yield (
            "Readings taken again show by their spread how well they are known, but no better than "
            f"a graduation of {GRADUATION_MM:g} mm."
        )


WORKSHEET = Worksheet(
    heading=heading("release-gap"),
    case=ReleaseGapCase,
    answer=ReleaseGapAnswer,
    solve=solve,
    say=say,
    sources=SOURCES,
    cautions=CAUTIONS,
    example=EXAMPLE,
)
