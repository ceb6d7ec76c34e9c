"""The fitter's page, first answer: the whole document against a bare file of the same application.

Both are asked through the same client, with every guard in front of them, and packed for the line.
The reference is what anyone would serve: a static file. Kept is what was made of a version of the
fit-up; the benchmark also asks for the page after each new note, when nothing of it is kept.
"""

from __future__ import annotations

import datetime
import itertools
from pathlib import Path

from starlette.testclient import TestClient

from benchmarks.ratios import ratio, report
from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.demo.story import run
from kitwright.shop import links
from kitwright.shop.opening import open_shop
from kitwright.web.links.site import create_links_site

ADDRESS = "http://garage.test:8711"
MOST = 5.0


def test_the_first_answer_costs_few_bare_requests(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    run(folder, today=datetime.date(2026, 5, 4), tell=lambda line: None)
    now = datetime.datetime(2026, 5, 5, 9, tzinfo=datetime.UTC)
    with open_shop(folder) as books:
        link = links.give_for_fit_up(books, 11, entry=Entry("Owner", now))
        app = create_links_site(books, ADDRESS, clock=lambda: now)
        with TestClient(app, base_url=ADDRESS) as client:

            def bare() -> None:
                assert client.get("/static/icon.svg").status_code == 200

            def page() -> None:
                assert client.get(link.path).status_code == 200

            def news() -> None:
                with books.writing() as connection:
                    fitup_talk.add_note(
                        connection, 11, "shop", "x", send_key=f"{next(keys)}", entry=Entry("O", now)
                    )
                page()

            keys = itertools.count()
            value = ratio(page, bare, rounds=21)
            report("the fitter's page over a bare file", value, f"under {MOST:g}")
            report("the same after a new note", ratio(news, bare, rounds=7), "no target")
            assert value < MOST
