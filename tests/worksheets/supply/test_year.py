"""The year worksheet: what it tells follows from the runs; spread or not, the same comes out."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from kitwright.calc.supply.year import BLOCK
from kitwright.calc.supply.year_told import Told, told
from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.supply import workers
from kitwright.worksheets.supply.year_case import YearCase

EXAMPLE = from_toml(load("year").example)


def solved(**given):
    case = {**EXAMPLE, "runs": 500, "others": None, **given}
    return load("year").solve(read(YearCase, {k: v for k, v in case.items() if v is not None}))


def test_the_same_seed_tells_the_same_and_another_nearly():
    one, again, other = solved(), solved(), solved(seed=2)
    assert one == again
    assert one.share_at_once != other.share_at_once
    spread_ = 6 * np.hypot(one.share_error, other.share_error)
    assert abs(one.share_at_once - other.share_at_once) < spread_


def test_the_error_is_what_many_seeds_show():
    """Standard deviation of the share over 60 seeds, against the mean of the errors told."""
    found = [solved(runs=200, seed=seed, days=120) for seed in range(60)]
    seen = np.std([each.share_at_once for each in found], ddof=1)
    assert seen == pytest.approx(np.mean([each.share_error for each in found]), rel=0.3)


def test_a_batch_under_way_comes_by_its_own_machinists_days():
    batch = EXAMPLE["batches"][0]
    given = {"bells": 0, "castings": 0, "crates_at": 0, "crate_days": 100, "days": 90}
    early = solved(**given, batches=[{**batch, "days_late": [-20] * 9}])
    late = solved(**given, batches=[{**batch, "days_late": [20] * 9}])
    back = solved(**given, batches=[{**batch, "back": True}])
    assert back.share_at_once > early.share_at_once > late.share_at_once


def test_no_demand_is_served_whole():
    answer = solved(kits_per_week=0.0, history=None, loose_per_week=0.0)
    assert (answer.share_at_once, answer.kits, answer.days_short) == (1.0, 0.0, 0.0)
    assert answer.chance_never_short == 1


def test_every_policy_is_tried_with_every_other_and_the_cheapest_that_serves_is_named():
    answer = solved(others={"send_at": [10, 25], "lot": [30]}, service=0.9)
    tried = {(row.send_at, row.lot): row for row in answer.policies}
    assert set(tried) == {(a, b) for a in (10, 15, 25) for b in (20, 30)}
    own = tried[15, 20]
    assert own.share_at_once == answer.share_at_once
    meeting = [row for row in answer.policies if row.meets]
    cheapest = min(meeting, key=lambda row: float(row.cash.amount))
    assert answer.best.startswith(f"send at {cheapest.send_at}, batches of {cheapest.lot}")
    alone = solved(send_at=25, lot=30)
    assert tried[25, 30].share_at_once == alone.share_at_once


def test_sums_of_blocks_are_the_sums_of_all():
    from kitwright.calc.supply.year import Years, simulate
    from kitwright.worksheets.supply.year import _shop

    shop = _shop(read(YearCase, EXAMPLE))
    from kitwright.calc.supply.year import Policy

    policy = Policy(send_at=15, lot=20, crates_at=30, reserve=8)
    parts = [simulate(shop, policy, seed=1, block=block, runs=40) for block in (0, 1)]
    whole = told(Years.joined(parts))
    added = told(parts[0]) + told(parts[1])
    for name in Told.__dataclass_fields__:
        assert getattr(added, name) == pytest.approx(getattr(whole, name)), name


@pytest.fixture
def many():
    """A sweep of many pieces."""
    return {"others": {"send_at": list(range(1, 14))}, "runs": 150, "days": 60}


def test_other_processes_give_the_same(many, monkeypatch):
    here = solved(**many)
    monkeypatch.setattr(workers, "FEW", 1)
    assert solved(**many) == here


def test_a_cluster_gives_the_same(many, monkeypatch):
    here = solved(**many)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Dask's own, of its own clean-up
        from distributed import LocalCluster

        with LocalCluster(
            n_workers=1,
            threads_per_worker=1,
            processes=False,
            dashboard_address=None,
            host="127.0.0.1",
            protocol="tcp://",
        ) as cluster:
            monkeypatch.setenv(workers.SETTING, cluster.scheduler_address)
            assert solved(**many) == here


def test_a_cluster_that_is_not_there_is_told(many, monkeypatch):
    monkeypatch.setenv(workers.SETTING, "tcp://127.0.0.1:9")
    monkeypatch.setattr(workers, "_WAIT_SECONDS", 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with pytest.raises(InputError, match="KITWRIGHT_CLUSTER: no cluster answers at"):
            solved(**many)


def test_runs_beyond_a_block_are_a_second_block():
    answer = solved(runs=BLOCK + 100, days=30)
    assert answer.runs == BLOCK + 100
    assert len(answer.bells_band[0]) == 30


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"history": None}, "kits_per_week: it or history is needed"),
        ({"kits_per_week": 1.0}, "kits_per_week: it or history is needed; give one"),
        ({"waiting": 2}, "waiting: 2 wait while 12 bells are free"),
        ({"lot": 0}, "lot"),
        ({"crate": 0}, "crate"),
        ({"runs": 10}, "runs"),
        ({"casting_cost": {"amount": "-1", "currency": "USD"}}, "casting_cost"),
        (
            {"others": {"send_at": list(range(30)), "reserve": list(range(20))}},
            "others: 600 ways to try; give numbers for 400 at most",
        ),
    ],
)
def test_cases_that_cannot_be_used_say_what_to_do(given, words):
    with pytest.raises(InputError, match=words):
        solved(**given)
