"""Reading a drawing back: its labels as boxes and its lines as points, from the SVG alone.

Widths come from the font files themselves, not from the table that places the labels.
"""

from __future__ import annotations

import itertools
import re
import struct
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from numpy.typing import NDArray

FONTS = Path(__file__).parents[2] / "src" / "kitwright" / "fonts"
SVG = "{http://www.w3.org/2000/svg}"


@cache
def advances(name: str) -> dict[str, float]:
    """Character → advance width per em, from a TrueType file's cmap and hmtx tables."""
    data = (FONTS / name).read_bytes()

    def numbers(form: str, at: int) -> tuple[int, ...]:
        return struct.unpack_from(">" + form, data, at)

    tables = {}
    for index in range(numbers("H", 4)[0]):
        tag, _, start, _ = struct.unpack_from(">4sIII", data, 12 + 16 * index)
        tables[tag] = start
    em = numbers("H", tables[b"head"] + 18)[0]
    known = numbers("H", tables[b"hhea"] + 34)[0]
    widths = [numbers("H", tables[b"hmtx"] + 4 * index)[0] for index in range(known)]
    cmap = tables[b"cmap"]
    found: dict[str, float] = {}
    for index in range(numbers("H", cmap + 2)[0]):
        at = cmap + numbers("I", cmap + 8 + 8 * index)[0]
        if numbers("H", at)[0] != 12:
            continue
        for group in range(numbers("I", at + 12)[0]):
            first, last, glyph = numbers("III", at + 16 + 12 * group)
            for code in range(first, last + 1):
                index_ = min(glyph + code - first, known - 1)
                found[chr(code)] = widths[index_] / em
    return found


@dataclass(frozen=True)
class Label:
    words: str
    box: tuple[float, float, float, float]

    def distance(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        left, top, right, bottom = self.box
        x = np.maximum(np.maximum(left - points[:, 0], points[:, 0] - right), 0)
        y = np.maximum(np.maximum(top - points[:, 1], points[:, 1] - bottom), 0)
        return np.hypot(x, y)

    def overlaps(self, other: Label) -> bool:
        a, b = self.box, other.box
        return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


class Drawn:
    """One SVG drawing, read back."""

    def __init__(self, svg: str) -> None:
        self.svg = svg
        self.root = etree.fromstring(svg.encode())

    def all(self, tag: str) -> list[etree._Element]:
        return list(self.root.iter(SVG + tag))

    @property
    def size(self) -> tuple[float, float]:
        return float(self.root.get("width", "")), float(self.root.get("height", ""))

    @property
    def labels(self) -> list[Label]:
        return [self._label(element) for element in self.all("text")]

    def words(self) -> list[str]:
        return [label.words for label in self.labels]

    @staticmethod
    def _label(element: etree._Element) -> Label:
        words = element.text or ""
        size = float(element.get("font-size", ""))
        bold = element.get("font-weight") == "600"
        table = advances("SourceSans3-Semibold.ttf" if bold else "SourceSans3-Regular.ttf")
        width = size * sum(table.get(char, 0.6) for char in words)
        x, y = float(element.get("x", "")), float(element.get("y", ""))
        left = {"middle": x - width / 2, "end": x - width}.get(element.get("text-anchor", ""), x)
        return Label(words, (left, y - 0.72 * size, left + width, y + 0.21 * size))

    def ink(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Points on every line and shape, (n, 2), and half the line's width at each."""
        points, halves = [], []
        for element in self.root.iter():
            for run in runs(element):
                points.append(run)
                width = 0.0 if element.get("stroke") == "none" else stroke_width(element)
                halves.append(np.full(len(run), width / 2))
        return np.concatenate(points), np.concatenate(halves)

    def check_clear(self, least: float = 1.5) -> None:
        """No label overlaps another, leaves the drawing, or comes near a line or a shape."""
        width, height = self.size
        points, halves = self.ink()
        labels = self.labels
        for index, label in enumerate(labels):
            left, top, right, bottom = label.box
            assert min(left, top, width - right, height - bottom) >= 0, label
            away = label.distance(points) - halves
            nearest = int(away.argmin())
            assert away[nearest] >= least, (label, points[nearest], away[nearest])
            for other in labels[:index]:
                assert not label.overlaps(other), (label, other)


def stroke_width(element: etree._Element) -> float:
    return float(element.get("stroke-width", "1"))


def runs(element: etree._Element) -> list[NDArray[np.float64]]:
    """The outline of a shape, and its inside where it is solid, as points at most 1 apart."""

    def number(name: str) -> float:
        return float(element.get(name, "0"))

    kind = str(element.tag).removeprefix(SVG)
    solid = element.get("fill", "none") != "none" and element.get("fill-opacity") is None
    if kind == "line":
        return [dense([(number("x1"), number("y1")), (number("x2"), number("y2"))])]
    if kind == "circle":
        turn = np.linspace(0, 2 * np.pi, max(16, int(7 * number("r"))))
        rim = np.c_[np.sin(turn), np.cos(turn)]
        parts = np.linspace(0, 1, max(2, int(number("r")))) if solid else [1.0]
        centre = (number("cx"), number("cy"))
        return [centre + part * number("r") * rim for part in parts]
    if kind == "polygon":
        corners = [tuple(map(float, pair.split(","))) for pair in element.get("points", "").split()]
        return [dense([*corners, corners[0]])]
    if kind == "path":
        data = element.get("d", "")
        assert re.fullmatch(r"(M[-\d. ]+(L[-\d. ]+)*)*", data), data
        return [
            dense([tuple(map(float, pair.split())) for pair in run.split("L")])
            for run in data.split("M")[1:]
        ]
    if kind == "rect" and number("x") + number("y") > 0:
        x, y, wide, tall = (number(name) for name in ("x", "y", "width", "height"))
        levels = np.linspace(y, y + tall, 8) if solid else [y, y + tall]
        across = [dense([(x, level), (x + wide, level)]) for level in levels]
        return [
            *across,
            dense([(x, y), (x, y + tall)]),
            dense([(x + wide, y), (x + wide, y + tall)]),
        ]
    return []


def dense(corners: list[tuple[float, ...]]) -> NDArray[np.float64]:
    points = np.array(corners, dtype=float)
    pieces = [points[:1]]
    for a, b in itertools.pairwise(points):
        steps = max(1, int(np.hypot(*(b - a))))
        pieces.append(a + (b - a) * np.linspace(0, 1, steps + 1)[1:, None])
    return np.concatenate(pieces)


@pytest.fixture(scope="session")
def read_back() -> type[Drawn]:
    return Drawn


@pytest.fixture(scope="session")
def font_advances() -> dict[str, dict[str, float]]:
    return {name: advances(f"SourceSans3-{name}.ttf") for name in ("Regular", "Semibold")}
