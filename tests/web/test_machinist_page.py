"""The machinist's pages by his link: what they show, what they take, and what they never say."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from kitwright.books import inspections, orders, standing, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.demo.measuring import inspection
from kitwright.files.inspection import write_inspection
from kitwright.shop import links
from kitwright.web.links.site import create_links_site
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ADDRESS = "http://garage.test:8711"


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_links_site(demo_books, ADDRESS, clock=lambda: NOW)
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as client:
        yield client


@pytest.fixture
def path(demo_books: Books) -> str:
    with demo_books.reading() as c:
        his = parties(c, "machinist")[0].id
    return links.give_for_machinist(demo_books, his, entry=Entry("Owner", NOW)).path


def sent_batch(books: Books) -> tuple[int, list[str]]:
    with books.reading() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
        return batch.id, [s.serial for s in standing.where(c) if s.batch_id == batch.id]


def file_of(books: Books, batch: int, serials: list[str]) -> bytes:
    with books.reading() as c:
        drawn = characteristics(c, stock.get_batch(c, batch).revision_id)
    return write_inspection(inspection(drawn, serials, seed=3)).encode()


def test_he_sees_his_batches_the_limits_and_an_answer_for_each_bell(client, path):
    listed = client.get(path).text
    assert "Batches of Carrack Lane Machining" in listed
    assert f"{path}/batches/4" in listed
    page = client.get(f"{path}/batches/4").text
    for words in ("Of 50 bells measured, 45 are within, 4 outside, 1 too close to call",
                  "HC-0107", "bore outside", "Where the machine stands",
                  "s limits</h2>"):  # fmt: skip
        assert words in page


def test_no_page_of_his_names_a_customer_or_an_order(client, path, demo_books):
    with demo_books.reading() as c:
        secret = [each.name for each in parties(c, "customer")]
        secret += [each.label for each in orders.orders(c)]
        numbers = [each.id for each in stock.batches(c)]
    assert secret
    for address in (path, *(f"{path}/batches/{number}" for number in numbers)):
        text = client.get(address).text
        assert not [each for each in secret if each in text]
        for word in ("allocated", "shipped", "fitted", "customer"):
            assert word not in text.lower()


def test_he_hands_in_a_file_and_sees_what_it_came_to(client, path, demo_books):
    batch, serials = sent_batch(demo_books)
    here = f"{path}/batches/{batch}"
    blank = client.get(f"{here}/blank.csv")
    assert blank.text.splitlines()[1].startswith(serials[0])
    answer = client.post(
        here,
        data={"instrument": "measuring arm", "who": "Turner"},
        files={"file": ("b.csv", file_of(demo_books, batch, serials))},
    )
    assert (answer.status_code, answer.headers["location"]) == (303, f"{here}#bells")
    page = client.get(here).text
    assert f"Of {len(serials)} bells measured" in page
    assert page.count("not decided yet") == len(serials)


def test_a_bad_file_comes_back_with_every_fault_and_nothing_is_kept(client, path, demo_books):
    batch, serials = sent_batch(demo_books)
    good = file_of(demo_books, batch, serials).decode().splitlines()
    good[1] = good[1].replace(serials[0], "HC-9999")
    good[2] = good[2].replace(",", ",bad", 1)
    answer = client.post(
        f"{path}/batches/{batch}",
        data={"instrument": "measuring arm", "who": "Turner"},
        files={"file": ("b.csv", "\n".join(good).encode())},
    )
    assert answer.status_code == 422
    assert "row 3" in answer.text
    assert 'value="measuring arm"' in answer.text
    empty = client.post(f"{path}/batches/{batch}", data={"who": ""})
    assert empty.status_code == 422
    for words in ("choose the inspection", "say what they were measured with", "say who hands"):
        assert words in empty.text
    with demo_books.reading() as c:
        assert not any(inspections.inspections_of(c, each) for each in serials)


def test_he_declares_his_axes_and_is_told_which_way_to_shift(client, path):
    here = f"{path}/batches/4"
    before = client.get(here).text
    assert "declare your axes to see which way" in before
    wrong = client.post(f"{here}/axes", data={"right": "X-", "up": "X+", "who": "Turner"})
    assert wrong.status_code == 422
    assert "lies along the same axis as right" in wrong.text
    done = client.post(
        f"{here}/axes",
        data={"right": "X-", "up": "Y+", "length_0": "diameter", "length_1": "Z-", "who": "Turner"},
    )
    assert done.status_code == 303
    after = client.get(here).text
    assert "shift X by 0.0003 in" in after  # the bore sits 0.3 thou right; right is X-
    assert "shift Y by 0.0002 in" in after
    assert "declare your axes" not in after


def test_a_batch_that_is_not_his_is_not_there(client, path):
    assert client.get(f"{path}/batches/99").status_code == 404
    assert client.get(f"{path}/batches/99/blank.csv").status_code == 404
    posted = client.post(f"{path}/batches/99", data={"who": "x", "instrument": "y"})
    assert posted.status_code == 404


def test_the_shop_gives_and_withdraws_links_on_its_page(demo_books, client):
    with (
        TestClient(
            create_site(demo_books, hosts=["testserver"], clock=lambda: NOW), follow_redirects=False
        ) as shop,
        demo_books.reading() as c,
    ):
        his = parties(c, "machinist")[0].id
        assert "No address is set yet" in shop.get("/links").text
        bad = shop.post("/links", data={"machinist": "", "who": ""})
        assert (bad.status_code, "choose whose batches it opens" in bad.text) == (422, True)
        given = shop.post("/links", data={"machinist": str(his), "days": "30", "who": "Owner"})
        assert given.status_code == 303
        from kitwright.books import links as kept

        with demo_books.writing() as w:
            kept.set_address(w, ADDRESS, Entry("Owner", NOW))
        with demo_books.reading() as r:
            link = kept.of_machinist(r, his)[0]
        page = shop.get("/links").text
        assert f"{ADDRESS}{link.path}" in page
        assert "<svg" in page
        assert client.get(link.path).status_code == 200
        refused = shop.post(f"/links/{link.id}/withdraw", data={"why": "", "who": "Owner"})
        assert refused.status_code == 422
        gone = shop.post(f"/links/{link.id}/withdraw", data={"why": "left us", "who": "Owner"})
        assert gone.status_code == 303
        assert client.get(link.path).status_code == 410
        assert "left us" in shop.get("/links").text
