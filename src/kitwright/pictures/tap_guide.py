"""How a bell hangs to be tapped, where it is struck, and where the phone is held."""

from __future__ import annotations

from typing import Final

from kitwright.pictures.drawing import (
    Element,
    Point,
    arrow,
    circle,
    document,
    element,
    line,
    path,
    polygon,
    text,
)
from kitwright.pictures.foot import SMALL
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_HEIGHT: Final = 290.0
_BAR: Final = 18.0
_HOOK: Final = (210.0, 18.0)
_FACE: Final = ((118.0, 112.0), (302.0, 112.0))
"""The block face from its side, upward: its left and its right end."""
_REAR: Final = ((164.0, 246.0), (256.0, 246.0))
_THICK: Final = 10.0


def tap_guide(palette: Palette = PAGE) -> str:
    """The bell from its side, hung by cords with its block face up, as SVG text."""
    drawn = [*_bell(palette), *_cords(palette), *_strike(palette), *_phone(palette)]
    return document(
        WIDTH,
        _HEIGHT,
        drawn,
        title="How to hang and strike the bell",
        description=(
            "The bell hangs free by thin cords through bolt holes of its block face, that face "
            "up. It is struck on the wall half way between both faces. The phone is held a hand's "
            "length from the wall, at the other side."
        ),
        palette=palette,
    )


def _bell(palette: Palette) -> list[Element]:
    (left, top), (right, _) = _FACE
    (rear_left, low), (rear_right, _) = _REAR
    wall: list[Point] = [
        (left + 12, top + _THICK),
        (right - 12, top + _THICK),
        (rear_right, low),
        (rear_left, low),
    ]
    return [
        polygon(wall, fill=palette.wash, stroke_width=1.8),
        _plate(left, right, top, palette),
        _plate(rear_left - 8, rear_right + 8, low, palette),
        text("block face, up", (210, top - 8), SMALL, palette.soft, anchor="middle"),
        text("gearbox face", (210, low + 28), SMALL, palette.soft, anchor="middle"),
    ]


def _plate(left: float, right: float, top: float, palette: Palette) -> Element:
    wide = right - left
    return element(
        "rect", x=left, y=top, width=wide, height=_THICK, fill=palette.wash, stroke_width=1.8
    )


def _cords(palette: Palette) -> list[Element]:
    (left, top), (right, _) = _FACE
    ends = (left + 8, top), (right - 8, top)
    return [
        line((120, _BAR), (300, _BAR), stroke_width=4),
        path([[_HOOK, end] for end in ends], stroke_width=1.2),
        *(circle(end, 2.6, fill=palette.ground, stroke_width=1.2) for end in ends),
        text("thin cords", (60, 52), SMALL, palette.ink),
    ]


def _strike(palette: Palette) -> list[Element]:
    return [
        *arrow((322, 160), (275, 182), palette.brass),
        text("strike here", (304, 186), SMALL, palette.brass_text, semibold=True),
        text("and let it", (304, 202), SMALL, palette.brass_text, semibold=True),
        text("bounce off", (304, 218), SMALL, palette.brass_text, semibold=True),
    ]


def _phone(palette: Palette) -> list[Element]:
    return [
        element(
            "rect", x=34, y=152, width=26, height=52, rx=4, fill=palette.ground, stroke_width=1.8
        ),
        line((43, 198), (51, 198), stroke_width=1.4),
        path([[(64, 186), (64, 194), (140, 194), (140, 186)]], stroke_width=1),
        text("a hand's", (102, 212), SMALL, palette.soft, anchor="middle"),
        text("length", (102, 227), SMALL, palette.soft, anchor="middle"),
        text("phone", (47, 226), SMALL, palette.ink, anchor="middle"),
    ]
