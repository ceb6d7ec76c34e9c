"""Mode shapes and pitches: what is drawn is the bell, bent, the near side in front."""

from __future__ import annotations

import json
import re
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.pictures.mode_shapes import Name, Surface, mode_shapes, unpacked
from kitwright.pictures.palette import DAY, PRINT
from kitwright.pictures.pitches import Stem, pitches
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

CUBE = Surface(
    points_mm=np.array(
        [[x, y, z] for x in (-50.0, 50.0) for y in (-50.0, 50.0) for z in (0.0, 100.0)]
    ),
    faces=np.array(
        [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    ),
    moves=np.zeros((5, 8, 3)),
)
NAMES = [Name(number=i, frequency_hz=100.0 * i, words=f"{i} nodal diameters") for i in range(1, 6)]


@pytest.fixture(scope="module")
def solved() -> tuple[Any, Any]:
    worksheet = load("modes")
    case = read(worksheet.case, from_toml(worksheet.example))
    return case, worksheet.solve(case)


def faces(picture: Any) -> list[np.ndarray]:
    return [
        np.array([list(map(float, pair.split(","))) for pair in one.get("points").split()])
        for one in picture.all("polygon")
    ]


def test_of_a_block_the_three_faces_turned_to_the_eye_are_drawn(read_back: Any) -> None:
    """From behind, above and right: the gearbox face, the right side, the top; as they go round."""
    picture = read_back(mode_shapes(CUBE, NAMES[:1], title="Block", palette=DAY))
    drawn = faces(picture)
    assert len(drawn) == 3
    for corners in drawn:
        x, y = corners.T
        turn = (x * np.roll(y, -1) - y * np.roll(x, -1)).sum()
        assert turn < 0  # counter-clockwise to the eye, down being positive
    tops = sorted(float(corners[:, 1].mean()) for corners in drawn)
    assert tops[0] < 60  # the top is highest on the page
    rightmost = max(float(corners[:, 0].max()) for corners in drawn)
    assert rightmost > 200


def test_a_shape_bends_by_its_mode(read_back: Any) -> None:
    moves = np.zeros((2, 8, 3))
    moves[1, :, 1] = 1.0  # all of it upward
    surface = Surface(points_mm=CUBE.points_mm, faces=CUBE.faces, moves=moves)
    rest, up = (
        np.concatenate(faces(read_back(mode_shapes(
            Surface(points_mm=surface.points_mm, faces=surface.faces, moves=moves[i : i + 1]),
            NAMES[:1], title="Block", palette=DAY))))
        for i in (0, 1)
    )  # fmt: skip
    np.testing.assert_allclose(up[:, 0], rest[:, 0], atol=0.11)
    assert (up[:, 1] < rest[:, 1] - 5).all()


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_up_to_four_shapes_each_under_its_pitch(read_back: Any, count: int) -> None:
    picture = read_back(mode_shapes(CUBE, NAMES[:count], title="Block", palette=DAY))
    picture.check_clear()
    pitched = [words for words in picture.words() if words.endswith("Hz")]
    assert pitched == [f"{100 * i} Hz" for i in range(1, min(count, 4) + 1)]
    assert len(picture.all("polygon")) == 3 * min(count, 4)


def test_the_example_is_drawn_clear_and_named(read_back: Any, solved: tuple[Any, Any]) -> None:
    for lead in ("mm", "in"):
        found = pictures_of("modes", *solved, lead=lead, palette=DAY)
        assert len(found) == 2
        for picture in found:
            back = read_back(picture.svg)
            back.check_clear()
            assert back.root.findtext("{*}title")
            assert back.root.findtext("{*}desc")
            assert picture.caption.endswith(".")
    paper = pictures_of("modes", *solved, lead="mm", palette=PRINT)
    assert not set(re.findall(r"#\w{6}", paper[0].svg)) - {
        PRINT.ground, PRINT.ink, PRINT.soft, PRINT.line, PRINT.rule, PRINT.wash,
    }  # fmt: skip


def test_what_the_page_moves_is_the_answers_surface(solved: tuple[Any, Any]) -> None:
    _, answer = solved
    moving = pictures_of("modes", *solved)[0].moving
    assert moving is not None
    assert moving.element == "mode-shapes"
    told = json.loads(moving.data)
    surface = unpacked(SimpleNamespace(**told))
    assert (surface.faces == unpacked(answer.view).faces).all()
    assert len(told["names"]) == len(told["moves"]) == len(answer.view.modes)
    assert told["names"][0] == "287 Hz, 2 nodal diameters"
    assert len(moving.data) < 40_000


def test_pitches_lie_on_the_axis_by_their_frequency(read_back: Any) -> None:
    stems = [Stem(frequency_hz=hz, words=str(n)) for n, hz in ((2, 250), (3, 500), (4, 1000))]
    after = [Stem(frequency_hz=600, words="", solid=False)]
    picture = read_back(pitches(stems, after, title="Pitches", palette=DAY))
    picture.check_clear()
    heads = [c for c in picture.all("circle") if float(c.get("cy")) < 150]
    x = [float(head.get("cx")) for head in heads]
    axis = next(one for one in picture.all("line") if one.get("y1") == one.get("y2"))
    left, right = float(axis.get("x1")), float(axis.get("x2"))
    assert [(at - left) / (right - left) for at in x] == pytest.approx(
        [0.25, 0.5, 1.0, 0.6], abs=1e-3
    )
    level = float(axis.get("y1"))
    assert [float(head.get("cy")) < level for head in heads] == [True, True, True, False]
    assert heads[0].get("fill") == DAY.ink
    assert heads[3].get("fill") == DAY.ground
    assert {"0", "200", "1000", "Hz", "2", "3", "4", "another mode"} <= set(picture.words())


def test_crowded_pitches_keep_their_words_apart(read_back: Any) -> None:
    stems = [Stem(frequency_hz=1000 + 3 * i, words=str(10 + i)) for i in range(40)]
    read_back(pitches(stems, stems, title="Pitches", palette=DAY)).check_clear()


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (lambda: mode_shapes(CUBE, [], title="Block"), "no shape"),
        (lambda: mode_shapes(Surface(points_mm=CUBE.points_mm * 1e9, faces=CUBE.faces,
                                     moves=CUBE.moves), NAMES, title="Block"), "cannot be drawn"),
        (lambda: pitches([], title="Pitches"), "no pitch"),
        (lambda: pitches([Stem(frequency_hz=0, words="")], title="Pitches"), "cannot be drawn"),
        (lambda: pitches([Stem(frequency_hz=1e12, words="")], title="Pitches"), "cannot be drawn"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused(draw: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        draw()
