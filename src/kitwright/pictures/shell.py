"""The pictures of the shell's answers: mode shapes and pitches."""

from __future__ import annotations

from typing import Any, Final

from kitwright.pictures.mode_shapes import Name, mode_shapes, moving, unpacked
from kitwright.pictures.palette import Palette
from kitwright.pictures.pitches import Stem, pitches

_ROUND: Final = ("wall", "mixed")


def bell_shapes(answer: Any, palette: Palette) -> tuple[str, str, str]:
    """The lowest shapes as a drawing, the line beneath it, and what a page needs to move them."""
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
    return svg, caption, moving(answer.view, names)


def bell_pitches(answer: Any, palette: Palette) -> tuple[str, str]:
    """Every pitch on one line, with what a change makes of them."""
    before = [_stem(row, row.frequency_hz) for row in answer.modes]
    after = [
        _stem(row, row.frequency_after_hz)
        for row in answer.changes
        if row.frequency_after_hz is not None
    ]
    svg = pitches(before, after, title="Pitches", palette=palette)
    return svg, "The pitches at which it rings; the number at a stem is its nodal diameters."


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
