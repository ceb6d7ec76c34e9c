"""Does the shaft's tip run in the pilot bearing, and clear of the bottom behind it?

Three depths, each read once, and the worksheet `conformity` on what they leave.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from kitwright.calc.depth.repeats import LONE_READING_U95_MM
from kitwright.calc.quality.conformity import Verdict
from kitwright.units import Lead, parse, say_length
from kitwright.worksheets.declaration import load
from kitwright.worksheets.quality.conformity import ConformityAnswer, ConformityCase
from kitwright.worksheets.reading import read

WORKSHEET: Final = "conformity"
_U95_MM: Final = math.sqrt(2) * LONE_READING_U95_MM
_DECIMALS: Final = 6


def solve(typed: Mapping[str, str]) -> dict[str, ConformityAnswer]:
    """How far the tip reaches into the bearing, and how far it stays clear of the bottom.

    Parameters
    ----------
    typed
        The fields of the stage "pilot", as lengths with their unit.
    """
    tip = parse(typed["face_to_tip"], where="face_to_tip")
    engaged = float(tip - parse(typed["face_to_pilot"], where="face_to_pilot"))
    clear = float(parse(typed["face_to_bottom"], where="face_to_bottom") - tip)
    return {
        "engaged": _judged(engaged, typed.get("least", "0 mm")),
        "clear": _judged(clear, "0 mm"),
    }


def _judged(value_mm: float, least: str) -> ConformityAnswer:
    case = {
        "value": f"{round(value_mm, _DECIMALS)!r} mm",
        "u95": f"{round(_U95_MM, _DECIMALS)!r} mm",
        "limits": {"low": least},
    }
    answer = load(WORKSHEET).solve(read(ConformityCase, case))
    assert isinstance(answer, ConformityAnswer)
    return answer


def verdict(found: Mapping[str, ConformityAnswer]) -> Verdict:
    """The worse of the two."""
    verdicts = {answer.verdict for answer in found.values()}
    for word in ("outside", "too close to call"):
        if word in verdicts:
            return word
    return "within"


def say(found: Mapping[str, ConformityAnswer], lead: Lead) -> str:
    """What a fitter is told of it."""
    engaged, clear = found["engaged"], found["clear"]
    into, left = (say_length(answer.value_mm, lead=lead) for answer in (engaged, clear))
    least = engaged.limits.low_mm or 0.0
    wanted = f", and {say_length(least, lead=lead)} is the least" if least else ""
    if engaged.value_mm <= 0:
        return "Stop: the shaft's tip does not reach the pilot bearing."
    if clear.value_mm <= 0:
        return "Stop: the shaft's tip stands on the bottom before the faces meet."
    if engaged.verdict == "outside":
        return f"Stop: the tip reaches in by {into}{wanted}."
    if verdict(found) == "too close to call":
        return (
            f"Too close to call: the tip reaches in by {into}{wanted}, and stays {left} off the "
            "bottom. Measure again, at more places."
        )
    return f"The tip reaches in by {into}{wanted}, and stays {left} off the bottom."
