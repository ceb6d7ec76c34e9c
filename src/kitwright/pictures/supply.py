"""The pictures of the supply stage's answers."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any, Final

from kitwright.pictures.bars import Bar, bars
from kitwright.pictures.chance_steps import chance_steps
from kitwright.pictures.fan import fan
from kitwright.pictures.lots import Period, lots_picture
from kitwright.pictures.palette import Palette
from kitwright.pictures.picture import Picture
from kitwright.units import Lead
from kitwright.worksheets.showing import say_chance


def lot_plan(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """When castings are sent, and the stock that comes of it."""
    svg = lots_picture(
        [Period(send=row.send, good=row.good, left=row.left) for row in answer.periods],
        on_hand=case.on_hand or 0.0,
        palette=palette,
        title="When to send castings",
    )
    caption = "What to send in each period, and the good bells in stock, on the mean."
    yield Picture(svg=svg, caption=caption)


_SHOWN: Final = 9
_STEPS_SHOWN: Final = 3


def kit_cost(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """What each variant is made of, beside the one it is set against; one alone by itself."""
    made = {row.variant: _made_of(answer, row) for row in answer.variants}
    if not answer.steps:
        (only,) = made
        rows = [Bar(name=name, value=_units(p), words=p.amount) for name, p in made[only].items()]
        rows.sort(key=lambda row: -row.value)
        title = f"What {only} costs, {answer.currency}"
        if rows:
            svg = bars(rows[:_SHOWN], palette=palette, title=title, note=title)
            yield Picture(svg=svg, caption=_caption(len(rows)))
    for step in answer.steps[:_STEPS_SHOWN]:
        was, now = made[step.base], made[step.variant]
        names = list({**was, **now})
        if not names:
            continue
        names.sort(key=lambda name: -max(_units(was.get(name)), _units(now.get(name))))
        rows = [
            Bar(
                name=name,
                value=_units(was.get(name)),
                words=was[name].amount if name in was else "none",
                after=_units(now.get(name)),
                after_words=now[name].amount if name in now else "none",
            )
            for name in names[:_SHOWN]
        ]
        svg = bars(
            rows,
            before=step.base,
            after=step.variant,
            palette=palette,
            title=f"{step.base} and {step.variant}",
            note=f"What each costs, {answer.currency}",
        )
        yield Picture(svg=svg, caption=_caption(len(names)))


def _made_of(answer: Any, variant: Any) -> dict[str, Any]:
    """The pieces of a variant's cost: its bell's lines, its other parts."""
    lines = [row for row in answer.lines if row.of == variant.variant]
    bell = [row for row in answer.bells if row.bell == variant.bell]
    skip = 1 + len(bell) if bell else 0
    parts = [row for row in lines[skip:] if not row.level]
    return {
        **{f"bell, {row.line}": row.cost for row in bell},
        **{row.part: row.cost for row in parts},
    }


def _units(price: Any) -> float:
    return 0.0 if price is None else float(price.exact)


def _caption(pieces: int) -> str:
    said = "What the cost is made of, the dearest first."
    return said if pieces <= _SHOWN else f"{said} The largest {_SHOWN} of {pieces}."


_DRAWN: Final = 400


def promise(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """How surely each day would hold, and the one that is promised."""
    chances = answer.chances[:_DRAWN]
    reached = None
    if answer.day is not None and (answer.day - case.today).days < len(chances):
        reached = (answer.day - case.today).days
    last = case.today + timedelta(days=len(chances) - 1)
    words = (
        "no day holds with what is wanted"
        if answer.day is None
        else f"{answer.day.isoformat()} holds with {say_chance(answer.chance)}"
    )
    svg = chance_steps(
        chances,
        first=case.today.isoformat(),
        last="" if last == case.today else last.isoformat(),
        across="chance that a day holds",
        wanted=answer.chance_wanted,
        reached=reached,
        words=words,
        palette=palette,
        title="How surely each day would hold",
    )
    yield Picture(svg=svg, caption="The chance that the order is ready by each day from today.")


def hold_back(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """How surely no kit goes short, by how many bells are held."""
    chances = answer.chances
    most = len(chances) - 1
    svg = chance_steps(
        chances,
        first="0 held",
        last=f"{most} held" if most else "",
        across="chance that no kit goes short",
        wanted=answer.chance_wanted,
        reached=answer.reserve if answer.reserve < len(chances) else None,
        words=f"{answer.reserve} held",
        palette=palette,
        title="How surely no kit goes short",
    )
    caption = "The chance that no kit goes short until new bells come, by the bells held for kits."
    yield Picture(svg=svg, caption=caption)


def year(case: Any, answer: Any, lead: Lead, palette: Palette) -> Iterator[Picture]:
    """Bells on the shelf through the year, and the reserve."""
    low, middle, high = answer.bells_band
    last = case.today + timedelta(days=len(middle) - 1)
    svg = fan(
        low,
        middle,
        high,
        first=case.today.isoformat(),
        last=last.isoformat() if len(middle) > 1 else "",
        what="free bells on the shelf",
        level=float(case.reserve) if case.reserve else None,
        level_words="reserve, never sold loose",
        palette=palette,
        title="Bells on the shelf through the year",
    )
    yield Picture(svg=svg, caption="Free bells at each day's end, over all the years simulated.")
