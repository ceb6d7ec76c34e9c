"""Mode shapes: the bell's surface bent as a mode bends it, far larger than it ever does.

Seen from behind, above and to the right. The rims as they are at rest are dashed.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, document, path, polygon, text
from kitwright.pictures.foot import SIDE, SMALL
from kitwright.pictures.lettering import shorten
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import plain

WIDTH: Final = 400.0
YAW_DEG: Final = -32.0
PITCH_DEG: Final = 24.0
BENT: Final = 0.14
"""The largest displacement drawn, over the bell's largest radius."""

_PANEL: Final = 178.0
_LIGHT: Final = np.array([-0.35, 0.6, 0.72])
_SHOWN: Final = 4
_LARGEST_MM: Final = 1e6

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Surface:
    """The bell's surface at rest, and how each mode moves it (largest displacement 1)."""

    points_mm: Floats
    """(p, 3): x right, y up, z rearward."""
    faces: NDArray[np.int64]
    """(f, 4), counter-clockwise seen from outside."""
    moves: Floats
    """(m, p, 3)"""


@dataclass(frozen=True, kw_only=True)
class Name:
    """What is written under a shape."""

    number: int
    frequency_hz: float
    words: str


def unpacked(view: Any) -> Surface:
    """The surface as the modes worksheet's answer packs it."""

    def numbers(packed: str, kind: str, columns: int) -> NDArray[Any]:
        return np.frombuffer(base64.b64decode(packed), dtype=kind).reshape(-1, columns)

    return Surface(
        points_mm=numbers(view.points, "<i4", 3) / 10,
        faces=numbers(view.faces, "<u2", 4).astype(np.int64),
        moves=np.array([numbers(one, "i1", 3) / 127 for one in view.moves]),
    )


def mode_shapes(
    surface: Surface, names: Sequence[Name], *, title: str, palette: Palette = PAGE
) -> str:
    """The lowest shapes side by side, up to four, as SVG text.

    Raises
    ------
    InputError
        No shape, or a bell that cannot be drawn.
    """
    if not names or len(names) > len(surface.moves):
        raise InputError("modes", "no shape to draw", "ask for one or more")
    if not 0 < abs(surface.points_mm).max() < _LARGEST_MM:
        raise InputError("modes", "a bell that cannot be drawn", "check its unit")
    turned = _turn()
    radius = float(np.hypot(*surface.points_mm[:, :2].T).max())
    rest = _centred(surface.points_mm) @ turned.T
    reach = abs(rest[:, :2]).max(axis=0) + BENT * radius
    scale = _PANEL / 2 / float(reach.max())
    height = 2 * float(reach[1]) * scale
    drawn: list[Element] = []
    shown = names[:_SHOWN]
    for index, name in enumerate(shown):
        column, row = index % 2, index // 2
        alone = len(shown) == 1
        middle = WIDTH / 2 if alone else WIDTH * (0.25 + 0.5 * column)
        top = 6 + row * (height + 50)
        bent = rest + BENT * radius * surface.moves[index] @ turned.T
        at = np.array([middle, top + height / 2])
        rims = [_flat(rest[rim], at, scale) for rim in _rims(surface.points_mm)]
        drawn.append(_dashed(rims[0], palette))
        drawn += _faces(bent, surface.faces, at, scale, palette)
        drawn.append(_dashed(rims[1], palette))
        below = top + height + 17
        pitch = f"{plain(name.frequency_hz, 1 if name.frequency_hz < 100 else 0)} Hz"
        drawn.append(text(pitch, (middle, below), 15, palette.ink, anchor="middle", semibold=True))
        words = shorten(name.words, SMALL, _PANEL)
        drawn.append(text(words, (middle, below + 17), SMALL, palette.soft, anchor="middle"))
    told = "; ".join(f"{plain(name.frequency_hz, 0)} Hz, {name.words}" for name in shown)
    end = math.ceil(len(shown) / 2) * (height + 50) + 22
    drawn.append(text("dashed: the rims at rest", (SIDE, end - 7), SMALL, palette.soft))
    return document(
        WIDTH,
        end,
        drawn,
        title=title,
        description=f"The bell bent by its lowest modes: {told}.",
        palette=palette,
    )


def moving(view: Any, names: Sequence[Name]) -> str:
    """What the page's own drawing of the moving shapes takes, as JSON text."""
    return json.dumps(
        {
            "points": view.points,
            "faces": view.faces,
            "moves": view.moves,
            "names": [
                f"{plain(name.frequency_hz, 1 if name.frequency_hz < 100 else 0)} Hz, {name.words}"
                for name in names
            ],
            "yaw": YAW_DEG,
            "pitch": PITCH_DEG,
            "bent": BENT,
        }
    )


def _turn() -> Floats:
    """From the bell's axes to the page's: right, up, toward the eye."""
    yaw, pitch = math.radians(YAW_DEG), math.radians(PITCH_DEG)
    about_y = np.array(
        [[math.cos(yaw), 0, math.sin(yaw)], [0, 1, 0], [-math.sin(yaw), 0, math.cos(yaw)]]
    )
    about_x = np.array(
        [[1, 0, 0], [0, math.cos(pitch), -math.sin(pitch)], [0, math.sin(pitch), math.cos(pitch)]]
    )
    return np.asarray(about_x @ about_y)


def _centred(points: Floats) -> Floats:
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return np.asarray(points - [0, 0, middle[2]])


def _rims(points: Floats) -> list[NDArray[np.int64]]:
    """Points of the outer rims, at the block face and at the gearbox face, round the clock."""
    found = []
    for z in (points[:, 2].min(), points[:, 2].max()):
        there = np.flatnonzero(abs(points[:, 2] - z) < 0.06)
        radius = np.hypot(*points[there, :2].T)
        rim = there[radius > radius.max() - 0.2]
        found.append(rim[np.argsort(np.arctan2(points[rim, 0], points[rim, 1]))])
    return found


def _flat(points: Floats, at: Floats, scale: float) -> Floats:
    return np.asarray(at + scale * points[:, :2] * [1, -1])


def _dashed(rim: Floats, palette: Palette) -> Element:
    run = [(float(x), float(y)) for x, y in [*rim, rim[0]]]
    return path([run], stroke=palette.soft, stroke_width=0.8, stroke_dasharray="3 3")


def _faces(
    points: Floats, faces: NDArray[np.int64], at: Floats, scale: float, palette: Palette
) -> list[Element]:
    """Faces turned to the eye, the far ones first, in four tones by the light on them."""
    corners = points[faces]
    square = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    normal = square / np.maximum(np.linalg.norm(square, axis=1), 1e-12)[:, None]
    seen = np.flatnonzero(normal[:, 2] > 1e-3)
    order = seen[np.argsort(corners[seen, :, 2].mean(axis=1), kind="stable")]
    tones = (palette.line, palette.rule, palette.wash, palette.ground)
    bright = np.clip(normal @ (_LIGHT / np.linalg.norm(_LIGHT)), 0, 0.999)
    flat = _flat(points, at, scale)
    drawn = []
    for face in order:
        outline = [(float(x), float(y)) for x, y in flat[faces[face]].round(1)]
        tone = tones[int(bright[face] * len(tones))]
        drawn.append(polygon(outline, fill=tone, stroke=palette.soft, stroke_width=0.4))
    return drawn
