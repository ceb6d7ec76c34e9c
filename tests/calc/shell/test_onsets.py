"""When a bell was struck: strikes laid down on purpose, in quiet, in noise, into a ring."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.shell.onsets import onsets

BELL = [(142.5, 1.8, 1.0, 0.0), (288.1, 5.4, 0.5, 0.7), (700.7, 17.6, 0.3, 1.4)]


@pytest.mark.parametrize("rate", [8000, 22050, 48000])
@pytest.mark.parametrize("noise", [0.1, 0.03, 0.0])
@pytest.mark.parametrize(
    "at", [[0.0], [0.3], [0.3, 1.5, 2.8], [0.2, 0.6, 1.0, 1.4]], ids=["0", "one", "three", "four"]
)
def test_each_strike_is_heard_and_no_other(struck, rate, noise, at) -> None:
    found = onsets(struck(BELL, rate_hz=rate, seconds=4, at=at, noise=noise), rate)
    assert len(found) == len(at)
    np.testing.assert_allclose(np.array(found) / rate, at, atol=0.0045)


def test_a_bounce_is_one_strike(struck) -> None:
    assert len(onsets(struck(BELL, at=[0.3, 0.33], noise=0.01, click=1.0), 48000)) == 1


def test_low_tones_that_last(struck) -> None:
    low = [(90.0, 1.2, 1.0, 0.0), (142.0, 0.8, 0.7, 0.5)]
    for noise in (0.1, 0.001):
        found = onsets(struck(low, seconds=5, at=[0.3, 1.3, 2.3], noise=noise), 48000)
        np.testing.assert_allclose(np.array(found) / 48000, [0.3, 1.3, 2.3], atol=0.004)


def test_nothing_was_struck() -> None:
    t = np.arange(96_000) / 48000
    for x in (
        np.random.default_rng(0).normal(0, 1, 96_000),
        np.sin(2 * np.pi * 50 * t),
        np.sin(2 * np.pi * 400 * t) + np.sin(2 * np.pi * 430 * t),
        np.zeros(96_000),
        np.zeros(3),
    ):
        assert onsets(x, 48000) == []
