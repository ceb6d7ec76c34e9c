"""The worksheets' pages: a list by stage of the job, and for each its question, form and answer."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Final, Protocol

from fastapi import APIRouter, Depends
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from kitwright.errors import InputError, MissingError, Problem
from kitwright.paper.worksheet_sheet import worksheet_pdf
from kitwright.pictures.sound import guide_of
from kitwright.web.answered import answered as answer_shown
from kitwright.web.answered import first_answer
from kitwright.web.forms import ACTIONS, WHAT_IF, Filled, Form
from kitwright.web.forms.views import id_of
from kitwright.web.held import Held, by_name
from kitwright.web.pages import frame_of, page
from kitwright.worksheets.contents import CONTENTS, STAGES
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.fields import Answer, Case
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.writing import to_toml

MOST_FIELDS: Final = 5000

router = APIRouter(include_in_schema=False)

Sent = list[tuple[str, str]]


async def _sent(request: Request) -> Sent:
    """The fields of a posted form; a file that its worksheet asks for is held, and its field says
    the reference."""
    files = _form(request.path_params["name"]).files
    try:
        async with request.form(max_files=len(files), max_fields=MOST_FIELDS) as form:
            sent = form.multi_items()
            handed_in = [
                (name, held_of(request).hand_in(value.filename, await value.read()))
                for name, value in sent
                if isinstance(value, UploadFile) and value.filename and name in files
            ]
    except HTTPException as error:
        if error.status_code != 400:
            raise
        raise InputError(
            "form", f"cannot be read: {error.detail}", "give the case at the terminal"
        ) from None
    rest = [(name, value) for name, value in sent if isinstance(value, str)]
    return handed_in + rest  # of two under one name the first counts


class Filler(Protocol):
    """What a shop's books know of a worksheet's case."""

    @property
    def words(self) -> str:
        """What it fills in."""
        ...

    def offers(self, request: Request) -> Sequence[tuple[str, str]]:
        """What there is to choose from: a key and its words."""
        ...

    def data(self, request: Request, key: str) -> dict[str, Any]:
        """The part of a case that the books know."""
        ...


def filler_of(request: Request, name: str) -> Filler | None:
    """The shop's filler for this worksheet; without a shop there is none."""
    found: Filler | None = request.app.state.fillers.get(name)
    return found


@cache
def _form(name: str) -> Form:
    return Form.of(load(name))


def held_of(request: Request) -> Held:
    """What this app holds of what was handed in at its pages."""
    held = request.app.state.held
    assert isinstance(held, Held)
    return held


@router.get("/worksheets/held/{digest}")
def listened_to(request: Request, digest: str) -> Response:
    """A recording or a sound, for the page's player."""
    data = held_of(request).found(digest)
    if data is None:
        raise MissingError("sound", "it is no longer held here", "work the case out again")
    return _part_of(data, request.headers.get("range", ""))


_RANGE: Final = re.compile(r"bytes=([0-9]{1,12})-([0-9]{0,12})")


def _part_of(data: bytes, asked: str) -> Response:
    """The whole, or the part that a player asks for: some play nothing that comes whole."""
    headers = {"Accept-Ranges": "bytes", "Cache-Control": "private, max-age=3600"}
    match = _RANGE.fullmatch(asked)
    if match is None or int(match[1]) >= len(data):
        return Response(data, media_type="audio/wav", headers=headers)
    first = int(match[1])
    last = min(int(match[2]) if match[2] else len(data) - 1, len(data) - 1)
    headers["Content-Range"] = f"bytes {first}-{last}/{len(data)}"
    return Response(data[first : last + 1], 206, media_type="audio/wav", headers=headers)


@router.get("/worksheets")
def contents(request: Request) -> Response:
    """Every worksheet with its question, by stage of the job."""
    stages = [(stage, [entry for entry in CONTENTS if entry.stage == stage]) for stage in STAGES]
    return page(
        request,
        "worksheets.html",
        current="worksheets",
        stages=[(stage, entries) for stage, entries in stages if entries],
    )


@router.get("/worksheets/{name}")
def blank(request: Request, name: str, example: str = "", books: str = "") -> Response:
    """A worksheet with an empty form, or with its example or what the books know filled in."""
    worksheet = load(name)
    source = filler_of(request, name)
    text = worksheet.example.strip() + "\n"
    values: dict[str, str] = {}
    if books and source is not None:
        data = source.data(request, books)
        text = to_toml(data)
        try:
            values = _form(name).written(data)
        except InputError:  # more rows than a form holds: it is shown as text
            return _page(request, worksheet, _Given(text=text))
    elif example:
        values = _form(name).written(from_toml(worksheet.example))
    return _page(request, worksheet, _Given(text=text, filled=Filled(data={}, values=values)))


@router.post("/worksheets/{name}")
def solved(request: Request, name: str, sent: Annotated[Sent, Depends(_sent)]) -> Response:
    """The answer above the form as it was filled; or the form with what is to be mended."""
    worksheet = load(name)
    asked = {key: value for key, value in sent if key in ACTIONS}
    if "text" in asked:
        return _page(request, worksheet, _given(request, worksheet, asked["text"]))
    form = _form(name)
    first = dict(sent).get(WHAT_IF)
    if first is not None:
        return _tried(request, worksheet, form.read(sent), first)
    filled = form.changed(sent, **asked) if asked else form.read(sent)
    given = _Given(text=to_toml(filled.data), filled=filled, problems=filled.problems)
    if not asked and not filled.problems:
        given = _worked(request, worksheet, given, filled.data)
    return _page(request, worksheet, given)


def _tried(request: Request, worksheet: Worksheet, filled: Filled, first: str) -> Response:
    """What a page that is open asks as a value changes: the answer beside the first one, or the
    messages with the fields of that page that they belong to."""
    before = first_answer(worksheet.name, first, held_of(request).opened)
    given = _Given(text=to_toml(filled.data), filled=filled, problems=filled.problems)
    if not filled.problems:
        given = _worked(request, worksheet, given, filled.data)
    shown = None
    if given.case is not None and given.answer is not None:
        lead = frame_of(request).lead
        keep = held_of(request).keep
        shown = answer_shown(
            worksheet, given.case, given.answer, lead=lead, before=before, keep=keep
        )
    form = _form(worksheet.name).filled(filled.values, given.problems, filled.shown)
    messages: dict[str, list[str]] = {}
    for fault in form.faults:
        messages.setdefault(id_of(filled.as_sent(fault.name)), []).append(fault.text)
    return page(
        request,
        "what-if.html",
        status=422 if given.problems else 200,
        worksheet=worksheet,
        answered=shown,
        text=given.text,
        messages=messages,
    )


@router.post("/worksheets/{name}/pdf")
def printed(request: Request, name: str, sent: Annotated[Sent, Depends(_sent)]) -> Response:
    """The sheet of a case given as text, to print."""
    worksheet, frame = load(name), frame_of(request)
    given = _given(request, worksheet, dict(sent).get("text", ""))
    if given.case is None or given.answer is None:
        return _page(request, worksheet, given)
    today = datetime.datetime.now(datetime.UTC).astimezone().date()
    data = worksheet_pdf(
        worksheet, given.case, given.answer, lead=frame.lead, date=today, shop_name=frame.shop_name
    )
    return _download(data, "application/pdf", f'inline; filename="{name}.pdf"')


@router.post("/worksheets/{name}/case")
def kept(request: Request, name: str, sent: Annotated[Sent, Depends(_sent)]) -> Response:
    """The text of a case as a file for the terminal; what cannot be read is no case."""
    worksheet = load(name)
    given = _given(request, worksheet, dict(sent).get("text", ""))
    if given.case is None:
        return _page(request, worksheet, given)
    data = by_name(given.text).encode("utf-8")
    return _download(data, "application/toml", f'attachment; filename="{name}.toml"')


def _download(data: bytes, kind: str, disposition: str) -> Response:
    return Response(data, media_type=kind, headers={"Content-Disposition": disposition})


@dataclass(frozen=True, kw_only=True)
class _Given:
    """What was given of a case, how far it came, and what stopped it."""

    text: str
    filled: Filled | None = None
    """None where a form does not hold all of it."""
    problems: Sequence[Problem] = ()
    case: Case | None = None
    answer: Answer | None = None


def _given(request: Request, worksheet: Worksheet, text: str) -> _Given:
    """A case given as TOML; the text stays as it is, with its comments."""
    given = _Given(text=text.replace("\r\n", "\n"), filled=Filled(data={}, values={}))
    try:
        data = from_toml(given.text)
    except InputError as error:
        return replace(given, problems=error.problems)
    try:
        filled = Filled(data=data, values=_form(worksheet.name).written(data))
    except InputError:
        return _worked(request, worksheet, replace(given, filled=None), data)
    return _worked(request, worksheet, replace(given, filled=filled), data)


def _worked(request: Request, worksheet: Worksheet, given: _Given, data: dict[str, Any]) -> _Given:
    """What is given, with its case and answer or with what stands against them."""
    try:
        case = read(worksheet.case, data, files=held_of(request).opened)
        given = replace(given, case=case)
        return replace(given, answer=worksheet.solve(case))
    except InputError as error:
        return replace(given, problems=error.problems)


def _page(request: Request, worksheet: Worksheet, given: _Given) -> Response:
    filled = given.filled or Filled(data={}, values={})
    form = _form(worksheet.name).filled(filled.values, given.problems, filled.shown)
    filler = filler_of(request, worksheet.name)
    answered = None
    if given.case is not None and given.answer is not None:
        lead = frame_of(request).lead
        keep = held_of(request).keep
        answered = answer_shown(worksheet, given.case, given.answer, lead=lead, keep=keep)
    return page(
        request,
        "worksheet.html",
        current="worksheets",
        status=422 if given.problems else 200,
        worksheet=worksheet,
        form=form,
        fits=given.filled is not None,
        started=bool(filled.values),
        text=given.text,
        answered=answered,
        records=bool(_form(worksheet.name).files),
        guide=guide_of(worksheet.name),
        filler=filler,
        offers=filler.offers(request) if filler is not None and answered is None else (),
    )
