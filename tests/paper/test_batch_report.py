"""A batch's report holds what its page holds, in black."""

from __future__ import annotations

import datetime

from kitwright.paper.batch_report import batch_report_data, batch_report_pdf
from kitwright.paper.typesetting import compiled
from kitwright.shop.summary import summarise

DAY = datetime.date(2026, 5, 4)


def test_every_figure_is_on_the_report(printed, demo_books):
    found = printed(batch_report_pdf(summarise(demo_books, 4), [], date=DAY))
    for words in (
        "Batch B-04",
        "Of 50 bells: 45 released, 1 held, 4 rejected.",
        "78.2 to 96.7 %",
        "0.024 thou inside",
        "too few values to tell",
        "bore x: HC-0107: beyond limits",
        "A bell is released when every characteristic stays within",
    ):
        assert words in found.text, words
    assert len(found.pages) < 10
    assert all(found.fonts().values())


def test_its_pictures_are_the_pages_own_in_black(demo_books):
    shown = summarise(demo_books, 4)
    data = batch_report_data(shown, [], date=DAY)
    assert data["target"]["svg"].count("<title>") > 50  # each bore says its serial
    drawn = [one for each in data["charts"] for one in each["pictures"]]
    paged = [one for each in shown.processes for one in each.pictures(lead=shown.lead)]
    assert [one["caption"] for one in drawn] == [one.caption for one in paged]
    for one in drawn:
        assert "var(--" not in one["svg"]


def test_a_batch_not_measured_has_a_report_too(printed, demo_books):
    shown = summarise(demo_books, 3)
    found = printed(batch_report_pdf(shown, [], date=DAY))
    assert "Of 6 bells: 6 undecided yet." in found.text
    assert "0 measured; 2 or more are needed" in found.text


def test_the_sheet_is_set_without_a_warning_and_is_tagged(demo_books):
    data = batch_report_data(summarise(demo_books, 4), [], date=DAY)
    pdf, warnings = compiled("batch", data, title="Batch B-04", date=DAY, standards=["ua-1"])
    assert pdf.startswith(b"%PDF")
    assert warnings == []
