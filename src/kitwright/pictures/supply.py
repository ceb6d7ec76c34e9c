"""The pictures of the supply stage's answers: SVG and caption of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
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


_SHOWN: Final = 14
_LEFT: Final = "left of the price"


def kit_cost_bars(answer: Any, palette: Palette) -> Iterator[tuple[str, str]]:
    """What each variant is made of, beside the one it is set against; one alone by itself."""
    made = {row.variant: _made_of(answer, row) for row in answer.variants}
    if not answer.steps:
        (only,) = made
        rows = [Bar(name=name, value=_units(p), words=p.amount) for name, p in made[only].items()]
        title = f"What the price of {only} is made of, {answer.currency}"
        yield bars(rows[:_SHOWN], palette=palette, title=title, note=title), _caption(len(rows))
    for step in answer.steps:
        was, now = made[step.base], made[step.variant]
        names = [name for name in {**was, **now} if name != _LEFT]
        names.sort(key=lambda name: -max(_units(was.get(name)), _units(now.get(name))))
        rows = [
            Bar(
                name=name,
                value=_units(was.get(name)),
                words=was[name].amount if name in was else "none",
                after=_units(now.get(name)),
                after_words=now[name].amount if name in now else "none",
            )
            for name in [_LEFT, *names[: _SHOWN - 1]]
        ]
        svg = bars(
            rows,
            before=step.base,
            after=step.variant,
            palette=palette,
            title=f"{step.base} and {step.variant}",
            note=f"What each price is made of, {answer.currency}",
        )
        yield svg, _caption(len(names) + 1)


def _made_of(answer: Any, variant: Any) -> dict[str, Any]:
    """The pieces of a variant's price: what is left, its bell's lines, its other parts."""
    lines = [row for row in answer.lines if row.of == variant.variant]
    bell = [row for row in answer.bells if row.bell == variant.bell]
    skip = 1 + len(bell) if bell else 0
    parts = [row for row in lines[skip:] if not row.level]
    return {
        _LEFT: variant.margin,
        **{f"bell, {row.line}": row.cost for row in bell},
        **{row.part: row.cost for row in parts},
    }


def _units(price: Any) -> float:
    return 0.0 if price is None else float(price.exact)


def _caption(pieces: int) -> str:
    said = "What is left of the price, and what it pays for."
    return said if pieces <= _SHOWN else f"{said} The largest {_SHOWN} of {pieces}."
