"""A plan of lots over its periods: what is sent above, the stock that comes of it beneath."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.errors import InputError
from kitwright.pictures.drawing import Element, Point, document, element, line, path, text
from kitwright.pictures.foot import SIDE, SMALL, Key, foot
from kitwright.pictures.lettering import text_width
from kitwright.pictures.palette import PAGE, Palette

WIDTH: Final = 400.0
_LEFT: Final = 8.0
_RIGHT: Final = 392.0
_SENT: Final = 74.0
_STOCK: Final = 110.0
_APART: Final = 5.0
_NOTHING: Final = 1e-9
_LARGEST: Final = 1e12


@dataclass(frozen=True, kw_only=True)
class Period:
    """One period: castings sent, good bells they bring, good bells left at its end."""

    send: float
    good: float
    left: float


def lots_picture(
    periods: Sequence[Period], *, on_hand: float, title: str, palette: Palette = PAGE
) -> str:
    """The plan as SVG text: a bar a lot with its castings written, and the stock over time.

    The stock rises as a lot comes in and falls over its period. Numbers that have no room are
    left out.

    Raises
    ------
    InputError
        No period, or a number that cannot be drawn.
    """
    if not periods:
        raise InputError("periods", "none given", "give one or more")
    for value in (on_hand, *(each for p in periods for each in (p.send, p.good, p.left))):
        if not 0 <= value < _LARGEST:
            raise InputError("periods", f"{value} cannot be drawn", "give zero or more")
    step = (_RIGHT - _LEFT) / len(periods)
    drawn: list[Element] = []
    base = 24 + _SENT
    drawn += _bars(periods, base, step, palette)
    before = [on_hand, *(p.left for p in periods[:-1])]
    peak = max(max(each + p.good, p.left) for each, p in zip(before, periods, strict=True))
    low = base + 36 + _STOCK
    said = f"most in stock {_said(peak)}, least {_said(min(p.left for p in periods))}"
    drawn.append(text(said, (_LEFT - 2, base + 24), SMALL, palette.soft))
    scale = _STOCK / peak if peak > _NOTHING else 0.0
    drawn += _stock(periods, on_hand, low, scale, step)
    drawn += _numbers(periods, low + 18, step, palette)
    keys = [
        Key(lambda at: [_bar(at[0] - 3, at[1] + 5, 6, 10, palette)], "castings to send"),
        Key(_tooth, "good bells in stock"),
    ]
    below, bottom = foot(low + 40, WIDTH, palette, note="", keys=keys, seen="", bar=None)
    told = "; ".join(
        f"period {number}: send {_said(p.send)}" for number, p in enumerate(periods, 1) if p.send
    )
    return document(
        WIDTH,
        bottom,
        [*drawn, *below],
        title=title,
        description=f"{told or 'nothing is sent'}; {said}.",
        palette=palette,
    )


def _bars(
    periods: Sequence[Period], base: float, step: float, palette: Palette
) -> Iterator[Element]:
    """Bars from one line, and above them in a row what each stands for, as far as there is room."""
    most = max(p.send for p in periods) or 1.0
    yield line((_LEFT, base), (_RIGHT, base), stroke_width=1)
    end = 0.0
    for number, period in enumerate(periods):
        if not period.send:
            continue
        middle = _LEFT + (number + 0.5) * step
        wide = min(18.0, max(0.8, 0.62 * step))
        tall = max(0.6, _SENT * period.send / most)
        yield _bar(middle - wide / 2, base, wide, tall, palette)
        words = _said(period.send)
        half = text_width(words, SMALL) / 2
        at = min(max(middle, half + SIDE), WIDTH - SIDE - half)
        if at - half > end:
            yield text(words, (at, base - _SENT - 8), SMALL, palette.ink, anchor="middle")
            end = at + half + _APART


def _bar(left: float, base: float, wide: float, tall: float, palette: Palette) -> Element:
    return element(
        "rect", x=left, y=base - tall, width=wide, height=tall, fill=palette.brass, stroke="none"
    )


def _stock(
    periods: Sequence[Period], on_hand: float, base: float, scale: float, step: float
) -> Iterator[Element]:
    """The stock: up as a lot comes in at a period's start, down as its demand is met."""
    yield line((_LEFT, base), (_RIGHT, base), stroke_width=1)
    before, points = on_hand, [(_LEFT, base - on_hand * scale)]
    for number, period in enumerate(periods):
        x = _LEFT + number * step
        if period.good:
            points.append((x, base - (before + period.good) * scale))
        points.append((x + step, base - period.left * scale))
        before = period.left
    yield path([points], stroke_width=1.8)


def _numbers(
    periods: Sequence[Period], y: float, step: float, palette: Palette
) -> Iterator[Element]:
    """The periods that have a lot, then the last and the first one, where there is room."""
    words = "period"
    taken = [(WIDTH - SIDE - text_width(words, SMALL), WIDTH)]
    yield text(words, (WIDTH - SIDE, y), SMALL, palette.soft, anchor="end")
    wanted = [(number, True) for number, period in enumerate(periods) if period.send]
    for number, strong in [*wanted, (len(periods) - 1, False), (0, False)]:
        named = str(number + 1)
        half = text_width(named, SMALL, semibold=strong) / 2
        at = max(_LEFT + (number + 0.5) * step, half + 2)
        if any(at - half < end + _APART and at + half > start - _APART for start, end in taken):
            continue
        taken.append((at - half, at + half))
        ink = palette.ink if strong else palette.soft
        yield text(named, (at, y), SMALL, ink, anchor="middle", semibold=strong)


def _tooth(at: Point) -> list[Element]:
    x, y = at
    return [path([[(x - 7, y + 4), (x - 3, y - 5), (x + 7, y + 4)]], stroke_width=1.8)]


def _said(amount: float) -> str:
    """An amount to a tenth, a whole one without.

    >>> _said(30.0), _said(27.64)
    ('30', '27.6')
    """
    return f"{amount:.1f}".removesuffix(".0")
