"""A kit's cost from the books: the same money, and every line of the bill."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from decimal import Decimal

import pytest

from kitwright.books import designs, kits, rates
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.errors import InputError, MissingError
from kitwright.shop import costing
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read
from kitwright.worksheets.supply.kit_cost_case import KitCostAnswer

TODAY = datetime.date(2026, 5, 4)
NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


@pytest.fixture
def books(demo_books: Books) -> Iterator[Books]:
    return demo_books


def answered(books: Books, kit_id: int = 1) -> KitCostAnswer:
    worksheet = load("kit-cost")
    found = worksheet.solve(read(worksheet.case, costing.case_of(books, kit_id, today=TODAY)))
    assert isinstance(found, KitCostAnswer)
    return found


def test_the_demos_kit_costs_what_its_books_add_up_to(books: Books) -> None:
    answer = answered(books)
    with books.reading() as c:
        for variant, row in zip(kits.variants(c, 1), answer.variants, strict=True):
            bill = sum(part.count * part.cost.amount for part in kits.bill(c, variant.id))
            bell = designs.get_design(c, variant.design_id).price.amount
            assert row.variant == variant.name
            assert Decimal(row.price.amount) == variant.price.amount
            assert Decimal(row.cost.amount) == bill + bell
            assert Decimal(row.margin.amount) == variant.price.amount - bill - bell
    (step,) = answer.steps
    assert {step.base, step.variant} == {"cast bell", "certified steel bell"}
    assert [row.option for row in answer.options] == [
        "eccentric dowels, three pairs",
        "speedometer drive",
    ]
    assert [kit.name for kit in costing.costed(books)] == ["Heron six-speed kit"]


def test_parts_by_one_name_at_two_costs_stay_apart(books: Books) -> None:
    with books.writing() as c:
        cast, steel = kits.variants(c, 1)
        for variant, cents in ((cast, 1000), (steel, 2500)):
            kits.add_part(c, 1, "hose", count=2, cost=Money(cents, "USD"), variant_id=variant.id)
        kits.add_option(c, cast.id, "lighter flywheel", Money(40000, "USD"))
        kits.add_option(c, steel.id, "lighter flywheel", Money(45000, "USD"))
    answer = answered(books)
    hoses = {row.of: row.cost.amount for row in answer.lines if row.part.startswith("hose")}
    assert hoses == {"cast bell": "20.00", "certified steel bell": "50.00"}
    assert {row.option: row.price.amount for row in answer.options if "flywheel" in row.option} == {
        "lighter flywheel, cast bell": "400.00",
        "lighter flywheel, certified steel bell": "450.00",
    }


def test_what_was_bought_abroad_goes_by_the_rate_that_counts(books: Books) -> None:
    with books.writing() as c:
        kits.add_part(c, 1, "seal", count=3, cost=Money(1000, "EUR"))
    with pytest.raises(InputError, match="none from EUR to USD by 2026-05-04"):
        answered(books)
    before = Decimal(answered_without(books))
    typed = {"source": "eur", "target": " usd", "rate": "1.0842", "day": "2026-04-30"}
    for _ in range(2):  # sent twice is kept once
        costing.add_rate(books, typed, entry=Entry(who="Ada", recorded=NOW), send_key="k-1")
    with books.reading() as c:
        assert len(rates.lines(c)) == 1
    answer = answered(books)
    assert [(row.rate, row.date, row.days) for row in answer.rates] == [("1.0842", "2026-04-30", 4)]
    assert Decimal(answer.variants[0].parts_cost.amount) - before == Decimal("32.53")  # 3 x 10.842


def answered_without(books: Books) -> str:
    """The parts of the first variant, but for the seal."""
    worksheet = load("kit-cost")
    case = costing.case_of(books, 1, today=TODAY)
    case["shared"] = [use for use in case["shared"] if use["part"] != "seal"]
    case["parts"] = [part for part in case["parts"] if part["name"] != "seal"]
    answer: KitCostAnswer = worksheet.solve(read(worksheet.case, case))
    return answer.variants[0].parts_cost.amount


def test_a_kit_that_is_not_there(books: Books) -> None:
    with pytest.raises(MissingError, match="no kit number 99 with a variant"):
        costing.case_of(books, 99, today=TODAY)


@pytest.mark.parametrize(
    ("day", "told"),
    [
        ("", "missing"),
        ("4.5.2026", '"4.5.2026" is not a day'),
        ("2026-02-30", '"2026-02-30" is not a day'),
    ],
)
def test_a_day_is_a_day(books: Books, day: str, told: str) -> None:
    typed = {"source": "EUR", "target": "USD", "rate": "1.1", "day": day}
    with pytest.raises(InputError, match=f"day: {told}; write it as 2026-03-01"):
        costing.add_rate(books, typed, entry=Entry(who="Ada", recorded=NOW), send_key=None)
