"""The pictures of a worksheet's answer, by the worksheet's name.

A worksheet without pictures has none; nothing is drawn for a value that is not known.
"""

from __future__ import annotations

from typing import Any, Final

from kitwright.pictures import centring, depth, quality, shell, sound, supply
from kitwright.pictures.palette import PAGE, Palette
from kitwright.pictures.picture import Drawing, Picture
from kitwright.units import Lead


def pictures_of(
    name: str,
    case: Any,
    answer: Any,
    *,
    before: Any = None,
    lead: Lead = "mm",
    palette: Palette = PAGE,
) -> list[Picture]:
    """The pictures of this worksheet's answer, the most telling first; none where it has none.

    `case` and `answer` are the worksheet's own; `lead` is the unit written. With `before`, the
    answer to another case of the same worksheet, a picture that can compare the two comes first.
    """
    drawing = _BY_NAME.get(name)
    drawn = [] if drawing is None else list(drawing(case, answer, lead, palette))
    if before is not None and name == "radial-budget":
        return [centring.contributions(answer, palette, before=before), *drawn[:1]]
    return drawn


_BY_NAME: Final[dict[str, Drawing]] = {
    "sweep": centring.sweep,
    "dowels": centring.dowels,
    "radial-budget": centring.radial_budget,
    "match": centring.match,
    "block-population": centring.block_population,
    "axial-budget": depth.axial_budget,
    "release-gap": depth.release_gap,
    "hand-room": depth.hand_room,
    "conformity": quality.conformity,
    "capability": quality.capability,
    "control-chart": quality.control_chart,
    "sampling-plan": quality.sampling_plan,
    "gauge-study": quality.gauge_study,
    "modes": shell.modes,
    "containment": shell.containment,
    "choose-bell": shell.choose_bell,
    "tap": sound.tap,
    "heard": sound.heard,
    "kit-cost": supply.kit_cost,
    "lot-plan": supply.lot_plan,
    "promise": supply.promise,
    "hold-back": supply.hold_back,
    "year": supply.year,
}
