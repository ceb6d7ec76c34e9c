"""Everything that can go wrong, mapped in one place: a page for people, JSON for programs.

| raised | status |
|---|---|
| InputError and its kinds | 422 |
| MissingError | 404 |
| FaultError, or anything not raised on purpose | 500, with an incident that the log names too |
| the framework's own refusals | as they are, in our words |
"""

from __future__ import annotations

import logging
import re
import secrets
from collections.abc import Sequence
from typing import Any, Final

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from kitwright.errors import FaultError, InputError, MissingError, Problem
from kitwright.web.pages import frame_of, page
from kitwright.worksheets.reading import told

LOG: Final = logging.getLogger("kitwright.web")

MOST_LINES: Final = 200
_TOKEN: Final = re.compile(r"^(/[fm]/)[^/]+")
"""The part of an address that opens a thing without asking who one is."""

_TITLES: Final = {
    403: "Not from here",
    404: "Not found",
    405: "Not this way",
    410: "This link is closed",
    413: "Too large",
    421: "Not this address",
    422: "This cannot be used",
    500: "A fault of ours",
}


class ProblemLine(BaseModel):
    """One fault: where, what was given, what is expected."""

    where: str
    given: str
    expected: str


class Refusal(BaseModel):
    """What the API answers instead of an answer; `lines` are the terminal's own."""

    problems: list[ProblemLine]
    lines: list[str]


class _Parameters(BaseModel):
    """What an address carries beside its path; its names are nested in nothing."""


def status_of(error: InputError) -> int:
    """404 for what is not there, 422 for what cannot be used."""
    return 404 if isinstance(error, MissingError) else 422


def refusal(request: Request, status: int, problems: Sequence[Problem]) -> Response:
    """The answer to a request that is not answered, as its asker reads it."""
    problems = [_sayable(problem) for problem in problems]
    if _asks_for_json(request):
        return JSONResponse(
            {
                "problems": [
                    {"where": p.where, "given": p.given, "expected": p.expected} for p in problems
                ],
                "lines": [str(problem) for problem in problems],
            },
            status_code=status,
        )
    lines = [str(problem) for problem in problems[:MOST_LINES]]
    if len(problems) > MOST_LINES:
        lines.append(f"and {len(problems) - MOST_LINES} more")
    title = _TITLES.get(status, "This did not work")
    return page(request, "error.html", status=status, title=title, lines=lines)


def _sayable(problem: Problem) -> Problem:
    """The same; half of a character, which JSON can carry and no text, is told by its number."""
    where, given, expected = (
        part.encode("utf-8", "backslashreplace").decode()
        for part in (problem.where, problem.given, problem.expected)
    )
    return Problem(where, given, expected)


def _asks_for_json(request: Request) -> bool:
    wanted = request.headers.get("accept", "")
    return request.scope["path"].startswith("/api/") or wanted.startswith("application/json")


def too_large(words: str) -> Problem:
    """The line for a body that is not read."""
    return Problem("", words, "send less, or use the terminal")


def incident(request: Request, error: Exception) -> Response:
    """The answer to a fault of ours; the log has the whole of it under the same number."""
    number = secrets.token_hex(4)
    path = _TOKEN.sub(r"\1...", request.scope["path"])  # who reads a log holds no link
    LOG.error("incident %s: %s %s", number, request.method, path, exc_info=error)
    given = "a fault of ours, not of your input"
    if isinstance(error, FaultError):
        given = f"{given}: {error}"
    return refusal(request, 500, [Problem("", given, f"tell us its number, {number}")])


def _input_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, InputError)
    return refusal(request, status_of(error), error.problems)


def _validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    details: Any = [{**detail, "loc": detail["loc"][1:]} for detail in error.errors()]
    return refusal(request, 422, list(told(details, _Parameters)))


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    path = request.scope["path"]
    problem = {
        404: Problem("", f"there is no page {path}", _start(request)),
        405: Problem("", f"{path} does not take {request.method}", "see the docs"),
        413: too_large(str(error.detail)),
    }.get(error.status_code, Problem("", str(error.detail)))
    response = refusal(request, error.status_code, [problem])
    response.headers.update(error.headers or {})
    return response


def _start(request: Request) -> str:
    return (
        "start at the first page"
        if frame_of(request).home
        else "use the link that the shop gave you"
    )


def install(app: FastAPI) -> None:
    """Let the app answer every error from here."""
    app.add_exception_handler(InputError, _input_error)
    app.add_exception_handler(FaultError, incident)
    app.add_exception_handler(RequestValidationError, _validation)
    app.add_exception_handler(HTTPException, _http)
