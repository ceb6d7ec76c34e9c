"""Bells are judged by the conformity of each characteristic, under the shop's rule."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.books.characteristics import length_of, position_of
from kitwright.books.inspections import Newest
from kitwright.books.shop import Shop
from kitwright.shop.judging import NOT_MEASURED, judge, limits_in_words, rule_in_words

DRAWN = (position_of("bore", 0.1, x_mm=1.0), length_of("depth", 164.9, 165.1))


def newest(*bells: tuple[tuple[float, float], float], u95: float = 0.01) -> Newest:
    mm = np.array([[bore, (depth, np.nan)] for bore, depth in bells])
    return Newest(
        serials=tuple(f"T-{row}" for row in range(len(bells))),
        characteristics=DRAWN,
        mm=mm,
        u95_mm=np.where(np.isfinite(mm[..., 0]), u95, np.nan),
        inspection_ids=(1,) * len(bells),
    )


def test_each_outcome() -> None:
    """Half the zone is 0.05 mm; drawn in by U = 0.01 it is 0.04, drawn out 0.06."""
    judged = judge(
        newest(
            ((1.039, 0.0), 165.0),
            ((1.0, -0.05), 165.0),
            ((1.0, 0.061), 165.0),
            ((1.0, 0.0), 165.2),
            ((1.0, 0.0), 165.095),
        ),
        Shop(name="T"),
    )
    assert judged.kinds(Shop(name="T")) == ["release", "hold", "reject", "reject", "hold"]
    assert judged.reasons() == [
        None,
        "bore too close to call",
        "bore outside",
        "depth outside",
        "depth too close to call",
    ]


def test_an_undecided_bell_follows_the_shops_rule() -> None:
    strict = Shop(name="T", undecided="reject")
    assert judge(newest(((1.0, 0.05), 165.0)), strict).kinds(strict) == ["reject"]


def test_the_narrower_guard_decides_more() -> None:
    """1.645 u with u = U/2 is 0.0082: at 0.0415 the bore is within by it, undecided by U."""
    bells = newest(((1.0415, 0.0), 165.0))
    by_u = Shop(name="T")
    by_chance = Shop(name="T", guard="guard by 1.645 u")
    assert judge(bells, by_u).kinds(by_u) == ["hold"]
    assert judge(bells, by_chance).kinds(by_chance) == ["release"]


def test_what_is_not_measured_is_held_and_said() -> None:
    shop = Shop(name="T", undecided="reject")
    bells = newest(((np.nan, np.nan), 165.0))
    judged = judge(bells, shop)
    assert judged.codes[0, 0] == NOT_MEASURED
    assert judged.kinds(shop) == ["hold"]
    assert judged.reasons() == ["bore not measured"]


@pytest.mark.parametrize(
    ("about", "words"),
    [
        (DRAWN[0], "zone Ø 0.100 mm"),
        (DRAWN[1], "164.900 mm to 165.100 mm"),
        (length_of("flat", None, 0.05), "at most 0.050 mm"),
        (length_of("thick", 4.0, None), "at least 4.000 mm"),
    ],
)
def test_limits_in_words(about: object, words: str) -> None:
    assert limits_in_words(about, lead="mm") == words  # type: ignore[arg-type]


def test_the_rule_is_said_whole() -> None:
    said = rule_in_words(Shop(name="T", guard="guard by 1.645 u", undecided="reject"))
    assert "1.645 standard uncertainties" in said
    assert said.endswith("what is too close to call is rejected.")
