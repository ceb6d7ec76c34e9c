"""The tap worksheet: recordings in, modes out, beside what was computed and beside another."""

from __future__ import annotations

import base64
import io
import math
from typing import Any

import numpy as np
import pytest
import soundfile

from kitwright.calc.shell.strike import strike
from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.shell.tap_example import MODES, STRUCK_S
from kitwright.worksheets.shell.tap_said import hertz, seconds

TAP = load("tap")
PITCH = np.array([212.0, 355.0, 580.0, 893.0, 1410.0])
LOSS = 0.003


def recorded(pitch=PITCH, loss=LOSS, rate=22050, channels=1, form="WAV", **how) -> bytes:
    """A tap after a quarter of a second, in noise 60 dB below it."""
    ring = strike(pitch, math.pi * pitch * loss, 1.0, rate_hz=rate, seconds=1.8)
    sound = np.concatenate([np.zeros(rate // 4), ring])
    sound *= 0.5 / np.abs(sound).max()
    sound += np.random.default_rng(3).normal(0, 5e-4, len(sound))
    if channels == 2:
        sound = np.column_stack([0.1 * sound[::-1], sound])
    file = io.BytesIO()
    soundfile.write(file, sound, rate, format=form, **how)
    return file.getvalue()


def solve(**case: Any):
    """The answer; a recording is given as bytes."""
    held = {f"{name}.wav": value for name, value in case.items() if isinstance(value, bytes)}
    plain = {n: f"{n}.wav" if isinstance(value, bytes) else value for n, value in case.items()}
    return TAP.solve(read(TAP.case, plain, files=held.__getitem__))


def pitches(answer) -> list[float]:
    return [mode.frequency_hz for mode in answer.modes]


def test_the_example_finds_the_bell_that_was_made() -> None:
    answer = TAP.solve(read(TAP.case, from_toml(TAP.example)))
    assert answer.taps == len(STRUCK_S)
    np.testing.assert_allclose(answer.strikes_s, STRUCK_S, atol=0.004)
    for mode, (pitch, loss, _) in zip(answer.modes, MODES, strict=True):
        assert abs(mode.frequency_hz - pitch) < 2 * mode.frequency_u95_hz
        assert mode.loss_factor == pytest.approx(loss, rel=0.01)
        assert abs(mode.decay_s - 2.19883 / (pitch * loss)) < 2 * mode.decay_u95_s
    assert 0 < answer.ring_weighted_s <= answer.ring_s


@pytest.mark.parametrize("rate", [8000, 44100, 48000])
@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_rate_width_and_channels(rate, subtype, channels) -> None:
    answer = solve(file=recorded(rate=rate, subtype=subtype, channels=channels))
    np.testing.assert_allclose(pitches(answer), PITCH, rtol=2e-5)
    assert answer.sample_rate == rate
    assert bool(answer.notes) == (channels == 2)
    if channels == 2:
        assert answer.notes == ["Of 2 channels the loudest was used: right."]


def test_a_recording_sent_with_the_case() -> None:
    """A data URL (RFC 2397), as the API takes it."""
    url = f"data:audio/wav;base64,{base64.b64encode(recorded()).decode()}"
    case = read(TAP.case, {"file": url})
    np.testing.assert_allclose(pitches(TAP.solve(case)), PITCH, rtol=2e-5)
    assert case.file.text.startswith("sent with the case")
    assert read(TAP.case, case.model_dump(mode="json")) == case


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("tap.wav", "no path is read here"),
        ("/etc/passwd", "no path is read here"),
        ("", "no recording is named"),
        (5, "no recording is named"),
        (None, "missing"),
        ("data:audio/wav,raw", "not base64"),
        ("data:audio/wav;base64,???", "cannot be read"),
    ],
)
def test_without_files_no_name_is_opened(value, words) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read(TAP.case, {"file": value})
    assert caught.value.problems[0].where == "file"


# ── beside what was computed ─────────────────────────────────────────────────────────────


def test_the_modulus_that_fits() -> None:
    """Exact: frequencies rise as the root of E. Computed with 70 GPa, the bell is of 66.5."""
    computed = (PITCH / math.sqrt(0.95)).tolist()
    answer = solve(file=recorded(), computed=[*computed, 2900.0], computed_modulus_gpa=70)
    assert answer.wall.modulus_gpa == pytest.approx(66.5, rel=1e-4)
    assert answer.wall.pairs == 5
    assert answer.wall.rms_after_percent < 0.01
    for mode, beside in zip(answer.modes, computed, strict=True):
        assert mode.computed_hz == pytest.approx(beside)
        assert mode.off_percent == pytest.approx(100 * (math.sqrt(0.95) - 1), abs=0.01)
    assert "66.5 GPa" in TAP.say(answer, "mm")
    alone = solve(file=recorded(), computed=computed)
    assert alone.wall.modulus_gpa is None
    assert alone.wall.ratio == pytest.approx(0.95, rel=1e-4)


BELL = {
    "front_radius": "205 mm",
    "rear_radius": "120 mm",
    "length": "170 mm",
    "wall": "6 mm",
    "material": "aluminium A356",
    "count": 8,
    "mesh": "coarse",
}


def test_the_wall_that_fits_by_two_solves() -> None:
    """A bell whose wall is 3 % thicker than drawn rings as its own computation says; found from
    the drawing alone, within what the slopes' own bend leaves."""
    from kitwright.worksheets.shell.computed_modes import computed_modes
    from kitwright.worksheets.shell.modes_case import ModesCase

    drawn = read(ModesCase, BELL)
    thicker = drawn.model_copy(update={"wall": type(drawn.wall)("6.18 mm")})
    rung = recorded(computed_modes(thicker, "bell").frequencies_hz, rate=44100)
    answer = solve(file=rung, bell=BELL, find="thickness")
    assert answer.wall.wall_mm == pytest.approx(6.18, abs=0.005)
    assert answer.wall.modulus_gpa is None
    assert answer.wall.rms_after_percent < answer.wall.rms_before_percent / 20
    assert "thick" in TAP.say(answer, "in")
    modulus = solve(file=rung, bell=BELL)
    assert modulus.wall.wall_mm is None
    assert modulus.wall.modulus_gpa > 72.4
    assert modulus.wall.rms_after_percent > answer.wall.rms_after_percent


def test_modes_that_change_places_keep_their_own_slope() -> None:
    """A wall 4 % thicker takes a pair of six waves past a bending mode: each mode's slope is
    that of its own look, which by order would be the other's."""
    from kitwright.worksheets.shell.computed_modes import computed_modes, wall_slopes
    from kitwright.worksheets.shell.modes_case import ModesCase

    flanges = {
        "front_flange": {"outer_radius": "190 mm", "thickness": "12 mm"},
        "rear_flange": {"outer_radius": "105 mm", "thickness": "14 mm"},
    }
    size = {"front_radius": "175 mm", "rear_radius": "90 mm", "wall": "8 mm", "count": 20}
    drawn = read(ModesCase, {**BELL, **size, **flanges})
    thicker = drawn.model_copy(update={"wall": type(drawn.wall)("8.32 mm"), "count": 26})
    usual, after = (computed_modes(each, "bell") for each in (drawn, thicker))
    slopes = wall_slopes(drawn, "bell")
    moved = []
    for look in {kind.look for kind in usual.kinds}:
        mine = [i for i, kind in enumerate(usual.kinds) if kind.look == look]
        there = [i for i, kind in enumerate(after.kinds) if kind.look == look][: len(mine)]
        rise = np.log(after.frequencies_hz[there] / usual.frequencies_hz[mine]) / np.log(1.04)
        np.testing.assert_allclose(slopes[mine], rise, atol=1e-4)
        moved += [one != other for one, other in zip(mine, there, strict=True)]
    assert any(moved)


@pytest.mark.parametrize(
    ("case", "where", "words"),
    [
        ({"computed": [300.0], "bell": BELL}, "bell", "one of the two"),
        ({"computed_modulus_gpa": 70.0}, "computed_modulus_gpa", "without computed"),
        ({"find": "thickness", "computed": [300.0]}, "find", "needs the design"),
        ({"computed": [30_000.0]}, "computed", "no computed mode lies near"),
        ({"bell": {**BELL, "wall": "600 mm"}}, "bell.front_radius", "wall"),
        ({"bell": {**BELL, "change": {"wall": "5 mm"}}}, "bell.change", "one design"),
        ({"lowest_hz": 9000, "highest_hz": 8000}, "lowest_hz", "not below"),
    ],
)
def test_what_contradicts_itself_is_refused(case, where, words) -> None:
    with pytest.raises(InputError, match=words) as caught:
        solve(file=recorded(), **case)
    assert caught.value.problems[0].where == where


# ── beside a second recording ────────────────────────────────────────────────────────────


def test_two_recordings_are_compared() -> None:
    """The second bell rings 1 % lower, twice as long, and lacks one mode."""
    lower = recorded(0.99 * np.delete(PITCH, 2), LOSS / 2 / 0.99)
    answer = solve(file=recorded(), against=lower)
    assert answer.against.pitch_percent == pytest.approx(100 * (1 / 0.99 - 1), abs=0.01)
    assert answer.against.ring_s == pytest.approx(2 * answer.ring_s, rel=0.02)
    told = {(row.pitch, row.decay) for row in answer.compared}
    assert told == {("1 % higher", "50 % shorter"), ("only here", "")}
    assert [row.frequency_hz for row in answer.compared] == sorted(pitches(answer))
    turned = solve(file=lower, against=recorded())
    assert {row.pitch for row in turned.compared} == {"1 % lower", "only there"}
    said = TAP.say(answer, "mm")
    assert "times as long as the second recording" in said
    assert "1 % higher" in said


def test_a_bell_is_the_same_as_itself() -> None:
    once = recorded()
    answer = solve(file=once, against=once)
    assert all(row.pitch.startswith("the same within") for row in answer.compared)
    assert all(row.decay.startswith("the same within") for row in answer.compared)
    assert "as long as the second recording and at the same pitch" in TAP.say(answer, "mm")


def test_bells_without_a_mode_in_common_can_be_compared() -> None:
    answer = solve(file=recorded(), against=recorded(np.array([3100.0, 4700.0])))
    assert answer.against.pitch_percent is None
    assert {row.pitch for row in answer.compared} == {"only here", "only there"}


# ── what is told ─────────────────────────────────────────────────────────────────────────


def test_faults_of_both_recordings_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        solve(file=b"", against=recorded(form="FLAC"))
    assert [problem.where for problem in caught.value.problems] == ["file", "against"]


def test_a_clipped_recording_says_so() -> None:
    sound, rate = soundfile.read(io.BytesIO(recorded()))
    file = io.BytesIO()
    soundfile.write(file, np.clip(4 * sound, -1, 1), rate, format="WAV", subtype="PCM_16")
    answer = solve(file=file.getvalue())
    assert "The recording clips" in answer.notes[0]
    np.testing.assert_allclose(pitches(answer), PITCH, rtol=1e-4)


def test_what_the_phone_did_to_the_sound_is_passed_on() -> None:
    def with_comment(text: str) -> bytes:
        file = io.BytesIO()
        sound, rate = soundfile.read(io.BytesIO(recorded()))
        with soundfile.SoundFile(file, "w", rate, 1, "PCM_16", format="WAV") as written:
            written.comment = text
            written.write(sound)
        return file.getvalue()

    off = "echoCancellation=false; noiseSuppression=false; autoGainControl=false; sampleRate=44100"
    assert solve(file=with_comment(off)).notes == []
    on = solve(file=with_comment(off.replace("Suppression=false", "Suppression=true")))
    assert on.notes == [
        "The recorder worked on the sound (noise suppression): decays may be wrong."
    ]


def test_a_ring_of_which_little_was_seen_says_so() -> None:
    """The same tap, whole and with all but the first 0.4 s of its ring cut away."""
    sound, rate = soundfile.read(io.BytesIO(recorded()))
    file = io.BytesIO()
    soundfile.write(file, sound[: round(0.65 * rate)], rate, format="WAV")
    whole, short = solve(file=recorded()), solve(file=file.getvalue())
    assert whole.ring_followed_db > 30
    assert not whole.notes
    slowest = float((math.pi * PITCH * LOSS).min())
    most = 8.686 * slowest * 0.4  # of the slowest mode alone
    assert most < short.ring_followed_db < most + 10
    assert "could be followed for" in short.notes[0]
    assert abs(short.ring_s - whole.ring_s) < short.ring_u95_s + whole.ring_u95_s


def test_the_spectrogram_is_digits() -> None:
    answer = solve(file=recorded(), lowest_hz=100, highest_hz=5000)
    seen = answer.spectrogram
    assert {len(row) for row in seen.rows} == {len(seen.rows[0])}
    assert set("".join(seen.rows)) <= set("0123456789")
    assert "9" in "".join(seen.rows)
    assert (seen.lowest_hz, seen.highest_hz) == (100, 5000)


def test_words() -> None:
    assert hertz(1704.6) == "1705 Hz"
    assert [seconds(t) for t in (2.345, 0.234, 0.0834)] == ["2.3 s", "0.23 s", "0.083 s"]
