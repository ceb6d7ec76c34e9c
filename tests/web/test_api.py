"""The JSON API answers what the terminal answers, in the same words."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from kitwright.cli.work import work
from kitwright.errors import InputError
from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.reading import from_toml, read

NAMES = [entry.name for entry in CONTENTS]


@pytest.fixture(params=NAMES)
def worksheet(request: pytest.FixtureRequest) -> Worksheet:
    return load(request.param)


def address(worksheet: Worksheet) -> str:
    return f"/api/worksheets/{worksheet.name}"


def test_the_list_follows_the_job(client: TestClient) -> None:
    assert client.get("/api/worksheets").json() == [
        {
            "name": entry.name,
            "stage": entry.stage,
            "question": entry.question,
            "path": f"/api/worksheets/{entry.name}",
        }
        for entry in CONTENTS
    ]


def test_a_worksheet_says_what_it_takes(client: TestClient, worksheet: Worksheet) -> None:
    told = client.get(address(worksheet)).json()
    assert told["question"] == worksheet.question
    assert told["case"] == worksheet.case.model_json_schema()
    assert told["example"] == from_toml(worksheet.example) == from_toml(told["example_toml"])
    assert told["sources"] == list(worksheet.sources)
    assert len(told["cautions"]) == len(worksheet.cautions)


def test_the_example_is_answered_as_at_the_terminal(
    client: TestClient, worksheet: Worksheet
) -> None:
    case = client.get(address(worksheet)).json()["example"]
    answer = client.post(address(worksheet), json=case)
    assert answer.status_code == 200
    printed = CliRunner().invoke(
        work, [worksheet.name, "-", "--json"], input=json.dumps(case), catch_exceptions=False
    )
    assert answer.text == printed.output.rstrip("\n")
    whole = answer.json()
    assert set(worksheet.answer.model_fields) | {"sources", "cautions"} == set(whole)
    assert isinstance(whole["assumed"], list)
    assert whole["how"]


def test_a_bad_case_is_refused_in_the_lines_of_the_terminal(
    client: TestClient, worksheet: Worksheet
) -> None:
    for case in ({}, {**from_toml(worksheet.example), "no_such_name": 1}, []):
        answer = client.post(address(worksheet), json=case)
        assert answer.status_code == 422
        with pytest.raises(InputError) as caught:
            read(worksheet.case, case)
        assert answer.json() == {
            "problems": [
                {"where": p.where, "given": p.given, "expected": p.expected}
                for p in caught.value.problems
            ],
            "lines": list(caught.value.lines),
        }


def test_a_fault_found_in_solving_is_refused_too(client: TestClient) -> None:
    case = {"value": "1 mm", "u95": "0.1 mm", "limits": {"low": "3 mm", "high": "2 mm"}}
    answer = client.post("/api/worksheets/conformity", json=case)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["where"] == "limits"
    assert "swap them" in answer.json()["lines"][0]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "case: not JSON"),
        (b"{", "case: not JSON"),
        (b"[" * 100_000, "case: nested too deeply"),
        (b'{"value": ' + b"[" * 900 + b"]" * 900 + b"}", "the case cannot be read"),
        (b"\xff\xfe", "case: not UTF-8 at byte 0"),
        (b"null", "not a table of names and values"),
        (b'"text"', "not a table of names and values"),
        (b'{"value": "\\ud800"}', "the case cannot be read"),
        (b'{"\\ud800": 1}', "the case cannot be read"),
        (b'{"value": 1e999}', '"inf" is not a length'),
        (b'{"value": NaN}', "value: "),
        (b'{"value": 1' + b"0" * 5000 + b"}", "case: not JSON"),
        (b'{"value": "' + b"9" * 100_000 + b' mm"}', "is not a length"),
    ],
)
def test_hostile_bodies_are_refused(client: TestClient, body: bytes, words: str) -> None:
    answer = client.post("/api/worksheets/conformity", content=body)
    assert answer.status_code == 422
    told = answer.json()
    assert words in "\n".join(told["lines"])
    assert len(told["lines"]) == len(told["problems"]) > 0


def test_any_content_type_is_read_as_json(client: TestClient) -> None:
    """`curl -d` calls everything a form."""
    case = json.dumps(from_toml(load("conformity").example))
    for kind in ("application/x-www-form-urlencoded", "text/plain", "application/json"):
        answer = client.post(
            "/api/worksheets/conformity", content=case, headers={"Content-Type": kind}
        )
        assert answer.status_code == 200
    with_mark = "\ufeff" + case
    assert client.post("/api/worksheets/conformity", content=with_mark.encode()).status_code == 200


def test_an_unknown_worksheet_is_404_with_the_nearest_name(client: TestClient) -> None:
    for method in ("GET", "POST"):
        answer = client.request(method, "/api/worksheets/sweeep")
        assert answer.status_code == 404
        assert answer.json()["problems"] == [
            {
                "where": "worksheet",
                "given": 'there is no worksheet "sweeep"',
                "expected": 'did you mean "sweep"?',
            }
        ]


# ── the description ──────────────────────────────────────────────────────────────────────


def links(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "$ref":
                yield inner
            elif key == "mapping" and isinstance(inner, dict):
                yield from inner.values()
            else:
                yield from links(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from links(inner)


def resolved(whole: dict[str, Any], link: str) -> Any:
    assert link.startswith("#/")
    here: Any = whole
    for part in link.removeprefix("#/").split("/"):
        here = here[part]
    return here


def test_the_description_is_typed_and_whole(client: TestClient) -> None:
    whole = client.get("/api/openapi.json").json()
    assert whole["openapi"].startswith("3.")
    for link in links(whole):
        assert resolved(whole, link)
    for name in NAMES:
        worksheet, route = load(name), whole["paths"][f"/api/worksheets/{name}"]["post"]
        assert route["summary"] == worksheet.question
        body = route["requestBody"]["content"]["application/json"]["schema"]
        case = resolved(whole, body["$ref"])
        fields = worksheet.case.model_fields.items()
        assert list(case["properties"]) == [field.alias or name for name, field in fields]
        answer = route["responses"]["200"]["content"]["application/json"]["schema"]
        told = resolved(whole, answer["$ref"])["properties"]
        assert set(told) == set(worksheet.answer.model_fields) | {"sources", "cautions"}
        refusal = route["responses"]["422"]["content"]["application/json"]["schema"]
        assert set(resolved(whole, refusal["$ref"])["properties"]) == {"problems", "lines"}
    ids = [route["operationId"] for path in whole["paths"].values() for route in path.values()]
    assert len(ids) == len(set(ids))


def test_pages_are_no_part_of_the_description(client: TestClient) -> None:
    paths = client.get("/api/openapi.json").json()["paths"]
    assert all(path.startswith("/api/") for path in paths)


def test_what_the_documentation_shows_is_what_happens(client: TestClient) -> None:
    page = (Path(__file__).parents[2] / "docs" / "pages.md").read_text("utf-8")
    [sent] = re.findall(r"-d '(.*)'", page)
    assert client.post("/api/worksheets/conformity", content=sent).status_code == 200
    [told] = re.findall(r'^```\n(\{"problems".*?)^```', page, re.MULTILINE | re.DOTALL)
    bad = sent.replace("158.012 mm", "158.012")
    assert client.post("/api/worksheets/conformity", content=bad).json() == json.loads(told)
    described = set(client.get("/api/openapi.json").json()["paths"])
    for path in re.findall(r"`(?:GET|POST) (/api/\S+)`", page):
        named = path.replace("NAME", "conformity")
        assert named in described or client.get(named).status_code == 200
