"""The second door: a link that stands comes in, on its own host; nothing else of the shop does."""

from __future__ import annotations

import datetime
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.requests import Request
from starlette.testclient import TestClient

from kitwright.books import fitups
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.cli.main import main
from kitwright.errors import FaultError, InputError
from kitwright.shop import links as shop_links
from kitwright.web.links.door import opened
from kitwright.web.links.site import create_links_site
from kitwright.web.serving import listening_at

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ADDRESS = "http://garage.test:8711"


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    """The links' app with one route of the test's own, which says what a token opens."""
    app = create_links_site(demo_books, ADDRESS, clock=lambda: NOW)

    @app.get("/opens/{token}")
    def says(request: Request, token: str) -> dict[str, int | None]:
        return {"fit_up": opened(request, token, "fit-up").fit_up_id}

    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as client:
        yield client


def given(books: Books, days: int = 60) -> tuple[int, shop_links.Link]:
    with books.reading() as connection:
        number = fitups.fit_ups(connection)[-1].id
    entry = Entry("Owner", NOW - datetime.timedelta(days=10))
    return number, shop_links.give_for_fit_up(books, number, entry=entry, days=days)


def test_a_link_that_stands_opens_its_fit_up(client: TestClient, demo_books: Books) -> None:
    number, link = given(demo_books)
    assert client.get(f"/opens/{link.token}").json() == {"fit_up": number}


@pytest.mark.parametrize(
    ("address", "other"),
    [
        ("https://kits.example", "https://kits.example.org"),
        ("http://192.0.2.7:8711", "http://192.0.2.8:8711"),
        ("http://[2001:db8::7]:8711", "http://[2001:db8::8]:8711"),
        ("http://[2001:db8::7]", "http://kits.example"),
    ],
)
def test_links_open_under_the_address_set_and_no_other(
    demo_books: Books, address: str, other: str
) -> None:
    token = given(demo_books)[1].token
    app = create_links_site(demo_books, address, clock=lambda: NOW)
    with TestClient(app, base_url=address, follow_redirects=False) as client:
        assert client.get(f"/f/{token}").status_code == 200
        assert client.get(f"{other}/f/{token}").status_code == 421


def test_a_scanned_serial_is_said_back_whether_a_bell_bears_it_or_not(client: TestClient) -> None:
    borne, made_up = (client.get(f"/bells/{serial}") for serial in ("HC-0101", "HC-9999"))
    assert borne.status_code == made_up.status_code == 404
    assert "Bell HC-0101" in borne.text
    assert borne.text.replace("HC-0101", "HC-9999") == made_up.text  # no serial can be guessed
    long = client.get(f"/bells/{'x' * 3000}")
    assert (long.status_code, "x" * 500 in long.text) == (404, False)


def test_one_that_does_not_is_told_what_to_do(client: TestClient, demo_books: Books) -> None:
    never = client.get("/opens/nothing")
    assert never.status_code == 404
    assert "this link opens nothing; see that it is whole, or ask the shop" in never.text
    expired = client.get(f"/opens/{given(demo_books, days=9)[1].token}")
    assert expired.status_code == 410
    assert "expired on 2026-05-03 15:00 UTC; ask the shop for a new one" in expired.text
    link = given(demo_books)[1]
    shop_links.withdraw(demo_books, link.id, why="wrong garage", entry=Entry("Owner", NOW))
    gone = client.get(f"/opens/{link.token}", headers={"accept": "application/json"})
    assert gone.status_code == 410
    assert gone.json()["lines"] == [
        "this link was withdrawn by the shop; ask the shop for a new one"
    ]
    assert "wrong garage" not in gone.text


def test_a_machinists_link_opens_no_fit_up(client: TestClient, demo_books: Books) -> None:
    with demo_books.reading() as connection:
        machinist = shop_links.links.get_party(connection, _machinist(connection)).id
    link = shop_links.give_for_machinist(demo_books, machinist, entry=Entry("Owner", NOW))
    assert client.get(f"/opens/{link.token}").status_code == 404


def _machinist(connection: object) -> int:
    from kitwright.books.shop import parties

    return parties(connection, "machinist")[0].id


@pytest.mark.parametrize("path", ["/", "/batches", "/bells/HC-0101", "/orders", "/api/worksheets",
                                  "/worksheets", "/api/openapi.json", "/docs"])  # fmt: skip
def test_nothing_else_of_the_shop_is_behind_it(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "use the link that the shop gave you" in answer.text
    assert 'href="/"' not in answer.text  # there is no first page to go to


def test_only_the_links_own_host_is_answered(client: TestClient, demo_books: Books) -> None:
    link = given(demo_books)[1]
    for host in ("127.0.0.1:8711", "evil.test", "garage.test.evil.test"):
        answer = client.get(f"/opens/{link.token}", headers={"host": host})
        assert answer.status_code == 421


def test_its_pages_are_strict_and_its_styles_are_served(client: TestClient) -> None:
    answer = client.get("/nothing")
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert client.get("/static/kitwright.css").status_code == 200


def test_where_to_listen_follows_from_the_address_or_is_said() -> None:
    assert listening_at("http://192.0.2.7:8711") == ("192.0.2.7", 8711)
    assert listening_at("https://kits.example") == ("kits.example", 443)
    assert listening_at("http://[::1]:80") == ("::1", 80)
    assert listening_at("https://kits.example", "[::1]:8711") == ("::1", 8711)
    for wrong in ("8711", ":8711", "host:", "host:0", "host:70000", "host:x"):
        with pytest.raises(InputError, match="links-listen"):
            listening_at("http://a.test", wrong)


@pytest.fixture
def demo_folder(demo_made: Path, tmp_path: Path) -> Path:
    """A demo shop of one's own that nobody has open yet."""
    return shutil.copytree(demo_made, tmp_path / "shop")


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def test_one_command_serves_both_doors_and_stops_both(demo_folder, tmp_path) -> None:
    """As the shop starts it, in a process of its own, with the links under a name of theirs."""
    inside, outside = _free_port(), _free_port()
    command = [sys.executable, "-m", "kitwright", "serve", str(demo_folder), "--port", str(inside),
               "--links", f"http://garage.test:{outside}", "--who", "Owner",
               "--links-listen", f"127.0.0.1:{outside}"]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) as server:
        try:
            said = server.stdout.readline() + server.stdout.readline()
            assert f"Links are answered at http://garage.test:{outside}/".encode() in said
            assert _status(inside, f"127.0.0.1:{inside}", "/") == 200
            for _ in range(100):
                if (status := _status(outside, f"garage.test:{outside}", "/f/none")) is not None:
                    break
                time.sleep(0.05)
            assert status == 404
            assert _status(outside, f"127.0.0.1:{outside}", "/f/none") == 421
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=20)
    with pytest.raises(OSError):
        socket.create_connection(("127.0.0.1", outside), timeout=1)


def _status(port: int, host: str, path: str) -> int | None:
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers={"Host": host})
    try:
        with urllib.request.urlopen(request, timeout=10) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        with error:
            return error.code
    except urllib.error.URLError:
        return None


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--links-listen", "127.0.0.1:8711"], "there is no address for links; give --links too"),
        (["--links", "garage"], 'links: "garage" is not an address'),
        (["--links", "http://a.test", "--links-listen", "x"], '"x" is no host and port'),
    ],
)
def test_options_that_cannot_be_used_are_refused(demo_folder, capsys, monkeypatch, options, words):
    monkeypatch.setattr(sys, "argv", ["kitwright", "serve", str(demo_folder), *options])
    with pytest.raises(SystemExit) as stopped:
        main()
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err


def test_a_fault_of_ours_leaves_no_token_in_the_log(demo_books, caplog):
    """Who may read the log must not come in by it; the page that failed is still told apart."""
    app = create_links_site(demo_books, ADDRESS, clock=lambda: NOW)
    secret = given(demo_books)[1].token

    @app.get("/f/{token}/breaks")
    def breaks(token: str) -> None:
        raise FaultError("it broke")

    with TestClient(app, base_url=ADDRESS, raise_server_exceptions=False) as client:
        assert client.get(f"/f/{secret}/breaks").status_code == 500
    told = caplog.text
    assert "GET /f/.../breaks" in told
    assert secret not in told
