"""The pictures of taps and of two bells heard: what is drawn, where, and that nothing overlaps."""

from __future__ import annotations

from typing import Any

import pytest

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.palette import DAY
from kitwright.pictures.picture import Picture
from kitwright.pictures.sound import guide_of
from kitwright.pictures.spectrogram import Heard, spectrogram
from kitwright.pictures.stems import Stems, stems
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read


def drawn(name: str, **changed: Any) -> list[Picture]:
    worksheet = load(name)
    case = read(worksheet.case, {**from_toml(worksheet.example), **changed})
    return pictures_of(name, case, worksheet.solve(case), palette=DAY)


def test_the_pictures_of_the_examples_are_clear(read_back: Any) -> None:
    for pictures in (drawn("tap"), drawn("tap", against="example"), drawn("heard")):
        assert pictures
        for each in pictures:
            assert each.caption.endswith(".")
            assert len(each.svg) < 60_000
            picture = read_back(each.svg)
            picture.check_clear()
            assert picture.root.findtext("{*}title")
            assert picture.root.findtext("{*}desc")


def test_the_guide_is_clear_and_only_taps_have_one(read_back: Any) -> None:
    guide = guide_of("tap", palette=DAY)
    assert guide is not None
    read_back(guide.svg).check_clear()
    assert "strike here" in guide.svg
    assert guide_of("heard") is None


HEARD = Heard(
    rows=["0000", "0950", "0000", "0030"],
    lowest_hz=100,
    highest_hz=1600,
    seconds=2.0,
    step_db=6,
)


def test_each_loudness_is_one_shape_at_its_place(read_back: Any) -> None:
    """Four rows of a doubling each, four columns of half a second: loud cells where they are."""
    svg = spectrogram(HEARD, modes_hz=[280.0], strikes_s=[0.5], title="t", palette=DAY)
    picture = read_back(svg)
    cells = [each for each in picture.all("path") if each.get("stroke-opacity")]
    assert [each.get("d").count("M") for each in cells] == [1, 1, 1]
    darkness = [float(each.get("stroke-opacity")) for each in cells]
    assert darkness == sorted(darkness)
    assert darkness[-1] == 1
    left, right, top, tall = 52.0, 334.0, 20.0, 236.0
    x, y = map(float, cells[-1].get("d")[1:].partition("L")[0].split())
    assert x == pytest.approx(left + (right - left) / 4, abs=0.01)
    assert y == pytest.approx(top + tall * 2.5 / 4, abs=0.01)
    assert float(cells[-1].get("stroke-width")) == pytest.approx(tall / 4, abs=0.01)
    [wedge] = picture.all("polygon")
    middle = sum(float(p.split(",")[0]) for p in wedge.get("points").split()) / 3
    assert middle == pytest.approx(left + (right - left) / 4, abs=0.01)


def test_more_modes_than_room_are_ticked_and_not_named(read_back: Any) -> None:
    crowd = [300.0 * 1.01**n for n in range(12)]
    svg = spectrogram(HEARD, modes_hz=crowd, strikes_s=[], title="t", palette=DAY)
    picture = read_back(svg)
    picture.check_clear()
    assert "300 Hz" in picture.words()
    assert "303 Hz" not in picture.words()
    assert sum(float(each.get("x2", 0)) > 334 for each in picture.all("line")) == 12


def test_stems_stand_at_their_pitch_and_height(read_back: Any) -> None:
    """Equal ratios of pitch are equal steps to the right; the second bell's discs are open."""
    svg = stems(
        [
            Stems(name="one", points=[(100, 1.0), (1000, 0.5)]),
            Stems(name="two", points=[(316.2278, 2.0)]),
        ],
        least=0,
        most=2,
        unit="s",
        title="t",
        palette=DAY,
    )
    discs = read_back(svg).all("circle")[:3]
    (x1, y1), (x2, y2), (x3, y3) = [(float(d.get("cx")), float(d.get("cy"))) for d in discs]
    assert x3 - 3.2 == pytest.approx((x1 + x2) / 2, abs=0.05)
    assert y2 - y1 == pytest.approx((y1 - y3) / 2, abs=0.05)
    assert [disc.get("fill") == DAY.ink for disc in discs] == [True, True, False]


@pytest.mark.parametrize("most", [0.02, 3.7, 41.0])
def test_any_length_of_ring_is_drawn(read_back: Any, most: float) -> None:
    svg = stems([Stems(name="one", points=[(150, most)])], least=0, most=most, unit="s", title="t")
    read_back(svg.replace("var(--ink)", "#000")).check_clear()


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="equal rows"):
        spectrogram(
            Heard(rows=["01", "0"], lowest_hz=1, highest_hz=2, seconds=1, step_db=6),
            modes_hz=[],
            strikes_s=[],
            title="t",
        )
    with pytest.raises(InputError, match="a lower and a higher"):
        stems([Stems(name="a", points=[(1, 1)])], least=1, most=1, unit="s", title="t")
    for bells in ([], [Stems(name="a", points=[])]):
        with pytest.raises(InputError, match="give one or two"):
            stems(bells, least=0, most=1, unit="s", title="t")
