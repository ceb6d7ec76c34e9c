"""The pictures of the supply stage's answers: SVG and caption of each."""

from __future__ import annotations

from typing import Any

from kitwright.pictures.lots import Period, lots_picture
from kitwright.pictures.palette import Palette


def lot_plan_picture(case: Any, answer: Any, palette: Palette) -> tuple[str, str]:
    """When castings are sent, and the stock that comes of it."""
    svg = lots_picture(
        [Period(send=row.send, good=row.good, left=row.left) for row in answer.periods],
        on_hand=case.on_hand or 0.0,
        palette=palette,
        title="When to send castings",
    )
    return svg, "What to send in each period, and the good bells in stock, on the mean."
