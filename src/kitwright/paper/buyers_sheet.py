"""The buyer's sheet: what was asked, which bell and why, what is out and by which rule.

It is the sheet of the choose-bell worksheet. Its first page is for the buyer; what follows is how
it was worked out, as on every worksheet's sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from kitwright.paper.pieces import ruled_data
from kitwright.worksheets.shell.choose_bell_case import ChooseBellAnswer, ChooseBellCase
from kitwright.worksheets.showing import grids

_ABREAST: Final = 4
"""So many bells have room side by side."""
_ORDER: Final = ("why", "excluded", "ranked", "to_check")
"""Tables of the answer that stand on the first page."""

NO_PROMISE: Final = (
    "This sheet compares bells by what their makers and the shop say of them. It promises nothing "
    "of what a bell does when a clutch or flywheel bursts: that is between you, the current rule "
    "book, the certificate on the bell, and the makers."
)


def buyers_data(
    case: ChooseBellCase, answer: ChooseBellAnswer, data: dict[str, Any]
) -> dict[str, Any]:
    """The data of a worksheet's sheet, shaped for the buyer."""
    labels = {str(ChooseBellAnswer.model_fields[name].description): name for name in _ORDER}
    front = {labels[table["label"]]: table for table in data["tables"] if table["label"] in labels}
    if 0 < len(answer.ranked) <= _ABREAST:
        front["ranked"] = _compared(answer)
    return {
        **data,
        "info": {**data["info"], "what": "Buyer's sheet", "name_label": "Worksheet"},
        "asked": list(_asked(case)),
        "chosen": list(_chosen(answer)),
        "front": [front[name] for name in _ORDER if name in front],
        "tables": [table for table in data["tables"] if table["label"] not in labels],
        "no_promise": NO_PROMISE,
    }


def _compared(answer: ChooseBellAnswer) -> dict[str, Any]:
    """The bells that are left side by side, a line a figure."""
    [grid] = [each for each in grids(answer, lead="mm") if each.name == "ranked"]
    heads, *lines = zip(grid.columns, *grid.rows, strict=True)
    named = next(line for line in lines if line[0] == "Bell")
    rest = [heads, *(line for line in lines if line is not named)]
    return ruled_data(grid.label, named, rest)


def _asked(case: ChooseBellCase) -> Iterator[tuple[str, str]]:
    """What was asked, as the buyer would say it."""
    yield "Use", case.use
    yield "First day of use", case.day_of_use.isoformat()
    if case.wanted_by is not None:
        yield "Must ship by", case.wanted_by.isoformat()
    if case.power_kw is not None:
        yield "Power", f"{case.power_kw:g} kW"
    if case.speed_rpm is not None:
        yield "Highest engine speed", f"{case.speed_rpm:g} rev/min"
    if case.budget is not None:
        yield "Budget for the bell", case.budget.text
    yield "Noise", case.noise_wish
    yield "Hand room", case.hand_room_wish
    if case.needed_width is not None and case.needed_height is not None:
        yield "Opening needed", f"{case.needed_width.text} by {case.needed_height.text}"


def _chosen(answer: ChooseBellAnswer) -> Iterator[tuple[str, str]]:
    """The bell that comes first, in the few figures that a buyer asks for."""
    if not answer.ranked:
        return
    first = answer.ranked[0]
    yield "Bell", first.name
    yield "Price", first.price.text
    yield "Weight", f"{first.mass_kg:g} kg"
    yield "Material", first.material
    yield "Certificate", first.certificate or "none"
    if first.ring is not None:
        yield "Rings for", first.ring
    if first.opening is not None:
        yield "Opening", first.opening
    if first.ships_on is not None:
        yield "Ships on", first.ships_on.isoformat()
