"""Batches on a time line: on one scale with today, labels clear, days in order."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.palette import DAY
from kitwright.pictures.time_line import Bar, time_line

TODAY = datetime.date(2026, 5, 4)


def day(number: int) -> datetime.date:
    return TODAY + datetime.timedelta(days=number)


def bar(start: int, due: int, *spread: int, name: str = "B-1", **more: Any) -> Bar:
    about: dict[str, Any] = {"words": "6 bells", "back": None, "sent": True, **more}
    days = tuple(map(day, spread)) or None
    return Bar(name=name, start=day(start), due=day(due), spread=days, **about)  # type: ignore[arg-type]


def drawn(bars: list[Bar]) -> str:
    return time_line(bars, today=TODAY, title="Batches", palette=DAY)


def test_bars_and_today_stand_on_one_scale(read_back: Any) -> None:
    picture = read_back(drawn([bar(-20, 10, 5, 12, 30), bar(-10, 0, name="B-2")]))
    picture.check_clear()
    left, right, across = 12.0, 388.0, 50

    def x(number: int) -> float:
        return left + (number + 20) / across * (right - left)

    boxes = [e for e in picture.all("rect") if e.get("height") == "12"]
    assert [float(e.get("x")) for e in boxes] == pytest.approx([x(-20), x(-10)], abs=0.01)
    ends = [float(e.get("x")) + float(e.get("width")) for e in boxes]
    assert ends == pytest.approx([x(10), x(0)], abs=0.02)
    now = [e for e in picture.all("line") if e.get("stroke") == DAY.brass]
    assert {float(e.get("x1")) for e in now[:2]} == {round(x(0), 2)}
    likely = next(e for e in picture.all("circle") if e.get("r") == "3")
    assert float(likely.get("cx")) == pytest.approx(x(12), abs=0.01)
    assert f"today {TODAY}" in picture.words()


rows = st.tuples(
    st.integers(-400, 200), st.integers(0, 300), st.lists(st.integers(0, 600), max_size=3),
    st.text(max_size=60), st.booleans(), st.none() | st.integers(-200, 0),
)  # fmt: skip


@given(st.lists(rows, min_size=1, max_size=8))
def test_any_batches_are_labelled_clear(read_back: Any, rows: list[tuple[Any, ...]]) -> None:
    bars = [
        bar(
            start, start + length, *(sorted(spread) if len(spread) == 3 else ()),
            words=words, sent=sent, back=None if back is None else day(back), name=f"B-{place}",
        )
        for place, (start, length, spread, words, sent, back) in enumerate(rows)
    ]  # fmt: skip
    read_back(drawn(bars)).check_clear()


def test_what_cannot_be_drawn_is_refused() -> None:
    for bars in ([], [bar(0, 1)] * 61, [bar(5, 1)], [bar(0, 1, 3, 2, 1)], [bar(-5000, 0)]):
        with pytest.raises(InputError, match="bars"):
            drawn(bars)
