"""The pages of a release: summed up, sampled, recalled, and results as QIF in and out."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from kitwright.books import samples as kept
from kitwright.books import standing, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.verifying import verify
from kitwright.demo.measuring import inspection
from kitwright.files.qif import open_qif, read_qif
from kitwright.files.qif_writing import write_qif
from kitwright.files.tables import read_csv
from kitwright.shop import batches
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 6, 15, tzinfo=datetime.UTC)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    with demo_books.writing() as connection:
        stock.take_batch_back(connection, 3, Entry("Ines", NOW - datetime.timedelta(hours=9)))
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def hand_in(client: TestClient, books: Books, serials: list[str], **wrong: tuple[float, float]):
    """Post an inspection of the steel batch's bells as QIF."""
    with books.reading() as connection:
        drawn = characteristics(connection, stock.get_batch(connection, 3).revision_id)
    table = inspection(drawn, serials, seed=3, wrong={0: wrong} if wrong else None)
    data = write_qif(table, title="try", created=NOW)
    return client.post(
        "/batches/3",
        data={"instrument": "gauge", "who": "Pell"},
        files={"file": ("steel.qif", data, "application/xml")},
    )


def test_a_batch_summed_up(client: TestClient) -> None:
    page = client.get("/batches/4/summary").text
    for words in (
        "Of 50 bells: 45 released, 1 held, 4 rejected.",
        "78.2 to 96.7 %",
        "0.024 thou inside",
        "use a better instrument",
        "bore x: HC-0107: beyond limits",
        "HC-0126 to HC-0137: 8 in a row on one side",
        "too few values to tell",
    ):
        assert words in page, words
    assert page.count("<svg") > 20
    assert "the same to print" in client.get("/batches/4").text
    assert client.get("/batches/4/report.pdf").content.startswith(b"%PDF")
    assert client.get("/batches/99/summary").status_code == 404


def test_a_batch_is_sampled_measured_and_released_by_its_pages(
    client: TestClient, demo_books: Books
) -> None:
    assert "Judge it by a sample" in client.get("/batches/3").text
    page = client.get("/batches/3/sample").text
    assert "WARNING" in page
    assert "6 bells wait" in page
    form = {"aql": "", "n": "3", "c": "0", "who": "Ines"}
    assert client.post("/batches/3/sample", data=form).status_code == 303
    with demo_books.reading() as connection:
        (one,) = kept.samples_of(connection, 3)
        drawn = [bell.serial for bell in kept.lot_of(connection, one.id) if bell.drawn]
    page = client.get("/batches/3/sample").text
    assert f"seed {one.seed}" in page
    assert page.count("not measured yet") == 3
    early = client.post("/batches/3/sample/verdict", data={"who": "Ines"})
    assert early.status_code == 422
    assert f"not measured yet: {', '.join(drawn)}" in early.text
    assert hand_in(client, demo_books, drawn).status_code == 303
    page = client.get("/batches/3/sample").text
    assert "the 3 bells that it left out released on its evidence" in page
    assert client.post("/batches/3/sample/verdict", data={"who": "Ines"}).status_code == 303
    page = client.get("/batches/3").text
    assert "6 released" in page
    assert page.count("released by sample, not itself measured") == 3
    rest = next(serial for serial in re.findall(r"/bells/(HS-\d+)", page) if serial not in drawn)
    bell = client.get(f"/bells/{rest}").text
    assert "Released by sample, not itself measured" in bell
    assert "Certificate of release by sample" in bell
    assert client.get(f"/bells/{rest}/certificate.pdf").content.startswith(b"%PDF")
    again = client.post("/batches/3/sample/verdict", data={"who": "Ines"})
    assert "none waits for its verdict" in again.text
    assert verify(demo_books) == []


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"n": "6", "c": "0"}, "measure every bell, and draw no sample"),
        ({"n": "many", "c": "0"}, "is not a whole number; write digits only"),
        ({"n": "3"}, "say how many of the sample may be bad"),
        ({"aql": "17"}, "is not in the tables; choose one of the list"),
        ({"aql": "4", "n": "3", "c": "0"}, "given with a plan; give one of them"),
        ({"n": "3", "c": "0", "who": ""}, "who: missing"),
        ({}, "give n and c, or a level of the tables"),
    ],
)
def test_a_plan_that_cannot_be_comes_back_as_it_was_filled(
    client: TestClient, demo_books: Books, form: dict[str, str], words: str
) -> None:
    answer = client.post("/batches/3/sample", data={"who": "Ines", **form})
    assert answer.status_code == 422
    assert words in answer.text
    assert form.get("n", "") in answer.text
    with demo_books.reading() as connection:
        assert kept.samples_of(connection, 3) == []


def test_results_come_out_as_qif_and_read_back_the_same(
    client: TestClient, demo_books: Books
) -> None:
    answer = client.get("/batches/4/inspection.qif")
    assert "attachment" in answer.headers["content-disposition"]
    shown = batches.view(demo_books, 4)
    back = read_qif(open_qif(answer.content), batches.expected_of(shown.newest.characteristics))
    assert back.serials == shown.newest.serials
    assert back.values_mm.tolist() == shown.newest.mm[:, :, 0].tolist()
    assert back.u95_mm.tolist() == shown.newest.u95_mm.tolist()
    refused = client.get("/batches/3/inspection.qif")
    assert refused.status_code == 404
    assert "has no bell measured whole" in refused.text


def test_a_bad_qif_stops_whole_with_every_fault(client: TestClient, demo_books: Books) -> None:
    with demo_books.reading() as connection:
        drawn = characteristics(connection, stock.get_batch(connection, 3).revision_id)
    table = inspection(drawn, ["HS-0005", "HS-0006"], seed=3)
    good = write_qif(table, title="try", created=NOW).decode()
    files = {
        "two": re.sub(r"(>)(16\d\.\d+)(<)", r"\1?\3", good),
        "laughs": good.replace("<QIF", "<!DOCTYPE d [<!ENTITY a 'ha'>]><QIF", 1),
        "cut off": good[: len(good) // 2],
        "unknown": good.replace("HS-0006", "HS-9999"),
    }
    told = {}
    for name, text in files.items():
        answer = client.post(
            "/batches/3",
            data={"instrument": "gauge", "who": "Pell"},
            files={"file": (f"{name}.qif", text.encode(), "application/xml")},
        )
        assert answer.status_code == 422, name
        told[name] = answer.text
    assert "HS-0005, depth: Value" in told["two"]
    assert "HS-0006, depth: Value" in told["two"]
    assert "document type" in told["laughs"]
    assert "not whole or not well-formed" in told["cut off"]
    assert "bell HS-9999: there is no bell of this serial" in told["unknown"]
    with demo_books.reading() as connection:
        assert {each.state for each in standing.of(connection, ["HS-0005", "HS-0006"])} == {"made"}


def test_a_shipped_bells_new_measurement_waits_for_its_return(
    client: TestClient, demo_books: Books
) -> None:
    with demo_books.reading() as connection:
        drawn = characteristics(connection, stock.get_batch(connection, 4).revision_id)
    data = write_qif(inspection(drawn, ["HC-0101"], seed=3), title="try", created=NOW)
    answer = client.post(
        "/batches/4",
        data={"instrument": "gauge", "who": "Pell"},
        files={"file": ("one.qif", data, "application/xml")},
    )
    assert answer.status_code == 422
    assert "take it back and hold it, then measure it" in answer.text


def test_withdrawing_a_bell_leads_to_everyone_who_has_it(client: TestClient) -> None:
    form = {"kind": "withdraw", "why": "porous", "who": "Ines"}
    answer = client.post("/bells/HC-0101", data=form)
    assert answer.headers["location"] == "/bells/HC-0101/recall"
    page = client.get("/bells/HC-0101/recall").text
    assert "Ladder Street Garage has it." in page
    assert "batch B-04, crate CR-04" in page
    assert "/bells/HC-0101/recall" in client.get("/bells/HC-0101").text
    assert len(read_csv(client.get("/bells/HC-0101/recall.csv").content).rows) == 50
    assert client.get("/bells/HC-0101/recall.xlsx").content.startswith(b"PK")
    assert client.get("/bells/HC-9999/recall").status_code == 404
