"""What many years come to: sums that add up over blocks, and the error of a share of kits."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from kitwright.calc.supply.demand import KnownRate
from kitwright.calc.supply.year import Late, Policy, ShopNow, Years, simulate
from kitwright.calc.supply.year_told import Told, bands, told, tried
from kitwright.calc.supply.yields import YieldLaw

SHOP = ShopNow(
    bells=8, waiting=0, castings=40, under_way=(), kits=KnownRate(rate=2.0), loose_per_week=1.0,
    share_good=YieldLaw(a=45, b=5, batches=3, bells=150), late=Late(mean=3, scale=5, freedom=6),
    machining_days=35, crate=30, crate_days=28, days=120,
)  # fmt: skip
POLICY = Policy(send_at=10, lot=20, crates_at=20, reserve=4)


def block(number: int) -> Years:
    return simulate(SHOP, POLICY, seed=2, block=number, runs=60)


def test_blocks_add_up_to_their_runs_told_together():
    first, second = block(0), block(1)
    both, joined = told(first) + told(second), told(Years.joined([first, second]))
    for name in Told.__dataclass_fields__:
        assert getattr(both, name) == pytest.approx(getattr(joined, name), rel=1e-12)
    assert tried((SHOP, POLICY, 2, 1, 60)) == told(second)
    assert both.runs == 120
    assert both.kits == first.asked.sum() + second.asked.sum()
    for name, by_run in (
        ("at_once", "at_once"), ("waited", "waited"), ("days_short", "days_short"),
        ("loose", "loose"), ("loose_asked", "loose_asked"), ("batches", "batches"),
        ("crates", "crates"), ("castings", "castings_mean"), ("peak", "castings_peak"),
    ):  # fmt: skip
        runs = np.concatenate([getattr(first, by_run), getattr(second, by_run)])
        assert both.mean(name) == pytest.approx(float(runs.mean()), rel=1e-12)


def counted(asked: list[int], at_once: list[int]) -> Told:
    """Years of which only the kits matter."""
    none = np.zeros(len(asked), dtype=np.int32)
    names = set(Years.__dataclass_fields__) - {"asked", "at_once"}
    kits = {"asked": np.array(asked, np.int32), "at_once": np.array(at_once, np.int32)}
    return told(SimpleNamespace(**dict.fromkeys(names, none), **kits))


def test_the_error_of_the_share_is_that_of_a_ratio_of_means():
    """Cochran, Sampling Techniques, 3rd ed. (1977), 2.11: the residuals from the share, over the
    mean count; the numbers of kits need not be alike."""
    asked, served = [10, 14, 0, 22, 9], [9, 10, 0, 15, 9]
    found = counted(asked, served)
    assert found.share_at_once == 43 / 55
    left = np.array(served) - 43 / 55 * np.array(asked)
    assert left.sum() == pytest.approx(0, abs=1e-12)
    error = np.sqrt((left**2).sum() / 4 / 5) / 11
    assert found.share_error == pytest.approx(float(error), rel=1e-12)
    alike = counted([10] * 4, [7, 9, 8, 10])  # equal counts: the error of a plain mean
    plain = np.std([0.7, 0.9, 0.8, 1.0], ddof=1) / 2
    assert alike.share_error == pytest.approx(float(plain), rel=1e-12)


def test_one_run_or_no_kit_shows_no_error():
    assert counted([10], [7]).share_error == 0
    none = counted([0, 0], [0, 0])
    assert (none.share_at_once, none.share_error) == (1, 0)


def test_bands_are_of_the_runs_on_each_day():
    by_day = np.arange(101)[:, None] * np.array([1, 2, 0])
    np.testing.assert_allclose(bands(by_day), [[5, 10, 0], [50, 100, 0], [95, 190, 0]])
