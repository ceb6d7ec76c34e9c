"""A picture of an answer: a drawing, the line beneath it, and what may move it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from kitwright.pictures.palette import Palette
from kitwright.units import Lead


@dataclass(frozen=True, kw_only=True)
class Moving:
    """What lets a page move a picture; where it cannot, the drawing stands as it is.

    `element` is the name of a custom element, and of the script that defines it; it is given
    `data`, JSON text, and the drawing.
    """

    element: str
    data: str


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A drawing as SVG text, and the line beneath it."""

    svg: str
    caption: str
    moving: Moving | None = None


Drawing = Callable[[Any, Any, Lead, Palette], Iterable[Picture]]
"""From a case and its answer, the unit written first and the inks, to pictures."""
