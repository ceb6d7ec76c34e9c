"""Cautions that hold for all work on a bell under a car; each has one wording, printed once."""

from __future__ import annotations

from typing import Final

from kitwright.worksheets.declaration import Caution

STANDS: Final = Caution(
    "DANGER",
    "The car stands on stands rated for it, on hard level ground, wheels chocked; the gearbox "
    "hangs on a jack made for it. Never work under a car on a jack alone.",
)
BY_HAND: Final = Caution(
    "WARNING",
    "Take the battery's cable off, and the plugs out; turn the engine by hand only, never by the "
    "starter. Keep hands, sleeves and tools out from between flywheel and bell.",
)
MAKERS: Final = Caution(
    "CAUTION",
    "What the makers of engine, bell, gearbox and dowels say about fitting, sizes, limits, bolts "
    "and method comes before this sheet.",
)
DRIVEN: Final = Caution(
    "WARNING",
    "Dowels are driven and drawn with hammer, punch and heat: wear eye protection and gloves; keep "
    "flame away from fuel, oil and brake cleaner.",
)
NO_DRESSING: Final = Caution(
    "CAUTION",
    "Do not dress the dowel or the hole to make a bell go on, and do not pull it home with its "
    "bolts: take it off and turn the dowels again.",
)
