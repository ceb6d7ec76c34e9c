"""Which samples were cut off: at full scale, at a limit below it, and never a quiet ring."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.shell.clipping import clipped

T = np.arange(44_100) / 44_100


@pytest.mark.parametrize("limit", [1.0, 0.6])
def test_a_cut_ring_is_seen(limit) -> None:
    ring = 2 * limit * np.exp(-3 * T) * np.sin(2 * np.pi * 440 * T)
    found = clipped(np.clip(ring, -limit, limit))
    beyond = np.abs(ring) >= limit
    assert found[beyond].all()
    assert np.abs(ring[found]).min() >= 0.999 * limit


@pytest.mark.parametrize("pitch", [31.0, 142.0, 3000.0])
@pytest.mark.parametrize("bits", [8, 16])
def test_an_uncut_one_is_not(pitch, bits) -> None:
    """A slow tone in few bits stands still for many samples at its first crest."""
    steps = 2 ** (bits - 1)
    ring = np.round(0.9 * steps * np.exp(-3 * T) * np.sin(2 * np.pi * pitch * T)) / steps
    assert not clipped(ring).any()


def test_silence_and_nothing_are_not() -> None:
    assert not clipped(np.zeros(100)).any()
    assert clipped(np.zeros(0)).shape == (0,)
