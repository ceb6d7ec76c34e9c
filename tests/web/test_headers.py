"""What the pages refuse, and what every answer carries, whoever asks."""

from __future__ import annotations

import logging
import re
import socket
import subprocess
import sys
from collections.abc import Iterator

import httpx2
import pytest
from fastapi import APIRouter, FastAPI
from starlette.testclient import TestClient

from kitwright import __version__
from kitwright.errors import FaultError, InputError, MissingError
from kitwright.web.app import create_app
from kitwright.web.assets import static
from kitwright.web.guard import HEADERS
from kitwright.web.pages import Entry
from kitwright.web.serving import serve

HOST = "testserver"
faulty = APIRouter()


@faulty.get("/broken")
@faulty.get("/api/broken")
def broken() -> None:
    msg = "a secret detail"
    raise RuntimeError(msg)


@faulty.get("/fault")
@faulty.get("/api/fault")
def fault() -> None:
    msg = "the chances do not add up to one"
    raise FaultError(msg)


@faulty.get("/missing")
@faulty.get("/api/missing")
def missing() -> None:
    raise MissingError("batch", 'there is no batch "B9"')


@faulty.get("/api/number")
def number(count: int) -> int:
    return count


@faulty.get("/many")
def many() -> None:
    raise InputError.of(InputError(f"row[{n}]", "bad").problems[0] for n in range(1000))


class Bench:
    name = "The bench"


def client_of(app: FastAPI) -> TestClient:
    return TestClient(app, raise_server_exceptions=False, follow_redirects=False)


@pytest.fixture(scope="module")
def client() -> TestClient:
    shop = create_app(
        Bench(),
        lead="in",
        routers=[faulty],
        menu=[Entry("batches", "/batches", "Batches")],
        hosts=[HOST],
        most_bytes=2000,
    )
    return client_of(shop)


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/worksheets", 200),
        ("GET", "/api/worksheets", 200),
        ("GET", "/api/openapi.json", 200),
        ("GET", static("kitwright.css"), 200),
        ("GET", "/static/fonts/SourceSans3-Regular.ttf.woff2", 200),
        ("GET", "/nowhere", 404),
        ("GET", "/api/nowhere", 404),
        ("GET", "/static/nowhere.js", 404),
        ("GET", "/static/../app.py", 404),
        ("GET", "/static/%2e%2e/app.py", 404),
        ("GET", "/missing", 404),
        ("GET", "/docs", 404),
        ("GET", "/redoc", 404),
        ("DELETE", "/worksheets", 405),
        ("GET", "/broken", 500),
        ("GET", "/api/broken", 500),
        ("GET", "/fault", 500),
        ("GET", "/many", 422),
    ],
)
def test_every_answer_carries_the_strict_headers(
    client: TestClient, method: str, path: str, status: int
) -> None:
    answer = client.request(method, path)
    assert answer.status_code == status
    for name, value in HEADERS.items():
        assert answer.headers.get_list(name) == [value]
    assert "cache-control" in answer.headers
    if path.startswith("/api"):
        assert answer.headers["content-type"] == "application/json"
    elif "static" not in path or status != 200:
        assert answer.headers["content-type"] == "text/html; charset=utf-8"


def test_the_policy_lets_nothing_in_from_elsewhere() -> None:
    policy = dict(part.split(" ", 1) for part in HEADERS["Content-Security-Policy"].split("; "))
    assert policy.pop("default-src") == "'none'"
    assert policy.pop("frame-ancestors") == "'none'"
    assert policy.pop("base-uri") == "'none'"
    assert policy.pop("img-src") == "'self' data:"
    assert policy.pop("media-src") == "'self' blob:"  # a recording that is not sent yet
    assert set(policy) == {"script-src", "style-src", "font-src", "connect-src", "form-action"}
    assert set(policy.values()) == {"'self'"}


def test_versioned_files_are_kept_for_good_and_others_asked_for(client: TestClient) -> None:
    versioned = client.get(static("kitwright.css"))
    assert versioned.headers["cache-control"] == "public, max-age=31536000, immutable"
    plain = client.get("/static/kitwright.css")
    assert plain.headers["cache-control"] == "no-cache"
    assert plain.content == versioned.content
    again = client.get("/static/kitwright.css", headers={"If-None-Match": plain.headers["etag"]})
    assert again.status_code == 304
    font = client.get("/static/fonts/SourceSans3-Regular.ttf.woff2")
    assert font.headers["content-type"] == "font/woff2"
    assert "max-age=604800" in font.headers["cache-control"]
    assert client.get("/worksheets").headers["cache-control"] == "no-cache"


def test_a_page_names_no_file_that_is_not_there() -> None:
    with pytest.raises(FileNotFoundError):
        static("nowhere.css")


# ── who may ask ──────────────────────────────────────────────────────────────────────────

POST = "/api/worksheets/conformity"


@pytest.mark.parametrize(
    ("headers", "allowed"),
    [
        ({}, True),  # no browser
        ({"Sec-Fetch-Site": "same-origin"}, True),
        ({"Sec-Fetch-Site": "same-origin", "Origin": f"http://{HOST}"}, True),
        ({"Sec-Fetch-Site": "none"}, True),
        ({"Sec-Fetch-Site": "cross-site"}, False),
        ({"Sec-Fetch-Site": "same-site"}, False),
        ({"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.test"}, False),
        ({"Sec-Fetch-Site": "same-site", "Origin": f"http://{HOST}:81"}, False),
        ({"Origin": f"http://{HOST}"}, True),  # plain http on a network: Origin alone
        ({"Origin": f"HTTP://{HOST.upper()}"}, True),
        ({"Origin": f"http://{HOST}:8001"}, False),
        ({"Origin": f"http://{HOST}.evil.test"}, False),
        ({"Origin": "http://evil.test"}, False),
        ({"Origin": "null"}, False),
        ({"Origin": ""}, False),
        ({"Origin": "http://["}, False),
    ],
)
def test_another_sites_page_cannot_post(
    client: TestClient, headers: dict[str, str], allowed: bool
) -> None:
    answer = client.post(POST, content="{}", headers=headers)
    assert answer.status_code == (422 if allowed else 403)
    if not allowed:
        assert answer.json()["lines"] == [
            "this was sent by a page of another site; open our own page"
        ]
        page = client.post("/worksheets/conformity", headers=headers)
        assert page.status_code == 403
        assert "another site" in page.text


def test_reading_is_open_to_links_from_elsewhere(client: TestClient) -> None:
    headers = {"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.test"}
    assert client.get("/worksheets", headers=headers).status_code == 200


@pytest.mark.parametrize(
    ("host", "allowed"),
    [
        ("localhost", True),
        ("LOCALHOST:8040", True),
        ("127.0.0.1:8040", True),
        ("[::1]:8040", True),
        ("[::1]", True),
        ("evil.test", False),
        ("localhost.evil.test", False),
        ("127.0.0.1.evil.test:8040", False),
        ("localhost:evil.test", False),
        ("0.0.0.0", False),
        ("", False),
    ],
)
def test_a_foreign_name_for_this_machine_gets_nothing(host: str, allowed: bool) -> None:
    client = client_of(create_app(lead="mm"))
    for path in ("/worksheets", "/api/worksheets", "/static/light.js"):
        answer = client.get(path, headers={"Host": host})
        assert answer.status_code == (200 if allowed else 421)
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert ("not an address of this shop" in answer.text) is not allowed


# ── how much may be sent ─────────────────────────────────────────────────────────────────


def chunks(count: int) -> Iterator[bytes]:
    for _ in range(count):
        yield b" " * 500


def test_an_oversized_body_is_refused_in_our_words(client: TestClient) -> None:
    words = "more than 0.002 MB at once; send less, or use the terminal"
    for content in (b" " * 2001, chunks(5)):  # with its length, and without
        answer = client.post(POST, content=content)
        assert answer.status_code == 413
        assert answer.json() == {
            "problems": [
                {
                    "where": "",
                    "given": "more than 0.002 MB at once",
                    "expected": "send less, or use the terminal",
                }
            ],
            "lines": [words],
        }
    for content in (b"value=" + b"1" * 2000, chunks(5)):
        page = client.post(
            "/worksheets/conformity",
            content=content,
            headers={"Content-Type": "application/x-www-form-urlencoded"},
        )
        assert page.status_code == 413
        assert words in page.text
        assert "<h1>Too large</h1>" in page.text
    assert client.post(POST, content=b" " * 2000).status_code == 422


@pytest.mark.parametrize("length", ["-1", "abc", "²", "9" * 40])
def test_a_false_length_is_refused(client: TestClient, length: str) -> None:
    answer = client.post(POST, content=b"{}", headers={"Content-Length": length.encode("latin-1")})
    assert answer.status_code == 413


# ── what went wrong ──────────────────────────────────────────────────────────────────────


def test_a_fault_has_a_number_that_the_log_has_too(
    client: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    for path in ("/broken", "/api/broken"):
        caplog.clear()
        with caplog.at_level(logging.ERROR, logger="kitwright.web"):
            answer = client.get(path)
        assert "a fault of ours, not of your input" in answer.text
        assert "secret" not in answer.text
        assert "Traceback" not in answer.text
        [record] = caplog.records
        found = re.search(r"its number, ([0-9a-f]{8})", answer.text)
        assert found
        assert f"incident {found[1]}: GET {path}" in record.getMessage()
        assert "a secret detail" in str(record.exc_info)


def test_a_fault_raised_on_purpose_says_what_it_is(client: TestClient) -> None:
    for path in ("/fault", "/api/fault"):
        assert "the chances do not add up to one" in client.get(path).text


def test_what_is_missing_is_404_in_the_same_words(client: TestClient) -> None:
    assert client.get("/api/missing").json()["lines"] == ['batch: there is no batch "B9"']
    assert "there is no batch &#34;B9&#34;" in client.get("/missing").text
    assert client.get("/worksheets/sweeep").status_code == 404
    assert "did you mean &#34;sweep&#34;?" in client.get("/worksheets/sweeep").text


def test_the_frameworks_own_refusals_speak_our_words(client: TestClient) -> None:
    assert client.get("/api/number").json()["lines"] == ["count: missing; it is needed"]
    assert client.get("/api/number?count=1,5").json()["lines"] == [
        'count: "1,5" has a comma; write a decimal point'
    ]
    assert client.get("/api/number?count=x").json()["problems"] == [
        {"where": "count", "given": '"x" is not a whole number', "expected": "write a whole number"}
    ]
    assert client.get("/api/nowhere").json()["lines"] == [
        "there is no page /api/nowhere; start at the first page"
    ]
    refused = client.delete("/worksheets")
    assert "/worksheets does not take DELETE" in refused.text
    assert refused.headers["allow"] == "GET"


def test_a_thousand_faults_do_not_make_a_page_of_a_thousand(client: TestClient) -> None:
    page = client.get("/many").text
    assert page.count("bad") == 200
    assert "and 800 more" in page


def test_what_was_asked_is_not_written_into_the_page_as_markup(client: TestClient) -> None:
    page = client.get("/<script>alert(1)</script>").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


# ── the frame ────────────────────────────────────────────────────────────────────────────


def test_the_shop_its_menu_and_its_light_reach_every_page(client: TestClient) -> None:
    page = client.get("/worksheets").text
    assert "The bench" in page
    assert 'href="/batches"' in page
    assert "data-light" not in page
    assert 'data-light="night"' in client.get("/worksheets", headers={"Cookie": "light=night"}).text
    odd = client.get("/worksheets", headers={"Cookie": 'light="><script>'}).text
    assert "data-light" not in odd


def test_without_a_shop_the_first_page_is_the_worksheets() -> None:
    client = client_of(create_app(lead="mm", hosts=[HOST]))
    answer = client.get("/")
    assert (answer.status_code, answer.headers["location"]) == (307, "/worksheets")
    assert 'aria-current="page"' in client.get("/worksheets").text


# ── on the wire ──────────────────────────────────────────────────────────────────────────


def test_it_serves_on_this_machine_and_says_where() -> None:
    code = (
        "from kitwright.web.app import create_app; from kitwright.web.serving import serve; "
        "serve(create_app(lead='mm'), port=0)"
    )
    with subprocess.Popen(
        [sys.executable, "-u", "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            assert server.stdout
            said = server.stdout.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+", said)
            assert found, said
            with httpx2.Client() as web:
                answer = web.get(f"{found[0]}/api/openapi.json")
                assert answer.json()["info"]["version"] == __version__
                assert "server" not in answer.headers
                rebound = web.get(f"{found[0]}/worksheets", headers={"Host": "evil.test"})
                assert rebound.status_code == 421
        finally:
            server.terminate()
            out, err = server.communicate(timeout=20)
    assert out == ""  # no line a request
    assert "Traceback" not in err


def test_an_address_that_is_taken_is_said() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=f"127.0.0.1:{port} cannot be used"):
            serve(FastAPI(), port=port)
