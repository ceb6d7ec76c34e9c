"""What a fitter is told of his sweep, in sentences; the shop's page and his own say the same."""

from __future__ import annotations

from kitwright.shop import fitups
from kitwright.units import Lead
from kitwright.worksheets.centring.sweep_said import doubted
from kitwright.worksheets.declaration import load


def _sentence(note: str) -> str:
    return f"{note[0].upper()}{note[1:].removesuffix('.')}."


def said_of(advice: fitups.Advice, lead: Lead) -> list[str]:
    """What a fitter is told: of his sweep, and then of the dowels or why there are none."""
    said = [load("sweep").say(advice.sweep_answer, lead)]
    if advice.dowels_answer is not None:
        said.append(load("dowels").say(advice.dowels_answer, lead))
    elif advice.without and advice.without != fitups.LEAVE:
        if doubted(advice.sweep_answer):  # its sentence begins with what to do
            said.append("No dowels before you have swept again.")
        else:
            said.append(_sentence(advice.without))
    return said
