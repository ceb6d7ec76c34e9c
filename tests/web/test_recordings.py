"""Recordings at a page: handed in, held through the round trip, played, never opened by name."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import lxml.html
import numpy as np
import pytest
import soundfile
from lxml.html import HtmlElement
from starlette.testclient import TestClient

from kitwright.errors import InputError
from kitwright.web.held import Held, by_name
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml
from kitwright.worksheets.shell.tap_example import example_sound

ADDRESS = "/worksheets/tap"


def wav(gain: float = 1.0) -> bytes:
    file = io.BytesIO()
    sound = example_sound()
    soundfile.write(file, gain * sound.samples, sound.rate_hz, format="WAV", subtype="PCM_16")
    return file.getvalue()


def page_of(text: str) -> HtmlElement:
    return lxml.html.document_fromstring(text)


def values_of(page: HtmlElement) -> dict[str, str]:
    [form] = page.cssselect("form.case")
    return {name: value.removeprefix("\n") for name, value in form.form_values()}


def handed_in(client: TestClient, data: bytes, name: str = "my bell.wav", **rest: str):
    return client.post(ADDRESS, data=rest, files={"file": (name, data, "audio/wav")})


def test_an_upload_is_answered_held_and_played(client: TestClient) -> None:
    answer = handed_in(client, wav(), lowest_hz="100")
    assert answer.status_code == 200
    page = page_of(answer.text)
    assert "318 Hz" in page.cssselect(".say")[0].text_content()
    assert page.cssselect(".kept span")[0].text_content() == "my bell.wav"
    [player] = page.cssselect(".answer audio")
    whole = client.get(player.get("src"))
    assert (whole.status_code, whole.content) == (200, wav())
    assert whole.headers["content-type"] == "audio/wav"
    part = client.get(player.get("src"), headers={"Range": "bytes=4-11"})
    assert (part.status_code, part.content) == (206, wav()[4:12])
    assert part.headers["content-range"] == f"bytes 4-11/{len(wav())}"
    rest = client.get(player.get("src"), headers={"Range": "bytes=100-"})
    assert rest.content == wav()[100:]


def test_an_upload_outlives_a_refused_form(client: TestClient) -> None:
    """The browser cannot fill a file in again; the page does not ask for it twice."""
    refused = handed_in(client, wav(), lowest_hz="1,5")
    assert refused.status_code == 422
    page = page_of(refused.text)
    values = values_of(page)
    assert values["lowest_hz"] == "1,5"
    assert values["file"].startswith("held:")
    assert [field.get("name") for field in page.cssselect("[aria-invalid]")] == ["lowest_hz"]
    again = client.post(ADDRESS, data={**values, "lowest_hz": "100"})
    assert again.status_code == 200
    assert "318 Hz" in again.text
    assert len(again.text) < 200_000  # the recording itself is not in the page


def test_a_bad_recording_has_its_message_beside_its_field(client: TestClient) -> None:
    for data, words in ((b"", "the file is empty"), (b"ID3 junk", "an MP3 file, not a WAV file")):
        refused = handed_in(client, data)
        assert refused.status_code == 422
        page = page_of(refused.text)
        [wrong] = page.cssselect("[aria-invalid]")
        assert (wrong.get("type"), wrong.get("id")) == ("file", "f-file")
        assert words in page.get_element_by_id("f-file-error").text_content()
        assert [a.get("href") for a in page.cssselect(".errors a")] == ["#f-file"]


def test_another_file_takes_the_place_of_the_one_held(client: TestClient) -> None:
    first = values_of(page_of(handed_in(client, wav()).text))
    second = values_of(page_of(handed_in(client, wav(0.5), "other.wav", **first).text))
    assert first["file"].endswith("/my bell.wav")
    assert second["file"].endswith("/other.wav")
    chosen_none = client.post(
        ADDRESS, data=second, files={"against": ("", b"", "application/octet-stream")}
    )
    assert values_of(page_of(chosen_none.text))["file"] == second["file"]
    assert values_of(page_of(chosen_none.text))["against"] == ""


def test_a_recording_is_taken_out(client: TestClient) -> None:
    values = values_of(page_of(handed_in(client, wav(), lowest_hz="100").text))
    less = page_of(client.post(ADDRESS, data={**values, "remove": "file"}).text)
    assert values_of(less)["file"] == ""
    assert values_of(less)["lowest_hz"] == "100"
    assert not less.cssselect(".kept")


def test_a_what_if_with_a_recording(client: TestClient) -> None:
    page = page_of(handed_in(client, wav(), lowest_hz="100").text)
    values = values_of(page)
    [text] = [box.get("value") for box in page.cssselect(".answer input[name=text]")]
    tried = client.post(ADDRESS, data={**values, "lowest_hz": "700", "what-if": text})
    assert tried.status_code == 200
    assert "884 Hz" in tried.text
    assert "Before: It rings at 318 Hz" in tried.text


def test_print_and_keep_know_the_recording(client: TestClient) -> None:
    page = page_of(handed_in(client, wav()).text)
    [text] = [box.get("value") for box in page.cssselect(".answer input[name=text]")]
    assert client.post(f"{ADDRESS}/pdf", data={"text": text}).content.startswith(b"%PDF")
    kept = client.post(f"{ADDRESS}/case", data={"text": text})
    assert from_toml(kept.text) == {"file": "my bell.wav"}


def test_what_is_no_longer_held_is_asked_for_again(client: TestClient) -> None:
    gone = f"held:{'0' * 24}/tap.wav"
    answer = client.post(ADDRESS, data={"file": gone})
    assert answer.status_code == 422
    assert "it is no longer held here; choose the file again" in answer.text
    assert client.get(f"/worksheets/held/{'0' * 24}").status_code == 404
    assert client.get("/worksheets/held/nothing").status_code == 404


def test_no_path_is_opened_for_a_browser_or_a_program(client: TestClient, tmp_path: Path) -> None:
    path = tmp_path / "tap.wav"
    path.write_bytes(wav())
    for name in (str(path), f"held:{path}", "../tap.wav", "file:///etc/passwd"):
        page = client.post(ADDRESS, data={"file": name})
        assert page.status_code == 422
        assert "was not handed in here" in page.text
        told = client.post("/api/worksheets/tap", json={"file": name})
        assert told.status_code == 422
        assert told.json()["problems"][0]["given"] == "no path is read here"


def test_the_api_takes_a_recording_in_the_case(client: TestClient) -> None:
    url = f"data:audio/wav;base64,{base64.b64encode(wav()).decode()}"
    answer = client.post("/api/worksheets/tap", json={"file": url, "lowest_hz": 100.0})
    assert answer.status_code == 200
    modes = answer.json()["modes"]
    np.testing.assert_allclose(modes[0]["frequency_hz"], 318.4, atol=0.01)


def test_a_worksheet_without_a_recording_takes_no_file(client: TestClient) -> None:
    answer = client.post(
        "/worksheets/conformity", data={"value": "1 mm"}, files={"value": ("a.wav", wav())}
    )
    assert answer.status_code == 422
    assert "cannot be read" in answer.text


def test_the_two_bells_of_heard_can_be_played(client: TestClient) -> None:
    page = page_of(client.post("/worksheets/heard", data={"text": load("heard").example}).text)
    players = page.cssselect(".answer audio")
    assert len(players) == 3
    for player in players:
        sound, rate = soundfile.read(io.BytesIO(client.get(player.get("src")).content))
        assert rate == 44100
        assert 0.01 < np.abs(sound).max() <= 0.51
    assert "published for welded steel" in page.cssselect(".sounds")[0].text_content()


# ── what is held ─────────────────────────────────────────────────────────────────────────


def test_the_oldest_goes_when_there_is_too_much() -> None:
    held = Held(most_bytes=100)
    first, second = held.keep(b"a" * 40), held.keep(b"b" * 40)
    assert held.found(first) == b"a" * 40  # used: it stays longer
    third = held.keep(b"c" * 40)
    assert held.found(second) is None
    assert held.found(first) is not None
    assert held.keep(b"c" * 40) == third
    assert held.found(first) is not None, "the same again takes no room"
    large = held.keep(b"d" * 500)
    assert held.found(large) is not None
    assert held.found(third) is None


@pytest.mark.parametrize(
    ("name", "called"),
    [
        ("C:\\sounds\\tap.wav", "tap.wav"),
        ("/tmp/tap.wav", "tap.wav"),
        ('a"b\n\x00<i>.wav', "a_b_i_.wav"),
        ("", "file"),
        ("ä" * 300, "ä" * 80),
    ],
)
def test_a_name_is_a_plain_word(name, called) -> None:
    held = Held()
    reference = held.hand_in(name, b"x")
    assert reference.partition("/")[2] == called
    assert held.opened(reference) == b"x"
    assert by_name(f'file = "{reference}"  # mine') == f'file = "{called}"  # mine'


def test_a_reference_is_ours_or_refused() -> None:
    for text in ("tap.wav", "held:xyz/tap.wav", f"held:{'a' * 24}", f"held:{'a' * 24}/a/b"):
        with pytest.raises(InputError, match="was not handed in here"):
            Held().opened(text)
