"""Typing in what a fitter wrote on paper, and the papers themselves, as pages."""

from __future__ import annotations

import datetime
import html
import io
import re
from collections.abc import Iterator

import pypdf
import pytest
from starlette.testclient import TestClient

from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.books.links import set_address
from kitwright.books.opening import Books
from kitwright.shop import fitups
from kitwright.shop import links as giving
from kitwright.shop.fitup_stages import STAGES
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 6, 15, tzinfo=datetime.UTC)
WHO = Entry("Owner", datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC))
READINGS = {0: "0", 45: "-4", 90: "-8", 135: "-9.5", 180: "-8", 225: "-4", 270: "0", 315: "1.5",
            360: "0"}  # fmt: skip


@pytest.fixture
def number(demo_books: Books) -> int:
    return fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=WHO)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def form(client: TestClient, address: str) -> dict[str, str]:
    """The first form of a page as a browser would send it untouched."""
    page = client.get(address).text
    first = page[page.index("<form") : page.index("</form>")]
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', first))
    for tag in re.findall(r"<input [^>]*>", first):
        name, value = (re.search(rf'\b{key}="([^"]*)"', tag) for key in ("name", "value"))
        kind = re.search(r'\btype="(\w+)"', tag)
        assert name is not None
        assert kind is not None
        ticked = kind[1] not in ("radio", "checkbox") or " checked" in tag
        if ticked and value is not None:
            fields[name[1]] = html.unescape(value[1])
    return fields


def test_every_stage_has_a_form_with_its_own_fields(client: TestClient, number: int) -> None:
    for stage in STAGES:
        page = html.unescape(client.get(f"/fit-ups/{number}/paper/{stage.name}").text)
        assert stage.title in page
        if stage.works == "verdict":
            assert "it follows from the sweeps" in page
            continue
        assert "Keep this step" in page
        for field in stage.fields:
            shown = field.label in page
            assert shown is not field.again, f"{stage.name}: {field.label}"
            for value, words in field.options:
                assert f'value="{value}"' in page
                assert words in page


def test_a_step_is_kept_and_the_next_one_is_offered(
    client: TestClient, demo_books: Books, number: int
) -> None:
    here = f"/fit-ups/{number}/paper"
    untouched = form(client, here)
    assert untouched["day"] == "2026-05-06"
    sent = {**untouched, "who": "Ines", "stands": "yes", "battery": "yes", "serial": "yes"}
    refused = client.post(f"{here}/before", data=sent)
    assert refused.status_code == 422
    assert 'id="makers-error"' in refused.text
    assert "not ticked" in refused.text
    assert re.search(r'name="stands" value="yes" checked', refused.text)
    assert not re.search(r'name="makers" value="yes" checked', refused.text)
    sent |= {"makers": "yes", "day": "2026-05-05"}
    for _ in range(2):
        kept = client.post(f"{here}/before", data=sent)
        assert (kept.status_code, kept.headers["location"]) == (303, here)
    with demo_books.reading() as connection:
        (record,) = fitup_talk.records_of(connection, number)
    assert (record.stage, record.who) == ("before", "Ines")
    assert record.happened.date().isoformat() == "2026-05-05"
    assert record.said_json == {
        "unit": "thou", "stands": True, "battery": True, "serial": True, "makers": True,
    }  # fmt: skip
    page = client.get(here).text
    assert re.search(
        r"<h2 class=\"first\">The block&#39;s dowels|<h2 class=\"first\">.*dowels", page
    )


def test_a_sweep_comes_in_by_its_places_and_its_faults_stand_beside_them(
    client: TestClient, demo_books: Books, number: int
) -> None:
    here = f"/fit-ups/{number}/paper/bore"
    sent = {
        **form(client, here),
        "who": "Ines",
        "graduation": "0.5 thou",
        **{f"reading_{place}": value for place, value in READINGS.items()},
        "reading_90": "-8,5",
        "sag": "far",
    }
    refused = client.post(here, data=sent)
    assert refused.status_code == 422
    assert "write a decimal point" in refused.text
    assert 'id="reading_90-error"' in refused.text
    assert 'name="reading_135"' in refused.text
    assert 'value="-9.5"' in refused.text
    ahead = client.post(here, data={**sent, "day": "2026-05-07"})
    assert "2026-05-07 lies ahead" in ahead.text
    assert 'id="day-error"' in ahead.text
    with demo_books.reading() as connection:
        assert fitup_talk.records_of(connection, number) == []
    good = {**sent, "reading_90": "-8", "sag": "0.5"}
    assert client.post(here, data=good).status_code == 303
    with demo_books.reading() as connection:
        (record,) = fitup_talk.records_of(connection, number)
    assert record.said_json["readings"] == [[place, value] for place, value in READINGS.items()]
    assert record.said_json["graduation"] == "0.5"
    assert record.answer_json["verdict"] == "outside"
    # what is asked next is filled with what was said before
    dowels = form(client, f"/fit-ups/{number}/paper/dowels")
    assert dowels["a_size"] == "0.007 in"
    assert dowels["a_clock_deg"].isdigit()
    again = client.get(f"/fit-ups/{number}/paper/bore-again").text
    assert '<option value="0.5 thou" selected>' in again


def test_several_lengths_are_several_fields(
    client: TestClient, demo_books: Books, number: int
) -> None:
    here = f"/fit-ups/{number}/paper/gap"
    sent = {**form(client, here), "who": "Ines", "unit": "mm", "face_to_fingers_1": "50",
            "face_to_fingers_3": "50.1", "face_to_bearing_1": "wide"}  # fmt: skip
    refused = client.post(here, data=sent)
    assert refused.status_code == 422
    assert 'href="#face_to_bearing"' in refused.text
    assert 'id="face_to_bearing"' in refused.text
    assert client.post(here, data={**sent, "face_to_bearing_1": "46"}).status_code == 303
    with demo_books.reading() as connection:
        (record,) = fitup_talk.records_of(connection, number)
    assert record.said_json["face_to_fingers"] == ["50", "50.1"]
    assert record.worksheet == "release-gap"


def test_what_stands_is_shown_and_taken_back(
    client: TestClient, demo_books: Books, number: int
) -> None:
    here = f"/fit-ups/{number}/paper/dowels-out"
    sent = {**form(client, here), "who": "Ines", "a": "hole", "b": "sound", "seen": "<b>oval</b>"}
    client.post(here, data=sent)
    page = client.get(here).text
    assert "its hole is scored, oval or loose" in page
    assert "&lt;b&gt;oval&lt;/b&gt;" in page
    assert "Keep this step" not in page
    back = form(client, here)
    assert client.post(f"{here}/back", data={**back, "who": ""}).status_code == 422
    assert client.post(f"{here}/back", data={**back, "who": "Ines"}).status_code == 303
    assert "Keep this step" in client.get(here).text
    refused = client.post(f"{here}/back", data={**back, "who": "Ines", "send_key": "other"})
    assert "taken back already" in refused.text


def test_a_note_of_his_is_typed_in(client: TestClient, demo_books: Books, number: int) -> None:
    here = f"/fit-ups/{number}/paper/note"
    sent = {"send_key": "n", "who": "Ines", "day": "2026-05-05", "said": ""}
    refused = client.post(here, data=sent)
    assert refused.status_code == 422
    assert 'id="said-error"' in refused.text
    assert client.post(here, data={**sent, "said": "It binds."}).status_code == 303
    with demo_books.reading() as connection:
        (note,) = fitup_talk.notes_of(connection, number)
    assert (note.side, note.said, note.who) == ("fitter", "It binds.", "Ines")


def test_what_is_not_there(client: TestClient, number: int) -> None:
    assert client.get("/fit-ups/99/paper").status_code == 404
    assert client.get(f"/fit-ups/{number}/paper/nothing").status_code == 404
    assert client.post(f"/fit-ups/{number}/paper/nothing", data={}).status_code == 404
    assert client.get(f"/fit-ups/{number}/blank.pdf?paper=a5").status_code == 422
    form = {"send_key": "k", "who": "I", "day": "soon", "unit": "mm"}
    assert "is not a day" in client.post(f"/fit-ups/{number}/paper/before", data=form).text


def test_the_papers_carry_the_link_that_stands(
    client: TestClient, demo_books: Books, number: int
) -> None:
    def text(address: str) -> str:
        data = client.get(address).content
        return "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)

    assert "The shop answers no links yet" in text(f"/fit-ups/{number}/slip.pdf")
    with demo_books.writing() as connection:
        set_address(connection, "http://garage.test:8711", WHO)
    assert "No link to this fit-up stands" in text(f"/fit-ups/{number}/slip.pdf")
    link = giving.give_for_fit_up(demo_books, number, entry=WHO)
    address = f"http://garage.test:8711/f/{link.token}"
    for name in ("slip", "blank"):
        for paper in ("a4", "us-letter"):
            found = text(f"/fit-ups/{number}/{name}.pdf?paper={paper}")
            assert address in re.sub(r"\s", "", found)
    giving.withdraw(demo_books, link.id, why="wrong garage", entry=WHO)
    assert link.token not in text(f"/fit-ups/{number}/slip.pdf")
