"""What a fitter's page is told: where each stage stands, what was written and answered there.

Each stage's part is a piece of HTML with a tag made of its bytes, so that a phone with a poor line
gets only what it has not seen.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

from kitwright.books.fitup_talk import Record
from kitwright.calc.quality.conformity import Verdict
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.picture import Picture
from kitwright.shop import dowels_in, fitups, pilot_engagement
from kitwright.shop.fitting import sweep_as_typed
from kitwright.shop.fitup_course import WORDS, Course
from kitwright.shop.fitup_stages import BY_NAME, STAGES, Stage
from kitwright.shop.fitup_verdicts import pilot_answers
from kitwright.units import Lead, say_length
from kitwright.web.fitup_said import said_of
from kitwright.web.fitup_written import written
from kitwright.web.pages import rendered
from kitwright.worksheets.centring.sweep_case import SweepAnswer, SweepCase
from kitwright.worksheets.declaration import load
from kitwright.worksheets.depth.release_gap_case import ReleaseGapAnswer
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.quality.conformity import ConformityCase
from kitwright.worksheets.reading import read
from kitwright.worksheets.showing import assumptions

_PILOT_U95: Final = 1e-6
_DOWELS: Final = BY_NAME["dowels"]


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What stands at a stage: sentences, pictures, what was written, and how it was reached."""

    said: tuple[str, ...] = ()
    verdict: Verdict | None = None
    pictures: tuple[Picture, ...] = ()
    written: tuple[tuple[str, str], ...] = ()
    how: str = ""
    assumed: tuple[str, ...] = ()
    record: Record | None = None


def state_of(course: Course, lead: Lead) -> dict[str, Any]:
    """Everything that changes on the page, as plain data."""
    stages = {}
    for stage in STAGES:
        shown = shown_at(course, stage, lead)
        html = rendered(
            "fitter-shown.html",
            shown=shown,
            back=shown.record is not None and shown.record.send_key in course.may_take_back,
            stage=stage,
        )
        status = course.status[stage.name]
        said = {} if shown.record is None else {"said": shown.record.said_json}
        word = shown.verdict or WORDS[status]
        stages[stage.name] = {"status": status, "word": word, **said, **_piece(html)}
    notes = rendered("fitter-notes.html", notes=course.notes)
    from_shop = [note.id for note in course.notes if note.side == "shop"]
    return {
        "number": course.view.fit_up.id,
        "ended": not course.view.open,
        "next": course.next,
        "stages": stages,
        "notes": {"from_shop": from_shop, **_piece(notes)},
        "dowels": _dowels_to_set(course),
    }


def _piece(html: str) -> dict[str, str]:
    if not html:
        return {"tag": ""}
    return {"tag": hashlib.sha256(html.encode()).hexdigest()[:10], "html": html}


def unseen(state: Mapping[str, Any], seen: Collection[str]) -> dict[str, Any]:
    """The same without the HTML of the pieces whose tags the page has."""

    def left(piece: Mapping[str, Any]) -> dict[str, Any]:
        gone = piece["tag"] in seen
        return {name: value for name, value in piece.items() if not (gone and name == "html")}

    stages = {name: left(piece) for name, piece in state["stages"].items()}
    return {**state, "stages": stages, "notes": left(state["notes"])}


def _dowels_to_set(course: Course) -> dict[str, Any]:
    """What the form of the dowels is filled with, and the sizes to choose from."""
    advice = course.view.advice
    filled: dict[str, str] = {}
    sizes = list(fitups.DRAWER)
    if advice is not None and advice.dowels_case is not None and advice.dowels_answer is not None:
        filled = dowels_in.as_advised(advice.dowels_case, advice.dowels_answer)
        sizes = [size.text for size in advice.dowels_case.sizes]
    own = [size for name, size in filled.items() if name.endswith("_size")]
    return {"filled": filled, "sizes": list(dict.fromkeys([dowels_in.PLAIN, *sizes, *own]))}


def shown_at(course: Course, stage: Stage, lead: Lead) -> Shown:
    """What stands at this stage."""
    record = course.record(stage.name)
    if stage.works == "verdict":
        return Shown(said=tuple(_verdict(course, lead)), verdict=_last_verdict(course))
    if stage.works == "dowels":
        return _dowels(course, record, lead)
    if stage.surface == "bore":
        return _bore(course, stage, record, lead)
    if record is None:
        return Shown()
    found = _SOLVED.get(stage.name, _list)(course, stage, record, lead)
    return replace(found, written=tuple(written(stage, record.said_json)), record=record)


def _list(course: Course, stage: Stage, record: Record, lead: Lead) -> Shown:
    stop = course.status[stage.name] == "stop"
    return Shown(said=("Stop here and call the shop before you go on.",) if stop else ())


def _face(course: Course, stage: Stage, record: Record, lead: Lead) -> Shown:
    answer = SweepAnswer.model_validate(record.answer_json)
    return Shown(
        said=(load("sweep").say(answer, lead), *_pilot_shift(course, answer, lead)),
        verdict=answer.verdict,
        pictures=_of_face(stage, record, answer, lead),
        how=answer.how,
        assumed=tuple(assumptions(SweepCase, answer)),
    )


def _gap(course: Course, stage: Stage, record: Record, lead: Lead) -> Shown:
    answer = ReleaseGapAnswer.model_validate(record.answer_json)
    return Shown(
        said=(load("release-gap").say(answer, lead),),
        verdict=answer.verdict,
        pictures=_drawn("release-gap", None, answer, lead),
        how=answer.how,
        assumed=tuple(assumptions(load("release-gap").case, answer)),
    )


def _pilot(course: Course, stage: Stage, record: Record, lead: Lead) -> Shown:
    answers = pilot_answers(record)
    return Shown(
        said=(pilot_engagement.say(answers, lead),), verdict=pilot_engagement.verdict(answers)
    )


_SOLVED: Final = {"face": _face, "gap": _gap, "pilot": _pilot}


# ── the bore, the verdict, the dowels ────────────────────────────────────────────────────


def _bore(course: Course, stage: Stage, record: Record | None, lead: Lead) -> Shown:
    """The newest sweep with its target; an older one in words. The shop may have entered it."""
    advice = course.view.advice
    sweeps = [step for step in course.view.standing if step.worksheet == "sweep"]
    newest = sweeps[-1].send_key if sweeps else None
    of_page = {each.send_key for each in course.records}
    by_shop = bool(sweeps) and newest not in of_page
    turned = any(step.state == "corrected" for step in course.view.standing)
    mine = record is not None and record.send_key == newest
    shops = by_shop and stage.name == ("bore-again" if turned else "bore")
    if advice is not None and (mine or shops):
        sweep = advice.sweep_answer
        drawn = _drawn("sweep", advice.sweep_case, sweep, lead)
        said = said_of(advice, lead)
        return Shown(
            said=(*said, *_next_best(course, said)),
            verdict=sweep.verdict,
            pictures=drawn,
            written=() if record is None or shops else tuple(written(stage, record.said_json)),
            how=sweep.how,
            assumed=tuple(assumptions(SweepCase, sweep)),
            record=None if shops else record,
        )
    if record is None:
        return Shown()
    answer = SweepAnswer.model_validate(record.answer_json)
    return Shown(
        said=("A later sweep counts in its place.", f"It said: {load('sweep').say(answer, lead)}"),
        verdict=answer.verdict,
        written=tuple(written(stage, record.said_json)),
        record=record,
    )


def _next_best(course: Course, said: Collection[str]) -> Iterator[str]:
    if course.status["verdict"] == "stop" and not any("call the shop" in line for line in said):
        yield "Stop here and call the shop."


def _last_verdict(course: Course) -> Verdict | None:
    advice = course.view.advice
    return None if advice is None else advice.sweep_answer.verdict


def _verdict(course: Course, lead: Lead) -> Iterator[str]:
    advice = course.view.advice
    if advice is None:
        yield "No sweep of the bore has been answered yet."
        return
    if course.status["bore-again"] == "open":
        yield "The dowels were turned: sweep the bore again."
        return
    bore = said_of(advice, lead)
    yield f"The bore. {bore[0]}"
    yield from bore[1:]
    record = course.record("face")
    if record is None:
        yield "The face is not swept yet."
        return
    face = SweepAnswer.model_validate(record.answer_json)
    yield f"The face. {load('sweep').say(face, lead)}"
    yield from _pilot_shift(course, face, lead)
    if course.status["verdict"] == "stop":
        yield "Stop here and call the shop."


def _pilot_shift(course: Course, face: SweepAnswer, lead: Lead) -> Iterator[str]:
    """Where the shaft's tip comes to, against what the conversion allows."""
    if face.pilot_shift_mm is None:
        return
    allowed = course.view.conversion.pilot_mm
    case = {
        "value": f"{face.pilot_shift_mm!r} mm",
        "u95": f"{max(face.pilot_shift_u95_mm or 0.0, _PILOT_U95)!r} mm",
        "limits": {"high": f"{allowed!r} mm"},
    }
    answer = load("conformity").solve(read(ConformityCase, case))
    shift, limit = (say_length(mm, lead=lead) for mm in (face.pilot_shift_mm, allowed))
    yield {
        "within": f"The shaft's tip stands {shift} off the pilot's middle, within {limit}.",
        "outside": f"The shaft's tip stands {shift} off the pilot's middle; {limit} is allowed.",
    }.get(
        answer.verdict,
        f"The shaft's tip stands {shift} off the pilot's middle, too close to {limit} to call.",
    )


def _dowels(course: Course, record: Record | None, lead: Lead) -> Shown:
    """What is advised now, or else what is in."""
    advice = course.view.advice
    status = course.status["dowels"]
    to_turn = status in ("open", "again") and advice is not None
    said: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    if to_turn and advice is not None:
        said = tuple(said_of(advice, lead)[1:])
        if advice.dowels_answer is not None:
            pictures = _drawn("dowels", advice.dowels_case, advice.dowels_answer, lead)[::-1]
    wrote = () if record is None else tuple(written(_DOWELS, record.said_json))
    return Shown(said=said, pictures=pictures, written=wrote, record=record)


def _drawn(name: str, case: Case | None, answer: Answer, lead: Lead) -> tuple[Picture, ...]:
    """The pictures of an answer. They are the dear part of a page: those drawn last are kept."""
    said = "" if case is None else case.model_dump_json(exclude_none=True)
    return _drawn_once(name, said, answer.model_dump_json(), lead)


@lru_cache(maxsize=256)
def _drawn_once(name: str, case: str, answer: str, lead: Lead) -> tuple[Picture, ...]:
    sheet = load(name)
    said = sheet.case.model_validate_json(case) if case else None
    found = sheet.answer.model_validate_json(answer)
    return tuple(pictures_of(name, said, found, lead=lead))


def _of_face(stage: Stage, record: Record, answer: SweepAnswer, lead: Lead) -> tuple[Picture, ...]:
    """The pictures of a kept sweep of the face."""
    typed = sweep_as_typed(stage, record.said_json)
    typed.pop("together", None)
    case = read(SweepCase, {"limit": f"{answer.limit_mm!r} mm", **typed})
    return _drawn("sweep", case, answer, lead)
