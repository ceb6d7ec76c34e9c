"""A struck bell's samples, and its spectrogram."""

from __future__ import annotations

import numpy as np
import pytest

from kitwright.calc.shell.spectrogram import COLUMNS, ROWS, spectrogram
from kitwright.calc.shell.strike import strike
from kitwright.calc.shell.tap import identify
from kitwright.errors import InputError

PITCH, DECAY, SIZE = np.array([312.0, 940.0, 1711.0]), np.array([3.0, 7.0, 5.0]), [1.0, 0.5, 0.3]


def test_the_samples_are_the_formula() -> None:
    made = strike(PITCH, DECAY, SIZE, rate_hz=22050, seconds=1.5, phase_rad=[0.0, 0.4, 2.0])
    t = np.arange(len(made)) / 22050
    plain = sum(
        A * np.exp(-a * t) * np.sin(2 * np.pi * f * t + p)
        for f, a, A, p in zip(PITCH, DECAY, SIZE, [0.0, 0.4, 2.0], strict=True)
    )
    kept = round(1.48 * 22050)
    np.testing.assert_allclose(made[:kept], plain[:kept], atol=1e-9)
    assert made[-1] == 0


def test_blows_add_and_what_cannot_be_heard_is_left_out() -> None:
    whole = strike(PITCH, DECAY, SIZE, rate_hz=8000, seconds=0.3)
    parts = [
        strike([f], [a], [A], rate_hz=8000, seconds=0.3)
        for f, a, A in zip(PITCH, DECAY, SIZE, strict=True)
    ]
    np.testing.assert_allclose(whole, sum(parts), atol=1e-12)
    np.testing.assert_allclose(
        strike([*PITCH, 4000.0, 9000.0], 5.0, 1.0, rate_hz=8000, seconds=0.3),
        strike(PITCH, 5.0, 1.0, rate_hz=8000, seconds=0.3),
        atol=1e-12,
    )


def test_what_is_struck_is_identified_again() -> None:
    """Round trip through the reading of a tap."""
    sound = np.concatenate([np.zeros(9000), strike(PITCH, DECAY, SIZE, rate_hz=44100, seconds=2.5)])
    found = identify(sound, 44100, lowest_hz=50, highest_hz=15000)
    np.testing.assert_allclose([m.frequency_hz for m in found.modes], PITCH, rtol=1e-6)
    np.testing.assert_allclose([m.decay_rate for m in found.modes], DECAY, rtol=1e-3)
    np.testing.assert_allclose([m.level_db for m in found.modes], 20 * np.log10(SIZE), atol=0.3)


@pytest.mark.parametrize("bad", [[0.0], [-5.0], [np.nan], [np.inf]])
def test_what_cannot_ring_is_refused(bad) -> None:
    with pytest.raises(InputError, match="cannot ring"):
        strike(bad, [1.0], [1.0], rate_hz=8000, seconds=0.1)
    with pytest.raises(InputError, match="cannot ring"):
        strike([100.0], bad, [1.0], rate_hz=8000, seconds=0.1)


def test_the_spectrogram_shows_each_tone_in_its_row_and_its_decay() -> None:
    rate, a = 44100, 6.0
    sound = np.concatenate(
        [np.zeros(rate // 2), strike([500.0, 3000.0], a, [1.0, 0.1], rate_hz=rate, seconds=2.0)]
    )
    table = spectrogram(sound, rate, lowest_hz=50, highest_hz=15000)
    assert table.level_db.shape == (ROWS, COLUMNS)
    assert table.level_db.max() == 0
    edges = np.geomspace(50, 15000, ROWS + 1)
    column = table.level_db[:, COLUMNS // 2]
    assert edges[column.argmax()] <= 500 * 1.01
    assert edges[column.argmax() + 1] >= 500 * 0.99
    row = np.searchsorted(edges, 3000) - 1
    assert column[row] - column.max() == pytest.approx(-20, abs=1)
    between = np.searchsorted(edges, 1500) - 1
    assert column[between] - column.max() < -60  # the window keeps a tone to its row
    louds = table.level_db[column.argmax(), 30:90]
    step = table.seconds / (COLUMNS - 1)
    np.testing.assert_allclose(np.diff(louds), -20 * np.log10(np.e) * a * step, atol=0.05)
    assert (table.level_db[:, :15] < -100).all()


@pytest.mark.parametrize("count", [1, 40, 700])
def test_a_short_sound_has_one_too(count) -> None:
    table = spectrogram(np.ones(count), 8000, lowest_hz=50, highest_hz=3600)
    assert np.isfinite(table.level_db).all()
