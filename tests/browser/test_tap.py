"""A tap from the microphone of the page, in Chromium, whose microphone plays a recording."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Browser, Page, expect
from tests.browser.conftest import ARGUMENTS, served

from kitwright.web.app import create_app
from kitwright.worksheets.shell.tap_example import MODES, example_sound

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

HEARING = [
    *ARGUMENTS,
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
    "--host-resolver-rules=MAP garage.test 127.0.0.1",
]
LOUD = [pitch for pitch, _, loudness in MODES if loudness >= 0.3]
WIDTHS = pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])


@pytest.fixture(scope="module")
def wav(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example's taps."""
    path = tmp_path_factory.mktemp("sound") / "tap.wav"
    sound = example_sound()
    soundfile.write(path, sound.samples, sound.rate_hz, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def hearing(browser: Browser, wav: Path) -> Iterator[Browser]:
    """Another Chromium, whose microphone hears the recording over and over."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    listening = browser.browser_type.launch(
        executable_path=program, args=[*HEARING, f"--use-file-for-fake-audio-capture={wav}"]
    )
    yield listening
    listening.close()


def test_the_microphone_records_sends_and_the_peaks_are_there(
    hearing: Browser, address: str
) -> None:
    page = hearing.new_page(viewport={"width": 390, "height": 844})
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "console",
        lambda message: wrong.append(message.text) if message.type == "error" else None,
    )
    page.goto(f"{address}/worksheets/tap")
    field = page.locator("[data-recording]").first
    field.get_by_role("button", name="Record", exact=True).click()
    expect(field.locator(".level")).to_contain_text("Recording", timeout=10_000)
    page.wait_for_timeout(4500)  # a whole round of the recording, and more
    field.get_by_role("button", name="Stop").click()
    expect(field.locator(".level")).to_contain_text("Listen, then work it out")
    expect(field.locator("audio")).to_be_visible()
    seconds = field.locator("audio").evaluate(
        """audio => audio.readyState ? audio.duration
             : new Promise((told) => audio.onloadedmetadata = () => told(audio.duration))"""
    )
    assert seconds > 3.5
    page.get_by_role("button", name="Work it out").last.click()
    expect(page.locator(".say")).to_contain_text("It rings")

    cells = page.locator("section.answer caption", has_text="Modes").locator("xpath=..")
    found = [
        float(re.sub(r" ±.*", "", text)) for text in cells.locator("tbody th").all_text_contents()
    ]
    for pitch in LOUD:
        assert min(abs(each - pitch) for each in found) < 0.3, (pitch, found)

    source = page.locator(".answer audio").first.get_attribute("src")
    recorded = page.request.get(f"{address}{source}").body()
    with soundfile.SoundFile(io.BytesIO(recorded)) as file:
        assert (file.format, file.subtype, file.channels) == ("WAV", "PCM_16", 1)
        told = dict(part.split("=") for part in file.comment.split("; "))
        assert file.samplerate == page.evaluate("new AudioContext().sampleRate")
        assert file.frames > 3.5 * file.samplerate
        assert np.abs(file.read()).max() > 0.1
    assert told["echoCancellation"] == told["noiseSuppression"] == "false"
    assert told["autoGainControl"] == "false"
    assert not wrong
    page.context.close()


def test_over_plain_http_the_page_says_there_is_no_microphone(hearing: Browser, wav: Path) -> None:
    """A phone that opens the page by a name over http: no microphone, and the file works."""
    for local in served(create_app(lead="mm", hosts=["garage.test"])):
        page = hearing.new_page(viewport={"width": 390, "height": 844})
        page.goto(f"{local.replace('127.0.0.1', 'garage.test')}/worksheets/tap")
        assert not page.evaluate("window.isSecureContext")
        field = page.locator("[data-recording]").first
        expect(field.locator(".level")).to_contain_text("No microphone here")
        expect(field.locator("[data-record]")).to_have_count(0)
        field.locator("input[type=file]").set_input_files(str(wav))
        page.get_by_role("button", name="Work it out").last.click()
        expect(page.locator(".say")).to_contain_text("318 Hz")
        page.context.close()


@WIDTHS
def test_the_page_before_and_after(
    opened: Opened,
    address: str,
    wav: Path,
    width: str,
    light: str,
    fits_and_serves_everyone: Check,
) -> None:
    page = opened(f"{address}/worksheets/tap", width=width, light=light)
    expect(page.get_by_text("Hang the bell by two or three thin cords")).to_be_visible()
    fits_and_serves_everyone(page)
    page.locator("#f-file").set_input_files(str(wav))
    page.get_by_role("button", name="Work it out").last.click()
    expect(page.locator(".say")).to_contain_text("318 Hz")
    expect(page.locator(".kept")).to_contain_text("tap.wav")
    fits_and_serves_everyone(page)
    page.locator(".answer audio").first.evaluate("audio => audio.play()")  # fails unless it plays


def test_a_what_if_keeps_the_recording(opened: Opened, address: str, wav: Path) -> None:
    page = opened(f"{address}/worksheets/tap")
    page.locator("#f-file").set_input_files(str(wav))
    page.get_by_role("button", name="Work it out").last.click()
    expect(page.locator(".say")).to_contain_text("318 Hz")
    page.locator("#f-lowest_hz, #f-lowest-hz").first.fill("700")
    expect(page.locator(".what-if .now")).to_contain_text("884 Hz")
    page.locator("#f-file").set_input_files(str(wav))  # the same again, chosen anew
    expect(page.locator(".what-if .now")).to_contain_text("884 Hz")
    page.get_by_role("button", name="Take out Recording of the taps").click()
    expect(page.locator(".recording .kept")).to_have_count(0)


def test_without_scripts_a_file_is_sent_too(opened: Opened, address: str, wav: Path) -> None:
    page = opened(f"{address}/worksheets/tap", scripts=False)
    expect(page.locator("[data-recorder]").first).to_be_hidden()
    page.locator("#f-file").set_input_files(str(wav))
    page.get_by_role("button", name="Work it out").last.click()
    expect(page.locator(".say")).to_contain_text("318 Hz")


@WIDTHS
def test_two_bells_can_be_heard(
    opened: Opened, address: str, width: str, light: str, fits_and_serves_everyone: Check
) -> None:
    page = opened(f"{address}/worksheets/heard?example=1", width=width, light=light)
    fits_and_serves_everyone(page)
    page.get_by_role("button", name="Work it out").last.click()
    expect(page.locator(".answer audio")).to_have_count(3)
    fits_and_serves_everyone(page)
    page.locator(".answer audio").nth(1).evaluate("audio => audio.play()")  # fails unless it plays
