"""Recordings: a WAV file's bytes to samples, and samples to a WAV file's bytes."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.errors import FileError, InputError

LEAST_RATE_HZ: Final = 4000
MOST_RATE_HZ: Final = 384_000
MOST_SECONDS: Final = 300
_EXACT: Final = frozenset({"PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"})
_WAV: Final = frozenset({"WAV", "WAVEX", "RF64"})
_RECORD: Final = "record it as WAV, uncompressed"


@dataclass(frozen=True, kw_only=True)
class Sound:
    """A recording; full scale is 1."""

    samples: NDArray[np.float64]
    """Shape (n, channels)."""
    rate_hz: int
    comment: str = ""
    """What its maker wrote into it."""

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate_hz


def read_wav(data: bytes, *, where: str) -> Sound:
    """The sound in a WAV file, of 8 to 32 bits or floating point, whatever its name says.

    Raises
    ------
    FileError
        Empty, not WAV, compressed, without sound, at a rate of no use, or with numbers that are
        none. `where` names the field that the file was given in.
    """
    import soundfile  # noqa: PLC0415 - 0.1 s that no other worksheet needs

    if not data:
        raise FileError(where, "the file is empty", _RECORD)
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            _check(file, where)
            samples = file.read(dtype="float64", always_2d=True)
            rate, comment = int(file.samplerate), str(file.comment)[:400]
    except (soundfile.LibsndfileError, RuntimeError, ValueError, TypeError, MemoryError):
        raise FileError(where, f"{_kind(data)}, not a WAV file", _RECORD) from None
    if len(samples) == 0:
        raise FileError(where, "there is no sound in it", "record it again")
    if not np.isfinite(samples).all() or np.abs(samples).max() > 1e6:
        raise FileError(where, "it holds numbers that are no sound", "record it again")
    if not samples.any():
        raise FileError(where, "it is silent", "check the microphone, and record it again")
    return Sound(samples=samples, rate_hz=rate, comment=comment)


def _check(file: object, where: str) -> None:
    """Refuse by the file's head what must not be read."""
    form, subtype = str(getattr(file, "format", "")), str(getattr(file, "subtype", ""))
    rate, frames = int(getattr(file, "samplerate", 0)), int(getattr(file, "frames", 0))
    if form not in _WAV:
        name = {"MP3": "an MP3", "OGG": "an Ogg", "AIFF": "an AIFF"}.get(form, f"a {form}")
        lost = ", which leaves out what a decay is read from" if form in ("MP3", "OGG") else ""
        raise FileError(where, f"it is {name} file, whatever its name{lost}", _RECORD)
    if subtype not in _EXACT:
        raise FileError(where, f"it is compressed ({subtype})", _RECORD)
    if not LEAST_RATE_HZ <= rate <= MOST_RATE_HZ:
        expected = f"record at {LEAST_RATE_HZ} to {MOST_RATE_HZ} a second"
        raise FileError(where, f"{rate} samples a second", expected)
    if frames > MOST_SECONDS * rate:
        given = f"it lasts {frames / rate:.0f} s"
        raise FileError(where, given, f"cut it to the taps, {MOST_SECONDS} s at most")


_KINDS: Final = (
    (b"\x00\x00\x00", "an MP4 or M4A file"),
    (b"\x1aE\xdf\xa3", "a WebM file"),
    (b"ID3", "an MP3 file"),
    (b"#!AMR", "an AMR file"),
    (b"RIFF", "a damaged file"),
    (b"PK", "a ZIP file"),
)


def _kind(data: bytes) -> str:
    return next((name for head, name in _KINDS if data.startswith(head)), "unknown bytes")


def wav_bytes(samples: NDArray[np.float64], rate_hz: int) -> bytes:
    """A WAV file of 16 bits; samples of shape (n,) or (n, channels) within full scale.

    Raises
    ------
    InputError
        A sample beyond full scale, which would be cut off.
    """
    import soundfile  # noqa: PLC0415

    if np.abs(samples).max(initial=0.0) > 1:
        raise InputError("samples", "beyond full scale", "make it less loud")
    told = io.BytesIO()
    soundfile.write(told, samples, rate_hz, format="WAV", subtype="PCM_16")
    return told.getvalue()
