"""The fitter's page behind its link: who gets in, what is told, what is taken, how large it is."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.books.links import Link
from kitwright.books.opening import Books
from kitwright.pictures.palette import DAY, NIGHT
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop import send_keys
from kitwright.shop.fitup_stages import STAGES
from kitwright.web.assets import PACKAGE
from kitwright.web.links.fitter import SCRIPTS, STYLES
from kitwright.web.links.site import create_links_site

NOW = datetime.datetime(2026, 5, 5, 9, tzinfo=datetime.UTC)
ADDRESS = "http://garage.test:8711"
WHO = Entry("Owner", NOW - datetime.timedelta(days=1))
STATIC = PACKAGE / "web" / "static"
TICKS = {"unit": "thou", "stands": True, "battery": True, "serial": True, "makers": True}
SWEPT = {
    "unit": "thou",
    "graduation": "0.5",
    "readings": [[0, "0"], [45, "-3.5"], [90, "-3"], [135, "1.5"], [180, "7"], [225, "10.5"],
                 [270, "10"], [315, "5.5"], [360, "0"]],
}  # fmt: skip


@pytest.fixture
def link(demo_books: Books) -> Link:
    number = shop_fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=WHO)
    return giving.give_for_fit_up(demo_books, number, entry=WHO)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_links_site(demo_books, ADDRESS, clock=lambda: NOW)
    headers = {"accept": "application/json"}
    with TestClient(
        app, base_url=ADDRESS, headers=headers, raise_server_exceptions=False
    ) as client:
        yield client


def told(client: TestClient, link: Link) -> dict[str, Any]:
    """What the document carries for its scripts."""
    page = client.get(link.path)
    assert page.status_code == 200
    found = re.search(r'<script type="application/json" id="fit-up">(.*?)</script>', page.text)
    assert found is not None
    return json.loads(found[1])


def post(client: TestClient, link: Link, stage: str, values: dict[str, Any], **more: Any) -> Any:
    key = more.pop("send_key", send_keys.stock(link.token, 1)[0])
    sent = {"send_key": key, "stage": stage, "values": values, "lead": "in", **more}
    return client.post(f"{link.path}/send", json=sent)


def kept(books: Books, link: Link) -> list[str]:
    with books.reading() as connection:
        return [each.stage for each in fitup_talk.all_records_of(connection, link.fit_up_id)]


# ── who gets in ──────────────────────────────────────────────────────────────────────────


def test_no_other_token_opens_the_page_or_takes_an_item(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    for token in ("nothing", link.token[:-1], link.token.swapcase(), "%00"):
        wrong = link.path.replace(link.token, token)
        assert client.get(wrong).status_code == 404
        assert client.get(f"{wrong}/state").status_code == 404
        assert client.post(f"{wrong}/send", json={}).status_code in (404, 422)
    assert kept(demo_books, link) == []


def test_a_link_that_expired_or_was_withdrawn_takes_nothing_more(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    giving.withdraw(demo_books, link.id, why="wrong garage", entry=WHO)
    old = giving.give_for_fit_up(
        demo_books, 11, entry=Entry("Owner", NOW - datetime.timedelta(days=9)), days=8
    )
    for closed, words in ((link, "withdrawn by the shop"), (old, "expired on 2026-05-04")):
        for answer in (
            client.get(closed.path),
            client.get(f"{closed.path}/state"),
            post(client, closed, "before", TICKS),
        ):
            assert answer.status_code == 410
            assert words in answer.json()["lines"][0]
    assert kept(demo_books, link) == []


def test_a_key_of_another_link_is_refused(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    other = giving.give_for_fit_up(demo_books, 11, entry=WHO)
    answer = post(client, link, "before", TICKS, send_key=send_keys.stock(other.token, 1)[0])
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["where"] == "send_key"
    assert kept(demo_books, link) == []


def test_another_sites_page_cannot_send(client: TestClient, demo_books: Books, link: Link) -> None:
    key = send_keys.stock(link.token, 1)[0]
    sent = {"send_key": key, "stage": "before", "values": TICKS}
    headers = {"origin": "http://evil.test"}
    assert client.post(f"{link.path}/send", json=sent, headers=headers).status_code == 403
    assert kept(demo_books, link) == []


# ── what is told ─────────────────────────────────────────────────────────────────────────


def test_the_document_has_every_stage_and_a_stock_of_keys(client: TestClient, link: Link) -> None:
    page = client.get(link.path)
    for stage in STAGES:
        assert f'id="stage-{stage.name}"' in page.text
        for line in (*stage.needed, *stage.do, *stage.seized, *stage.ruins, *stage.stop_and_call):
            assert line.replace("'", "&#39;") in page.text
    assert "no-store" not in page.headers["cache-control"]
    assert page.headers["cache-control"].startswith("private")
    data = told(client, link)
    assert len(set(data["keys"])) == send_keys.STOCK
    assert data["next"] == "before"
    assert not set(data["keys"]) & set(told(client, link)["keys"])


def test_what_was_seen_is_not_sent_again(client: TestClient, link: Link) -> None:
    first = told(client, link)
    same = client.get(f"{link.path}/state", params={"lead": "in", "version": first["version"]})
    assert set(same.json()) == {"version", "keys", "page"}
    answer = post(client, link, "bore", SWEPT, seen=[
        *(piece["tag"] for piece in first["stages"].values()), first["notes"]["tag"]
    ]).json()  # fmt: skip
    assert answer["version"] != first["version"]
    fresh = {name for name, piece in answer["stages"].items() if "html" in piece}
    assert fresh == {"bore", "verdict", "dowels"}
    assert "Move it 7" in answer["stages"]["bore"]["html"]
    assert answer["stages"]["dowels"]["html"].count("<svg") >= 2
    assert answer["dowels"]["filled"]["a_size"] == "0.007 in"


def test_the_answer_is_in_the_fitters_own_unit(client: TestClient, link: Link) -> None:
    post(client, link, "bore", SWEPT)
    metric = client.get(f"{link.path}/state", params={"lead": "mm"}).json()
    inches = client.get(f"{link.path}/state", params={"lead": "in"}).json()
    assert re.search(r"Move it 0\.\d+ mm toward", metric["stages"]["bore"]["html"])
    assert re.search(r"Move it 7(\.\d)? thou toward", inches["stages"]["bore"]["html"])
    assert metric["version"] != inches["version"]


def test_the_shops_note_is_seen_and_the_fitters_too(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    post(client, link, "note", {"said": "Dowel <b> is stuck", "at": "dowels-out"})
    with demo_books.writing() as connection:
        fitup_talk.add_note(
            connection, link.fit_up_id, "shop", "Heat the block", send_key="k", entry=WHO
        )
    notes = client.get(f"{link.path}/state").json()["notes"]
    assert len(notes["from_shop"]) == 1
    assert "Heat the block" in notes["html"]
    assert "Block&#39;s dowels: Dowel &lt;b&gt; is stuck" in notes["html"]


def test_nothing_typed_can_end_the_pages_own_data(client: TestClient, link: Link) -> None:
    evil = "</script><script>alert(1)</script>&<!--"
    post(client, link, "dowels-out", {"unit": "mm", "a": "sound", "b": "sound", "seen": evil})
    page = client.get(link.path).text
    assert "<script>alert" not in page
    assert told(client, link)["stages"]["dowels-out"]["said"]["seen"] == evil


# ── what is taken ────────────────────────────────────────────────────────────────────────


def test_an_item_is_confirmed_by_its_key_and_kept_once(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    key = told(client, link)["keys"][0]
    for _ in range(3):
        answer = post(client, link, "before", TICKS, send_key=key, keys=2)
        assert answer.status_code == 200
        assert answer.json()["accepted"] == key
        assert len(answer.json()["keys"]) == 2
    assert answer.json()["stages"]["before"]["status"] == "done"
    assert answer.json()["next"] == "dowels-out"
    assert kept(demo_books, link) == ["before"]


def test_what_is_sent_in_order_is_kept_in_order(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    bolts = {"unit": "thou", "by_hand": True, "passes": True, "figure": "sheet 4"}
    typed = "2026-05-05T08:00:00Z"
    for stage, values in (
        ("bell-on", bolts),
        ("before", TICKS),
        ("bore", SWEPT),
        ("before", TICKS),
    ):
        assert post(client, link, stage, values, typed_at=typed).status_code == 200
    assert kept(demo_books, link) == ["bell-on", "before", "bore", "before"]
    state = client.get(f"{link.path}/state").json()
    undo = {"undoes": _key(demo_books, link, -1)}
    assert post(client, link, "before", undo).json()["stages"]["before"]["status"] == "done"
    undo = {"undoes": _key(demo_books, link, 1)}
    assert post(client, link, "before", undo).json()["stages"]["before"]["status"] == "open"
    assert state["stages"]["before"]["said"] == TICKS


def _key(books: Books, link: Link, index: int) -> str:
    with books.reading() as connection:
        return fitup_talk.all_records_of(connection, link.fit_up_id)[index].send_key


def test_bad_readings_come_back_with_their_lines(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    bad = SWEPT | {"readings": [[0, "0"], [90, "one"], [180, "2"]]}
    answer = post(client, link, "bore", bad)
    assert answer.status_code == 422
    assert answer.json()["problems"] == [
        {
            "where": "reading_90",
            "given": '"one" is not a reading',
            "expected": "write a plain number, as −2.5",
        }
    ]
    assert kept(demo_books, link) == []


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"send_key": 5, "stage": "before", "values": {}},
        {"send_key": "k" * 200, "stage": "before", "values": {}},
        {"send_key": "k", "stage": "before", "values": []},
        {"send_key": "k", "stage": "before", "values": {}, "typed_at": "yesterday"},
        {"send_key": "k", "stage": "before", "values": {}, "typed_at": "2026-05-05T08:00:00"},
        {"send_key": "k", "stage": "before", "values": {}, "more": 1},
        {"send_key": "k", "stage": "before", "values": {}, "lead": "ft"},
        {"send_key": "k", "stage": "before", "values": {}, "seen": ["t"] * 99},
    ],
)
def test_what_is_no_item_is_refused(client: TestClient, link: Link, sent: dict[str, Any]) -> None:
    answer = client.post(f"{link.path}/send", json=sent)
    assert answer.status_code == 422
    assert answer.json()["lines"]


@pytest.mark.parametrize(
    ("stage", "values"),
    [
        ("bore", {"unit": "mm", "graduation": ["0.5"], "readings": {}}),
        ("bore", {"unit": ["mm"]}),
        ("bore", SWEPT | {"readings": [[0, None], [True, "1"], ["90", "2"]]}),
        ("bore", SWEPT | {"readings": [[0, "1"], [90, "\0"], [180, "1e400"]]}),
        ("bore", SWEPT | {"drawer": ",".join(["1 mm"] * 80)}),
        ("face", SWEPT | {"sweep_radius": "9" * 300}),
        ("dowels", {"unit": "mm", "a_size": {"x": 1}, "b_size": None}),
        ("dowels-out", {"unit": "mm", "a": ["sound"], "b": {}, "seen": "\ud800"}),
        ("gap", {"unit": "mm", "face_to_fingers": [[]], "face_to_bearing": [None, 5]}),
        ("pilot", {"unit": "mm", "face_to_pilot": "nan", "face_to_bottom": "inf"}),
        ("result", {"unit": "mm", "outcome": "won", "why": 7}),
        ("note", {"said": ["x"]}),
        ("before", {"unit": "mm", "undoes": ["x"]}),
        ("before", TICKS | {"\ud800": True}),
        ("bell\ud800", TICKS),
        ("dowels-out", {"unit": "mm", "a": "sound", "b": "sound", "seen": " " * 100_000}),
        ("bore", SWEPT | {"readings": [[0, "1"], [90, "2"], [180, " " * 100_000 + "1"]]}),
        ("before", {"undoes": {"x": [1] * 50}}),
    ],
)
def test_hostile_values_are_refused_not_stumbled_over(
    client: TestClient, demo_books: Books, link: Link, stage: str, values: dict[str, Any]
) -> None:
    sent = {"send_key": send_keys.stock(link.token, 1)[0], "stage": stage, "values": values}
    answer = client.post(
        f"{link.path}/send",
        content=json.dumps(sent),
        headers={"content-type": "application/json"},
    )
    assert answer.status_code == 422, answer.text
    assert kept(demo_books, link) == []


# ── its files ────────────────────────────────────────────────────────────────────────────


def test_the_page_is_light(client: TestClient, link: Link) -> None:
    """Document, style and scripts, uncompressed, before pictures: under 100 kB; no font file."""
    page = client.get(link.path).text
    bare = re.sub(r"(<|\\u003c)svg.*?(<|\\u003c)/svg(>|\\u003e)", "", page, flags=re.DOTALL)
    files = {name: (STATIC / name).read_bytes() for name in (*STYLES, *SCRIPTS)}
    size = len(bare.encode()) + sum(map(len, files.values()))
    assert size < 100_000, {name: len(data) for name, data in files.items()} | {"page": len(bare)}
    assert "font-face" not in files["fitter.css"].decode()
    assert "woff" not in page
    for address in re.findall(r'(?:href|src)="([^"]*)"', page):
        assert address.startswith("/static/")
        assert client.get(address).status_code == 200


@pytest.mark.parametrize(
    ("selector", "palette"),
    [
        (':root,\n:root[data-light="day"] {', DAY),
        ('  :root:not([data-light="day"]) {', NIGHT),
        (':root[data-light="night"] {', NIGHT),
    ],
)
def test_its_inks_are_those_of_every_drawing(selector: str, palette: Any) -> None:
    css = (STATIC / "fitter.css").read_text("utf-8")
    block = css[css.index(selector) :].partition("}")[0]
    inks = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
    assert inks == {name.replace("_", "-"): ink for name, ink in vars(palette).items()}
