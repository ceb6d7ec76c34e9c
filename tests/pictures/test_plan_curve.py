"""The curve of a sampling plan and the cells of a gauge study."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.gauge_cells import gauge_cells
from kitwright.pictures.palette import DAY
from kitwright.pictures.plan_curve import CurveMark, plan_curve
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

shares = st.floats(0, 1)


def pictured(name: str, case: dict[str, Any]) -> list[Any]:
    worksheet = load(name)
    given_case = read(worksheet.case, case)
    return pictures_of(name, given_case, worksheet.solve(given_case), palette=DAY)


def test_a_plans_curve_is_drawn_to_scale_with_its_two_points(read_back: Any) -> None:
    (picture,) = pictured("sampling-plan", from_toml(load("sampling-plan").example))
    drawn = read_back(picture.svg)
    drawn.check_clear()
    marks = [e for e in drawn.all("circle") if e.get("r") == "4.8"]
    good, poor = marks[:2]  # the keys' samples come after
    assert (good.get("fill"), poor.get("fill")) == (DAY.ink, DAY.ground)
    # One bad of 60 is always accepted, nine of 60 at 0.0838: heights above the axis in ratio.
    base = 16 + 170
    assert base - float(good.get("cy")) == pytest.approx(170, abs=0.01)
    assert base - float(poor.get("cy")) == pytest.approx(170 * 0.0838, abs=0.02)
    left = 56
    ratio = (float(poor.get("cx")) - left) / (float(good.get("cx")) - left)
    assert ratio == pytest.approx(9, abs=0.02)
    assert "1 of 60 bad: accepted 100 %" in drawn.words()
    assert "9 of 60 bad: accepted 8.4 %" in drawn.words()


def test_a_stream_is_drawn_as_a_line(read_back: Any) -> None:
    (picture,) = pictured("sampling-plan", {"plan": {"n": 80, "c": 2}, "accept_quality": 0.01})
    drawn = read_back(picture.svg)
    drawn.check_clear()
    assert "1 % bad: accepted 95.3 %" in drawn.words()
    assert not [e for e in drawn.all("circle") if e.get("r") == "2"]


@given(points=st.lists(st.tuples(shares, shares), min_size=1, max_size=90), whole=st.booleans())
def test_any_curve_is_labelled_clear(
    read_back: Any, points: list[tuple[float, float]], whole: bool
) -> None:
    mark = CurveMark(quality=points[0][0], accepted=points[0][1], good=whole, words="a mark")
    read_back(plan_curve(points, marks=[mark], whole=whole, title="t", palette=DAY)).check_clear()


def test_a_curve_that_cannot_be_drawn() -> None:
    with pytest.raises(InputError, match="none given"):
        plan_curve([], marks=[], whole=True, title="t")
    with pytest.raises(InputError, match="cannot be drawn"):
        plan_curve([(0.1, float("nan"))], marks=[], whole=True, title="t")


def test_each_person_has_a_panel_and_each_reading_a_disc(read_back: Any) -> None:
    (picture,) = pictured("gauge-study", from_toml(load("gauge-study").example))
    drawn = read_back(picture.svg)
    drawn.check_clear()
    assert len(drawn.all("circle")) == 30
    words = drawn.words()
    assert words[0] == "Ann, mm from each part's mean"
    assert {"Ben", "Cy", "B-01", "B-05"} <= set(words)


def test_readings_are_to_one_scale_about_their_parts_mean(read_back: Any) -> None:
    """Means 2 and 10: the readings stand -1, +1 and -3, +3 off; 3 fills half a panel of 62."""
    cells = {("1", "A"): [1.0], ("1", "B"): [3.0], ("2", "A"): [13.0], ("2", "B"): [7.0]}
    svg = gauge_cells(cells, parts="12", persons="AB", unit="mm", title="t", palette=DAY)
    drawn = read_back(svg)
    a1, a2, b1, b2 = (float(e.get("cy")) for e in drawn.all("circle"))
    middle_a, middle_b = 2 + 30 + 31, 2 + 30 + 62 + 10 + 30 + 31
    off = [middle_a - a1, middle_a - a2, middle_b - b1, middle_b - b2]
    assert off == pytest.approx([-31 / 3, 31, 31 / 3, -31], abs=0.01)


@given(
    data=st.dictionaries(
        st.tuples(st.sampled_from("123456789"), st.sampled_from("ABC")),
        st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=4),
        min_size=1,
    ),
    name=st.text("Wm 1-", max_size=30),
)
def test_any_cells_are_labelled_clear(read_back: Any, data: Any, name: str) -> None:
    cells = {(part + name, person): row for (part, person), row in data.items()}
    parts = list(dict.fromkeys(part for part, _ in cells))
    svg = gauge_cells(cells, parts=parts, persons="ABC", unit="thou", title="t", palette=DAY)
    read_back(svg).check_clear()


def test_a_large_study_shows_its_first_parts_and_persons() -> None:
    rows = [[part, f"p{person}", part + person / 7 + trial / 9]
            for part in range(70) for person in range(8) for trial in range(2)]  # fmt: skip
    (picture,) = pictured("gauge-study", {"unit": "mm", "readings": rows})
    assert picture.caption.endswith("The first 6 of 8 persons and 60 of 70 parts.")
    with pytest.raises(InputError, match="70 parts, 8 persons"):
        gauge_cells({}, parts=["x"] * 70, persons=["y"] * 8, unit="mm", title="t")
