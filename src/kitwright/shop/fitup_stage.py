"""What a stage of a fit-up is made of: its words, its cautions, what is written down at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from kitwright.worksheets.declaration import Caution

Kind = Literal["check", "choice", "text", "fine", "length", "lengths"]
Works = Literal["list", "sweep", "verdict", "dowels", "result"]
Shows = Literal["", "serial", "tir", "gap", "pilot"]

LONGEST_FIELD: Final = 400


@dataclass(frozen=True, kw_only=True)
class Field:
    """What is written down at a stage.

    A "length" is a number in the fitter's unit of length (mm or in), "lengths" are up to `most` of
    them, a "fine" one is in the unit of his dial (mm or thou). A "check" that is needed must be
    ticked, another field that is needed must be filled. One that is asked `again` only makes sense
    where the stage was done before.
    """

    name: str
    label: str
    kind: Kind
    needed: bool = False
    options: tuple[tuple[str, str], ...] = ()
    most: int = 1
    help: str = ""
    again: bool = False


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One stage.

    `works` says what is done with what was written: a "sweep" is solved, "dowels" are those that
    are in, the "verdict" is only read, a "list" is kept (the release gap and the pilot's
    engagement are solved too), a "result" ends the fit-up. `shows` names the limit, or the serial,
    that belongs beside the words; `bolts` the face whose bolts are tightened. `seized` is what to
    try, in this order, on what will not come out, and `ruins` what spoils it.
    """

    name: str
    title: str
    needed: tuple[str, ...]
    why: str
    do: tuple[str, ...]
    stop_and_call: tuple[str, ...]
    seized: tuple[str, ...] = ()
    ruins: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    fields: tuple[Field, ...] = ()
    works: Works = "list"
    surface: Literal["", "bore", "face"] = ""
    shows: Shows = ""
    bolts: Literal["", "block", "gearbox"] = ""


# ── cautions ─────────────────────────────────────────────────────────────────────────────

FINGERS: Final = Caution(
    "WARNING",
    "The battery's cable is still off: by hand only, never by the starter. Whoever turns the crank "
    "says so first. Hands, sleeves and the dial's cable are out of the way before it moves.",
)
NO_HANGING: Final = Caution(
    "DANGER",
    "The gearbox lies on a jack made for it until its bolts and mount hold it. Never let it hang "
    "in the clutch: it bends the disc and the shaft, and it falls.",
)
NO_DRAWING: Final = Caution(
    "CAUTION",
    "Never draw a bell or a gearbox home with its bolts. What does not go on by hand is not in "
    "line: take it off and find out why.",
)
DUST: Final = Caution(
    "WARNING",
    "Clutch dust can hold asbestos or other fibres: do not blow it out, wipe it wet.",
)


# ── fields of several stages ─────────────────────────────────────────────────────────────

FIGURE: Final = Field(
    name="figure",
    label="The maker's figure you used",
    kind="text",
    needed=True,
    help="With its unit, and whose sheet it is from. We give none.",
)
PASSES: Final = Field(
    name="passes",
    label="Every bolt tightened in the order drawn, in the maker's passes",
    kind="check",
    needed=True,
)
TOGETHER: Final = Field(
    name="together",
    label="Count it together with my earlier sweep: nothing was moved since",
    kind="check",
    again=True,
)
