"""The hold-back worksheet: the reserve of a known rate against the Poisson law, and bad cases."""

from __future__ import annotations

import datetime

import pytest
from scipy import stats

from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read
from kitwright.worksheets.supply.hold_back_case import HoldBackCase


def solved(**given):
    worksheet = load("hold-back")
    case = {"on_hand": 20, "kits_per_week": 2.0, "replenishment_weeks": 2.0, **given}
    return worksheet.solve(read(HoldBackCase, {k: v for k, v in case.items() if v is not None}))


# Base stock with Poisson demand of mean 4 over the lead time (theory of Palm and Feeney):
# served at once 0.8893 with 7 and 0.9489 with 8; no kit short with 7: P(D <= 7) = 0.9489.
@pytest.mark.parametrize(("service", "reserve"), [(0.94, 7), (0.95, 8), (0.9786, 8), (0.99, 9)])
def test_the_reserve_is_the_least_that_serves(service, reserve):
    answer = solved(service=service)
    assert answer.reserve == reserve == stats.poisson(4).ppf(service)
    assert answer.loose_today == 20 - reserve
    assert answer.chance_short == pytest.approx(stats.poisson(4).sf(reserve))
    assert answer.expected_demand == pytest.approx(4)


def test_what_is_promised_is_not_there_to_sell():
    assert solved(service=0.95, promised=6).loose_today == 20 - 6 - 8


def test_too_few_bells_keep_them_all_and_say_how_often_that_fails():
    answer = solved(on_hand=5, service=0.95)
    assert answer.loose_today == 0
    assert answer.chance_short == pytest.approx(stats.poisson(4).sf(5))
    assert "Sell none loose today" in load("hold-back").say(answer, "mm")


def test_a_history_leaves_the_rate_uncertain_and_holds_more():
    known = solved(service=0.95)
    learned = solved(service=0.95, kits_per_week=None, history=[2, 1, 3, 2])
    assert learned.reserve > known.reserve
    assert learned.demand_kind == "Poisson"
    wild = solved(service=0.95, kits_per_week=None, history=[0, 9, 0, 0, 8, 0, 0, 3, 0, 0])
    assert wild.demand_kind == "over-dispersed"
    assert wild.chance_poisson < 0.05


def test_an_uncertain_lead_time_holds_more_than_its_middle():
    spread = {"least": 1.0, "likely": 2.0, "most": 9.0}
    answer = solved(replenishment_weeks=None, replenishment=spread, service=0.95)
    assert answer.reserve > solved(replenishment_weeks=4.0, service=0.95).reserve
    assert answer.expected_demand == pytest.approx(2 * 4, abs=0.2)  # in whole days


def test_the_margins_say_what_is_worth_holding():
    kit, loose = {"amount": "400", "currency": "USD"}, {"amount": "100", "currency": "USD"}
    answer = solved(kit_margin=kit, loose_margin=loose)
    # Littlewood: hold the k-th while P(D >= k) > 100/400
    assert stats.poisson(4).sf(answer.reserve_by_margins - 1) > 0.25
    assert stats.poisson(4).sf(answer.reserve_by_margins) <= 0.25
    with pytest.raises(InputError, match="loose_margin: currencies EUR and USD"):
        solved(kit_margin=kit, loose_margin={**loose, "currency": "EUR"})
    with pytest.raises(InputError, match="loose_margin: missing"):
        solved(kit_margin=kit)
    with pytest.raises(InputError, match="a kit leaves more than nothing"):
        solved(kit_margin={**kit, "amount": "0"}, loose_margin=loose)


def test_a_batch_opens_loose_sales_on_a_day():
    batch = {"name": "B-05", "due": "2026-05-18", "count": 40, "days_late": [0] * 30}
    answer = solved(
        on_hand=2,
        service=0.9,
        today="2026-05-04",
        batches=[batch],
        yield_history=[{"made": 400, "good": 390}],
    )
    assert answer.opens_on is not None
    assert datetime.date(2026, 5, 17) <= answer.opens_on <= datetime.date(2026, 5, 24)
    assert "It may open on" in load("hold-back").say(answer, "mm")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"kits_per_week": None}, "kits_per_week: it or history is needed"),
        ({"history": [1]}, "kits_per_week: it or history is needed; give one of the two"),
        ({"replenishment_weeks": None}, "replenishment_weeks: it or replenishment is needed"),
        (
            {"replenishment_weeks": None,
             "replenishment": {"least": 5.0, "likely": 2.0, "most": 9.0}},
            "replenishment: 5, 2, 9; give least, likely and most in that order",
        ),
        ({"on_hand": -1}, "on_hand"),
        ({"on_hand": 2.5}, "on_hand"),
        ({"service": 1.0}, "service"),
        ({"kits_per_week": -1.0}, "kits_per_week"),
        (
            {"batches": [{"name": "B", "due": "2026-05-18", "count": 4}]},
            "today: missing; the batches' days are counted from it",
        ),
    ],
)  # fmt: skip
def test_cases_that_cannot_be_used_say_what_to_do(given, words):
    with pytest.raises(InputError, match=words):
        solved(**given)
