"""Independent pieces of a large calculation, on as many cores as there are or on a cluster.

A setting names the cluster's scheduler (Dask); without it, few pieces are worked here and many by
processes of this machine. What comes back is the same, in the same order, wherever it is worked.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from typing import Any, Final, TypeVar

from kitwright.errors import InputError

Job = TypeVar("Job")
Result = TypeVar("Result")

SETTING: Final = "KITWRIGHT_CLUSTER"
FEW: Final = 40
"""So many pieces are done sooner than other processes are started."""
_WAIT_SECONDS: Final = 10


def spread(work: Callable[[Job], Result], jobs: Sequence[Job]) -> list[Result]:
    """`work` done on each job, in the jobs' order.

    Raises
    ------
    InputError
        The setting names a cluster that does not answer, or what it needs is not installed.
    """
    address = os.environ.get(SETTING, "")
    if address:
        return _on_cluster(address, work, jobs)
    cores = os.cpu_count() or 1
    if len(jobs) <= FEW or cores == 1:
        return [work(job) for job in jobs]
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - only where it is used
    from multiprocessing import get_context  # noqa: PLC0415

    at_a_time = -(-len(jobs) // (4 * cores))
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as pool:
        return list(pool.map(work, jobs, chunksize=at_a_time))


def _on_cluster(address: str, work: Callable[[Job], Result], jobs: Sequence[Job]) -> list[Result]:
    try:
        from distributed import Client  # noqa: PLC0415 - an extra that few have
    except ImportError:
        raise InputError(
            SETTING, f'"{address}" needs Dask, which is not installed', "install the extra cluster"
        ) from None
    try:
        client: Any = Client(address, timeout=_WAIT_SECONDS)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError):
        raise InputError(
            SETTING, f'no cluster answers at "{address}"', "start its scheduler, or unset it"
        ) from None
    with client:
        return list(client.gather(client.map(work, list(jobs), pure=False)))
