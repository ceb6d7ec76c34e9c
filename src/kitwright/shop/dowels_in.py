"""The dowels that are in a bell: as the fitter says they are, or else as they were advised."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from kitwright.books.fitups import FitUpStep
from kitwright.errors import InputError, Problem
from kitwright.worksheets.centring.dowels_case import (
    CandidateRow,
    DowelsAnswer,
    DowelsCase,
    Turned,
)
from kitwright.worksheets.centring.sweep import SweepAnswer
from kitwright.worksheets.reading import read

AS_TURNED: Final = "dowels as turned"
"""What a step is kept under that says which dowels are in; its case is a `Turned`."""

PLAIN: Final = "plain"
_DEGREES: Final = re.compile(r"[+-]?\d{1,4}(\.\d{1,9})?")
FIELDS: Final = ("a_size", "a_clock_deg", "b_size", "b_clock_deg")


def as_turned(typed: Mapping[str, Any]) -> Turned:
    """The dowels that a fitter says are in; a size that is empty or "plain" is a plain dowel.

    Raises
    ------
    InputError
        Every fault, at the field it is about.
    """
    given: dict[str, Any] = {}
    faults: list[Problem] = []
    for name, other in (("a", "b"), ("b", "a")):
        size = str(typed.get(f"{name}_size") or "").strip()
        slot = _slot(typed.get(f"{name}_clock_deg"))
        one: dict[str, Any] = {f"{name}_size": "0 mm"}
        if size.lower() not in ("", PLAIN):
            one = {f"{name}_size": size, f"{name}_clock_deg": slot}
        try:
            read(Turned, {**one, f"{other}_size": "0 mm"})
        except InputError as error:
            faults += [_at_its_field(problem) for problem in error.problems]
        given |= one
    if faults:
        raise InputError.of(faults)
    return read(Turned, given)


def _slot(typed: float | str | None) -> float | str | None:
    """Its degrees, or what was typed in place of them; None for nothing."""
    if typed is None:
        return None
    text = str(typed).strip().removesuffix("°").rstrip()
    return float(text) if _DEGREES.fullmatch(text) else text or None


def _at_its_field(problem: Problem) -> Problem:
    found = re.fullmatch(r"(\w+) is missing", problem.given)
    if found and not problem.where:
        return Problem(found[1], "missing", problem.expected)
    return problem


def kept_of(turned: Turned) -> dict[str, Any]:
    """The dowels as plain data, for the books and for a case of the worksheet `dowels`."""
    return turned.model_dump(mode="json", exclude_none=True)


def as_advised(case: DowelsCase, answer: DowelsAnswer) -> dict[str, str]:
    """What a form is filled with: sizes as they were written, slots in whole degrees."""
    best = _advised(answer)
    if best is None:
        return {}
    sizes = [*case.sizes]
    if case.turned is not None:
        sizes += [case.turned.a_size, case.turned.b_size]
    texts = {size.mm: size.text for size in sizes} | {0.0: PLAIN}
    slot_a, slot_b = answer.slots_deg(case.turned)
    filled = {}
    for name, size_mm, slot in (("a", best.a_size_mm, slot_a), ("b", best.b_size_mm, slot_b)):
        filled[f"{name}_size"] = texts.get(size_mm, f"{size_mm!r} mm")
        filled[f"{name}_clock_deg"] = "" if slot is None else str(round(slot) % 360)
    return filled


def _advised(answer: DowelsAnswer) -> CandidateRow | None:
    if answer.learned is not None:
        return answer.next_turn
    return None if answer.recommended is None else answer.candidates[answer.recommended]


def turned_before(taken: Sequence[FitUpStep]) -> dict[str, Any] | None:
    """The dowels that are in, and the offset of the bore with plain ones.

    Fields of the worksheet `dowels`; none of them where either is not known, and None where plain
    dowels are in.
    """
    plain_in, known = True, dict[str, Any]()
    setting: Turned | None = None
    for index, step in enumerate(taken):
        if step.state == "corrected":
            setting = _setting(taken[: index + 1])
            plain_in = setting is not None and not setting.a_size.mm and not setting.b_size.mm
        elif step.worksheet == "sweep" and plain_in:
            known = _swept(SweepAnswer.model_validate(step.answer_json))
        elif step.worksheet == "dowels":
            case = read(DowelsCase, step.case_json)
            known = _plain(case, DowelsAnswer.model_validate(step.answer_json))
    if plain_in:
        return None
    return {**known, "turned": kept_of(setting)} if setting is not None and known else {}


def _setting(taken: Sequence[FitUpStep]) -> Turned | None:
    """The dowels that the last of these steps put in, if it is known which."""
    if taken[-1].worksheet == AS_TURNED:
        return read(Turned, taken[-1].case_json)
    advised = [step for step in taken if step.worksheet == "dowels"]
    best = None
    if advised:
        best = _advised(DowelsAnswer.model_validate(advised[-1].answer_json))
    if best is None:
        return None
    sizes = {"a": best.a_size_mm, "b": best.b_size_mm}
    clocks = {"a": best.a_clock_deg, "b": best.b_clock_deg}
    return read(
        Turned,
        {
            **{f"{name}_size": f"{size!r} mm" for name, size in sizes.items()},
            **{f"{name}_clock_deg": at for name, at in clocks.items() if at is not None},
        },
    )


def _swept(answer: SweepAnswer) -> dict[str, Any]:
    return {
        "offset": f"{answer.offset_mm!r} mm",
        "offset_clock_deg": answer.offset_clock_deg,
        "offset_u95": f"{answer.offset_u95_mm!r} mm",
    }


def _plain(case: DowelsCase, answer: DowelsAnswer) -> dict[str, Any]:
    offset, clock_deg = case.offset.text, case.offset_clock_deg
    if answer.learned is not None:
        offset = f"{answer.learned.plain_offset_mm!r} mm"
        clock_deg = answer.learned.plain_offset_clock_deg
    u95 = {} if case.offset_u95 is None else {"offset_u95": case.offset_u95.text}
    return {"offset": offset, "offset_clock_deg": clock_deg, **u95}
