"""Recordings whose modes are known, written out sample by sample."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

Pole = tuple[float, float, float, float]
"""Frequency in Hz, decay rate in 1/s, amplitude, phase in rad."""


@pytest.fixture
def struck() -> Callable[..., np.ndarray]:
    """Taps of a bell: `struck(modes, rate_hz=, seconds=, at=[...], noise=, seed=, click=)`.

    Each strike adds sum of A exp(-a t) sin(2 pi f t + phase) from its moment on, and with `click`
    a burst of the hammer's own noise.
    """

    def make(
        modes: Sequence[Pole],
        *,
        rate_hz: float = 48000,
        seconds: float = 2.0,
        at: Sequence[float] = (0.25,),
        noise: float = 0.0,
        seed: int = 0,
        click: float = 0.0,
    ) -> np.ndarray:
        rng = np.random.default_rng(seed)
        t = np.arange(int(rate_hz * seconds)) / rate_hz
        x = rng.normal(0, noise, len(t)) if noise else np.zeros(len(t))
        for moment in at:
            since = np.maximum(t - moment, 0)
            on = t >= moment
            for f, a, amplitude, phase in modes:
                x += on * amplitude * np.exp(-a * since) * np.sin(2 * np.pi * f * since + phase)
            first = int(np.argmax(on))
            burst = rng.normal(0, 1, round(0.001 * rate_hz))
            x[first : first + len(burst)] += click * burst
        return x

    return make
