"""The JSON API of the worksheets: a route each, typed from its declaration."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel, create_model
from pydantic.json_schema import models_json_schema
from starlette.requests import Request
from starlette.responses import Response

from kitwright.errors import FileError
from kitwright.web.problems import Refusal
from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.reading import from_json, from_toml, read
from kitwright.worksheets.writing import flat

_LINK: Final = "#/components/schemas/{model}"


class Line(BaseModel):
    """A worksheet in the list of all: its name, the stage of the job, its question."""

    name: str
    stage: str
    question: str
    path: str


class Sheet(Line):
    """One worksheet: what it takes, an example, what it rests on."""

    case: dict[str, Any]
    """JSON schema of the case."""
    example: dict[str, Any]
    """A case that can be posted as it is."""
    example_toml: str
    """The same, commented, for the terminal."""
    cautions: list[str]
    sources: list[str]


def _path(name: str) -> str:
    return f"/api/worksheets/{name}"


async def _case(request: Request) -> Any:
    """The body as JSON, whatever it is said to be."""
    body = await request.body()
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError("case", f"not UTF-8 at byte {error.start}", "send it as UTF-8") from None
    return from_json(text)


def _solver(worksheet: Worksheet) -> Callable[..., Response]:
    def solve(case: Annotated[Any, Depends(_case)]) -> Response:
        answer = worksheet.solve(read(worksheet.case, case))
        told = json.dumps(flat(worksheet, answer), ensure_ascii=False, allow_nan=False)
        return Response(told, media_type="application/json")

    return solve


def listed() -> list[Line]:
    """Every worksheet in the order of the job."""
    return [
        Line(name=entry.name, stage=entry.stage, question=entry.question, path=_path(entry.name))
        for entry in CONTENTS
    ]


def sheet(name: str) -> Sheet:
    """One worksheet, with the schema of its case and an example."""
    worksheet = load(name)
    return Sheet(
        name=worksheet.name,
        stage=worksheet.stage,
        question=worksheet.question,
        path=_path(worksheet.name),
        case=worksheet.case.model_json_schema(),
        example=from_toml(worksheet.example),
        example_toml=worksheet.example.strip() + "\n",
        cautions=[f"{caution.word}: {caution.text}" for caution in worksheet.cautions],
        sources=list(worksheet.sources),
    )


def _missing(name: str) -> None:
    load(name)  # a worksheet that is there has a route of its own; this one names the nearest


def install(app: FastAPI) -> None:
    """Add the API's routes, and the models that its description refers to."""
    worksheets = [load(entry.name) for entry in CONTENTS]
    links, models = _schemas(worksheets)
    refused = {"description": "It cannot be used", **_json(links[Refusal])}
    router = APIRouter(tags=["worksheets"])
    router.add_api_route(
        "/api/worksheets", listed, response_model=list[Line], operation_id="list_worksheets"
    )
    for worksheet in worksheets:
        router.add_api_route(
            _path(worksheet.name),
            _solver(worksheet),
            methods=["POST"],
            summary=worksheet.question,
            operation_id=f"solve_{worksheet.name.replace('-', '_')}",
            openapi_extra={
                "requestBody": {"required": True, **_json(links[worksheet.case])},
            },
            responses={
                200: {"description": "The answer", **_json(links[worksheet.answer])},
                422: refused,
            },
        )
    router.add_api_route(
        "/api/worksheets/{name}",
        sheet,
        response_model=Sheet,
        operation_id="show_worksheet",
        responses={404: refused},
    )
    router.add_api_route(
        "/api/worksheets/{name}", _missing, methods=["POST"], include_in_schema=False
    )
    app.include_router(router)

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = get_openapi(
                title=app.title,
                version=app.version,
                description=app.description,
                routes=app.routes,
            )
            schema.setdefault("components", {}).setdefault("schemas", {}).update(models)
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = described  # type: ignore[method-assign]


def _json(link: dict[str, Any]) -> dict[str, Any]:
    return {"content": {"application/json": {"schema": link}}}


def _schemas(
    worksheets: list[Worksheet],
) -> tuple[dict[type[BaseModel], dict[str, Any]], dict[str, Any]]:
    """Model → link to its schema, and the schemas by name, of every case and answer.

    One call for all, so that two models of one name get two names.
    """
    answers = {
        worksheet.answer: create_model(
            worksheet.answer.__name__,
            __base__=worksheet.answer,
            sources=(list[str], ...),
            cautions=(list[str], ...),
        )
        for worksheet in worksheets
    }
    links, whole = models_json_schema(
        [
            *((worksheet.case, "validation") for worksheet in worksheets),
            *((answer, "serialization") for answer in answers.values()),
            (Refusal, "serialization"),
        ],
        ref_template=_LINK,
    )
    by_model: dict[Any, dict[str, Any]] = {model: link for (model, _), link in links.items()}
    for answer, told in answers.items():
        by_model[answer] = by_model[told]
    return by_model, whole["$defs"]
