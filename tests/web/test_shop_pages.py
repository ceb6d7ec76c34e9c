"""The shop's own pages over a demo shop: what they show, and what their forms keep."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Iterator

import pytest
from sqlalchemy import Connection
from starlette.testclient import TestClient

from kitwright.books import fitups as kept
from kitwright.books import inspections, places, standing
from kitwright.books.entries import Entry
from kitwright.books.movements import write_births
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.tables import bell
from kitwright.books.verifying import verify
from kitwright.files.tables import read_csv
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)

PAGES = {
    "/": ["things wait", "Bell HC-0140", "Heron cast bell", "2026-05-04"],
    "/batches": ["B-04", "Carrack Lane Machining", "judged", "CR-05"],
    "/batches/4": ["43 released", "line-honed blocks", "HC-0150", "bore outside"],
    "/batches/3": ["6 bells are at Carrack Lane Machining"],
    "/bells/HC-0140": ["Held", "too close to call", "CR-05", "Route card"],
    "/bells/HC-0101": ["Shipped", "Ladder Street Garage", "Certificate of measurement"],
    "/bells/HC-0012": ["Scrapped", "bore cannot be brought back"],
    "/fit-ups": ["Fit-up 11", "line-honed", "succeeded"],
    "/fit-ups/11": ["10 o&#39;clock", "DANGER", "The fitter"],
    "/orders": ["O-103", "2026-06-10", "certified steel bell", "3\u202f840.00 USD"],
    "/kits": ["Heron six-speed kit", "release bearing", "43"],
    "/conversions": [
        "Pendrake V8 5.6",
        "starter bore",
        "check the current rule book",
        "No bell is designed for it yet",
    ],
}


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def state(books: Books, serial: str) -> str:
    with books.reading() as connection:
        return standing.one(connection, serial).state


def test_every_page_shows_what_it_is_for(client: TestClient) -> None:
    for address, words in PAGES.items():
        answer = client.get(address)
        assert answer.status_code == 200, address
        for word in words:
            assert word in answer.text, f"{address} does not say {word}"


def test_no_link_of_any_page_is_dead(client: TestClient) -> None:
    pages: dict[str, str] = {}
    anchors: set[tuple[str, str, str]] = set()
    waiting = ["/"]
    while waiting:
        address = waiting.pop()
        if address in pages:
            continue
        answer = client.get(address)
        assert answer.status_code in (200, 303), f"{address}: {answer.status_code}"
        is_page = "text/html" in answer.headers.get("content-type", "")
        pages[address] = answer.text if is_page else ""
        for found in re.findall(r'(?:href|src)="(/[^"]*)"', pages[address]):
            bare, _, anchor = found.partition("#")
            waiting.append(bare)
            if anchor:
                anchors.add((address, bare, anchor))
    for address, bare, anchor in anchors:
        assert f'id="{anchor}"' in pages[bare], f"{address} links to {bare}#{anchor}"
    assert len([address for address in pages if address.startswith("/bells/HC-")]) > 74
    assert "/bells/HC-0101/certificate.pdf" in pages
    assert "/fit-ups/11/sheet.pdf" in pages


@pytest.mark.parametrize(
    "address", ["/bells/HC-9999", "/batches/99", "/fit-ups/99", "/nothing", "/find?serial=xyz"]
)
def test_what_is_not_there_is_said(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert "there is no" in answer.text


def test_find_forgives_small_letters(client: TestClient) -> None:
    answer = client.get("/find", params={"serial": " hc-0140 "})
    assert (answer.status_code, answer.headers["location"]) == (303, "/bells/HC-0140")


def test_find_encodes_a_serial_of_old_books(client: TestClient, demo_books: Books) -> None:
    """Such serials are refused now; books may hold one from before."""
    with demo_books.writing() as connection:
        first = standing.one(connection, "HC-0101")
        number = connection.execute(
            bell.insert().values(serial="OLD #1?", batch_id=first.batch_id, crate_id=first.crate_id)
        ).inserted_primary_key[0]
        who = Entry("Ines", NOW)
        write_births(connection, [number], places.machinist(first_machinist(connection)), who)
    answer = client.get("/find", params={"serial": "OLD #1?"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/bells/OLD%20%231%3F")
    assert "Bell OLD #1?" in client.get(answer.headers["location"]).text
    form = {"kind": "reject", "why": "", "who": "Ines", "seen": "0"}
    kept = client.post(answer.headers["location"], data=form)
    assert kept.headers["location"] == "/bells/OLD%20%231%3F#route"


def first_machinist(connection: Connection) -> int:
    return parties(connection, "machinist")[0].id


def test_papers_and_tables(client: TestClient) -> None:
    assert client.get("/bells/HC-0101/certificate.pdf").content.startswith(b"%PDF")
    assert client.get("/fit-ups/11/sheet.pdf").content.startswith(b"%PDF")
    assert client.get("/batches/4/batch.xlsx").content.startswith(b"PK")
    table = read_csv(client.get("/batches/4/batch.csv").content)
    assert len(table.rows) == 50
    refused = client.get("/bells/HC-0140/certificate.pdf")
    assert refused.status_code == 422
    assert "only a released bell is certified" in refused.text


# ── importing an inspection ──────────────────────────────────────────────────────────────


def measured_anew(client: TestClient, bore_y: str = "-0.0190") -> bytes:
    """The held bell's row of the export's own columns, with its bore measured better."""
    header, row = (
        line
        for line in client.get("/batches/4/blank.csv").text.splitlines()
        if line.startswith(("serial", "HC-0140"))
    )
    columns = header.split(",")
    values = {
        "bore x [mm]": "0.0262",
        "bore y [mm]": bore_y,
        "bore u95 [mm]": "0.001",
        "bore diameter [mm]": "124.02",
        "depth [mm]": "165",
        "dowel span [mm]": "372",
        "dowel a diameter [mm]": "16.009",
        "dowel b diameter [mm]": "16.009",
        "starter bore x [mm]": "168",
        "starter bore y [mm]": "-74",
    }
    cells = ["HC-0140"] + [
        values.get(column, "0.003" if "u95" in column else "0.01") for column in columns[1:]
    ]
    assert row
    return f"{header}\r\n{','.join(cells)}\r\n".encode()


def send(client: TestClient, data: bytes, **typed: str) -> tuple[int, str]:
    answer = client.post(
        "/batches/4",
        data={"instrument": "height gauge", "who": "Pell", **typed},
        files={"file": ("bells.csv", io.BytesIO(data), "text/csv")},
    )
    return answer.status_code, answer.text


def test_an_import_decides_the_held_bell(client: TestClient, demo_books: Books) -> None:
    status, _ = send(client, measured_anew(client))
    assert status == 303
    assert state(demo_books, "HC-0140") == "released"
    assert client.cookies["who"] == "Pell"
    assert verify(demo_books) == []


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "empty"),
        (b"\xff\xfe\xff", "bells.csv"),
        (b"serial,depth\nHC-0140,1", "no column"),
    ],
)
def test_a_bad_file_keeps_nothing_and_the_form(
    client: TestClient, demo_books: Books, data: bytes, line: str
) -> None:
    status, text = send(client, data, instrument="my <gauge>")
    assert status == 422
    assert line in text
    assert 'value="my &lt;gauge&gt;"' in text, "what was typed is kept"
    assert 'value="Pell"' in text
    assert state(demo_books, "HC-0140") == "held"


def test_every_fault_of_a_file_is_listed(client: TestClient, demo_books: Books) -> None:
    good = measured_anew(client).decode()
    bad = good.replace("HC-0140", "HC-0140", 1).replace("124.02", "wide").replace("0.0262", "nan")
    status, text = send(client, bad.encode())
    assert status == 422
    assert "wide" in text
    assert "nan" in text
    assert "Not stored. 2 things to mend" in text
    with demo_books.reading() as connection:
        assert len(inspections.inspections_of(connection, "HC-0140")) == 1


def test_a_bell_already_decided_is_refused(client: TestClient, demo_books: Books) -> None:
    data = measured_anew(client).replace(b"HC-0140", b"HC-0102")
    status, text = send(client, data)
    assert status == 422
    assert "bell HC-0102: it is allocated" in text
    data = measured_anew(client).replace(b"HC-0140", b"HC-7777")
    assert send(client, data)[0] == 422


def test_missing_fields_are_named_beside_them(client: TestClient) -> None:
    answer = client.post("/batches/4", data={"instrument": "", "who": ""})
    assert answer.status_code == 422
    for words in ("choose the inspection", "say what they were measured with", "say who hands it"):
        assert words in answer.text


# ── deciding on a bell ───────────────────────────────────────────────────────────────────


def decide(client: TestClient, serial: str, **typed: str) -> tuple[int, str]:
    answer = client.post(f"/bells/{serial}", data={"who": "Ines", **typed})
    return answer.status_code, answer.text


def test_a_concession_has_a_name_and_a_reason(client: TestClient, demo_books: Books) -> None:
    status, text = decide(client, "HC-0140", kind="concede", why="")
    assert status == 422
    assert "needs a reason" in text
    assert state(demo_books, "HC-0140") == "held"
    status, _ = decide(client, "HC-0140", kind="concede", why="for our own test engine")
    assert status == 303
    assert state(demo_books, "HC-0140") == "released"
    assert "for our own test engine" in client.get("/bells/HC-0140").text
    certificate = client.get("/bells/HC-0140/certificate.pdf")
    assert certificate.content.startswith(b"%PDF")


def test_a_decision_on_what_one_did_not_see_is_refused(client: TestClient) -> None:
    status, text = decide(client, "HC-0140", kind="reject", seen="0")
    assert status == 422
    assert "comes second" in text


def test_what_is_not_allowed_is_said(client: TestClient) -> None:
    status, text = decide(client, "HC-0101", kind="release")
    assert status == 422
    assert "cannot be decided, it is shipped" in text
    assert decide(client, "HC-9999", kind="release")[0] == 404


# ── fit-ups ──────────────────────────────────────────────────────────────────────────────


READINGS = {
    f"reading_{clock}": text for clock, text in ((0, "0"), (90, "−1.5"), (180, "−2"), (270, "-0.5"))
}


def sweep(client: TestClient, **typed: str) -> tuple[int, str]:
    form = {"unit": "thou", "who": "Sam", "drawer": "7 thou, 14 thou", **READINGS, **typed}
    answer = client.post("/fit-ups/11/sweep", data=form)
    return answer.status_code, answer.text


def test_a_sweep_is_kept_and_answered(client: TestClient, demo_books: Books) -> None:
    outcome = client.post("/fit-ups/11/outcome", data={"outcome": "corrected", "who": "Sam"})
    assert outcome.status_code == 303
    assert sweep(client)[0] == 303
    page = client.get("/fit-ups/11").text
    assert "Leave it" in page
    with demo_books.reading() as connection:
        steps = kept.steps_of(connection, 11)
    assert [step.state for step in steps][-3:] == ["corrected", "measuring", "advice"]
    assert steps[-2].case_json["readings"] == [
        [0.0, 0.0],
        [90.0, -1.5],
        [180.0, -2.0],
        [270.0, -0.5],
    ]


def test_the_same_sweep_sent_twice_is_kept_once(client: TestClient, demo_books: Books) -> None:
    client.post("/fit-ups/11/outcome", data={"outcome": "corrected", "who": "Sam"})
    assert sweep(client, send_key="once-only")[0] == 303
    assert sweep(client, send_key="once-only")[0] == 303
    with demo_books.reading() as connection:
        swept = [step for step in kept.steps_of(connection, 11) if step.worksheet == "sweep"]
    assert len(swept) == 2


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        ({"reading_90": "1,5"}, "write a decimal point"),
        ({"reading_90": "much"}, "is not a reading"),
        ({"reading_90": "", "reading_180": ""}, "readings"),
        ({"graduation": "0.5"}, "has no unit"),
        ({"drawer": "7"}, "has no unit"),
        ({"hole_clearance": "loose"}, "hole_clearance-error"),
        ({"unit": "ell"}, "is not a unit"),
        ({"who": ""}, "write it down"),
        ({"limit": "-5 thou"}, "is not above zero"),
    ],
)
def test_a_bad_sweep_keeps_the_form_and_nothing_else(
    client: TestClient, demo_books: Books, typed: dict[str, str], line: str
) -> None:
    client.post("/fit-ups/11/outcome", data={"outcome": "corrected", "who": "Sam"})
    typed = {"reading_0": "0.25", "reading_270": "9.75", **typed}
    status, text = sweep(client, **typed)
    assert status == 422
    assert line in text
    assert 'value="9.75"' in text
    with demo_books.reading() as connection:
        assert kept.steps_of(connection, 11)[-1].state == "corrected"


OFF = {"reading_0": "-6", "reading_90": "0", "reading_180": "6", "reading_270": "0"}


def value_of(text: str, name: str) -> str:
    found = re.search(rf'<input id="{name}"[^>]* value="([^"]*)"', text)
    assert found is not None, name
    return found[1]


def test_the_dowels_as_turned_are_asked_for_and_kept(client: TestClient, demo_books: Books) -> None:
    plain = {"outcome": "corrected", "a_size": "", "b_size": "plain", "who": "Sam"}
    assert client.post("/fit-ups/11/outcome", data=plain).status_code == 303
    assert sweep(client, **OFF)[0] == 303
    page = client.get("/fit-ups/11").text
    # filled as advised: the bore sits 6 thou high, so slots point down
    assert value_of(page, "a_size") == value_of(page, "b_size") == "7 thou"
    assert float(value_of(page, "a_clock_deg")) == pytest.approx(180, abs=60)
    form = {"outcome": "corrected", "who": "Sam", "a_size": "7", "a_clock_deg": "60"}
    bad = client.post("/fit-ups/11/outcome", data={**form, "b_size": "7 thou", "b_clock_deg": ""})
    assert bad.status_code == 422
    for field, line in (("a_size", "has no unit"), ("b_clock_deg", "say where its slot points")):
        beside = re.search(rf'id="{field}-error">(.*?)</p>', bad.text)
        assert beside is not None, field
        assert line in beside[1]
    assert [value_of(bad.text, name) for name in ("a_size", "a_clock_deg", "b_size")] == [
        "7",
        "60",
        "7 thou",
    ]
    slots = {"a_size": "7 thou", "a_clock_deg": "170", "b_size": "7 thou", "b_clock_deg": "185"}
    assert client.post("/fit-ups/11/outcome", data={**form, **slots}).status_code == 303
    assert sweep(client, **OFF)[0] == 303
    with demo_books.reading() as connection:
        steps = kept.steps_of(connection, 11)
    assert steps[-3].worksheet == "dowels as turned"
    assert steps[-1].case_json["turned"] == steps[-3].case_json
    assert steps[-3].case_json["b_clock_deg"] == 185


def test_a_sweep_with_a_slipped_reading_shows_what_to_do_before_any_dowel(
    client: TestClient,
) -> None:
    offset = {0: -6, 45: -4.2, 90: 0, 135: 4.2, 180: 6, 225: 4.2, 270: 0, 315: 9}  # 315: slipped
    client.post("/fit-ups/11/outcome", data={"outcome": "corrected", "who": "Sam"})
    eight = {f"reading_{clock}": str(text) for clock, text in offset.items()}
    assert sweep(client, **eight)[0] == 303
    page = client.get("/fit-ups/11").text
    assert "Read half past 10 again" in page
    assert "No dowels before you have swept again." in page
    assert "Figures of the dowels" not in page


def test_a_fit_up_ends(client: TestClient, demo_books: Books) -> None:
    failed = client.post("/fit-ups/11/outcome", data={"outcome": "failed", "who": "Sam"})
    assert failed.status_code == 422
    assert "say what went wrong" in failed.text
    ended = client.post("/fit-ups/11/outcome", data={"outcome": "succeeded", "who": "Sam"})
    assert ended.status_code == 303
    assert state(demo_books, "HC-0101") == "fitted"


def test_a_fit_up_is_opened_for_a_shipped_order(client: TestClient) -> None:
    missing = client.post("/fit-ups", data={"order": "", "who": "Ines"})
    assert missing.status_code == 422
    assert "choose the order" in missing.text
    form = {"order": "20", "fitter": "Moor Top", "block": "new", "who": "Ines"}
    opened = client.post("/fit-ups", data=form)
    assert (opened.status_code, opened.headers["location"]) == (303, "/fit-ups/12")
    assert client.post("/fit-ups", data=form).status_code == 422, "one is under way"


def test_a_reworked_bell_does_not_show_its_old_values_as_its_own(
    client: TestClient, demo_books: Books
) -> None:
    assert "<h2>Measured</h2>" in client.get("/bells/HC-0107").text
    form = {"kind": "rework", "why": "cut the bore again", "who": "Ines", "seen": "1"}
    answer = client.post("/bells/HC-0107", data=form)
    assert answer.status_code == 303, answer.text
    page = client.get("/bells/HC-0107").text
    assert "<h2>Measured before its rework</h2>" in page
    assert "<h2>Measured</h2>" not in page
    assert "Made, at the machinist&#39;s, Carrack Lane Machining." in re.sub("<[^>]*>", "", page)
    assert "measured before its rework" in client.get("/batches/4").text


def test_the_first_page_has_a_column_for_bells_released_at_the_machinist(
    client: TestClient,
) -> None:
    assert "Released, still at the machinist&#39;s" in client.get("/").text


def test_a_batch_says_what_its_corrections_leave_out(client: TestClient) -> None:
    page = client.get("/batches/4").text
    guessed = page.count("zone written down for")
    assert guessed > 0
    assert page.count("does not hold the bell&#39;s play on its dowels") == guessed
    assert page.count("the gauge&#39;s noise is in their scatter") == 1
