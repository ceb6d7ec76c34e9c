"""Recordings as WAV: every width comes back, and what is no recording is told apart."""

from __future__ import annotations

import io
import math
import struct

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import FileError, InputError
from kitwright.files.wav import read_wav, wav_bytes

RING = 0.5 * np.exp(-3 * np.arange(8000) / 8000) * np.sin(np.arange(8000) * 0.3)


def made(samples=RING, rate=8000, **how) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, samples, rate, **{"format": "WAV", "subtype": "PCM_16", **how})
    return file.getvalue()


@pytest.mark.parametrize(
    ("subtype", "step"),
    [
        ("PCM_U8", 2**-7),
        ("PCM_16", 2**-15),
        ("PCM_24", 2**-23),
        ("PCM_32", 2**-30),
        ("FLOAT", 1e-7),
        ("DOUBLE", 1e-15),
    ],
)
@pytest.mark.parametrize("form", ["WAV", "WAVEX"])
def test_every_width_is_read(subtype, step, form) -> None:
    sound = read_wav(made(format=form, subtype=subtype), where="file")
    assert sound.rate_hz == 8000
    assert sound.samples.shape == (8000, 1)
    assert sound.seconds == 1
    np.testing.assert_allclose(sound.samples[:, 0], RING, atol=step)


def test_channels_stand_side_by_side() -> None:
    both = np.column_stack([RING, -0.5 * RING])
    np.testing.assert_allclose(read_wav(made(both), where="file").samples, both, atol=2**-15)


def test_a_wav_of_our_own_hand() -> None:
    """The 44-byte head of RIFF/WAVE (IBM, Microsoft 1991), put together from its layout."""
    values = [0, 16384, -32768, 32767]
    body = struct.pack("<4h", *values)
    head = struct.pack("<4sI4s", b"RIFF", 36 + len(body), b"WAVE")
    head += struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, 44100, 88200, 2, 16)
    head += struct.pack("<4sI", b"data", len(body))
    sound = read_wav(head + body, where="file")
    np.testing.assert_allclose(sound.samples[:, 0] * 32768, values)
    assert sound.rate_hz == 44100
    again = wav_bytes(sound.samples[:2, 0], 44100)
    assert again[:4] == b"RIFF"
    np.testing.assert_allclose(read_wav(again, where="f").samples[:, 0], [0, 0.5], atol=2**-15)


def test_what_is_written_is_read_back() -> None:
    back = read_wav(wav_bytes(RING, 22050), where="file")
    assert back.rate_hz == 22050
    np.testing.assert_allclose(back.samples[:, 0], RING, atol=2**-15)
    with pytest.raises(InputError, match="full scale"):
        wav_bytes(3 * RING, 8000)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (made(np.zeros(100)), "it is silent"),
        (made(np.zeros(0)), "no sound in it"),
        (made(format="MP3", subtype="MPEG_LAYER_III", rate=44100), "MP3 file, whatever its name"),
        (made(format="OGG", subtype="VORBIS"), "an Ogg file"),
        (made(format="FLAC"), "a FLAC file"),
        (made(subtype="MS_ADPCM"), "compressed"),
        (made(subtype="ULAW"), "compressed"),
        (made(rate=2000), "2000 samples a second"),
        (made(np.full(4_000_000, 0.1), rate=8000), "it lasts 500 s"),
        (made(np.array([0.1, math.nan]), subtype="DOUBLE"), "no sound"),
        (made(np.array([0.1, 1e300]), subtype="DOUBLE"), "no sound"),
        (b"\x00\x00\x00\x18ftypM4A ", "an MP4 or M4A file, not a WAV"),
        (b"\x1aE\xdf\xa3" + b"\x00" * 60, "a WebM file, not a WAV"),
        (b"not a sound at all", "unknown bytes, not a WAV"),
        (made()[:20], "not a WAV"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_recording_is_said(data, words) -> None:
    with pytest.raises(FileError, match=words) as caught:
        read_wav(data, where="against")
    assert caught.value.problems[0].where == "against"


@given(st.binary(max_size=200), st.integers(0, 200))
def test_damaged_files_are_read_or_refused(junk, at) -> None:
    """Never anything but a sound or a FileError, wherever the damage is."""
    whole = made(RING[:400])
    for data in (junk, whole[:at] + junk + whole[at + len(junk) :], whole[: len(whole) - at]):
        try:
            sound = read_wav(data, where="file")
        except FileError as error:
            assert error.lines
        else:
            assert np.isfinite(sound.samples).all()
