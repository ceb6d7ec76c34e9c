"""How a speed is measured here: both sides in one run, in turn, and the ratio of their medians."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(ours: Callable[[], object], theirs: Callable[[], object], *, rounds: int = 7) -> float:
    """Median time of `ours` over median time of `theirs`, the two run in turn after a warm-up."""
    ours()
    theirs()
    taken = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
    return statistics.median(a for a, _ in taken) / statistics.median(b for _, b in taken)


def report(what: str, value: float, target: str) -> None:
    """One line of the benchmark's outcome."""
    print(f"\n{what}: {value:.3g} (target {target})")
