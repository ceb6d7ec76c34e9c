"""The target: where a bore sits against the crank axis, always drawn the same way round.

Seen from behind the engine, 12 o'clock up. The crank axis is the fine cross; the limit is a circle
whose radius is half its TIR; a bore's centre is a disc, the thin line round it is how well it is
known; the brass arrow is the way to move the bell.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from kitwright.pictures.bores import Mark, Region, Ring, Shown
from kitwright.pictures.drawing import (
    Element,
    Point,
    arrow,
    arrow_width,
    circle,
    document,
    line,
    path,
    text,
)
from kitwright.pictures.foot import SMALL, Key, Symbol, foot, scale_bar
from kitwright.pictures.labels import (
    Anchor,
    Box,
    Placed,
    Sheet,
    along_circle,
    along_runs,
    along_stroke,
    around,
)
from kitwright.pictures.lettering import shorten
from kitwright.pictures.marks import VERDICTS, Verdict, disc, pointer
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.rim import at_clock, clock_of, crank_axis, held_inside, rim, runs_inside
from kitwright.units import Lead, plain, say_clock, say_length

__all__ = ["Mark", "Region", "Ring", "target"]

WIDTH: Final = 400.0
CENTRE: Final = (200.0, 194.0)
RIM: Final = 150.0
FRAME: Final = Box(6.0, 4.0, WIDTH - 6.0, 386.0)

LABELLED: Final = 4
"""Up to so many marks have their labels written; more show them on demand."""
_FULL: Final = 0.88 * RIM
_LIMIT_AT_MOST: Final = 0.6 * RIM
_LIMIT_AT_LEAST: Final = 16.0
_LIMIT_AT_LEAST_OF_MANY: Final = 34.0
_DASHES: Final = (None, "7 3.5", "1.5 3")
_WORDS: Final = 14.0
_MOVE: Final = 16.0


def target(
    *,
    limit_tir_mm: float | None,
    marks: Sequence[Mark] = (),
    move: tuple[float, float] | None = None,
    rings: Sequence[Ring] = (),
    regions: Sequence[Region] = (),
    note: str = "",
    lead: Lead = "mm",
    palette: Palette = PAGE,
    title: str,
) -> str:
    """The target as SVG text.

    Parameters
    ----------
    limit_tir_mm
        The limit as TIR, mm; its circle has half of it for radius.
    marks
        Bores' centres. Up to four have their labels written beside them.
    move
        (x, y) in mm by which to move the bell, from the first mark.
    rings, regions
        Contours of a budget; regions of a batch.
    note
        What is said once beneath, such as the chance outside.

    Raises
    ------
    InputError
        A number that is not finite, a size below zero, a move without a mark.
    """
    shown = Shown(
        limit_tir_mm=limit_tir_mm, marks=marks, move_mm=move, rings=rings, regions=regions
    )
    per_mm = _scale(shown)
    drawn = _Target(per_mm, lead, palette)
    drawn.ground(shown)
    drawn.marks(marks)
    if move is not None:
        drawn.move(marks[0], move)
    drawn.labels()
    below, bottom = foot(
        FRAME.bottom,
        WIDTH,
        palette,
        note=note,
        keys=[*_verdict_keys(marks, palette), *drawn.keys],
        seen="seen from behind the engine",
        bar=scale_bar(per_mm, lead),
    )
    return document(
        WIDTH,
        bottom,
        [*drawn.elements, *below],
        title=title,
        description=" ".join(_described(shown, note, lead)),
        palette=palette,
    )


def limit_words(tir_mm: float, lead: Lead) -> str:
    """A limit as it was set, not rounded to two decimals.

    >>> limit_words(0.127, "in"), limit_words(0.127, "mm")
    ('limit 5 thou TIR', 'limit 0.127 mm TIR')
    """
    value, unit = (tir_mm / 0.0254, "thou") if lead == "in" else (tir_mm, "mm")
    written = plain(value, 2 if lead == "in" else 4)
    return f"limit {written.rstrip('0').rstrip('.') if '.' in written else written} {unit} TIR"


def _scale(shown: Shown) -> float:
    """Units of the page to the mm: everything inside the rim, unless that makes the limit too
    small to read; then what lies furthest out is shown at the rim."""
    reach = shown.reach_mm
    limit = (shown.limit_tir_mm or 0.0) / 2
    if limit < 1e-6:
        return _FULL / (reach if reach > 1e-6 else 0.05)
    least = _LIMIT_AT_LEAST if len(shown.marks) <= LABELLED else _LIMIT_AT_LEAST_OF_MANY
    return min(max(_FULL / max(reach, 1e-9), least / limit), _LIMIT_AT_MOST / limit)


class _Target:
    """A target being drawn: what is on it, what must be labelled, what goes to the foot."""

    def __init__(self, per_mm: float, lead: Lead, palette: Palette) -> None:
        self.per_mm, self.lead, self.palette = per_mm, lead, palette
        self.sheet = Sheet(FRAME, (CENTRE, RIM))
        self.elements: list[Element] = rim(self.sheet, CENTRE, RIM, palette)
        self.keys: list[Key] = []
        self.wanted: list[_Wanted] = []

    def at(self, x_mm: float, y_mm: float) -> Point:
        return (CENTRE[0] + x_mm * self.per_mm, CENTRE[1] - y_mm * self.per_mm)

    def ground(self, shown: Shown) -> None:
        """Contours, limit, crank axis and regions: what marks are laid upon."""
        ink, soft = self.palette.ink, self.palette.soft
        for index, ring in enumerate(sorted(shown.rings, key=lambda ring: ring.chance)):
            dash = _DASHES[min(index, len(_DASHES) - 1)]
            name = f"{100 * ring.chance:.6g} %"
            anchors = self.outline(
                self.at(ring.x_mm, ring.y_mm),
                ring.radius_mm * self.per_mm,
                1.1,
                first=320.0 + 24 * index,
                stroke=soft,
                stroke_dasharray=dash,
                fill=ink,
                fill_opacity="0.045",
            )
            self.label(name, SMALL, soft, anchors, _line_sample(soft, 1.1, dash))
        if shown.limit_tir_mm is not None:
            words = limit_words(shown.limit_tir_mm, self.lead)
            anchors = self.outline(CENTRE, shown.limit_tir_mm / 2 * self.per_mm, 1.8)
            self.label(words, _WORDS, ink, anchors, _line_sample(ink, 1.8, None))
        self.elements.append(crank_axis(self.sheet, CENTRE))
        for region, outline in zip(shown.regions, shown.outlines_mm, strict=True):
            runs = runs_inside([self.at(*point) for point in outline], CENTRE, RIM - 1)
            for run in runs:
                self.sheet.run(run, 0.9)
            self.elements.append(path(runs, stroke_width=0.9, stroke_dasharray="5 2.5"))
            if region.label:
                words = shorten(region.label, SMALL, 200)
                self.label(words, SMALL, soft, along_runs(runs), _line_sample(ink, 0.9, "5 2.5"))

    def label(
        self,
        words: str,
        size: float,
        colour: str,
        anchors: Iterable[Anchor],
        symbol: Symbol,
        *,
        semibold: bool = False,
        elsewhere: str | None = None,
    ) -> None:
        """Want these words written; `elsewhere` are the foot's where they find no room."""
        key = Key(symbol, words if elsewhere is None else elsewhere, colour)
        self.wanted.append(_Wanted(words, size, colour, tuple(anchors), semibold, key))

    def outline(
        self,
        centre: Point,
        radius: float,
        width: float,
        *,
        first: float = 140.0,
        **attributes: str | float | None,
    ) -> list[Anchor]:
        """A circle, or what of it lies inside the rim; where a label may hang from it."""
        if math.dist(centre, CENTRE) + radius <= RIM - 1:
            self.elements.append(circle(centre, radius, stroke_width=width, **attributes))
            self.sheet.ring(centre, radius, width)
            return along_circle(centre, radius, first=first)
        attributes.pop("fill", None)
        runs = runs_inside(
            [at_clock(centre, radius, 3.0 * step) for step in range(121)], CENTRE, RIM - 1
        )
        self.elements.append(path(runs, stroke_width=width, **attributes))
        for run in runs:
            self.sheet.run(run, width)
        return along_runs(runs)

    def marks(self, marks: Sequence[Mark]) -> None:
        """Discs with what is known of them; those beyond the rim point outward from it."""
        size = 5.5 if len(marks) <= LABELLED else max(2.6, min(4.5, 40 / math.sqrt(len(marks))))
        drawn: list[tuple[int, Element]] = []
        same: dict[tuple[int, int], list[str]] = {}
        for mark in marks:
            same.setdefault(self._pixel(mark), []).append(_told(mark, self.lead))
        beyond = 0
        for mark in marks:
            at = self.at(mark.x_mm, mark.y_mm)
            title = "\n".join(same[self._pixel(mark)])
            order = VERDICTS.index(mark.verdict or "within")
            words = mark.label
            anchors: list[Anchor] = []
            if math.dist(at, CENTRE) > RIM - size - 1:
                beyond += 1
                clock = clock_of(mark.x_mm, mark.y_mm)
                at = at_clock(CENTRE, RIM - size - 3, clock)
                drawn.append(
                    (order, pointer(at, size + 1.5, clock, mark.verdict, self.palette, title))
                )
                away = say_length(math.hypot(mark.x_mm, mark.y_mm), lead=self.lead)
                words = f"{words}, {away} off" if words else f"{away} off"
            else:
                known = (mark.u95_mm or 0.0) * self.per_mm
                if known > size + 1:
                    self.outline(at, known, 0.9)
                    anchors += around(at, known)
                drawn.append((order, disc(at, size, mark.verdict, self.palette, title)))
            self.sheet.disc(at, size + 1.5)
            if words and len(marks) <= LABELLED:
                words = shorten(words, _WORDS, 200)
                anchors += around(at, size + 1.5)
                symbol = _disc_sample(mark.verdict, self.palette)
                self.label(words, _WORDS, self.palette.ink, anchors, symbol)
        self.elements += [shape for _, shape in sorted(drawn, key=lambda pair: pair[0])]
        if beyond and len(marks) > LABELLED:
            symbol = _pointer_sample(self.palette)
            self.keys.append(Key(symbol, f"beyond the rim: {beyond}"))

    def _pixel(self, mark: Mark) -> tuple[int, int]:
        x, y = self.at(mark.x_mm, mark.y_mm)
        return round(x), round(y)

    def move(self, mark: Mark, move: tuple[float, float]) -> None:
        """The brass arrow from the mark to where it is to go, its length written on it."""
        length_mm = math.hypot(*move)
        if length_mm == 0:
            return
        words = say_length(length_mm, lead=self.lead)
        tail, tail_cut = held_inside(self.at(mark.x_mm, mark.y_mm), CENTRE, RIM - 9)
        head, head_cut = held_inside(
            self.at(mark.x_mm + move[0], mark.y_mm + move[1]), CENTRE, RIM - 9
        )
        brass, brass_text = self.palette.brass, self.palette.brass_text
        symbol, elsewhere = _arrow_sample(brass), f"move it {words}"
        drawn = math.dist(tail, head)
        if drawn < 3:
            self.keys.append(Key(symbol, elsewhere, brass_text))
            return
        gap = 9.0 if drawn > 26 else 0.0
        ux, uy = (head[0] - tail[0]) / drawn, (head[1] - tail[1]) / drawn
        start = (tail[0] + gap * ux, tail[1] + gap * uy)
        self.elements += arrow(start, head, brass)
        wide = arrow_width(math.dist(start, head))
        self.sheet.stroke(start, head, wide)
        if tail_cut or head_cut:  # not to scale: the drawing office's broken line
            part = 0.2 if tail_cut else 0.6
            for step in (-2.5, 2.5):
                x = start[0] + part * (head[0] - start[0]) + step * ux
                y = start[1] + part * (head[1] - start[1]) + step * uy
                ends = (
                    (x - 6 * uy + 3 * ux, y + 6 * ux + 3 * uy),
                    (x + 6 * uy - 3 * ux, y - 6 * ux - 3 * uy),
                )
                self.elements.append(line(*ends, stroke=brass, stroke_width=1.6))
                self.sheet.stroke(*ends, 1.6)
        anchors = along_stroke(start, head, wide)
        self.label(words, _MOVE, brass_text, anchors, symbol, semibold=True, elsewhere=elsewhere)

    def labels(self) -> None:
        """Write every label where it is clear; what finds no room is said in the foot."""
        # Marks and their move first: a circle has more places for its words than a point has.
        for wanted in reversed(self.wanted):
            placed = self.sheet.place(
                wanted.words, wanted.size, wanted.anchors, semibold=wanted.semibold
            )
            if placed is None:
                self.keys.append(wanted.key)
            else:
                self.elements += wanted.drawn(placed)


@dataclass(frozen=True)
class _Wanted:
    """A label that wants a place, and the key that stands for it where there is none."""

    words: str
    size: float
    colour: str
    anchors: tuple[Anchor, ...]
    semibold: bool
    key: Key

    def drawn(self, placed: Placed) -> Iterator[Element]:
        if placed.leader is not None:
            yield line(*placed.leader, stroke=self.colour, stroke_width=0.8)
        yield text(
            self.words,
            placed.baseline,
            self.size,
            self.colour,
            anchor="middle",
            semibold=self.semibold,
        )


# ── samples for the keys ─────────────────────────────────────────────────────────────────


def _line_sample(colour: str, width: float, dash: str | None) -> Symbol:
    def draw(at: Point) -> list[Element]:
        ends = (at[0] - 7, at[1]), (at[0] + 7, at[1])
        return [line(*ends, stroke=colour, stroke_width=width, stroke_dasharray=dash)]

    return draw


def _arrow_sample(colour: str) -> Symbol:
    return lambda at: arrow((at[0] - 7, at[1]), (at[0] + 7, at[1]), colour, width=2.2)


def _disc_sample(verdict: Verdict | None, palette: Palette) -> Symbol:
    return lambda at: [disc(at, 5.5, verdict, palette)]


def _pointer_sample(palette: Palette) -> Symbol:
    return lambda at: [pointer(at, 6, 90, "outside", palette, "")]


def _verdict_keys(marks: Sequence[Mark], palette: Palette) -> Iterator[Key]:
    order: tuple[Verdict, ...] = ("within", "outside", "too close to call")
    for verdict in order:
        count = sum(mark.verdict == verdict for mark in marks)
        if count:
            words = verdict if len(marks) <= LABELLED else f"{verdict}: {count}"
            yield Key(_disc_sample(verdict, palette), words)


def _told(mark: Mark, lead: Lead) -> str:
    """What a mark says on demand: whose it is, where, and its verdict."""
    where = f"{say_length(math.hypot(mark.x_mm, mark.y_mm), lead=lead)} off"
    if mark.x_mm or mark.y_mm:
        where += f" at {say_clock(clock_of(mark.x_mm, mark.y_mm))}"
    told = f"{mark.label}: {where}" if mark.label else where
    return f"{told}, {mark.verdict}" if mark.verdict else told


def _described(shown: Shown, note: str, lead: Lead) -> Iterator[str]:
    """The picture in words, for those who listen to it."""
    yield "Seen from behind the engine, 12 o'clock up; the crank axis is the cross at the centre."
    if shown.limit_tir_mm is not None:
        yield f"The circle is the {limit_words(shown.limit_tir_mm, lead)}."
    for mark in shown.marks[:LABELLED]:
        yield f"{_told(mark, lead)}."
    if len(shown.marks) > LABELLED:
        yield f"{len(shown.marks)} bores."
    if shown.move_mm is not None and (length := math.hypot(*shown.move_mm)):
        way = say_clock(clock_of(*shown.move_mm))
        yield f"Move the bell {say_length(length, lead=lead)} toward {way}."
    if note:
        yield f"{note}."
