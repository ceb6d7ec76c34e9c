"""The pictures of the supply stage: lots over time, and what a kit's cost is made of."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.lots import Period, lots_picture
from kitwright.pictures.palette import DAY
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def solved(name: str, **more: Any) -> tuple[Any, Any]:
    worksheet = load(name)
    case = read(worksheet.case, {**from_toml(worksheet.example), **more})
    return case, worksheet.solve(case)


def test_lots_are_drawn_where_and_as_large_as_they_are_sent(read_back: Any) -> None:
    case, answer = solved("lot-plan", whole=True, capacity=[30] * 6 + [15] * 6)
    (picture,) = pictures_of("lot-plan", case, answer, palette=DAY)
    drawn = read_back(picture.svg)
    drawn.check_clear()
    *bars, key = [e for e in drawn.all("rect") if e.get("fill") == DAY.brass]
    sent = [row for row in answer.periods if row.send]
    assert len(bars) == len(sent)
    tallest = max(row.send for row in sent)
    step = (392 - 8) / len(answer.periods)
    for bar, row in zip(bars, sent, strict=True):
        assert float(bar.get("height")) == pytest.approx(74 * row.send / tallest, abs=0.01)
        middle = float(bar.get("x")) + float(bar.get("width")) / 2
        assert middle == pytest.approx(8 + (row.period - 0.5) * step, abs=0.02)
    assert float(key.get("height")) == 10
    assert {f"{row.send}" for row in sent} <= set(drawn.words())


def test_the_stock_is_drawn_to_scale_and_never_below_its_line(read_back: Any) -> None:
    case, answer = solved("lot-plan")
    (picture,) = pictures_of("lot-plan", case, answer, palette=DAY)
    path = next(p for p in read_back(picture.svg).all("path"))
    points = [tuple(map(float, pair)) for pair in re.findall(r"([\d.]+) ([\d.]+)", path.get("d"))]
    stock = [case.on_hand]
    for row in answer.periods:
        stock += [stock[-1] + row.good] if row.good else []
        stock.append(row.left)
    base = 24 + 74 + 36 + 110
    heights = [base - y for _, y in points]
    assert min(heights) >= 0
    assert max(heights) == pytest.approx(110, abs=0.01)
    assert heights == pytest.approx([each * 110 / max(stock) for each in stock], abs=0.01)


amounts = st.floats(0, 1e6)


@given(
    rows=st.lists(st.tuples(st.just(0.0) | amounts, amounts, amounts), min_size=1, max_size=120),
    on_hand=amounts,
)
def test_any_lots_are_labelled_clear(
    read_back: Any, rows: list[tuple[float, float, float]], on_hand: float
) -> None:
    periods = [Period(send=send, good=good if send else 0, left=left) for send, good, left in rows]
    read_back(lots_picture(periods, on_hand=on_hand, title="t", palette=DAY)).check_clear()


def test_what_cannot_be_drawn() -> None:
    with pytest.raises(InputError, match="none given"):
        lots_picture([], on_hand=0, title="t")
    with pytest.raises(InputError, match="nan cannot be drawn"):
        lots_picture([Period(send=float("nan"), good=0, left=0)], on_hand=0, title="t")


def test_a_kits_costs_stand_beside_the_others(read_back: Any) -> None:
    case, answer = solved("kit-cost")
    (picture,) = pictures_of("kit-cost", case, answer, palette=DAY)
    drawn = read_back(picture.svg)
    drawn.check_clear()
    words = drawn.words()
    assert {"cast bell", "certified steel bell", "bell, machining", "block plate"} <= set(words)
    casting, steel = answer.bells[0].cost.amount, answer.bells[8].cost.amount
    assert {casting, steel} <= set(words)
    assert picture.caption.endswith("The largest 9 of 13.")
    solid = [e for e in drawn.all("rect") if e.get("stroke") == "none" and e.get("fill") == DAY.ink]
    open_ = [e for e in drawn.all("rect") if e.get("stroke-width") == "1.2"][1:]
    ratio = (float(open_[1].get("width")) + 1.2) / float(solid[0].get("width"))
    assert ratio == pytest.approx(float(steel) / float(casting), rel=0.02)


def test_a_kit_alone_is_drawn_alone_and_nothing_not_at_all() -> None:
    example = from_toml(load("kit-cost").example)
    case, answer = solved("kit-cost", variants=example["variants"][:1])
    (picture,) = pictures_of("kit-cost", case, answer, palette=DAY)
    assert "What cast bell costs, USD" in picture.svg
    bare = [{"name": "kit", "price": {"amount": "1.00", "currency": "USD"}}]
    case, answer = solved("kit-cost", variants=bare, shared=[])
    assert pictures_of("kit-cost", case, answer, palette=DAY) == []
