"""The table of contents: every worksheet in the order of the job.

A heading is all that a list of worksheets needs; the worksheet itself (its case, its answer, the
numerical libraries behind it) is imported only when asked for.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Final

from kitwright.errors import MissingError

STAGES: Final = ("centring", "depth", "measuring", "quality", "shell", "driveline", "supply")


@dataclass(frozen=True)
class Heading:
    """A worksheet's name, the stage of the job it belongs to, and the question it answers."""

    name: str
    stage: str
    question: str

    @property
    def module(self) -> str:
        """Where its declaration stands: `radial-budget` in `centring/radial_budget.py`."""
        return f"kitwright.worksheets.{self.stage}.{self.name.replace('-', '_')}"


CONTENTS: Final = (
    Heading("sweep", "centring", "Where does this bore sit, and may it stay?"),
    Heading("dowels", "centring", "Which eccentric dowels, turned to where, put it right?"),
    Heading("radial-budget", "centring", "How often will a fitter have to correct?"),
    Heading("zone-cost", "centring", "Which zones are worth paying for?"),
    Heading("match", "centring", "Which bell for which engine?"),
    Heading("block-population", "centring", "Where do these blocks put a true bell's bore?"),
    Heading("axial-budget", "depth", "Does the stack close?"),
    Heading("release-gap", "depth", "Is the release bearing where it must be?"),
    Heading("hand-room", "depth", "Can a tool reach the adjuster through this opening?"),
    Heading("conformity", "quality", "May this value be accepted, given how well it was measured?"),
    Heading("capability", "quality", "Does the process hold the drawing?"),
    Heading("control-chart", "quality", "Is the process steady, or has something changed?"),
    Heading("sampling-plan", "quality", "How many must be looked at, and how many may be bad?"),
    Heading("gauge-study", "quality", "How much of what is measured is the gauge?"),
    Heading("modes", "shell", "At what pitches does this bell ring?"),
    Heading("tap", "shell", "What did this bell do when it was struck?"),
    Heading("heard", "shell", "How would this bell sound beside that one?"),
    Heading("containment", "shell", "Why is a certified shell not a matter of taste?"),
    Heading("choose-bell", "shell", "Which bell for this customer?"),
    Heading("kit-cost", "supply", "What does each kit cost, and what is left?"),
    Heading("lot-plan", "supply", "When to send castings, and how many?"),
    Heading("promise", "supply", "Which day can be held, and how surely?"),
    Heading("hold-back", "supply", "How many bells are held for kits, and how many may go loose?"),
    Heading("year", "supply", "What would a year of this way of doing it bring?"),
)


def heading(name: str) -> Heading:
    """The heading of this name, or what the nearest names are."""
    for entry in CONTENTS:
        if entry.name == name:
            return entry
    near = difflib.get_close_matches(name, [entry.name for entry in CONTENTS], n=1)
    hint = f'did you mean "{near[0]}"?' if near else "`kitwright work` lists them"
    raise MissingError("worksheet", f'there is no worksheet "{name}"', hint)
