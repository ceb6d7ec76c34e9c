"""How values lie between their limits: a strip of bars on one line, the limits as strokes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, document, element, line, text
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette
from kitwright.units import plain

WIDTH: Final = 400.0
_LEFT: Final = 30.0
_RIGHT: Final = 370.0
_BASE: Final = 118.0
_TALL: Final = 76.0
_WORDS: Final = 14.0
_LARGEST: Final = 1e12


def strip(
    counts: Sequence[int],
    *,
    lowest: float,
    highest: float,
    low: float | None,
    high: float | None,
    mean: float,
    unit: str,
    title: str,
    palette: Palette = PAGE,
) -> str:
    """Counts in equal steps from `lowest` to `highest` as SVG text, in one scale with the limits.

    Numbers are in `unit`, which is written once with each.

    Raises
    ------
    InputError
        No count, a count below zero, or a number that cannot be drawn.
    """
    named = [(name, at) for name, at in (("low", low), ("high", high)) if at is not None]
    _check(counts, [lowest, highest, mean, *(at for _, at in named)])
    ends = [lowest, highest, *(at for _, at in named)]
    span = max(max(ends) - min(ends), 1e-300)
    start = min(ends)

    def x(value: float) -> float:
        return _LEFT + (value - start) / span * (_RIGHT - _LEFT)

    decimals = min(9, max(0, math.ceil(-math.log10(span / 100))))
    step = (highest - lowest) / len(counts)
    drawn = list(_bars(counts, [x(lowest + step * index) for index in range(len(counts) + 1)],
                       palette))  # fmt: skip
    drawn.append(line((6, _BASE), (WIDTH - 6, _BASE), stroke_width=1))
    taken = -math.inf
    told = []
    for name, at in named:
        words = f"{name} {plain(at, decimals)} {unit}"
        told.append(words)
        drawn.append(line((x(at), _BASE - _TALL - 8), (x(at), _BASE + 8), stroke_width=2))
        half = text_width(words, _WORDS) / 2
        middle = min(max(x(at), half + 4), WIDTH - half - 4)
        level = _BASE + 26 + (18 if middle - half < taken else 0)
        taken = middle + half + 8
        drawn.append(text(words, (middle, level), _WORDS, palette.ink, anchor="middle"))
    words = f"mean {plain(mean, decimals)} {unit}"
    half = text_width(words, _WORDS, semibold=True) / 2
    middle = min(max(x(mean), half + 4), WIDTH - half - 4)
    drawn.append(text(words, (middle, 20), _WORDS, palette.ink, anchor="middle", semibold=True))
    drawn.append(line((x(mean), 28), (x(mean), _BASE - _TALL - 3), stroke_width=1.2))
    return document(
        WIDTH,
        _BASE + 54,
        drawn,
        title=title,
        description=f"{'; '.join([words, *told])}.",
        palette=palette,
    )


def _bars(counts: Sequence[int], edges: Sequence[float], palette: Palette) -> Iterator[Element]:
    most = max(counts)
    for count, left, right in zip(counts, edges[:-1], edges[1:], strict=True):
        if count:
            height = max(_TALL * count / most, 1.5)
            yield element(
                "rect",
                x=left,
                y=_BASE - height,
                width=max(right - left, 0.8),
                height=height,
                fill=palette.wash,
                stroke_width=0.8,
            )


def _check(counts: Sequence[int], numbers: Sequence[float]) -> None:
    if not counts or min(counts) < 0 or max(counts) < 1:
        raise InputError("counts", "nothing was counted", "give one or more values")
    for number in numbers:
        if not abs(number) < _LARGEST:
            raise InputError("values", f"{number} cannot be drawn", "give finite numbers")
