"""Recordings at the terminal: paths start where the case lies; sounds are written as WAV."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from kitwright.worksheets.declaration import load
from kitwright.worksheets.shell.tap_example import example_sound

KITWRIGHT = Path(sys.executable).with_name("kitwright")


def run(*words: str, cwd: Path, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [KITWRIGHT, *words], cwd=cwd, input=given, capture_output=True, check=False, timeout=120
    )


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    (tmp_path / "taps").mkdir()
    sound = example_sound()
    soundfile.write(tmp_path / "taps" / "bell.wav", sound.samples, sound.rate_hz)
    (tmp_path / "taps" / "case.toml").write_text('file = "bell.wav"\nlowest_hz = 100\n')
    return tmp_path


def test_a_path_starts_where_the_case_lies(bench: Path) -> None:
    done = run("work", "tap", "taps/case.toml", "--json", cwd=bench)
    assert done.stderr == b""
    assert json.loads(done.stdout)["modes"][0]["frequency_hz"] == pytest.approx(318.4, abs=0.01)


def test_a_case_from_standard_input_starts_here(bench: Path) -> None:
    case = json.dumps({"file": "taps/bell.wav"}).encode()
    done = run("work", "tap", "-", "--json", cwd=bench, given=case)
    assert json.loads(done.stdout)["taps"] == 3


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("nowhere.wav", "file: there is no such file; check the name"),
        ("..", "file: is not a file; check the name"),
        ("case.toml", "file: unknown bytes, not a WAV file; record it as WAV, uncompressed"),
    ],
)
def test_what_is_no_recording_is_one_line(bench: Path, file: str, line: str) -> None:
    (bench / "taps" / "bad.toml").write_text(f'file = "{file}"\n')
    done = run("work", "tap", "taps/bad.toml", cwd=bench)
    assert (done.returncode, done.stderr.decode().splitlines()) == (2, [line])


def test_a_sound_is_written(tmp_path: Path) -> None:
    (tmp_path / "bells.toml").write_text(load("heard").example)
    done = run("work", "heard", "bells.toml", "--sound", "both.wav", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (0, b"wrote both.wav\n")
    sound, rate = soundfile.read(tmp_path / "both.wav")
    assert rate == 44100
    assert 0.4 < np.abs(sound).max() <= 0.51
    told = run("work", "heard", "bells.toml", "--sound", "both.wav", "--json", cwd=tmp_path)
    assert json.loads(told.stdout)["equal_blow"] is True
    assert told.stderr == b"wrote both.wav\n"


def test_a_worksheet_without_a_sound_says_so(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(load("conformity").example)
    done = run("work", "conformity", "case.toml", "--sound", "x.wav", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr == b"--sound: conformity has nothing to listen to; leave it out\n"
    assert not (tmp_path / "x.wav").exists()
