"""The order of tightening: on even circles the star of common practice, anywhere a fair walk."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.calc.centring.clock import clock_vector
from kitwright.calc.centring.crosswise import crosswise
from kitwright.errors import InputError

# common practice, no source: the star of an even circle, bolts counted clockwise from 12
STARS = {
    3: [1, 2, 3],
    4: [1, 3, 2, 4],
    5: [1, 3, 5, 2, 4],
    6: [1, 4, 2, 5, 3, 6],
    8: [1, 5, 3, 7, 2, 6, 4, 8],
    10: [1, 6, 3, 8, 2, 7, 4, 9, 5, 10],
}


def even(count: int, first_deg: float = 0.0) -> np.ndarray:
    return 150 * clock_vector(first_deg + np.arange(count) * 360 / count)


@pytest.mark.parametrize("count", STARS)
def test_the_star_of_an_even_circle(count: int) -> None:
    assert [bolt + 1 for bolt in crosswise(even(count))] == STARS[count]


@given(
    st.integers(2, 16),
    st.floats(-5, 5),
    st.floats(1e-2, 1e3),
    st.randoms(use_true_random=False),
)
def test_neither_size_nor_the_order_of_writing_changes_it(
    count: int, first_deg: float, size: float, random
) -> None:
    points = even(count, first_deg + 0.37)
    order = crosswise(points)
    assert sorted(order) == list(range(count))
    assert crosswise(points * size + [3.0, -7.0]) == order
    mixed = list(range(count))
    random.shuffle(mixed)
    assert [mixed[bolt] for bolt in crosswise(points[mixed])] == list(order)


@given(st.integers(2, 12).map(lambda half: 2 * half))
def test_on_an_even_circle_each_pair_is_opposite(count: int) -> None:
    points = even(count)
    order = crosswise(points)
    for first, second in zip(order[::2], order[1::2], strict=True):
        np.testing.assert_allclose(points[first], -points[second], atol=1e-9)


@given(
    st.lists(
        st.tuples(st.integers(-200, 200), st.integers(-200, 200)),
        min_size=1,
        max_size=12,
        unique=True,
    )
)
def test_every_bolt_comes_once(points: list[tuple[int, int]]) -> None:
    assert sorted(crosswise(points)) == list(range(len(points)))


@pytest.mark.parametrize("points", [[], [[1, 2, 3]], [[1, float("nan")]]])
def test_what_are_no_places_is_refused(points: list[list[float]]) -> None:
    with pytest.raises(InputError, match="bolts_mm"):
        crosswise(points)
