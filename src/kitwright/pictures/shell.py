"""The pictures of the shell's answers: mode shapes, pitches, energies, scores."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.energies import WallSpan, energies
from kitwright.pictures.mode_shapes import Name, mode_shapes, moving, unpacked
from kitwright.pictures.palette import Palette
from kitwright.pictures.picture import Moving, Picture
from kitwright.pictures.pitches import Stem, pitches
from kitwright.units import Lead

_ROUND: Final = ("wall", "mixed")


def modes(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The lowest shapes, which a page may move; then every pitch."""
    rows = {row.number: row for row in answer.modes}
    names = [
        Name(number=number, frequency_hz=rows[number].frequency_hz, words=_looks(rows[number]))
        for number in answer.view.modes
    ]
    surface = unpacked(answer.view)
    svg = mode_shapes(surface, names, title="How the bell moves", palette=palette)
    caption = (
        "The lowest shapes, bent far more than they ever are; seen from behind, above and right."
    )
    shapes = Moving(element="mode-shapes", data=moving(answer.view, names))
    yield Picture(svg=svg, caption=caption, moving=shapes)
    yield _pitches(answer, palette)


def _pitches(answer: Any, palette: Palette) -> Picture:
    """Every pitch on one line, with what a change makes of them."""
    before = [_stem(row, row.frequency_hz) for row in answer.modes]
    after = [
        _stem(row, row.frequency_after_hz)
        for row in answer.changes
        if row.frequency_after_hz is not None
    ]
    svg = pitches(before, after, title="Pitches", palette=palette)
    caption = "The pitches at which it rings; the number at a stem is its nodal diameters."
    return Picture(svg=svg, caption=caption)


def _stem(row: Any, hz: float) -> Stem:
    return Stem(
        frequency_hz=hz,
        words=str(row.nodal_diameters) if row.kind == "wall" else "",
        solid=row.kind == "wall",
    )


def _looks(row: Any) -> str:
    if row.kind not in _ROUND:
        return str(row.kind)
    words = f"{row.nodal_diameters} nodal diameter{'' if row.nodal_diameters == 1 else 's'}"
    return words if row.kind == "wall" else f"mixed, mostly {words}"


def containment(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """What a third brings over what models give each wall."""
    svg = energies(
        answer.fragment_energy_j,
        [
            WallSpan(name=wall.name, low_j=wall.wall_energy_j, high_j=wall.wall_energy_high_j)
            for wall in answer.walls
        ],
        words="a third of the disc brings",
        title="What comes, and what models give each wall",
        palette=palette,
    )
    caption = (
        "The stroke is a third of the disc. A box runs from the least to the most energy that any "
        "model gives a wall; none of them is a promise."
    )
    yield Picture(svg=svg, caption=caption)


def choose_bell(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """The scores of the bells that are left; one alone needs none."""
    if len(answer.ranked) < 2:
        return
    rows = [Bar(name=row.name, value=row.score, words=f"{row.score:.2f}") for row in answer.ranked]
    svg = bars(rows, title="Scores of the bells that are left", palette=palette)
    caption = "Scores of the bells that are left: 1 would be best in every figure."
    yield Picture(svg=svg, caption=caption)
