"""The buyer's sheet: its first page answers the buyer, and promises nothing."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from kitwright.paper.buyers_sheet import NO_PROMISE, buyers_data
from kitwright.paper.typesetting import compiled
from kitwright.paper.worksheet_sheet import worksheet_data, worksheet_pdf
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

DAY = datetime.date(2026, 5, 4)
CHOOSE = load("choose-bell")


def solved(**changed: Any) -> tuple[Any, Any]:
    case = read(CHOOSE.case, {**from_toml(CHOOSE.example), **changed})
    return case, CHOOSE.solve(case)


def sheet(case: Any, answer: Any) -> bytes:
    return worksheet_pdf(CHOOSE, case, answer, lead="in", date=DAY, shop_name="Tanager Row")


def test_the_first_page_answers_the_buyer(printed: Any) -> None:
    case, answer = solved()
    found = printed(sheet(case, answer))
    first = found.pages[0]
    for words in (
        "DANGER",
        "Heron quiet steel bell comes first of the 2 bells that are left",
        "street, and four drag days a year",
        "430 kW",
        "1310.00 USD",
        "14 kg",
        "SD-20418, to 2027-03-31",
        "170.00 USD more, 0.9 kg heavier",
        "this is none",
        "rule book 2026, 4.12, copied 2026-02-10",
        "Check before you order",
        "Tanager Row",
        "Buyer's sheet",
    ):
        assert words in first, words
    assert first.index("DANGER") < first.index("comes first")
    assert "".join(NO_PROMISE.split()) in "".join(first.split())
    assert "How each figure counted" not in first


def test_every_bell_out_is_printed_with_its_reason(printed: Any) -> None:
    case, answer = solved(budget={"amount": "1.00", "currency": "USD"})
    assert answer.recommended is None
    found = printed(sheet(case, answer))
    assert "No bell on offer is left" in found.pages[0]
    assert found.pages[0].count("is over the budget of 1.00 USD") >= 3
    assert "The bell that comes first" not in found.text


@pytest.mark.parametrize("count", [1, 4, 5, 30])
def test_few_bells_stand_side_by_side_and_many_in_lines(printed: Any, count: int) -> None:
    design = from_toml(CHOOSE.example)["designs"][1]
    many = [{**design, "name": f"bell number {n}", "mass_kg": 10.0 + n} for n in range(count)]
    case, answer = solved(designs=many)
    found = printed(sheet(case, answer))
    for n in range(count):
        assert f"bell number {n}" in found.text
        assert f"{10.0 + n:g} kg" in found.text
    assert f"Page 1 of {len(found.pages)}" in found.text


def test_it_is_accessible_and_the_same_twice() -> None:
    case, answer = solved(use="a" * 400)
    data = worksheet_data(CHOOSE, case, answer, lead="mm", date=DAY, shop_name="Yard")
    shaped = buyers_data(case, answer, data)
    _, warnings = compiled("buyers-sheet", shaped, title="t", date=DAY, standards=["ua-1"])
    assert warnings == []
    assert sheet(case, answer) == sheet(case, answer)
    assert {each["label"] for each in shaped["front"]}.isdisjoint(
        each["label"] for each in shaped["tables"]
    )
